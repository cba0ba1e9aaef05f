//! What is fitted of a press: a film an ink, gain an ink, trap of pairs and Yule-Nielsen's n; and the colour that
//! follows from them for coverages of the film.

use super::film::{film, over};
use super::patch::Tint;

/// Bands: X, Y and Z as shares of the white's, never negative for any colour.
pub(super) const BANDS: usize = 3;
const LEAST: f64 = 1e-6;

/// The figures of a press in one row, as the fit moves them, for so many inks:
/// log K and log S (ink, band), gain (ink, band), skew and bow of the gain (ink), n, trap
/// (pair).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row(pub Vec<f64>);

/// Where they lie in the row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Places {
    pub inks: usize,
}

impl Places {
    pub fn k(self, ink: usize, band: usize) -> usize {
        BANDS * ink + band
    }

    pub fn s(self, ink: usize, band: usize) -> usize {
        BANDS * (self.inks + ink) + band
    }

    pub fn gain(self, ink: usize, band: usize) -> usize {
        BANDS * (2 * self.inks + ink) + band
    }

    pub fn skew(self, ink: usize) -> usize {
        3 * BANDS * self.inks + ink
    }

    pub fn bow(self, ink: usize) -> usize {
        (3 * BANDS + 1) * self.inks + ink
    }

    pub fn n(self) -> usize {
        (3 * BANDS + 2) * self.inks
    }

    /// Of `upper` on wet `lower`, `lower < upper`.
    pub fn trap(self, lower: usize, upper: usize) -> usize {
        self.n() + 1 + upper * (upper - 1) / 2 + lower
    }

    pub fn count(self) -> usize {
        self.n() + 1 + self.inks * self.inks.saturating_sub(1) / 2
    }
}

/// What a film coverage prints as: `gain` at one half, and what an ink's own tints say beside it: `skew`, more below one half
/// and less above, and `bow`, more at both ends. A smooth curve: laws of growing edges, which rise without end at the
/// lightest tints, left 0.48 CIEDE2000 on FOGRA39L where this leaves 0.30.
pub(super) fn printed(a: f64, gain: f64, skew: f64, bow: f64) -> f64 {
    let off = 1.0 - 2.0 * a;
    (a + 4.0 * a * (1.0 - a) * (gain + off * (skew + bow * off))).clamp(0.0, 1.0)
}

/// The solids over each other on a ground, in `R^(1/n)`, for one way of flashing; overprint, then band.
fn overprints(row: &Row, places: Places, ground: [f64; BANDS], flashed: u32) -> Vec<[f64; BANDS]> {
    let inks = places.inks;
    let kept =
        |lower: Option<usize>, upper: usize| lower.map_or(1.0, |lower| (-row.0[places.trap(lower, upper)]).exp());
    let solid = |lower: Option<usize>, upper: usize| -> [[f64; 2]; BANDS] {
        let thick = kept(lower, upper);
        std::array::from_fn(|b| film(row.0[places.k(upper, b)].exp(), row.0[places.s(upper, b)].exp(), thick))
    };
    // Ink on dry ground, then on each wet ink under it.
    let solids: Vec<Vec<[[f64; 2]; BANDS]>> = (0..inks)
        .map(|upper| std::iter::once(None).chain((0..upper).map(Some)).map(|lower| solid(lower, upper)).collect())
        .collect();
    let mut out = vec![ground; 1 << inks];
    for overprint in 1..1usize << inks {
        let upper = (usize::BITS - 1 - overprint.leading_zeros()) as usize;
        let under = overprint & !(1 << upper);
        let wet =
            under.checked_ilog2().map(|lower| lower as usize).filter(|lower| !flashed_between(flashed, *lower, upper));
        let solid = solids[upper][wet.map_or(0, |lower| lower + 1)];
        out[overprint] = std::array::from_fn(|b| over(solid[b], out[under][b]));
    }
    let power = 1.0 / row.0[places.n()];
    out.iter_mut().flatten().for_each(|r| *r = r.max(LEAST).powf(power));
    out
}

/// Whether there is a flash after `lower` and before `upper`; bit i of `flashed` is a flash before ink i.
pub(super) fn flashed_between(flashed: u32, lower: usize, upper: usize) -> bool {
    (lower + 1..=upper).any(|at| flashed >> at & 1 == 1)
}

/// Shares of the white's XYZ of some tints.
pub(super) fn colors(row: &Row, places: Places, ground: [f64; BANDS], tints: &[Tint]) -> Vec<[f64; BANDS]> {
    let mut known: Vec<(u32, Vec<[f64; BANDS]>)> = Vec::new();
    let mut sum = Vec::new();
    tints
        .iter()
        .map(|tint| {
            let at = known.iter().position(|k| k.0 == tint.flashed).unwrap_or_else(|| {
                known.push((tint.flashed, overprints(row, places, ground, tint.flashed)));
                known.len() - 1
            });
            // Demichel's sum, an ink at a time from the last down.
            sum.clone_from(&known[at].1);
            for ink in (0..places.inks).rev() {
                let half = 1 << ink;
                let a: [f64; BANDS] = std::array::from_fn(|b| {
                    printed(tint.film[ink], row.0[places.gain(ink, b)], row.0[places.skew(ink)], row.0[places.bow(ink)])
                });
                for low in 0..half {
                    for b in 0..BANDS {
                        sum[low][b] += a[b] * (sum[low + half][b] - sum[low][b]);
                    }
                }
            }
            sum[0].map(|r| r.powf(row.0[places.n()]))
        })
        .collect()
}
