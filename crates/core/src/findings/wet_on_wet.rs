//! Wet on wet. A screen that lands on unflashed ink picks some of it up on its back and prints it
//! on the next shirts; a light ink over a dark one shows it most. The taint is the colour
//! difference of an ink that carries 8 % of the other (assumed; no measured figure is at hand),
//! and the share is how much of the upper screen's ink lands on it. Halftones are printed wet on
//! wet every day: it is spoken of where the shirt shows it, by printing the stack once more with
//! the upper ink as tainted as its share makes it.

use rayon::prelude::*;
use serde::Serialize;

use super::finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::color::{BANDS, LinRgb, Spectrum, ciede2000, lab_from_linear, linear_of_spectrum};
use crate::ink::{Ink, InkRole};
use crate::press::{Layer, Stop};

/// Ink of the lower screen that comes to hang in the upper one, a fraction: assumed.
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
    let (pure, mixed): (LinRgb, LinRgb) = match (Layer::from_spectra(above, 1.0), Layer::from_spectra(below, 1.0)) {
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
fn tainted_band(above: f32, below: f32, share: f32) -> f32 {
    let (a, b) = (above.clamp(0.01, 1.0), below.clamp(0.01, 1.0));
    if b <= a {
        return a.powf(1.0 - share) * b.powf(share);
    }
    let ks = |r: f32| (1.0 - r).powi(2) / (2.0 * r);
    let mixed = ks(a) * (1.0 - share) + ks(b) * share;
    1.0 + mixed - (mixed * mixed + 2.0 * mixed).sqrt()
}

/// Every pair that meets wet, riskiest first.
pub(super) fn pick_ups(s: &Survey<'_>) -> Vec<PickUp> {
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
pub(super) fn best_flash(pick_ups: &[PickUp], screens: usize) -> Option<(usize, f64)> {
    (0..screens.saturating_sub(1))
        .map(|after| {
            let gone = pick_ups.iter().filter(|p| p.below <= after && p.above > after).map(PickUp::risk).sum::<f64>();
            (after, gone)
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|best| best.1 > 0.0)
}

/// CIEDE2000 by which the upper ink itself must change: with 8 % of the lower, and with what its
/// share of overlap makes of that (assumed). Where a dark ink over a light one comes out nearly
/// grey, the shirt alone makes much of an ink that hardly changed.
const TAINT: f64 = 3.0;
const TAINT_BY_SHARE: f64 = 2.5;

/// CIEDE2000 on the shirt at which a taint is seen, and shares of the print that make a caution
/// and a fault (assumed).
const SEEN: f32 = 2.0;
const SEEN_CAUTION: f64 = 0.04;
const SEEN_FAULT: f64 = 0.10;

/// Blocks of a sample on which the upper ink, carrying as much of the lower as it meets, is seen
/// to shift the print; with how far.
fn shifts(s: &Survey<'_>, pair: &PickUp, blocks: &[usize]) -> Vec<f32> {
    let picked = PICKED_UP * pair.share as f32;
    let tainted = s.optics.dulled(pair.above, pair.below, |above, below| tainted_band(above, below, picked));
    blocks
        .par_iter()
        .map(|&block| {
            let mut a = vec![0.0f32; s.len()];
            s.coverages(block, &mut a);
            if a[pair.above] < 0.02 {
                return 0.0;
            }
            ciede2000(lab_from_linear(s.optics.reflectance(&a)), lab_from_linear(tainted.reflectance(&a)))
        })
        .collect()
}

pub(super) fn wet_on_wet(s: &Survey<'_>) -> Vec<Finding> {
    let all = pick_ups(s);
    let blocks = s.every(8_000);
    let mut out: Vec<Finding> = Vec::new();
    for pair in &all {
        let (below, above) = (&s.screens.list[pair.below], &s.screens.list[pair.above]);
        // A wet base mixes into every colour, whatever its taint: it must be flashed.
        // So does any white that lies under much of a colour on a garment that needs one.
        let under = match below.ink.role {
            InkRole::BaseWhite => 0.10,
            InkRole::White if !s.job.garment.is_white() && above.ink.role != InkRole::White => 0.30,
            _ => f64::INFINITY,
        };
        let wet_base = pair.share >= under && !s.is_empty(pair.below);
        if !wet_base && (pair.taint < TAINT || pair.risk() < TAINT_BY_SHARE || pair.share < 0.10) {
            continue;
        }
        let shown = shifts(s, pair, &blocks);
        let seen = shown.iter().filter(|&&d| d > SEEN).count() as f64 / blocks.len().max(1) as f64;
        if !wet_base && seen < SEEN_CAUTION {
            continue;
        }
        let most = f64::from(shown.iter().copied().fold(0.0, f32::max));
        let map = s.map(|at| {
            let share = |i: usize| f64::from(s.small[i].data()[at]) / 65535.0;
            share(pair.below) * share(pair.above)
        });
        if wet_base && let Some(same) = out.iter_mut().find(|f| f.screens[0] == below.name) {
            same.screens.push(above.name.clone());
            continue;
        }
        // The flash that helps this pair and, of those, the whole job most.
        let after = (pair.below..pair.above)
            .max_by(|&a, &b| {
                let gone =
                    |at: usize| all.iter().filter(|p| p.below <= at && p.above > at).map(PickUp::risk).sum::<f64>();
                gone(a).total_cmp(&gone(b)).then(b.cmp(&a))
            })
            .unwrap_or(pair.below);
        let flashed = s.name(if wet_base { pair.below } else { after }).to_owned();
        let mut mends = vec![Mend::one(
            format!("Flash after {flashed}"),
            Change::Stop { screen: flashed, stop: Some(Stop::Flash) },
        )];
        if !wet_base && taint(&below.ink, &above.ink) < pair.taint * 0.6 {
            let mut names: Vec<String> = s.screens.list.iter().map(|x| x.name.clone()).collect();
            let moved = names.remove(pair.above);
            names.insert(pair.below, moved);
            mends.push(Mend::one(
                format!("Print {} before {}", above.name, below.name),
                Change::Edit { edit: crate::tune::Edit::Order { screens: names } },
            ));
        }
        out.push(Finding {
            kind: Kind::WetOnWet,
            severity: if wet_base || seen >= SEEN_FAULT { Severity::Fault } else { Severity::Caution },
            what: if wet_base {
                format!(
                    "{} is not flashed: the colours over it land on wet white, mix with it and lose their strength.",
                    below.name
                )
            } else {
                format!(
                    "{:.0} % of {}'s ink lands on wet {}; if it picks up {:.0} % of it (assumed), the print shifts by up to \
                     CIEDE2000 {most:.1} as the run goes on.",
                    pair.share * 100.0,
                    above.name,
                    below.name,
                    PICKED_UP * 100.0
                )
            },
            number: if wet_base {
                Number {
                    label: format!("share of {}'s ink on wet {}", above.name, below.name),
                    value: pair.share * 100.0,
                    unit: "%",
                    limit: 10.0,
                }
            } else {
                Number {
                    label: "share of the print that shows the taint".into(),
                    value: seen * 100.0,
                    unit: "%",
                    limit: SEEN_CAUTION * 100.0,
                }
            },
            screens: vec![below.name.clone(), above.name.clone()],
            place: Place::of_map(map, s.mm_per_px),
            inputs: vec![
                Input::new(
                    "pick-up",
                    format!("{:.0} % of {} comes to hang in the ink above it", PICKED_UP * 100.0, below.name),
                    Basis::Assumed,
                ),
                Input::new(
                    "taint",
                    format!("CIEDE2000 {:.1} of the pure ink, seen on the shirt from {SEEN:.0}", pair.taint),
                    Basis::Assumed,
                ),
                Input::new("overlap", format!("{:.0} % of the upper ink", pair.share * 100.0), Basis::Screens),
                Input::new("flashes", stops_in_words(s), Basis::Job),
            ],
            mends,
        });
    }
    out
}

fn stops_in_words(s: &Survey<'_>) -> String {
    let after: Vec<&str> =
        s.screens.list.iter().map(|x| x.name.as_str()).filter(|n| s.job.press.stops.contains_key(*n)).collect();
    if after.is_empty() { "none".to_owned() } else { format!("after {}", after.join(", ")) }
}
