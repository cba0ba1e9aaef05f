//! The reorder of a run: what was printed beside what would be printed now.

use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::job::Job;
use strikeoff_core::raster::Picture;
use strikeoff_files::job::NamedVersion;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::reorder::{Reorder, reorder};

use super::slot::Outcome;
use crate::session::{Document, Same, Value};

/// What a reorder follows from.
#[derive(Clone, PartialEq)]
pub struct ReorderKey {
    /// The job as it stands.
    pub job: Value<Job>,
    /// What was printed.
    pub versions: Same<Vec<NamedVersion>>,
    /// The shop as it is.
    pub profile: ShopProfile,
    /// Which run, from 1; none: the latest.
    pub run: Option<usize>,
}

/// A reorder in sight.
pub struct ReorderLook {
    /// What was found.
    pub found: Reorder,
    /// The print that was made, as the job stands, the same, updated.
    pub pictures: [TextureHandle; 4],
}

/// Works it out.
pub fn look(
    doc: &Document,
    key: &ReorderKey,
    ctx: &Context,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<ReorderLook> + use<> {
    let (doc, key, ctx) = (doc.clone(), key.clone(), ctx.clone());
    move |(), progress| {
        let found = reorder(&doc.to_file(None), key.run, &key.profile, progress);
        if progress.step("compare the prints", 1.0).is_err() {
            return None;
        }
        Some(found.map_err(|error| error.to_string()).map(|found| {
            let texture = |name: &str, picture: &Picture| {
                let size = [picture.width(), picture.height()];
                let image = ColorImage::from_rgba_unmultiplied(size, &picture.to_rgba8());
                ctx.load_texture(name, image, TextureOptions::LINEAR)
            };
            let pictures = [
                texture("printed then", &found.printed),
                texture("as it stands", &found.now.picture),
                texture("the same", &found.same.picture),
                texture("updated", &found.updated.picture),
            ];
            ReorderLook { found, pictures }
        }))
    }
}
