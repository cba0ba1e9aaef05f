//! Half clear art on several garments: the colour that it asks for is another on each. Opaque, it was solved for all of
//! them; where it fades, each garment's print is to fade into its fabric. Less ink on every screen alike would bare the
//! white of a base, since dots of two screens do not lie on each other, so the share that each screen keeps is solved
//! for every kind of colour and opacity that the picture has.

use std::collections::HashMap;

use rayon::prelude::*;

use crate::raster::{Picture, Plane, Rgba16};
use crate::separate::model::{MAX_SCREENS, PerScreen};
use crate::separate::plan::Plan;
use crate::separate::problem::{Pull, improve, objective};

/// What half clear pixels of one kind have on average.
#[derive(Clone, Copy)]
struct Kind {
    count: f32,
    alpha: f32,
    coverage: PerScreen,
}

/// Pixels of a kind are alike to 1/32 in each channel and to 1/64 in opacity.
fn kind_of(pixel: &Rgba16) -> u32 {
    let [r, g, b, a] = pixel.map(u32::from);
    (r >> 11) << 16 | (g >> 11) << 11 | (b >> 11) << 6 | a >> 10
}

fn is_half_clear(pixel: &Rgba16) -> bool {
    pixel[3] != 0 && pixel[3] != u16::MAX
}

/// Takes from planes that were solved for opaque art what is too much where it is half clear or clear.
pub(super) fn fade(planes: &mut [Plane<u16>], picture: &Picture, plan: &Plan) {
    let shares = shares(planes, picture, plan);
    for (screen, plane) in planes.iter_mut().enumerate() {
        let pixels = picture.pixels().data().par_iter().with_min_len(1 << 14);
        plane.data_mut().par_iter_mut().with_min_len(1 << 14).zip(pixels).for_each(|(coverage, pixel)| {
            if pixel[3] == 0 {
                *coverage = 0;
            } else if let Some((alpha, share)) = is_half_clear(pixel).then(|| shares.get(&kind_of(pixel))).flatten() {
                // Within a kind by its own opacity.
                let share = share[screen] * f32::from(pixel[3]) / 65_535.0 / alpha;
                *coverage = (f32::from(*coverage) * share.min(1.0)).round() as u16;
            }
        });
    }
}

/// The mean opacity of every kind, and the share of each coverage that is kept.
fn shares(planes: &[Plane<u16>], picture: &Picture, plan: &Plan) -> HashMap<u32, (f32, PerScreen)> {
    let mut kinds: HashMap<u32, Kind> = HashMap::new();
    for (at, pixel) in picture.pixels().data().iter().enumerate().filter(|(_, pixel)| is_half_clear(pixel)) {
        let kind = kinds.entry(kind_of(pixel)).or_insert(Kind { count: 0.0, alpha: 0.0, coverage: [0.0; MAX_SCREENS] });
        kind.count += 1.0;
        kind.alpha += f32::from(pixel[3]) / 65_535.0;
        for (sum, plane) in kind.coverage.iter_mut().zip(planes) {
            *sum += f32::from(plane.data()[at]) / 65_535.0;
        }
    }
    let share = |(key, kind): (u32, Kind)| {
        let (alpha, solid) = (kind.alpha / kind.count, kind.coverage.map(|sum| sum / kind.count));
        let faded = faded(plan, &solid, alpha);
        let kept = std::array::from_fn(|i| if solid[i] > 1e-4 { faded[i] / solid[i] } else { alpha });
        (key, (alpha, kept))
    };
    let kinds: Vec<(u32, Kind)> = kinds.into_iter().collect();
    kinds.into_par_iter().map(share).collect()
}

/// Coverages at an opacity, of those that the art has where it is opaque.
fn faded(plan: &Plan, solid: &PerScreen, alpha: f32) -> PerScreen {
    let (target, costs) = plan.fading(solid, alpha);
    let tries = [alpha, alpha * alpha].map(|share| {
        let mut a = solid.map(|a| a * share);
        improve(&plan.model, &costs, &target, &Pull::NONE, &mut a, 20);
        (objective(&plan.model, &costs, &target, &a), a)
    });
    if tries[1].0 < tries[0].0 { tries[1].1 } else { tries[0].1 }
}
