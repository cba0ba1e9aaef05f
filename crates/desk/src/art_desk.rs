//! What the bench knows of the artwork besides its print: facts of the file and of the size, the
//! art as it was received, the whole art for cropping, soft edges and stray specks. Found on a lane
//! of its own after each preparation; and how the user looks at them.

use std::sync::Arc;

use egui::{Color32, ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::prep::{
    BackgroundSettings, FoundBackground, PrepSettings, Prepared, PrintFacts, SoftEdges, Speck, as_received,
    find_background, find_soft_edges, print_facts, stray_specks, whole_art,
};
use strikeoff_core::raster::{Art, Detail, Picture};
use strikeoff_core::units::{Lpi, MM_PER_INCH};
use strikeoff_files::art::{FileFacts, ReadOptions, Received, receive_bytes_watched};

use crate::Document;
use crate::work::{Lane, Manner};

/// Longest side of the art as received, in pixels: twice the proxy, for looking closer.
const BEFORE_PX: usize = 2800;
/// Longest side of the art that a crop is drawn on.
const WHOLE_PX: usize = 1100;
/// Longest side at which specks are looked for.
const SPECK_PX: usize = 1400;

/// Everything the art is studied for.
#[derive(Clone)]
struct Question {
    art: Arc<Art>,
    bytes: Arc<Vec<u8>>,
    name: String,
    facts: Option<Arc<FileFacts>>,
    prep: PrepSettings,
    ruling: Lpi,
    prepared: Arc<Prepared>,
}

impl Question {
    fn same_as(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.art, &other.art)
            && Arc::ptr_eq(&self.prepared, &other.prepared)
            && self.prep == other.prep
            && self.ruling == other.ruling
    }
}

/// What came of it, as pictures that are not on the graphics card yet.
struct Answer {
    question: Question,
    file: Result<Arc<FileFacts>, String>,
    print: PrintFacts,
    specks: Vec<Speck>,
    background: Option<FoundBackground>,
    soft: Vec<ColorImage>,
    before: Arc<ColorImage>,
    whole: Arc<ColorImage>,
}

/// The same, ready to draw.
pub struct Study {
    question: Question,
    /// Facts of the file, or why there are none.
    pub file: Result<Arc<FileFacts>, String>,
    /// Facts at print size.
    pub print: PrintFacts,
    /// Stray specks, those that the job takes away included.
    pub specks: Vec<Speck>,
    /// The plain background, if the art has one.
    pub background: Option<FoundBackground>,
    /// Edges in the colours of [`SOFT_STEPS`], clear elsewhere, at the place of the print: each
    /// picture half the size of the one before, so that a small print is not all glitter.
    soft: Vec<TextureHandle>,
    /// The art as it was received, at the place of the print.
    pub before: TextureHandle,
    /// All of the turned art.
    pub whole: TextureHandle,
}

impl Study {
    /// The map of soft edges for a print that is `wide` pixels on the screen.
    pub fn soft_map(&self, wide: f32) -> Option<&TextureHandle> {
        self.soft.iter().rev().find(|map| map.size()[0] as f32 >= wide).or(self.soft.first())
    }
}

/// One step of the soft-edge map: edges up to this many halftone lines wide.
pub struct SoftStep {
    /// Widest edge in lines; the last step has no end.
    pub lines: f64,
    /// In words.
    pub label: &'static str,
    /// Its colour.
    pub color: Color32,
}

/// Steps of the soft-edge map. An edge narrower than a line is as sharp as the dots can show;
/// over one and a half lines it prints soft (common practice, no source).
pub const SOFT_STEPS: [SoftStep; 3] = [
    SoftStep { lines: 1.0, label: "sharp", color: Color32::from_rgb(0xf2, 0xf4, 0xf5) },
    SoftStep { lines: 1.5, label: "a little soft", color: Color32::from_rgb(0xf0, 0xb4, 0x3c) },
    SoftStep { lines: f64::INFINITY, label: "soft", color: Color32::from_rgb(0xe8, 0x3e, 0x8c) },
];

/// Which page of the file to read anew.
struct PageWanted {
    name: String,
    bytes: Arc<Vec<u8>>,
    page: usize,
}

