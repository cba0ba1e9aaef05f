//! Fonts: three that are part of the program (DejaVu Sans and its bold with Latin, Greek, Cyrillic, Hebrew and
//! Arabic; Hack), and for every other script the fonts installed on this machine. Which font serves a
//! character depends only on what is installed, in the order that `order.rs` puts it.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use harfrust::{GlyphBuffer, ShapeOptions, ShaperData, UnicodeBuffer};
use resvg::usvg::fontdb::{Database, ID};
use skrifa::instance::{LocationRef, Size};
use skrifa::string::StringId;
use skrifa::{FontRef, MetadataProvider, Tag};

use super::Face;
use super::order::{Tongue, by_preference};

const SANS: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans.ttf");
const SANS_BOLD: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans-Bold.ttf");

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

    /// Its PostScript name, or none.
    pub fn name(&self) -> String {
        let Ok(font) = FontRef::from_index(self.data(), self.index) else { return String::new() };
        let name = font.localized_strings(StringId::POSTSCRIPT_NAME).english_or_first();
        name.map(|name| name.to_string()).unwrap_or_default()
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

/// The characters that a font has glyphs for, as first and last of rows, if it draws by outlines: what is
/// coloured dots is no use on a film.
fn rows_drawn(bytes: &[u8], index: u32) -> Vec<(u32, u32)> {
    let mut rows: Vec<(u32, u32)> = Vec::new();
    let Ok(font) = FontRef::from_index(bytes, index) else { return rows };
    if [b"glyf", b"CFF ", b"CFF2"].into_iter().all(|tag| font.table_data(Tag::new(tag)).is_none()) {
        return rows;
    }
    let mut drawn: Vec<u32> = font.charmap().mappings().filter(|(_, glyph)| glyph.to_u32() != 0).map(|m| m.0).collect();
    drawn.sort_unstable();
    for c in drawn {
        match rows.last_mut() {
            Some((_, last)) if c <= *last + 1 => *last = c,
            _ => rows.push((c, c)),
        }
    }
    rows
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
pub(super) fn fallback(face: Face, character: char, tongue: Tongue) -> Option<Arc<Font>> {
    let sans = built_in(if face == Face::SansBold { Face::SansBold } else { Face::Sans });
    if sans.has(character) {
        return Some(Arc::clone(sans));
    }
    static INSTALLED: LazyLock<Mutex<Installed>> = LazyLock::new(|| Mutex::new(Installed::new()));
    let mut installed = INSTALLED.lock().unwrap_or_else(PoisonError::into_inner);
    installed.font_for(character, if face == Face::SansBold { 700 } else { 400 }, tongue)
}

/// The fonts of this machine, looked through once, when a character first needs one.
struct Installed {
    fonts: Database,
    orders: HashMap<(u16, Tongue), Vec<ID>>,
    /// First and last of each row of characters that a font draws, once it was looked into: a letter that no font
    /// has would have all of them read again.
    drawn: HashMap<ID, Vec<(u32, u32)>>,
    loaded: HashMap<ID, Option<Arc<Font>>>,
    found: HashMap<(char, u16, Tongue), Option<Arc<Font>>>,
}

impl Installed {
    fn new() -> Self {
        let mut fonts = Database::new();
        fonts.load_system_fonts();
        Self { fonts, orders: HashMap::new(), drawn: HashMap::new(), loaded: HashMap::new(), found: HashMap::new() }
    }

    fn font_for(&mut self, character: char, weight: u16, tongue: Tongue) -> Option<Arc<Font>> {
        if let Some(known) = self.found.get(&(character, weight, tongue)) {
            return known.clone();
        }
        let fonts = &self.fonts;
        let order = self.orders.entry((weight, tongue)).or_insert_with(|| by_preference(fonts, weight, tongue));
        let drawn = &mut self.drawn;
        let mut has = |id: ID| {
            let rows = drawn.entry(id).or_insert_with(|| fonts.with_face_data(id, rows_drawn).unwrap_or_default());
            let after = rows.partition_point(|&(first, _)| first <= u32::from(character));
            after > 0 && u32::from(character) <= rows[after - 1].1
        };
        let font = order.iter().copied().find(|&id| has(id)).and_then(|id| {
            let load = || {
                let (bytes, index) = fonts.with_face_data(id, |bytes, index| (bytes.to_vec(), index))?;
                Font::new(Arc::new(bytes), index).map(Arc::new)
            };
            self.loaded.entry(id).or_insert_with(load).clone()
        });
        self.found.insert((character, weight, tongue), font.clone());
        font
    }
}
