//! The words by which a job is found.

use std::io::Cursor;

use image::ImageFormat;
use strikeoff_core::color::color_words;
use strikeoff_core::ink::Ink;
use strikeoff_core::job::Job;

use super::JobCard;
use crate::job::JobLook;

/// Longer side of the pictures on the shelf, in pixels.
const PICTURE_PX: u32 = 128;

/// A job as the index keeps it.
pub struct Entry {
    /// What is shown; the path is its name below the folder.
    pub card: JobCard,
    /// What it is found by.
    pub words: String,
}

/// As words are compared.
pub fn folded(text: &str) -> String {
    text.to_lowercase()
}

/// What is shown of a job, and what it is found by: all that its ticket states, its garment, its inks with their colours
/// in words, its runs, and its file's name.
pub fn card(name: &str, look: JobLook) -> Entry {
    let JobLook { mut job, art_name, thumbnail } = look;
    let inks: Vec<Ink> = job.inks_mut().map(|ink| ink.clone()).collect();
    let mut names: Vec<String> = inks.iter().map(|ink| ink.name.clone()).collect();
    names.dedup();
    let mut said = vec![name.to_owned(), art_name.clone(), job.info.title.clone(), job.garment.name.clone()];
    said.extend(job.garment.fabric.clone());
    said.push(color_words(job.garment.color));
    for ink in &inks {
        said.extend([ink.name.clone(), color_words(ink.over_white)]);
    }
    said.extend(job.info.stated().into_iter().map(|(_, text)| text));
    said.extend(job.info.due.map(|due| due.to_string()));
    for run in &job.info.runs {
        said.extend([run.date.to_string(), run.line()]);
    }
    let Job { info, garment, .. } = job;
    let card = JobCard {
        path: name.into(),
        title: if info.title.trim().is_empty() { art_name } else { info.title },
        client: info.client,
        order: info.order,
        due: info.due.map(|due| due.to_string()).unwrap_or_default(),
        printed: info.runs.iter().map(|run| run.date).max().map(|date| date.to_string()).unwrap_or_default(),
        garment: garment.name,
        inks: names,
        picture: thumbnail.as_deref().and_then(small),
    };
    Entry { card, words: folded(&said.join("\n")) }
}

/// The picture as the shelf shows it; none if it cannot be read.
fn small(png: &[u8]) -> Option<Vec<u8>> {
    let picture = image::load_from_memory_with_format(png, ImageFormat::Png).ok()?;
    let mut out = Cursor::new(Vec::new());
    picture.thumbnail(PICTURE_PX, PICTURE_PX).to_rgb8().write_to(&mut out, ImageFormat::Png).ok()?;
    Some(out.into_inner())
}