/// The artwork's corner of the bench.
pub struct ArtDesk {
    lane: Lane<Question, Answer>,
    page_lane: Lane<PageWanted, (usize, Result<Received, String>)>,
    asked: Option<Question>,
    page_asked: Option<usize>,
    /// What is known; of an older job state while a newer one is studied.
    pub study: Option<Study>,
    /// The table shows the whole art with the crop on it.
    pub cropping: bool,
    /// Soft edges are shown over the art.
    pub soft: bool,
    /// Specks are ringed.
    pub specks: bool,
    /// The art as received lies left of the divider in the art view.
    pub split: bool,
    /// The art as received is shown as long as this is held.
    pub hold: bool,
    /// The speck gone to last.
    pub speck_at: usize,
}

impl ArtDesk {
    pub fn new(ctx: &Context) -> Self {
        let mut kept = Kept::default();
        Self {
            lane: Lane::new("study the artwork", ctx, Manner::StopAtOnce, move |question, progress| {
                study(question, &mut kept, progress)
            }),
            page_lane: Lane::new("read the page", ctx, Manner::FinishFirst, |wanted: PageWanted, progress| {
                let options = ReadOptions { page: wanted.page };
                let read = receive_bytes_watched(&wanted.name, &wanted.bytes, options, progress);
                Some((wanted.page, read.map_err(|error| error.to_string())))
            }),
            asked: None,
            page_asked: None,
            study: None,
            cropping: false,
            soft: false,
            specks: false,
            split: false,
            hold: false,
            speck_at: 0,
        }
    }

    /// Another document is on the bench.
    pub fn clear(&mut self) {
        self.lane.cancel();
        (self.asked, self.study, self.page_asked) = (None, None, None);
        (self.cropping, self.soft, self.specks, self.split) = (false, false, false, false);
        self.speck_at = 0;
    }

    /// Whether the document's art is of the page that its job uses; asks for that page if not.
    pub fn has_page(&mut self, doc: &Document) -> bool {
        let page = doc.job.prep.page;
        if doc.page == page {
            return true;
        }
        if self.page_asked != Some(page) {
            self.page_asked = Some(page);
            self.page_lane.request(PageWanted { name: doc.art_name.clone(), bytes: doc.art_bytes.clone(), page });
        }
        false
    }

    /// Takes in a page that was read; gives what went wrong.
    pub fn take_page(&mut self, doc: &mut Document) -> Option<String> {
        let (page, read) = self.page_lane.poll()?.value;
        if self.page_asked != Some(page) {
            return None;
        }
        self.page_asked = None;
        match read {
            Ok(received) => {
                doc.put_art(received, page);
                None
            }
            Err(text) => {
                doc.job.prep.page = doc.page;
                Some(text)
            }
        }
    }

    /// Asks for a study of the art as it is prepared now, unless there is one.
    pub fn ask(&mut self, doc: &Document, prepared: &Arc<Prepared>) {
        let question = Question {
            art: doc.art.clone(),
            bytes: doc.art_bytes.clone(),
            name: doc.art_name.clone(),
            facts: doc.facts.clone(),
            prep: doc.job.working_prep(),
            ruling: doc.job.film.ruling,
            prepared: prepared.clone(),
        };
        if self.asked.as_ref().is_none_or(|asked| !asked.same_as(&question)) {
            self.asked = Some(question.clone());
            self.lane.request(question);
        }
    }

