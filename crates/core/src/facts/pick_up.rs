//! Wet pick-up. A screen that lands on unflashed ink picks some of it up on its back and prints it
//! on the next shirts; a light ink over a dark one shows it most. The taint is the colour
//! difference of an ink that carries 8 % of the other (assumed; no measured figure is at hand),
//! and the share is how much of the upper screen's ink lands on it.

use serde::Serialize;

use super::Survey;
use crate::color::{BANDS, LinRgb, Spectrum, ciede2000, lab_from_linear, linear_of_spectrum};
use crate::ink::{Coat, Ink};

/// Ink of the lower screen that ends up in the upper one, a fraction: assumed.
pub const PICKED_UP: f32 = 0.08;

/// One screen landing on the wet ink of another.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PickUp {
    /// The wet screen below, by place in the print order.
    pub below: usize,
    /// The screen that lands on it.
    pub above: usize,
    /// Share of the upper screen's ink that lands on it, 0..1.
    pub share: f64,
    /// CIEDE2000 between the upper ink and itself with 8 % of the lower.
    pub taint: f64,
}

impl PickUp {
    /// Taint weighed by how much of the ink meets it.
    pub fn risk(&self) -> f64 {
        self.share * self.taint
    }
}

/// Colour difference that a little of `below` makes in `above`.
pub fn taint(above: &Ink, below: &Ink) -> f64 {
    let mix = |a: f32, b: f32| tainted_band(a, b, PICKED_UP);
    let (pure, mixed): (LinRgb, LinRgb) = match (Coat::from_spectra(above), Coat::from_spectra(below)) {
        (Some(a), Some(b)) => {
            let (a, b) = (a.over([1.0; BANDS]), b.over([1.0; BANDS]));
            let mixed = Spectrum(std::array::from_fn(|i| mix(a[i], b[i])));
            (linear_of_spectrum(&Spectrum(a)), linear_of_spectrum(&mixed))
        }
        _ => {
            let (a, b) = (above.reflectance_over_white(), below.reflectance_over_white());
            (a, std::array::from_fn(|i| mix(a[i], b[i])))
        }
    };
    f64::from(ciede2000(lab_from_linear(pure), lab_from_linear(mixed)))
}

/// A band of an ink that carries a share of another. A darker pigment takes its part of the light
/// as in a mean of logarithms (milder than Kubelka and Munk's single constant makes it, since
/// garment inks hide); a lighter one only thins the dark one's K/S.
pub(crate) fn tainted_band(above: f32, below: f32, share: f32) -> f32 {
    let (a, b) = (above.clamp(0.01, 1.0), below.clamp(0.01, 1.0));
    if b <= a {
        return a.powf(1.0 - share) * b.powf(share);
    }
    let ks = |r: f32| (1.0 - r).powi(2) / (2.0 * r);
    let mixed = ks(a) * (1.0 - share) + ks(b) * share;
    1.0 + mixed - (mixed * mixed + 2.0 * mixed).sqrt()
}

/// Every pair that meets wet, riskiest first.
pub(crate) fn pick_ups(s: &Survey<'_>) -> Vec<PickUp> {
    let mut out = Vec::new();
    for above in 1..s.len() {
        for below in (0..above).rev() {
            if s.job.press.stops.contains_key(s.name(below)) {
                // Flashed after `below`: it and all before it are dry.
                break;
            }
            let (mut both, mut upper) = (0.0, 0.0);
            for at in 0..s.blocks() {
                let a = f64::from(s.small[above].data()[at]);
                both += a * f64::from(s.small[below].data()[at]) / 65535.0;
                upper += a;
            }
            if upper > 0.0 {
                let taint = taint(&s.screens.list[above].ink, &s.screens.list[below].ink);
                out.push(PickUp { below, above, share: both / upper, taint });
            }
        }
    }
    out.sort_by(|a, b| b.risk().total_cmp(&a.risk()));
    out
}

/// Place after which one more flash takes away most pick-up, and what it takes away.
pub(crate) fn best_flash(pick_ups: &[PickUp], screens: usize) -> Option<(usize, f64)> {
    (0..screens.saturating_sub(1))
        .map(|after| {
            let gone = pick_ups.iter().filter(|p| p.below <= after && p.above > after).map(PickUp::risk).sum::<f64>();
            (after, gone)
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|best| best.1 > 0.0)
}
