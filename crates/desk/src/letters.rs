//! Letters that the window's own fonts lack: the font for them is looked for on a lane when a text first
//! shows them, in the same order as for sheets and films, and shares its bytes with them. Until it is there,
//! and where no font has a letter, the window draws a box.
//!
//! `egui` shapes each word by itself (letters of an Arabic word join and run from right to left) but puts words
//! one after the other from left to right. At the end of each pass lines with words from right to left are laid
//! out again with their words in the order that they are read. Lines that are broken or shortened stay as they are.

use std::collections::{BTreeSet, HashSet};
use std::sync::{Arc, Mutex, PoisonError};

use egui::layers::ShapeIdx;
use egui::text::LayoutJob;
use egui::{Context, FallbackRequest, FontData, FontFamily, FontInsert, FontPriority, Galley, LayerId, Shape, Ui};
use strikeoff_files::text::{Face, font_for, words_by_eye};

use crate::background::{Lane, Manner};

/// Finds fonts for what the window shows.
pub struct Letters {
    /// Letters that a text has and no font of the window has.
    requested: Arc<Mutex<BTreeSet<String>>>,
    /// Those that were looked for.
    known: BTreeSet<String>,
    lane: Lane<BTreeSet<String>, Vec<FontInsert>>,
}

impl Letters {
    /// For a window.
    pub fn new(ctx: &Context) -> Self {
        let requested: Arc<Mutex<BTreeSet<String>>> = Arc::default();
        let theirs = requested.clone();
        ctx.add_font_provider(Arc::new(move |request: &FallbackRequest<'_>| {
            theirs.lock().unwrap_or_else(PoisonError::into_inner).insert(request.cluster.to_owned());
            None
        }));
        ctx.on_end_pass("words from right to left", Arc::new(put_words_in_order));
        let mut given = HashSet::new();
        let lane = Lane::new("letters", ctx, Manner::FinishFirst, move |requested: BTreeSet<String>, _| {
            let mut fonts = fonts_with(&requested);
            fonts.retain(|font| given.insert(font.name.clone()));
            Some(fonts)
        });
        Self { requested, known: BTreeSet::new(), lane }
    }

    /// Takes in fonts that were found.
    pub fn take(&self, ctx: &Context) {
        for font in self.lane.drain().into_iter().flat_map(|answer| answer.value) {
            ctx.add_font(font);
            ctx.request_repaint();
        }
    }

    /// Has fonts looked for that texts of this frame lack.
    pub fn ask(&mut self) {
        let requested = std::mem::take(&mut *self.requested.lock().unwrap_or_else(PoisonError::into_inner));
        let known = self.known.len();
        self.known.extend(requested);
        if self.known.len() > known {
            // All of them, as a request that waits is replaced by the next.
            self.lane.request(self.known.clone());
        }
    }

    /// Whether nothing is being looked for.
    pub fn are_idle(&self) -> bool {
        self.lane.is_idle()
    }
}

/// The fonts that have these letters, each once.
fn fonts_with(letters: &BTreeSet<String>) -> Vec<FontInsert> {
    // Together they tell the language, as far as kana and Hangul do.
    let all: String = letters.iter().map(String::as_str).collect();
    let mut fonts: Vec<FontInsert> = Vec::new();
    for letter in letters.iter().filter_map(|cluster| cluster.chars().next()) {
        let Some(font) = font_for(Face::Sans, letter, &all) else { continue };
        let name = format!("{} {}", font.name(), font.index());
        if fonts.iter().all(|known| known.name != name) {
            let (bytes, index) = font.source();
            let families = [FontFamily::Proportional, FontFamily::Monospace]
                .map(|family| egui::epaint::text::InsertFontFamily { family, priority: FontPriority::Lowest });
            fonts.push(FontInsert::new(&name, FontData::from_blob(bytes, index), families.to_vec()));
        }
    }
    fonts
}

