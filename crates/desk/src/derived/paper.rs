//! Pages of sheets as they will be written, drawn from the very bytes.

use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::findings::Outlook;
use strikeoff_files::sheet::{Paper, SheetKind, SheetOf, look_at_page};

use super::ahead::OutlookKey;
use super::slot::Outcome;
use crate::session::Same;

/// Longer side of a page in sight, in pixels.
const LONGEST_PX: u32 = 1400;

/// What a page in sight follows from.
#[derive(Clone, PartialEq)]
pub struct PaperKey {
    /// Findings and facts of the job.
    pub outlook: Same<Outlook>,
    /// What they follow from: screens at full size, and the job.
    pub of: OutlookKey,
    /// Which sheet.
    pub kind: SheetKind,
    /// Its paper.
    pub paper: Paper,
    /// Its page, from 1.
    pub page: usize,
}

/// A page in sight.
pub struct PaperPage {
    /// As it will be.
    pub texture: TextureHandle,
    /// Pages of its sheet.
    pub pages: usize,
}

/// Makes the sheet and draws the page.
pub fn draw_paper(key: &PaperKey, ctx: &Context) -> impl FnOnce(&mut (), &Progress) -> Outcome<PaperPage> + use<> {
    let (key, ctx) = (key.clone(), ctx.clone());
    move |(), _| {
        let (level, job) = &key.of;
        let (job, screens) = (&job.seen_on(0), &*job.printed(&level.screens));
        let of = SheetOf { job, prepared: &level.prepared, screens, outlook: &key.outlook };
        let drawn = match key.kind {
            SheetKind::Proof => Ok((of.small_proof(LONGEST_PX as usize), 1)),
            kind => kind.pdf(&of.content(), key.paper).and_then(|pdf| look_at_page(&pdf, key.page, LONGEST_PX)),
        };
        Some(drawn.map(|(picture, pages)| {
            let size = [picture.width(), picture.height()];
            let image = ColorImage::from_rgba_unmultiplied(size, &picture.to_rgba8());
            PaperPage { texture: ctx.load_texture("page of a sheet", image, TextureOptions::LINEAR), pages }
        }))
    }
}
