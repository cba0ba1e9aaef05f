//! One line of text as glyphs: split by direction (Unicode Bidirectional Algorithm, UAX 9) and by
//! font, shaped (ligatures, joined Arabic letters, marks) and put in the order it is read by eye.

use std::ops::Range;
use std::sync::Arc;

use harfrust::{Direction, UnicodeBuffer};
use unicode_bidi::BidiInfo;

use super::Face;
use super::fonts::{Font, built_in, fallback};

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

/// Sets one line. Control characters are left out; a character that no font has is an empty box.
pub fn set(face: Face, text: &str) -> Line {
    let mut line = Line::default();
    let bidi = BidiInfo::new(text, None);
    for paragraph in &bidi.paragraphs {
        let (levels, runs) = bidi.visual_runs(paragraph, paragraph.range.clone());
        for run in runs {
            let right_to_left = levels[run.start].is_rtl();
            let mut parts = by_font(face, text, run);
            if right_to_left {
                parts.reverse();
            }
            for (font, range) in parts {
                line.runs.push(shaped(font, text, range, right_to_left));
            }
        }
    }
    line
}

/// The characters of a text that no font of this machine has, each once.
pub fn missing(face: Face, text: &str) -> Vec<char> {
    let mut out: Vec<char> = text
        .chars()
        .filter(|c| !c.is_control() && !c.is_whitespace() && !joins(*c))
        .filter(|&c| !built_in(face).has(c) && fallback(face, c).is_none())
        .collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// Characters without a glyph of their own: joiners, marks of direction, variation selectors.
fn joins(c: char) -> bool {
    matches!(c, '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}')
}

/// Parts of a range that one font has. A mark or a space stays with the font before it where that
/// has it, so that words are not torn apart.
fn by_font(face: Face, text: &str, range: Range<usize>) -> Vec<(Arc<Font>, Range<usize>)> {
    let own = built_in(face);
    let mut parts: Vec<(Arc<Font>, Range<usize>)> = Vec::new();
    for (at, c) in text[range.clone()].char_indices() {
        if c.is_control() {
            continue;
        }
        let (start, end) = (range.start + at, range.start + at + c.len_utf8());
        let before = parts.last().map(|(font, _)| font);
        let stays = |font: &&Arc<Font>| joins(c) || (!c.is_alphanumeric() && font.has(c));
        let font = match before.filter(stays) {
            Some(font) => Arc::clone(font),
            None if own.has(c) => Arc::clone(own),
            None => fallback(face, c).unwrap_or_else(|| Arc::clone(own)),
        };
        match parts.last_mut() {
            Some((last, range)) if Arc::ptr_eq(last, &font) && range.end == start => range.end = end,
            _ => parts.push((font, start..end)),
        }
    }
    parts
}

fn shaped(font: Arc<Font>, text: &str, range: Range<usize>, right_to_left: bool) -> Run {
    let mut buffer = UnicodeBuffer::new();
    for (at, c) in text[range.clone()].char_indices() {
        buffer.add(c, (range.start + at) as u32);
    }
    buffer.guess_segment_properties();
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
        assert_eq!(ids("\u{10FFFD}"), [0], "shown as an empty box");
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
