//! What the bench knows of the artwork besides its print: facts of the file and of the size, the
//! art as it was received, the whole art for cropping, soft edges and stray specks.

use std::sync::Arc;

use egui::{Color32, ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::prep::{
    BackgroundSettings, FoundBackground, PrepSettings, Prepared, PrintFacts, SoftEdges, Speck, as_received,
    find_background, find_soft_edges, print_facts, stray_specks, whole_art,
};
use strikeoff_core::raster::Picture;
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::units::{Lpi, MM_PER_INCH};
use strikeoff_files::art::{FileFacts, ReadOptions, receive_bytes_watched};

use super::slot::{Outcome, Slot};
use crate::session::Document;
use crate::session::Same;

/// Longest side of the art as received, in pixels: twice the proxy, for looking closer.
const BEFORE_PX: usize = 2800;
/// Longest side of the art that a crop is drawn on.
const WHOLE_PX: usize = 1100;
/// Longest side at which specks are looked for.
const SPECK_PX: usize = 1400;

/// What a study follows from.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyKey {
    art: Same<Art>,
    prepared: Same<Prepared>,
    prep: PrepSettings,
    ruling: Lpi,
}

/// The slot of the study.
pub type ArtStudy = Slot<StudyKey, Study, Kept>;

/// What is known of the artwork, with pictures that are ready to draw.
pub struct Study {
    /// Facts of the file, or why there are none.
    pub file: Result<Arc<FileFacts>, String>,
    /// Facts at print size.
    pub print: PrintFacts,
    /// Stray specks, those that the job takes away included.
    pub specks: Vec<Speck>,
    /// The plain background, if the art has one.
    pub background: Option<FoundBackground>,
    /// Whether there is a background that a screen can be taken out of: something clear, or an edge in one colour.
    pub trims: bool,
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

/// What a study of the document's art follows from, as it is prepared now.
pub fn study_key(doc: &Document, prepared: &Arc<Prepared>) -> StudyKey {
    StudyKey {
        art: Same(doc.art.clone()),
        prepared: Same(prepared.clone()),
        prep: doc.job.working_prep(),
        ruling: doc.job.film.ruling,
    }
}

/// Studies the art.
pub fn study(
    doc: &Document,
    key: StudyKey,
    ctx: &Context,
) -> impl FnOnce(&mut Kept, &Progress) -> Outcome<Study> + use<> {
    let file = File { bytes: doc.art_bytes.clone(), name: doc.art_name.clone(), facts: doc.facts.clone() };
    let ctx = ctx.clone();
    move |kept, progress| studied(&key, &file, &ctx, kept, progress).map(Ok)
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

/// The file as it came.
struct File {
    bytes: Arc<Vec<u8>>,
    name: String,
    facts: Option<Arc<FileFacts>>,
}

/// A picture on the graphics card, with the art and the settings that it was made of.
type KeptPicture = Option<(Arc<Art>, PrepSettings, TextureHandle)>;

/// What most changes leave alone.
#[derive(Default)]
pub struct Kept {
    before: KeptPicture,
    whole: KeptPicture,
    facts: Option<(Arc<Vec<u8>>, usize, Arc<FileFacts>)>,
}

impl Kept {
    fn picture(
        kept: &mut KeptPicture,
        art: &Arc<Art>,
        prep: PrepSettings,
        load: impl FnOnce(ColorImage) -> TextureHandle,
        make: impl FnOnce(&PrepSettings) -> Option<Picture>,
    ) -> Option<TextureHandle> {
        if let Some((of, settings, texture)) = kept
            && Arc::ptr_eq(of, art)
            && *settings == prep
        {
            return Some(texture.clone());
        }
        let texture = load(to_image(&make(&prep)?));
        *kept = Some((art.clone(), prep, texture.clone()));
        Some(texture)
    }

    fn facts(&mut self, file: &File, page: usize, progress: &Progress) -> Result<Arc<FileFacts>, String> {
        if let Some(facts) = &file.facts {
            return Ok(facts.clone());
        }
        if let Some((bytes, of, facts)) = &self.facts
            && Arc::ptr_eq(bytes, &file.bytes)
            && *of == page
        {
            return Ok(facts.clone());
        }
        let read = receive_bytes_watched(&file.name, &file.bytes, ReadOptions { page }, progress);
        let facts = Arc::new(read.map_err(|error| error.to_string())?.facts);
        self.facts = Some((file.bytes.clone(), page, facts.clone()));
        Ok(facts)
    }
}

fn studied(key: &StudyKey, file: &File, ctx: &Context, kept: &mut Kept, progress: &Progress) -> Option<Study> {
    let StudyKey { art, prepared, prep, ruling } = key;
    let (art, ruling) = (&art.0, *ruling);
    let load = |name: &str, image: ColorImage| ctx.load_texture(name, image, TextureOptions::LINEAR);
    let whole = Kept::picture(
        &mut kept.whole,
        art,
        turning(prep),
        |image| load("whole artwork", image),
        |prep| whole_art(art, prep, WHOLE_PX, progress).ok(),
    )?;
    let print = print_facts(art, prepared, ruling);
    progress.step("study the artwork", 0.3).ok()?;
    let edges = find_soft_edges(&prepared.picture, prepared.ppi.get(), ruling);
    let soft = halvings(soft_map(&edges, ruling)).into_iter().map(|map| load("soft edges", map)).collect();
    progress.step("study the artwork", 0.5).ok()?;
    let specks = stray_specks(art, prep, Detail::Proxy { longest_px: SPECK_PX }, progress).ok()?;
    progress.step("study the artwork", 0.7).ok()?;
    let tolerance = prep.background.as_ref().map_or(BackgroundSettings::default().tolerance, |b| b.tolerance);
    let small = as_received(art, prep, Detail::Proxy { longest_px: 700 }, progress).ok()?;
    let background = find_background(&small.picture, tolerance);
    let trims = strikeoff_core::tune::background(&prepared.picture).is_some();
    let before = Kept::picture(
        &mut kept.before,
        art,
        placing(prep),
        |image| load("as received", image),
        |prep| {
            let made = as_received(art, prep, Detail::Proxy { longest_px: BEFORE_PX }, progress);
            made.ok().map(|made| made.picture)
        },
    )?;
    let file = kept.facts(file, prep.page, progress);
    progress.step("study the artwork", 1.0).ok()?;
    Some(Study { file, print, specks, background, trims, soft, before, whole })
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