/// Lays out again what was drawn in this pass with words from right to left.
fn put_words_in_order(ui: &mut Ui) {
    let ctx = ui.ctx().clone();
    let mut layers: Vec<LayerId> = ctx.memory(|memory| memory.layer_ids().collect());
    if !layers.contains(&LayerId::background()) {
        layers.push(LayerId::background());
    }
    let mut turned: Vec<(LayerId, ShapeIdx, LayoutJob)> = Vec::new();
    ctx.graphics(|graphics| {
        for layer in layers {
            let shapes = graphics.get(layer).into_iter().flat_map(|list| list.all_entries()).enumerate();
            for (at, entry) in shapes {
                if let Shape::Text(text) = &entry.shape
                    && let Some(job) = in_order(&text.galley)
                {
                    turned.push((layer, ShapeIdx(at), job));
                }
            }
        }
    });
    for (layer, at, job) in turned {
        let galley = ctx.fonts_mut(|fonts| fonts.layout_job(job));
        ctx.graphics_mut(|graphics| {
            graphics.entry(layer).mutate_shape(at, |entry| {
                if let Shape::Text(text) = &mut entry.shape {
                    text.galley = galley;
                }
            });
        });
    }
}

/// A line with its words in the order that they are read from left to right, if that is another.
fn in_order(galley: &Galley) -> Option<LayoutJob> {
    // Letters from right to left begin at U+0590.
    let plain = galley.job.text.bytes().all(|byte| byte < 0xD6);
    if plain || galley.elided || galley.rows.len() != 1 {
        return None;
    }
    let mut job = LayoutJob::clone(&galley.job);
    let (mut text, mut changed) = (String::with_capacity(job.text.len()), false);
    for section in &mut job.sections {
        let part = galley.job.text.get(section.byte_range.start.0..section.byte_range.end.0)?;
        let begin = text.len();
        match words_by_eye(part) {
            Some(turned) => {
                changed = true;
                text.push_str(&turned);
            }
            None => text.push_str(part),
        }
        section.byte_range = begin.into()..text.len().into();
    }
    job.text = text;
    // Laid out once already: it fits.
    job.wrap.max_width = f32::INFINITY;
    changed.then_some(job)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::{Duration, Instant};

    /// Shows a text for some frames and gives what was drawn.
    fn shown(ctx: &Context, letters: &mut Letters, text: &str) -> Vec<String> {
        let started = Instant::now();
        loop {
            letters.take(ctx);
            let mut out = ctx.run_ui(Default::default(), |ui| {
                ui.label(text);
            });
            letters.ask();
            out.textures_delta.clear();
            if letters.are_idle() {
                let texts = out.shapes.into_iter().filter_map(|entry| match entry.shape {
                    Shape::Text(text) => Some(text.galley.job.text.clone()),
                    _ => None,
                });
                return texts.collect();
            }
            assert!(started.elapsed() < Duration::from_secs(60), "no end to looking for fonts");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    #[test]
    fn a_font_is_found_when_a_text_wants_it() {
        let ctx = Context::default();
        let mut letters = Letters::new(&ctx);
        let fonts = |ctx: &Context| ctx.fonts(|fonts| fonts.definitions().font_data.len());
        shown(&ctx, &mut letters, "Lantern fair, Φανάρι, Фонарь");
        let own = fonts(&ctx);
        for (name, more) in [("فانوس", 1), ("פנס", 0), ("灯笼节", 1), ("提灯まつり", 0)] {
            let before = fonts(&ctx);
            shown(&ctx, &mut letters, name);
            // Taken in at the next frame.
            shown(&ctx, &mut letters, name);
            let has = ctx.fonts_mut(|fonts| fonts.has_glyphs(&egui::FontId::proportional(13.0), name));
            assert!(has, "no font for {name}; install one with: apt-get install fonts-droid-fallback");
            assert!(fonts(&ctx) <= before + more, "{name}");
        }
        assert!(fonts(&ctx) > own);
        // A letter that no font has is looked for once.
        shown(&ctx, &mut letters, "\u{10FFFD}");
        let before = letters.known.len();
        shown(&ctx, &mut letters, "\u{10FFFD} \u{10FFFD}");
        assert_eq!(letters.known.len(), before);
    }

    #[test]
    fn words_from_right_to_left_stand_in_the_order_they_are_read() {
        let ctx = Context::default();
        let mut letters = Letters::new(&ctx);
        // Word by word from left to right, each with its letters as they are spelled (UAX 9, L2).
        assert_eq!(shown(&ctx, &mut letters, "אב גד"), ["גד אב"]);
        assert_eq!(shown(&ctx, &mut letters, "Fair אב (גד) 24"), ["Fair 24 (גד) אב"]);
        assert_eq!(shown(&ctx, &mut letters, "Fair 24"), ["Fair 24"]);
    }
}
