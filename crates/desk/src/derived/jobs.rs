//! Jobs of a folder that are found by what is typed.

use std::path::PathBuf;

use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_files::job_shelf::{JobCard, JobShelf, Refreshed, ShelfError};

use super::slot::Outcome;

/// Jobs shown at once.
const SHOWN: usize = 40;

/// What the jobs in sight follow from.
#[derive(Debug, Clone, PartialEq)]
pub struct JobsKey {
    /// The folder.
    pub folder: PathBuf,
    /// Where its index is kept; none: in memory.
    pub cache: Option<PathBuf>,
    /// What is typed.
    pub words: String,
    /// How often the folder was to be looked through.
    pub looks: u32,
}

/// Jobs in sight.
pub struct JobsFound {
    /// The jobs, each with its picture and whether a bench has it open.
    pub cards: Vec<(JobCard, Option<TextureHandle>, bool)>,
    /// How many there are of them.
    pub count: usize,
    /// What looking through the folder has found.
    pub looked: Refreshed,
}

/// The shelf between two questions, and what was found when the folder was looked through last.
#[derive(Default)]
pub struct WarmShelf(Option<(JobsKey, JobShelf, Refreshed)>);

/// Looks through the folder where that is due, and finds.
pub fn find(key: &JobsKey, ctx: &Context) -> impl FnOnce(&mut WarmShelf, &Progress) -> Outcome<JobsFound> + use<> {
    let (key, ctx) = (key.clone(), ctx.clone());
    move |warm, progress| match found(&key, warm, &ctx, progress) {
        Err(ShelfError::Stopped) => None,
        other => Some(other.map_err(|error| error.to_string())),
    }
}

fn found(key: &JobsKey, warm: &mut WarmShelf, ctx: &Context, progress: &Progress) -> Result<JobsFound, ShelfError> {
    let of_it = |(of, ..): &(JobsKey, JobShelf, Refreshed)| {
        (&of.folder, &of.cache, of.looks) == (&key.folder, &key.cache, key.looks)
    };
    let (shelf, looked) = match warm.0.take().filter(of_it) {
        Some((_, shelf, looked)) => (shelf, looked),
        None => {
            let mut shelf = JobShelf::open(&key.folder, key.cache.as_deref())?;
            let looked = shelf.refresh(progress)?;
            (shelf, looked)
        }
    };
    let (cards, count) = shelf.find(&key.words, SHOWN)?;
    let cards = cards.into_iter().map(|card| {
        let picture = card.picture.as_deref().and_then(|png| texture(ctx, png));
        let taken = card.is_taken();
        (card, picture, taken)
    });
    let found = JobsFound { cards: cards.collect(), count, looked: looked.clone() };
    warm.0 = Some((key.clone(), shelf, looked));
    Ok(found)
}

fn texture(ctx: &Context, png: &[u8]) -> Option<TextureHandle> {
    let (size, pixels) = strikeoff_files::picture::small_png_pixels(png)?;
    let image = ColorImage::from_rgba_unmultiplied(size, &pixels);
    Some(ctx.load_texture("a job", image, TextureOptions::LINEAR))
}
