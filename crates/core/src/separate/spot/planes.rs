//! Spot art: the flat colours of the picture, what each is printed with, and the screens, with
//! light inks trapped under dark ones and the underbase choked where a colour lies on it.

use crate::screens::ScreenName;
use rayon::prelude::*;
use serde::Serialize;

use super::areas::{Share, shares};
use super::recipe::{Recipe, recipes};
use super::trap::trap;
use crate::Progress;
use crate::prep::Prepared;
use crate::press::Ground;
use crate::raster::{FULL, Picture, Plane};
use crate::separate::choke::choke;
use crate::separate::error::check;
use crate::separate::flat::{FlatColor, flat_colors};
use crate::separate::plan::Plan;
use crate::separate::{ScreenPart, SeparateError, SeparationSettings, SpotEdges};

/// A flat colour of the art and what prints it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SpotColor {
    /// The colour and its share of the print.
    pub flat: FlatColor,
    /// Screens that print it with their coverage, 0..=1, in print order; none: bare fabric.
    pub screens: Vec<(ScreenName, f64)>,
    /// CIEDE2000 of the print against the colour.
    pub difference: f64,
}

/// The flat colours of a picture, largest first, and what would print each.
pub fn spot_colors(
    picture: &Picture,
    ground: &Ground<'_>,
    settings: &SeparationSettings,
) -> Result<Vec<SpotColor>, SeparateError> {
    check(settings)?;
    let plan = Plan::new(ground, settings);
    let colors = flat_colors(picture, settings.spot.same_within, settings.spot.least_share);
    let recipes = recipes(&colors, ground.garment, settings, &plan);
    let named = |(flat, recipe): (FlatColor, Recipe)| SpotColor {
        flat,
        screens: (settings.screens.iter().zip(recipe.solid()))
            .filter(|(_, a)| **a > 0.0)
            .map(|(s, a)| (s.name.clone(), f64::from(*a)))
            .collect(),
        difference: f64::from(recipe.difference),
    };
    Ok(colors.into_iter().zip(recipes).map(named).collect())
}

/// One plane a screen.
pub(in crate::separate) fn planes(
    prepared: &Prepared,
    ground: &Ground<'_>,
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Vec<Plane<u16>>, SeparateError> {
    check(settings)?;
    let plan = Plan::new(ground, settings);
    let picture = &prepared.picture;
    progress.step("find flat colours", 0.0)?;
    let spot = &settings.spot;
    let colors = flat_colors(picture, spot.same_within, spot.least_share);
    if colors.is_empty() {
        return Err(SeparateError::NoFlatColors);
    }
    let recipes = recipes(&colors, ground.garment, settings, &plan);
    progress.step("find outlines", 0.2)?;
    let mut shares = shares(picture, &colors, spot.same_within);
    let hard = spot.edges == SpotEdges::Hard;
    if hard {
        shares.apply(Share::hard);
    }
    progress.step("lay screens", 0.6)?;
    let alpha = picture.pixels().map(|p| if hard { if p[3] > FULL / 2 { FULL } else { 0 } } else { p[3] });
    let count = settings.screens.len();
    let mut planes: Vec<Plane<u16>> =
        (0..count).map(|screen| plane(&shares, &alpha, |color, alpha| recipes[color].at(screen, alpha))).collect();
    let parts = settings.parts(ground.garment.is_white());
    trap(&mut planes, &settings.screens, &parts, spot.trap_mm.px(prepared.ppi.get()), progress)?;
    progress.step("lay screens", 0.9)?;
    for (base, at) in (0..count).filter(|&at| parts[at] == ScreenPart::Underbase).enumerate() {
        let reach = settings.underbase.choke_of(base).px(prepared.ppi.get());
        if reach <= 0.0 {
            continue;
        }
        // Where the base is the colour that is seen there is nothing over it to stay behind.
        let seen =
            |color: usize| (0..count).all(|i| parts[i] == ScreenPart::Underbase || recipes[color].solid()[i] == 0.0);
        let bare = plane(&shares, &alpha, |color, alpha| if seen(color) { recipes[color].at(at, alpha) } else { 0.0 });
        choke(&mut planes[at], reach, &progress.part(0.9, 1.0))?;
        planes[at].data_mut().par_iter_mut().zip(bare.data()).for_each(|(v, bare)| *v = (*v).max(*bare));
    }
    Ok(planes)
}

/// A plane from what every colour takes at an alpha.
fn plane(shares: &Plane<Share>, alpha: &Plane<u16>, take: impl Fn(usize, u16) -> f32 + Sync) -> Plane<u16> {
    let width = shares.width();
    let mut out = Plane::filled(width, shares.height(), 0u16);
    let rows = shares.data().par_chunks(width.max(1)).zip(alpha.data().par_chunks(width.max(1)));
    out.data_mut().par_chunks_mut(width.max(1)).zip(rows).for_each(|(out, (shares, alpha))| {
        let mut last: Option<(Share, u16, u16)> = None;
        for ((out, &share), &alpha) in out.iter_mut().zip(shares).zip(alpha) {
            *out = match last {
                _ if alpha == 0 => 0,
                Some((s, a, value)) if s == share && a == alpha => value,
                _ => {
                    let (a, b) = (take(share.a.into(), alpha), take(share.b.into(), alpha));
                    let t = f32::from(share.of_b) / 65535.0;
                    ((a + t * (b - a)) * 65535.0).round() as u16
                }
            };
            last = Some((share, alpha, *out));
        }
    });
    out
}