    /// Takes in a study that is ready, with its pictures.
    pub fn take_study(&mut self, ctx: &Context) {
        let Some(answer) = self.lane.poll() else { return };
        let Answer { question, file, print, specks, background, soft, before, whole } = answer.value;
        if self.asked.as_ref().is_none_or(|asked| !Arc::ptr_eq(&asked.art, &question.art)) {
            return;
        }
        let old = self.study.take();
        // Pictures that a change did not touch stay on the graphics card.
        let load = |name, image: &Arc<ColorImage>, old: Option<TextureHandle>, same: bool| match old {
            Some(texture) if same => texture,
            _ => ctx.load_texture(name, image.clone(), TextureOptions::LINEAR),
        };
        let same_art = old.as_ref().is_some_and(|old| Arc::ptr_eq(&old.question.art, &question.art));
        let same_place = same_art && old.as_ref().is_some_and(|o| placing(&o.question.prep) == placing(&question.prep));
        let same_turn = same_art && old.as_ref().is_some_and(|o| turning(&o.question.prep) == turning(&question.prep));
        let (old_before, old_whole) = old.map_or((None, None), |old| (Some(old.before), Some(old.whole)));
        self.study = Some(Study {
            soft: soft.into_iter().map(|map| ctx.load_texture("soft edges", map, TextureOptions::LINEAR)).collect(),
            before: load("as received", &before, old_before, same_place),
            whole: load("whole artwork", &whole, old_whole, same_turn),
            question,
            file,
            print,
            specks,
            background,
        });
    }

    /// Whether nothing is being studied or read.
    pub fn is_idle(&self) -> bool {
        self.lane.is_idle() && self.page_lane.is_idle()
    }

    /// Whether the study is of the job as it was asked for last.
    pub fn is_current(&self) -> bool {
        match (&self.asked, &self.study) {
            (Some(asked), Some(study)) => asked.same_as(&study.question),
            (asked, _) => asked.is_none(),
        }
    }
}

/// The settings that decide where the art lies, and nothing else.
fn placing(prep: &PrepSettings) -> PrepSettings {
    PrepSettings {
        crop: prep.crop,
        content_margin_mm: prep.content_margin_mm,
        background: prep.background.clone(),
        max_width_mm: prep.max_width_mm,
        max_height_mm: prep.max_height_mm,
        platen: prep.platen,
        smallest_garment: prep.smallest_garment,
        ppi: prep.ppi,
        ..turning(prep)
    }
}

fn turning(prep: &PrepSettings) -> PrepSettings {
    PrepSettings { turn: prep.turn, straighten: prep.straighten, ..PrepSettings::default() }
}

/// Pictures that most changes leave alone, each with the art and the settings it was made of.
#[derive(Default)]
struct Kept {
    before: Option<(Arc<Art>, PrepSettings, Arc<ColorImage>)>,
    whole: Option<(Arc<Art>, PrepSettings, Arc<ColorImage>)>,
    facts: Option<(Arc<Vec<u8>>, usize, Arc<FileFacts>)>,
}

impl Kept {
    fn picture(
        slot: &mut Option<(Arc<Art>, PrepSettings, Arc<ColorImage>)>,
        art: &Arc<Art>,
        prep: PrepSettings,
        make: impl FnOnce(&PrepSettings) -> Option<Picture>,
    ) -> Option<Arc<ColorImage>> {
        if let Some((kept, settings, image)) = slot
            && Arc::ptr_eq(kept, art)
            && *settings == prep
        {
            return Some(image.clone());
        }
        let image = Arc::new(to_image(&make(&prep)?));
        *slot = Some((art.clone(), prep, image.clone()));
        Some(image)
    }

    fn facts(&mut self, question: &Question, progress: &Progress) -> Result<Arc<FileFacts>, String> {
        if let Some(facts) = &question.facts {
            return Ok(facts.clone());
        }
        let page = question.prep.page;
        if let Some((bytes, of, facts)) = &self.facts
            && Arc::ptr_eq(bytes, &question.bytes)
            && *of == page
        {
            return Ok(facts.clone());
        }
        let read = receive_bytes_watched(&question.name, &question.bytes, ReadOptions { page }, progress);
        let facts = Arc::new(read.map_err(|error| error.to_string())?.facts);
        self.facts = Some((question.bytes.clone(), page, facts.clone()));
        Ok(facts)
    }
}

