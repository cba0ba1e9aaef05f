//! The sheets' typeface: DejaVu Sans, regular and bold, embedded so that every name prints on
//! every machine (Latin, Greek and Cyrillic; a character outside shows as an open box, and the
//! text behind it stays whole).

use std::collections::BTreeMap;

use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

const REGULAR: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans.ttf");
const BOLD: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans-Bold.ttf");

/// Weight of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// For running text.
    Regular,
    /// For heads.
    Bold,
}

impl Weight {
    /// Name of the font among a page's resources.
    pub fn resource(self) -> Name<'static> {
        match self {
            Self::Regular => Name(b"R"),
            Self::Bold => Name(b"B"),
        }
    }

    fn data(self) -> (&'static [u8], &'static [u8]) {
        match self {
            Self::Regular => (REGULAR, b"DejaVuSans"),
            Self::Bold => (BOLD, b"DejaVuSans-Bold"),
        }
    }
}

/// One face with the glyphs used so far.
pub struct Face {
    weight: Weight,
    font: FontRef<'static>,
    per_em: f32,
    used: BTreeMap<u16, char>,
}

impl Face {
    /// Loads the face of a weight.
    pub fn new(weight: Weight) -> Self {
        let font = FontRef::new(weight.data().0).unwrap_or_else(|_| unreachable!("the font is part of the program"));
        let per_em = f32::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
        Self { weight, font, per_em, used: BTreeMap::new() }
    }

    fn glyph(&self, c: char) -> u16 {
        self.font.charmap().map(c).map_or(0, |g| g.to_u32() as u16)
    }

    fn advance(&self, glyph: u16) -> f32 {
        let metrics = self.font.glyph_metrics(Size::unscaled(), LocationRef::default());
        metrics.advance_width(u32::from(glyph).into()).unwrap_or(0.0) / self.per_em
    }

    /// Width of a text in points at a size.
    pub fn width_pt(&self, text: &str, size_pt: f32) -> f32 {
        text.chars().map(|c| self.advance(self.glyph(c))).sum::<f32>() * size_pt
    }

    /// A text as glyph numbers, two bytes each, for an Identity-H font.
    pub fn encode(&mut self, text: &str) -> Vec<u8> {
        let mut out = Vec::with_capacity(text.len() * 2);
        for c in text.chars() {
            let glyph = self.glyph(c);
            self.used.entry(glyph).or_insert(c);
            out.extend(glyph.to_be_bytes());
        }
        out
    }

    /// Writes the face as a composite font (ISO 32000-1, 9.7) under `id`; `next` gives free
    /// object numbers.
    pub fn write(&self, pdf: &mut Pdf, id: Ref, mut next: impl FnMut() -> Ref) {
        let (data, name) = self.weight.data();
        let (cid, descriptor, file, unicode) = (next(), next(), next(), next());
        let system = || SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };
        pdf.type0_font(id)
            .base_font(Name(name))
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(cid)
            .to_unicode(unicode);
        let mut font = pdf.cid_font(cid);
        font.subtype(CidFontType::Type2).base_font(Name(name)).system_info(system()).font_descriptor(descriptor);
        font.default_width(0.0).cid_to_gid_map_predefined(Name(b"Identity"));
        let mut widths = font.widths();
        for &glyph in self.used.keys() {
            widths.consecutive(glyph, [self.advance(glyph) * 1000.0]);
        }
        widths.finish();
        font.finish();
        let m = self.font.metrics(Size::unscaled(), LocationRef::default());
        let em = |v: f32| v * 1000.0 / self.per_em;
        let bounds = m.bounds.unwrap_or_default();
        pdf.font_descriptor(descriptor)
            .name(Name(name))
            .flags(FontFlags::NON_SYMBOLIC)
            .bbox(Rect::new(em(bounds.x_min), em(bounds.y_min), em(bounds.x_max), em(bounds.y_max)))
            .italic_angle(0.0)
            .ascent(em(m.ascent))
            .descent(em(m.descent))
            .cap_height(em(m.cap_height.unwrap_or(m.ascent)))
            .stem_v(if self.weight == Weight::Bold { 140.0 } else { 80.0 })
            .font_file2(file);
        let packed = super::canvas::deflate(data);
        pdf.stream(file, &packed).filter(Filter::FlateDecode).pair(Name(b"Length1"), data.len() as i32);
        let mut map = UnicodeCmap::new(Name(b"Strikeoff"), system());
        for (&glyph, &c) in &self.used {
            map.pair(glyph, c);
        }
        let map = map.finish();
        pdf.cmap(unicode, &map);
    }
}
