//! One line of text as glyphs: split by direction (Unicode Bidirectional Algorithm, UAX 9) and by
//! font, shaped (ligatures, joined Arabic letters, marks) and put in the order it is read by eye.

use std::ops::Range;
use std::sync::Arc;

use harfrust::{Direction, Language, UnicodeBuffer};
use unicode_bidi::{BidiClass, BidiInfo, Level, bidi_class};

use super::fonts::{Font, built_in, fallback};
use super::order::Tongue;
use super::{Face, REPLACEMENT};

/// One glyph; lengths in ems.
#[derive(Debug, Clone, PartialEq)]
pub struct Glyph {
    /// Its number in the font.
    pub id: u32,
    /// How far the next one is.
    pub advance: f32,
    /// Where it is drawn, right of its place and above the base line.
    pub offset: [f32; 2],
    /// The bytes of the line that it stands for.
    pub text: Range<usize>,
}

/// Glyphs of one font, left to right.
pub struct Run {
    /// The font.
    pub font: Arc<Font>,
    /// Its glyphs.
    pub glyphs: Vec<Glyph>,
}

/// A line of text, ready to be drawn from left to right.
#[derive(Default)]
pub struct Line {
    /// Its runs.
    pub runs: Vec<Run>,
}

impl Line {
    /// Its width in ems.
    pub fn width(&self) -> f32 {
        self.runs.iter().flat_map(|run| &run.glyphs).map(|glyph| glyph.advance).sum()
    }
}

const FIRST_STRONG_ISOLATE: char = '\u{2068}';
const POP_ISOLATE: char = '\u{2069}';

/// A name as part of a line: it keeps its own direction and does not turn the words beside it
/// (first strong isolate, UAX 9, 2.4).
pub fn name(name: &str) -> String {
    format!("{FIRST_STRONG_ISOLATE}{name}{POP_ISOLATE}")
}

/// A line without the marks of names and direction, for tags of a file.
pub fn plain(line: &str) -> String {
    line.chars().filter(|c| !is_direction(*c)).collect()
}

/// The words of a line from left to right as they are read, each with its letters as they are spelled, for
/// programs that shape words but know no order of words from right to left. Nothing where the
/// order is the same.
pub fn words_by_eye(text: &str) -> Option<String> {
    if !text.chars().any(|c| matches!(bidi_class(c), BidiClass::R | BidiClass::AL)) {
        return None;
    }
    let bidi = BidiInfo::new(text, runs_left_to_right(text).then_some(Level::ltr()));
    let mut out = String::with_capacity(text.len());
    for paragraph in &bidi.paragraphs {
        let (levels, runs) = bidi.visual_runs(paragraph, paragraph.range.clone());
        for run in runs {
            if levels[run.start].is_ltr() {
                out.push_str(&text[run]);
                continue;
            }
            for word in words(&text[run]).iter().rev() {
                let mut letters = word.chars();
                match (letters.next(), letters.next()) {
                    (Some(one), None) => out.push(mirrored(one)),
                    _ => out.push_str(word),
                }
            }
        }
    }
    (out != text).then_some(out)
}

/// Words from right to left with their marks, and each character between them.
fn words(text: &str) -> Vec<&str> {
    let in_word = |c: char| {
        let class = bidi_class(c);
        matches!(class, BidiClass::R | BidiClass::AL | BidiClass::NSM | BidiClass::BN)
            || matches!(c, '\u{590}'..='\u{6FF}')
    };
    let (mut out, mut begin) = (Vec::new(), None);
    for (at, c) in text.char_indices() {
        if in_word(c) {
            begin.get_or_insert(at);
            continue;
        }
        if let Some(begin) = begin.take() {
            out.push(&text[begin..at]);
        }
        out.push(&text[at..at + c.len_utf8()]);
    }
    if let Some(begin) = begin {
        out.push(&text[begin..]);
    }
    out
}

/// The other of a pair of brackets (UAX 9, L4), for those that names are written with.
fn mirrored(c: char) -> char {
    const PAIRS: [(char, char); 6] = [('(', ')'), ('[', ']'), ('{', '}'), ('<', '>'), ('«', '»'), ('‹', '›')];
    let other = PAIRS.iter().find_map(|&(a, b)| if c == a { Some(b) } else { (c == b).then_some(a) });
    other.unwrap_or(c)
}

