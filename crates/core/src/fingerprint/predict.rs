//! Colours predicted from a fingerprint, each with its band.

use super::band::band;
use super::fit::{Assumed, Measured};
use super::linear::Cholesky;
use super::patch::{Patch, Tint};
use super::press::{BANDS, Places, Row, colors, printed};
use super::print::{Fingerprint, assumed};
use super::prior::Prior;
use super::rest::{Features, Rest};
use super::{Press, film};
use crate::color::{difference, lab_of_shares};

/// A predicted colour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// CIELAB, of the white of the patches.
    pub lab: [f64; 3],
    /// CIEDE2000 that the true colour stays within 19 times of 20.
    pub band: f64,
    /// The same for one reading of it.
    pub reading: f64,
}

/// A press with what is uncertain of it, before it has seen patches.
#[derive(Debug, Clone)]
pub(super) struct Unlearned {
    row: Row,
    places: Places,
    ground: [f64; BANDS],
    /// Of the figures' bend at the fit, whose inverse is how uncertain they are together.
    bend: Cholesky,
    /// How far the patches lie from the model, against what was allowed for.
    off: f64,
    prior: Option<Box<Prior>>,
}

impl Unlearned {
    pub fn of(press: &Press, measured: &Measured<'_>, assumed: &Assumed, prior: Option<Prior>) -> Self {
        let row = Row(press.figures.clone());
        let bend = measured.bend(assumed, &row);
        let off = measured.off(assumed, &row);
        Self { row, places: measured.places, ground: measured.ground, bend, off, prior: prior.map(Box::new) }
    }

    /// The press model's colours of tints, CIELAB.
    fn labs(&self, row: &Row, tints: &[Tint]) -> Vec<[f64; 3]> {
        colors(row, self.places, self.ground, tints).into_iter().map(lab_of_shares).collect()
    }

    /// The colours to expect of tints before their patches are seen, and what may differ there: the figures of the
    /// press, by how much they move a colour, and what other presses left.
    fn expect(&self, tints: &[Tint]) -> Vec<([f64; 3], Features)> {
        let labs = self.labs(&self.row, tints);
        let mut slopes: Vec<Features> = vec![Features::default(); tints.len()];
        for at in 0..self.row.0.len() {
            let mut moved = self.row.clone();
            moved.0[at] += STEP;
            let up = self.labs(&moved, tints);
            moved.0[at] -= 2.0 * STEP;
            for ((up, down), slopes) in up.iter().zip(self.labs(&moved, tints)).zip(&mut slopes) {
                (0..3).for_each(|c| slopes[c].push((up[c] - down[c]) / (2.0 * STEP)));
            }
        }
        let features = slopes.iter().map(|slopes| {
            let scaled = |c: usize| self.bend.halfway(&slopes[c]).iter().map(|v| v * self.off).collect();
            std::array::from_fn(scaled)
        });
        let mut out: Vec<([f64; 3], Features)> = labs.into_iter().zip(features).collect();
        if let Some(prior) = &self.prior {
            for ((lab, features), (mean, apart)) in out.iter_mut().zip(prior.left(tints)) {
                for c in 0..3 {
                    lab[c] += mean[c];
                    features[c].extend(&apart[c]);
                }
            }
        }
        out
    }

    fn seen(&self, patches: &[Patch]) -> (Vec<Vec<f64>>, Vec<[f64; 3]>, Vec<Features>) {
        let tints: Vec<Tint> = patches.iter().map(|p| p.tint.clone()).collect();
        let (labs, features): (Vec<[f64; 3]>, Vec<Features>) = self.expect(&tints).into_iter().unzip();
        let left = labs.iter().zip(patches).map(|(lab, p)| std::array::from_fn(|c| p.lab[c] - lab[c])).collect();
        (tints.iter().map(Tint::place).collect(), left, features)
    }

    /// What the press model leaves of patches, learned.
    pub fn learn(&self, patches: &[Patch]) -> Rest {
        let (places, left, features) = self.seen(patches);
        Rest::learn(places, &left, &features, self.prior.as_ref().map(|prior| prior.habit()))
    }
}

/// By how much figures are moved to see what colours do.
const STEP: f64 = 1e-4;

/// A fingerprint made ready to predict.
#[derive(Debug, Clone)]
pub struct Predictor {
    press: Unlearned,
    rest: Rest,
    /// Noise of the instrument, one sigma of each channel.
    reading: f64,
    /// By how much bands must be wider than they would be if all was as assumed.
    wider: f64,
}

/// Readings of a few dozen patches scatter by so much more than the instrument by chance.
const CHANCE: f64 = 1.25;

/// Bands become no narrower and no wider than by these.
const WIDER: [f64; 2] = [0.8, 3.0];

/// Each patch is told by all others, and its miss held against its band: the ratio that 19 of 20 patches stay under, so
/// that bands hold what they say where errors have long tails (Vovk's conformal prediction, patches left out one by one).
fn wider(patches: &[Patch], told: &[([f64; 3], [f64; 3])]) -> f64 {
    let ratio = |(patch, (miss, squares)): (&Patch, &([f64; 3], [f64; 3]))| {
        let told = std::array::from_fn(|c| patch.lab[c] - miss[c]);
        difference(told, patch.lab) / band(told, *squares).max(1e-9)
    };
    let mut ratios: Vec<f64> = patches.iter().zip(told).map(ratio).collect();
    ratios.sort_by(f64::total_cmp);
    let at = (0.95 * (ratios.len() + 1) as f64).ceil() as usize;
    ratios.get(at.clamp(1, ratios.len().max(1)) - 1).map_or(1.0, |ratio| ratio.clamp(WIDER[0], WIDER[1]))
}

