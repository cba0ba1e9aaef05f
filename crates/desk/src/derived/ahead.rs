//! What will happen on press, looked at beside the proof: findings and plain facts as soon as the full
//! size stands still; orders and other garments when the drawer is open.

use std::sync::Arc;
use strikeoff_core::screens::ScreenName;

use egui::{Color32, ColorImage, Context, TextureHandle, TextureOptions};
use strikeoff_core::Progress;
use strikeoff_core::findings::{Outlook, outlook};
use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Job, Level};
use strikeoff_core::preview::{GarmentSwap, OrderMark, moire_close_up, search_orders, swap_garments};
use strikeoff_core::units::{Degrees, Lpi};
use strikeoff_core::usage::Mesh;

use super::slot::Outcome;
use crate::session::{Same, Value};

/// What an outlook follows from: the screens at full size and all of the job.
pub type OutlookKey = (Same<Level>, Value<Job>);
/// What other plans follow from: the same, and the document's other garments.
pub type PlansKey = (Same<Level>, Value<Job>, Vec<Garment>);
/// A finding of an outlook.
pub type FindingKey = (Same<Outlook>, usize);
/// A tint on a mesh.
pub type TintKey = (Mesh, Lpi, Degrees);

/// Other ways to run the job.
pub struct Plans {
    /// The present order's mark.
    pub present: OrderMark,
    /// The best orders.
    pub best: Vec<OrderMark>,
    /// The same screens on the document's other garments.
    pub swaps: Vec<GarmentSwap>,
}

/// Checks a job.
pub fn look_ahead(key: &OutlookKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Arc<Outlook>> + use<> {
    let (level, job) = key.clone();
    move |(), progress| {
        // As the verbs see its first garment.
        let look = outlook(&job.seen_on(0), &level.prepared, &level.screens, progress).ok()?;
        Some(Ok(Arc::new(look)))
    }
}

/// Compares other print orders and garments.
pub fn compare_plans(key: &PlansKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Plans> + use<> {
    let (level, job, garments) = key.clone();
    move |(), progress| {
        let Level { prepared, screens } = &*level;
        let (present, best) = search_orders(&job, prepared, screens, 3, progress).ok()?;
        let swaps = swap_garments(&job, prepared, screens, &garments, progress).ok()?;
        Some(Ok(Plans { present, best, swaps }))
    }
}

/// The map of a finding: a veil over the print, so that the risk stands out of colours like its own.
pub fn draw_place(
    key: &FindingKey,
    ctx: &Context,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<Option<TextureHandle>> + use<> {
    let ((look, at), ctx) = (key.clone(), ctx.clone());
    move |(), _| {
        let place = look.findings.get(at).and_then(|finding| finding.place.as_ref());
        Some(Ok(place.map(|place| {
            let (w, h) = (place.map.width(), place.map.height());
            let (veil, risk) = ([0x20i32, 0x20, 0x24, 0x78], [0xff, 0x4f, 0xae, 0xe0]);
            let spot = |&v: &u8| {
                let [r, g, b, a] =
                    std::array::from_fn(|i| (veil[i] as f32 + (risk[i] - veil[i]) as f32 * f32::from(v) / 255.0) as u8);
                Color32::from_rgba_unmultiplied(r, g, b, a)
            };
            let pixels = place.map.data().iter().map(spot).collect();
            ctx.load_texture("finding", ColorImage::new([w, h], pixels), TextureOptions::NEAREST)
        })))
    }
}

/// What a close-up of a screen's tint follows from.
pub fn tint_key(job: &Job, screen: &ScreenName) -> TintKey {
    let (ruling, angle, _) = job.film.of_screen(screen);
    (job.run.mesh_of(screen).clone(), ruling, angle)
}

/// The close-up of a 30 % tint of a screen through its mesh, 25 mm wide.
pub fn draw_close_up(
    key: &TintKey,
    ctx: &Context,
) -> impl FnOnce(&mut (), &Progress) -> Outcome<TextureHandle> + use<> {
    let ((mesh, ruling, angle), ctx) = (key.clone(), ctx.clone());
    move |(), _| {
        let px = 240;
        let plane = moire_close_up(&mesh, ruling, angle.get(), 0.3, 25.0, px);
        // A tint lets 0 to about a third of the ink through: stretched so that beats can be judged.
        let most = f32::from(plane.data().iter().copied().max().unwrap_or(1).max(1));
        let grey: Vec<u8> = plane.data().iter().map(|&v| 255 - (f32::from(v) / most * 235.0) as u8).collect();
        let image = ColorImage::from_gray([px, px], &grey);
        Some(Ok(ctx.load_texture("moire close-up", image, TextureOptions::LINEAR)))
    }
}