fn study(question: Question, kept: &mut Kept, progress: &Progress) -> Option<Answer> {
    let Question { art, prep, prepared, .. } = &question;
    let whole =
        Kept::picture(&mut kept.whole, art, turning(prep), |prep| whole_art(art, prep, WHOLE_PX, progress).ok())?;
    let print = print_facts(art, prepared, question.ruling);
    progress.step("study the artwork", 0.3).ok()?;
    let edges = find_soft_edges(&prepared.picture, prepared.ppi.get(), question.ruling);
    let soft = halvings(soft_map(&edges, question.ruling));
    progress.step("study the artwork", 0.5).ok()?;
    let specks = stray_specks(art, prep, Detail::Proxy { longest_px: SPECK_PX }, progress).ok()?;
    progress.step("study the artwork", 0.7).ok()?;
    let tolerance = prep.background.as_ref().map_or(BackgroundSettings::default().tolerance, |b| b.tolerance);
    let small = as_received(art, prep, Detail::Proxy { longest_px: 700 }, progress).ok()?;
    let background = find_background(&small.picture, tolerance);
    let before = Kept::picture(&mut kept.before, art, placing(prep), |prep| {
        let made = as_received(art, prep, Detail::Proxy { longest_px: BEFORE_PX }, progress);
        made.ok().map(|made| made.picture)
    })?;
    let file = kept.facts(&question, progress);
    progress.step("study the artwork", 1.0).ok()?;
    Some(Answer { question, file, print, specks, background, soft, before, whole })
}

fn to_image(picture: &Picture) -> ColorImage {
    ColorImage::from_rgba_unmultiplied([picture.width(), picture.height()], &picture.to_rgba8())
}

/// A picture and its halvings, while they are more than 200 pixels wide.
fn halvings(first: ColorImage) -> Vec<ColorImage> {
    let mut made = vec![first];
    while let Some(last) = made.last()
        && last.width() > 400
        && last.height() > 1
    {
        let [w, h] = [last.width() / 2, last.height() / 2];
        let pixels = (0..w * h).map(|at| {
            let (x, y) = (at % w * 2, at / w * 2);
            let four = [last[(x, y)], last[(x + 1, y)], last[(x, y + 1)], last[(x + 1, y + 1)]];
            let mean = |i: usize| (four.iter().map(|c| u16::from(c.to_array()[i])).sum::<u16>().div_ceil(4)) as u8;
            Color32::from_rgba_premultiplied(mean(0), mean(1), mean(2), mean(3))
        });
        let half = ColorImage::new([w, h], pixels.collect());
        made.push(half);
    }
    made
}

/// Edges in the colours of their steps, a pixel wider than they are so that they are seen.
fn soft_map(edges: &SoftEdges, ruling: Lpi) -> ColorImage {
    let (w, h) = (edges.width_um.width(), edges.width_um.height());
    let line_um = MM_PER_INCH * 1000.0 / ruling.get();
    let reach = (w.max(h) / 900).max(1);
    let mut image = ColorImage::filled([w, h], Color32::TRANSPARENT);
    for (step, at_most) in SOFT_STEPS.iter().map(|step| (step.color, step.lines * line_um)) {
        let at_least = SOFT_STEPS.iter().map(|s| s.lines * line_um).filter(|&l| l < at_most).fold(0.0, f64::max);
        for y in 0..h {
            for (x, &width) in edges.width_um.row(y).iter().enumerate() {
                let width = f64::from(width);
                if width == 0.0 || width > at_most || width <= at_least {
                    continue;
                }
                for ny in y.saturating_sub(reach)..=(y + reach).min(h - 1) {
                    image.pixels[ny * w + x.saturating_sub(reach)..=ny * w + (x + reach).min(w - 1)].fill(step);
                }
            }
        }
    }
    image
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_core::raster::Plane;

    #[test]
    fn the_map_paints_each_edge_in_the_colour_of_its_step() {
        // At 50 lines an inch a line is 508 um wide.
        let mut width_um = Plane::filled(60, 20, 0_u16);
        for (x, um) in [(10, 400), (30, 700), (50, 900)] {
            width_um.set(x, 10, um);
        }
        let edges = SoftEdges { width_um, median_width_mm: None, soft_share: 0.0 };
        let map = soft_map(&edges, Lpi::new(50.0).unwrap());
        for (x, step) in [(10, 0), (30, 1), (50, 2)] {
            assert_eq!(map[(x, 10)], SOFT_STEPS[step].color);
            assert_eq!(map[(x + 1, 9)], SOFT_STEPS[step].color);
        }
        assert_eq!(map[(20, 10)], Color32::TRANSPARENT);
    }
}