impl Predictor {
    /// Of a fingerprint.
    pub fn new(of: &Fingerprint) -> Self {
        let prior = Prior::of(&of.prior);
        let assumed = prior.as_ref().map_or_else(|| assumed(&of.inks, &of.patches), Prior::assumed);
        let press = Unlearned::of(&of.press, &Measured::of(of.inks.len(), of.ground, &of.patches), &assumed, prior);
        let (places, left, features) = press.seen(&of.patches);
        let rest = Rest::with(of.habit.clone(), places, &left, &features);
        let wider = wider(&of.patches, &rest.told_by_others());
        Self { rest, press, reading: of.reading, wider }
    }

    /// Inks.
    pub fn inks(&self) -> usize {
        self.press.places.inks
    }

    pub(super) fn figures(&self) -> &[f64] {
        &self.press.row.0
    }

    /// What the press model leaves of tints, as learned.
    pub(super) fn rests(&self, tints: &[Tint]) -> Vec<[f64; 3]> {
        let expected = self.press.expect(tints);
        tints.iter().zip(&expected).map(|(tint, (_, features))| self.rest.at(&tint.place(), features).0).collect()
    }

    /// The colour of the press model alone, CIELAB.
    pub fn model(&self, tint: &Tint) -> [f64; 3] {
        self.press.labs(&self.press.row, std::slice::from_ref(tint))[0]
    }

    /// The colours of tints with their bands.
    ///
    /// # Panics
    /// If a tint has another number of coverages than the fingerprint has inks.
    pub fn predict(&self, tints: &[Tint]) -> Vec<Prediction> {
        let scatter = self.rest.scatter();
        let of = |(tint, (expected, features)): (&Tint, &([f64; 3], Features))| {
            let (rest, squares) = self.rest.at(&tint.place(), features);
            let lab = std::array::from_fn(|c| expected[c] + rest[c]);
            // What scatters more than the instrument does is the press, or a model that is too plain for it.
            let color = std::array::from_fn(|c| squares[c] + (scatter[c] - (CHANCE * self.reading).powi(2)).max(0.0));
            let reading = std::array::from_fn(|c| squares[c] + scatter[c].max(self.reading.powi(2)));
            Prediction { lab, band: self.wider * band(lab, color), reading: self.wider * band(lab, reading) }
        };
        tints.iter().zip(&self.press.expect(tints)).map(of).collect()
    }

    /// Of some tints, the one whose patch would narrow the bands of all of `over` most.
    pub fn next<'a>(&self, of: &'a [Tint], over: &[Tint]) -> Option<&'a Tint> {
        let places = |tints: &[Tint]| -> Vec<(Vec<f64>, Features)> {
            tints.iter().zip(self.press.expect(tints)).map(|(tint, (_, features))| (tint.place(), features)).collect()
        };
        let over = places(over);
        let gains = places(of).into_iter().map(|(place, features)| self.rest.gain((&place, &features), &over));
        of.iter().zip(gains).max_by(|a, b| a.1.total_cmp(&b.1)).map(|best| best.0)
    }

    /// Points that an ink gains at 50 %, the mean of the bands.
    pub fn gain_points(&self, ink: usize) -> f64 {
        100.0 * (0..BANDS).map(|b| self.press.row.0[self.press.places.gain(ink, b)]).sum::<f64>() / BANDS as f64
    }

    /// What a film coverage of an ink prints as.
    pub fn printed(&self, ink: usize, film: f64) -> f64 {
        let (row, places) = (&self.press.row.0, self.press.places);
        printed(film, self.gain_points(ink) / 100.0, row[places.skew(ink)], row[places.bow(ink)])
    }

    fn solid(&self, ink: usize, thick: f64, ground: f64) -> [f64; BANDS] {
        let figure = |at: usize| self.press.row.0[at].exp();
        std::array::from_fn(|b| {
            film::over(
                film::film(figure(self.press.places.k(ink, b)), figure(self.press.places.s(ink, b)), thick),
                ground,
            )
        })
    }

    /// CIELAB of an ink's solid over a perfect white.
    pub fn over_white(&self, ink: usize) -> [f64; 3] {
        lab_of_shares(self.solid(ink, 1.0, 1.0))
    }

    /// Opacity of an ink: luminance over black / over white.
    pub fn opacity(&self, ink: usize) -> f64 {
        self.solid(ink, 1.0, 0.0)[1] / self.solid(ink, 1.0, 1.0)[1]
    }

    /// Share of its opacity that `upper` keeps on wet `lower`.
    pub fn kept(&self, lower: usize, upper: usize) -> f64 {
        let thick = (-self.press.row.0[self.press.places.trap(lower, upper)]).exp();
        self.solid(upper, thick, 0.0)[1] / self.solid(upper, thick, 1.0)[1] / self.opacity(upper)
    }

    /// Yule-Nielsen's n.
    pub fn yule_nielsen(&self) -> f64 {
        self.press.row.0[self.press.places.n()]
    }
}