/// Sets one line. Control characters are left out; [`REPLACEMENT`] stands for a character that no font has.
///
/// A line with Latin, Greek, Cyrillic or other letters from left to right, names apart, runs so as a whole, whatever
/// it begins with: the words of sheets and labels are English.
pub fn set(face: Face, text: &str) -> Line {
    let mut line = Line::default();
    let base = runs_left_to_right(text).then_some(Level::ltr());
    let tongue = Tongue::of(text);
    let bidi = BidiInfo::new(text, base);
    for paragraph in &bidi.paragraphs {
        let (levels, runs) = bidi.visual_runs(paragraph, paragraph.range.clone());
        for run in runs {
            let right_to_left = levels[run.start].is_rtl();
            let mut parts = by_font(face, text, run, tongue);
            if right_to_left {
                parts.reverse();
            }
            for (font, range) in parts {
                line.runs.push(shaped(font, text, range, right_to_left, tongue));
            }
        }
    }
    line
}

/// Whether a letter from left to right stands outside the names of a line.
fn runs_left_to_right(text: &str) -> bool {
    let mut inside = 0_u32;
    text.chars().any(|c| {
        match bidi_class(c) {
            BidiClass::FSI | BidiClass::LRI | BidiClass::RLI => inside += 1,
            BidiClass::PDI => inside = inside.saturating_sub(1),
            BidiClass::L => return inside == 0,
            _ => {}
        }
        false
    })
}

/// The characters of a text that no font of this machine has, each once.
pub fn missing(face: Face, text: &str) -> Vec<char> {
    let tongue = Tongue::of(text);
    let mut out: Vec<char> = text
        .chars()
        .filter(|&c| is_drawn(c) && !c.is_whitespace())
        .filter(|&c| !built_in(face).has(c) && fallback(face, c, tongue).is_none())
        .collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// The font that a character of a text is drawn with, for programs that set text by themselves.
pub fn font_for(face: Face, c: char, text: &str) -> Option<Arc<Font>> {
    if built_in(face).has(c) { Some(Arc::clone(built_in(face))) } else { fallback(face, c, Tongue::of(text)) }
}

/// Whether a character has a glyph or the lack of one shows.
fn is_drawn(c: char) -> bool {
    !c.is_control() && !joins(c)
}

/// Characters without a glyph of their own: joiners, marks of direction, variation selectors.
fn joins(c: char) -> bool {
    matches!(c, '\u{61C}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}')
}

/// Marks, embeddings, overrides and isolates of UAX 9.
fn is_direction(c: char) -> bool {
    matches!(c, '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' | '\u{61C}')
}

/// The font that [`REPLACEMENT`] is drawn with.
fn for_replacement(face: Face) -> &'static Arc<Font> {
    built_in(if face == Face::SansBold { Face::SansBold } else { Face::Sans })
}

/// Parts of a range that one font has. A mark or a space stays with the font before it where that
/// has it, so that words are not torn apart.
fn by_font(face: Face, text: &str, range: Range<usize>, tongue: Tongue) -> Vec<(Arc<Font>, Range<usize>)> {
    let own = built_in(face);
    let mut parts: Vec<(Arc<Font>, Range<usize>)> = Vec::new();
    for (at, c) in text[range.clone()].char_indices() {
        // Marks of direction have done their work.
        if c.is_control() || is_direction(c) {
            continue;
        }
        let (start, end) = (range.start + at, range.start + at + c.len_utf8());
        let before = parts.last().map(|(font, _)| font);
        let stays = |font: &&Arc<Font>| joins(c) || (!c.is_alphanumeric() && font.has(c));
        let font = match before.filter(stays) {
            Some(font) => Arc::clone(font),
            None if own.has(c) => Arc::clone(own),
            None => fallback(face, c, tongue).unwrap_or_else(|| Arc::clone(for_replacement(face))),
        };
        match parts.last_mut() {
            Some((last, range)) if Arc::ptr_eq(last, &font) && range.end == start => range.end = end,
            _ => parts.push((font, start..end)),
        }
    }
    parts
}

fn shaped(font: Arc<Font>, text: &str, range: Range<usize>, right_to_left: bool, tongue: Tongue) -> Run {
    let mut buffer = UnicodeBuffer::new();
    for (at, c) in text[range.clone()].char_indices() {
        let shown = if is_drawn(c) && !c.is_whitespace() && !font.has(c) { REPLACEMENT } else { c };
        buffer.add(shown, (range.start + at) as u32);
    }
    buffer.guess_segment_properties();
    if let Some(language) = Language::new(tongue.tag()).filter(|_| text[range.clone()].chars().any(is_cjk)) {
        buffer.set_language(language);
    }
    buffer.set_direction(if right_to_left { Direction::RightToLeft } else { Direction::LeftToRight });
    let Some(shaped) = font.shape(buffer) else { return Run { font, glyphs: Vec::new() } };
    let em = font.units_per_em();
    let infos = shaped.glyph_infos();
    // A cluster reaches to where the next one in the text begins.
    let mut starts: Vec<usize> = infos.iter().map(|info| info.cluster as usize).collect();
    starts.push(range.end);
    starts.sort_unstable();
    starts.dedup();
    let end_of = |start: usize| starts[starts.partition_point(|&s| s <= start).min(starts.len() - 1)];
    let glyphs = infos
        .iter()
        .zip(shaped.glyph_positions())
        .map(|(info, position)| Glyph {
            id: info.glyph_id,
            advance: position.x_advance as f32 / em,
            offset: [position.x_offset as f32 / em, position.y_offset as f32 / em],
            text: info.cluster as usize..end_of(info.cluster as usize),
        })
        .collect();
    Run { font, glyphs }
}

