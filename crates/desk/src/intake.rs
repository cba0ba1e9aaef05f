//! Files onto the bench: dialogs of the system and decoding, each on its own lane so that the
//! window never waits. A dialog may be missing (no portal on the machine): the sheets then take
//! a typed path.

use std::path::PathBuf;
use std::sync::Arc;

use egui::Context;
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::{Art, Job};
use strikeoff_core::separate::PlannedScreen;
use strikeoff_files::art::read_art;

use crate::work::{Lane, Manner};
use crate::{Document, Shop};

/// What to ask the user for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ask {
    /// A picture or a job.
    File,
}

/// The lane that shows the system's dialogs; it answers with the choice, if there was one.
pub fn dialog_lane(ctx: &Context) -> Lane<Ask, (Ask, Option<PathBuf>)> {
    Lane::new("dialog", ctx, Manner::FinishFirst, |ask, _| {
        let dialog = rfd::FileDialog::new();
        let chosen = match ask {
            Ask::File => dialog
                .set_title("Open a picture or a job")
                .add_filter(
                    "Pictures and jobs",
                    &["png", "jpg", "jpeg", "tif", "tiff", "webp", "svg", "pdf", "strikeoff"],
                )
                .pick_file(),
        };
        Some((ask, chosen))
    })
}

/// The lane that reads files; it answers with a document or one sentence.
pub fn open_lane(ctx: &Context, shop: Arc<Shop>) -> Lane<PathBuf, Result<Document, String>> {
    Lane::new("open", ctx, Manner::FinishFirst, move |path: PathBuf, _| Some(open(&path, &shop)))
}

fn open(path: &std::path::Path, shop: &Shop) -> Result<Document, String> {
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let art = read_art(path).map_err(|error| error.to_string())?;
    Ok(new_document(art, &name, shop))
}

/// A new job for a picture: on white, as large as the art says, six ordinary inks.
fn new_document(art: Art, name: &str, shop: &Shop) -> Document {
    let white = shop.garments.iter().find(|g| g.is_white()).cloned();
    let garment = white.unwrap_or_else(|| Garment::of_color(strikeoff_core::color::Rgb8([255; 3])));
    let mut job = Job::new(garment);
    job.info.title = name.rsplit_once('.').map_or(name, |(stem, _)| stem).to_owned();
    job.separation.screens = first_inks(shop).into_iter().map(PlannedScreen::of_ink).collect();
    Document::new(job, art, name)
}

/// Black, a red, a yellow, a blue, a green and a white: something to look at until the user
/// chooses inks for this picture.
fn first_inks(shop: &Shop) -> Vec<Ink> {
    let of_role = |role| shop.shelf.inks.iter().find(|ink| ink.role == role);
    let nearest = |want: [u8; 3]| {
        let distance = |ink: &&Ink| {
            ink.over_white.0.iter().zip(want).map(|(&a, b)| (i32::from(a) - i32::from(b)).pow(2)).sum::<i32>()
        };
        shop.shelf.inks.iter().filter(|ink| ink.role == InkRole::Color).min_by_key(distance)
    };
    let wanted = [
        of_role(InkRole::Black),
        nearest([200, 40, 45]),
        nearest([250, 215, 60]),
        nearest([35, 80, 170]),
        nearest([30, 140, 90]),
        of_role(InkRole::White),
    ];
    let mut inks: Vec<Ink> = Vec::new();
    for ink in wanted.into_iter().flatten() {
        if inks.iter().all(|other| other.name != ink.name) {
            inks.push(ink.clone());
        }
    }
    inks
}
