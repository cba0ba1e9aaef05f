//! Fonts: three that are part of the program (Latin, Greek, Cyrillic; DejaVu Sans also Arabic and
//! Hebrew), and for every other script the fonts installed on this machine. Which font serves a
//! character depends only on what is installed: the families of [`PREFERRED`] come first, then any
//! upright font, by name.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use harfrust::{GlyphBuffer, ShapeOptions, ShaperData, UnicodeBuffer};
use resvg::usvg::fontdb::{Database, FaceInfo, ID, Style};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::Face;

const SANS: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans.ttf");
const SANS_BOLD: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans-Bold.ttf");

/// What to do about characters that no font has.
pub const MISSING_HELP: &str = "they print as empty boxes; install a font that has them (Noto Sans CJK for Chinese, \
Japanese and Korean) and make the file again";

/// Families looked for first on this machine, in this order: fonts without serifs that Linux,
/// Windows and macOS bring along or that are free to install.
pub const PREFERRED: [&str; 14] = [
    "Noto Sans CJK SC",
    "Noto Sans CJK JP",
    "Noto Sans",
    "Source Han Sans SC",
    "Droid Sans Fallback",
    "WenQuanYi Micro Hei",
    "DejaVu Sans",
    "Microsoft YaHei",
    "Yu Gothic",
    "Malgun Gothic",
    "PingFang SC",
    "Hiragino Sans",
    "Segoe UI",
    "Arial Unicode MS",
];

/// A font's bytes, shared.
pub type Bytes = Arc<dyn AsRef<[u8]> + Send + Sync>;

/// One font.
pub struct Font {
    bytes: Bytes,
    index: u32,
    units_per_em: f32,
    shaping: ShaperData,
}

impl Font {
    fn new(bytes: Bytes, index: u32) -> Option<Self> {
        let font = FontRef::from_index((*bytes).as_ref(), index).ok()?;
        let units_per_em = f32::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
        let shaping = ShaperData::new(&harfrust::FontRef::from_index((*bytes).as_ref(), index).ok()?);
        (units_per_em > 0.0).then_some(Self { bytes, index, units_per_em, shaping })
    }

    /// Its file's bytes and its place in a collection.
    pub fn source(&self) -> (Bytes, u32) {
        (Arc::clone(&self.bytes), self.index)
    }

    /// Puts characters as glyphs, in font units.
    pub(super) fn shape(&self, characters: UnicodeBuffer) -> Option<GlyphBuffer> {
        let font = harfrust::FontRef::from_index(self.data(), self.index).ok()?;
        Some(self.shaping.shaper(&font).build().shape(characters, ShapeOptions::new()))
    }

    /// Its file's bytes.
    pub fn data(&self) -> &[u8] {
        (*self.bytes).as_ref()
    }

    /// Its place in a collection, 0 in a file of one font.
    pub fn index(&self) -> u32 {
        self.index
    }

    /// Font units an em.
    pub fn units_per_em(&self) -> f32 {
        self.units_per_em
    }

    /// Whether it has a glyph for a character.
    pub fn has(&self, character: char) -> bool {
        let font = FontRef::from_index(self.data(), self.index);
        font.is_ok_and(|font| font.charmap().map(character).is_some_and(|glyph| glyph.to_u32() != 0))
    }
}

/// The face's own font.
pub(super) fn built_in(face: Face) -> &'static Arc<Font> {
    static FONTS: LazyLock<[Arc<Font>; 3]> = LazyLock::new(|| {
        [SANS, SANS_BOLD, epaint_default_fonts::HACK_REGULAR].map(|bytes| {
            let font = Font::new(Arc::new(bytes), 0);
            Arc::new(font.unwrap_or_else(|| unreachable!("the font is part of the program")))
        })
    });
    match face {
        Face::Sans => &FONTS[0],
        Face::SansBold => &FONTS[1],
        Face::Mono => &FONTS[2],
    }
}

/// The font for a character that the face's own lacks, if there is one.
pub(super) fn fallback(face: Face, character: char) -> Option<Arc<Font>> {
    let sans = built_in(if face == Face::SansBold { Face::SansBold } else { Face::Sans });
    if sans.has(character) {
        return Some(Arc::clone(sans));
    }
    static INSTALLED: LazyLock<Mutex<Installed>> = LazyLock::new(|| Mutex::new(Installed::new()));
    INSTALLED.lock().unwrap_or_else(PoisonError::into_inner).font_for(character, face == Face::SansBold)
}

/// The fonts of this machine, looked through once, when a character first needs one.
struct Installed {
    fonts: Database,
    regular: Vec<ID>,
    bold: Vec<ID>,
    loaded: HashMap<ID, Option<Arc<Font>>>,
    found: HashMap<(char, bool), Option<Arc<Font>>>,
}

impl Installed {
    fn new() -> Self {
        let mut fonts = Database::new();
        fonts.load_system_fonts();
        let (regular, bold) = (by_preference(&fonts, 400), by_preference(&fonts, 700));
        Self { fonts, regular, bold, loaded: HashMap::new(), found: HashMap::new() }
    }

    fn font_for(&mut self, character: char, bold: bool) -> Option<Arc<Font>> {
        if let Some(known) = self.found.get(&(character, bold)) {
            return known.clone();
        }
        let order = if bold { &self.bold } else { &self.regular };
        let id = order.iter().copied().find(|&id| {
            let has = |bytes: &[u8], index: u32| {
                let font = FontRef::from_index(bytes, index);
                font.is_ok_and(|font| font.charmap().map(character).is_some_and(|glyph| glyph.to_u32() != 0))
            };
            self.fonts.with_face_data(id, has).unwrap_or(false)
        });
        let font = id.and_then(|id| {
            let fonts = &self.fonts;
            let load = || {
                let (bytes, index) = fonts.with_face_data(id, |bytes, index| (bytes.to_vec(), index))?;
                Font::new(Arc::new(bytes), index).map(Arc::new)
            };
            self.loaded.entry(id).or_insert_with(load).clone()
        });
        self.found.insert((character, bold), font.clone());
        font
    }
}

/// Upright fonts of this machine, best first, the same on every run.
fn by_preference(fonts: &Database, weight: u16) -> Vec<ID> {
    let family = |face: &FaceInfo| face.families.first().map(|(name, _)| name.clone()).unwrap_or_default();
    let mut faces: Vec<_> = fonts
        .faces()
        .filter(|face| face.style == Style::Normal)
        .map(|face| {
            let family = family(face);
            let rank = PREFERRED.iter().position(|name| *name == family).unwrap_or(PREFERRED.len());
            (rank, face.monospaced, family, face.weight.0.abs_diff(weight), face.index, face.id)
        })
        .collect();
    faces.sort();
    faces.into_iter().map(|face| face.5).collect()
}