/// Chinese characters, kana and Hangul, whose shapes depend on the language.
fn is_cjk(c: char) -> bool {
    matches!(c, '\u{2E80}'..='\u{9FFF}' | '\u{AC00}'..='\u{D7AF}' | '\u{F900}'..='\u{FAFF}' | '\u{FF00}'..='\u{FFEF}' | '\u{20000}'..='\u{3FFFF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(text: &str) -> Vec<u32> {
        set(Face::Sans, text).runs.iter().flat_map(|run| run.glyphs.iter().map(|g| g.id)).collect()
    }

    #[test]
    fn latin_is_as_wide_as_its_letters() {
        let line = set(Face::Mono, "Lantern fair");
        assert!((line.width() - 12.0 * 0.602).abs() < 0.01, "Hack's letters are 0.602 em wide: {}", line.width());
        assert_eq!(line.runs.len(), 1);
    }

    #[test]
    fn arabic_joins_and_runs_from_right_to_left() {
        // The same letter takes four shapes (Unicode, chapter 9.2): alone, first, between, last.
        let alone = ids("\u{628}");
        let three = ids("\u{628}\u{628}\u{628}");
        assert_eq!(three.len(), 3);
        assert!(three.iter().all(|id| !alone.contains(id)), "{three:?} {alone:?}");
        let mut shapes = three.clone();
        shapes.dedup();
        assert_eq!(shapes.len(), 3);
        let line = set(Face::Sans, "\u{628}\u{62A}");
        let first = &line.runs[0].glyphs[0];
        assert_eq!(first.text, 2..4, "the second letter stands at the left");
    }

    #[test]
    fn each_script_comes_from_a_font_that_has_it() {
        for text in ["Φανάρι", "Фонарь", "فانوس", "灯笼", "提灯まつり"] {
            assert_eq!(missing(Face::Sans, text), [], "{text}");
            assert!(ids(text).iter().all(|&id| id != 0), "{text}");
        }
        // Plane 16 is for private use: no font has it.
        assert_eq!(missing(Face::Sans, "a\u{10FFFD}"), ['\u{10FFFD}']);
        assert_eq!(ids("\u{10FFFD}"), ids("\u{FFFD}"), "shown as the replacement");
        for face in [Face::Sans, Face::SansBold, Face::Mono] {
            assert!(for_replacement(face).has(REPLACEMENT), "{face:?}");
        }
    }

    /// The order of words as read by eye, from left to right.
    fn by_eye(text: &str) -> String {
        let line = set(Face::Sans, text);
        let glyphs = line.runs.iter().flat_map(|run| &run.glyphs);
        glyphs.map(|g| &text[g.text.clone()]).collect()
    }

    #[test]
    fn a_name_does_not_turn_the_words_beside_it() {
        // Hebrew letters alef, bet, gimel; UAX 9: isolates keep the order outside.
        let job = format!("{}, {}, version 2", name("אב"), name("ג 24"));
        assert_eq!(by_eye(&job), "בא, 24 ג, version 2");
        assert_eq!(by_eye("אב, version 2"), "בא, version 2", "English lines run from left to right");
        // Brackets are given as they are spelled; their glyphs are the mirrored ones (L4).
        assert_eq!(by_eye(&name("אב (Fair)")), ")Fair( בא", "a name runs by its own first letter");
        let turned = set(Face::Sans, &name("אב (Fair)"));
        assert_eq!(turned.runs[0].glyphs[0].id, ids("(")[0]);
        assert_eq!(by_eye("אב!"), "!בא");
    }

    #[test]
    fn mixed_text_keeps_every_byte() {
        let text = "Lantern 灯笼 فانوس 24 in";
        let line = set(Face::SansBold, text);
        let mut seen = vec![false; text.len()];
        for glyph in line.runs.iter().flat_map(|run| &run.glyphs) {
            seen[glyph.text.clone()].iter_mut().for_each(|s| *s = true);
        }
        assert!(seen.iter().all(|s| *s));
    }
}
