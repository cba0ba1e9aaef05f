//! Screens on a garment as one optical stack, and the expected reflectance of a spot.

use super::meeting::meetings_of;
use super::overprints::{layers, prints};
use super::{GainCurve, Ground, Layer, Meeting};
use crate::color::{BANDS, LinRgb, Spectrum, linear_of_spectrum, spectrum_of_linear};
use crate::ink::{Coat, Ink};
use crate::screens::Screen;

/// Layers in print order on a garment. Coverages handed to it are film coverages where `gain`
/// is set and coverages on the shirt otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Stack<const BANDS: usize = 3> {
    /// Reflectance of the garment.
    pub garment: [f32; BANDS],
    /// First down first.
    pub layers: Vec<Layer<BANDS>>,
    /// Gain of each layer, if coverages are film coverages; empty for none.
    pub gain: Vec<GainCurve>,
    /// Yule-Nielsen's n; 1 means reflectances add up plainly.
    pub yule_nielsen: f32,
    /// Pairs of layers whose dots do not meet by chance alone; all others do.
    pub meetings: Vec<Meeting>,
}

impl<const BANDS: usize> Stack<BANDS> {
    /// Expected reflectance at film coverages `a` (0..=1, one a layer). Where dots of the screens lie
    /// independently of each other (Demichel 1924) and n = 1, the sum over all overprints (Neugebauer 1937)
    /// collapses to `R <- R + a (S + T R - R)` in print order, since layers are affine; for other n the
    /// 2^layers overprints are summed in `R^(1/n)` (Yule & Nielsen 1951). Pairs of screens that do not meet by
    /// chance add their covariance times the mixed derivative.
    pub fn reflectance(&self, a: &[f32]) -> [f32; BANDS] {
        if self.yule_nielsen != 1.0 {
            return self.neugebauer(&(0..self.layers.len()).map(|i| self.printed(i, a[i])).collect::<Vec<_>>());
        }
        if !self.meetings.is_empty() {
            return self.meeting_reflectance(a);
        }
        let mut r = self.garment;
        for (i, layer) in self.layers.iter().enumerate() {
            let a = self.printed(i, a[i]);
            let solid = layer.over(r);
            for band in 0..BANDS {
                r[band] += a * (solid[band] - r[band]);
            }
        }
        r
    }

    fn printed(&self, layer: usize, a: f32) -> f32 {
        self.gain.get(layer).map_or(a, |curve| curve.print(a))
    }

    /// The recurrence with pairs: what layer `i` changes, as far as it comes through up to layer `j`, is there
    /// oftener under `j` than by chance.
    fn meeting_reflectance(&self, a: &[f32]) -> [f32; BANDS] {
        let mut few = [[0.0; BANDS]; FEW];
        let mut many = Vec::new();
        let count = self.layers.len();
        let changes: &mut [[f32; BANDS]] = if count <= FEW {
            &mut few[..count]
        } else {
            many.resize(count, [0.0; BANDS]);
            &mut many
        };
        let (mut r, mut more) = (self.garment, [0.0; BANDS]);
        let mut meetings = self.meetings.iter().peekable();
        for (j, layer) in self.layers.iter().enumerate() {
            let upper = self.printed(j, a[j]);
            let mut met = [0.0; BANDS];
            while let Some(meeting) = meetings.next_if(|meeting| meeting.upper == j) {
                let i = meeting.lower;
                let covariance = meeting.table.at(self.printed(i, a[i]), upper).0;
                for band in 0..BANDS {
                    met[band] += covariance * changes[i][band];
                }
            }
            let solid = layer.over(r);
            for band in 0..BANDS {
                let takes = layer.through[band] - 1.0;
                let passes = 1.0 + upper * takes;
                more[band] = more[band] * passes + met[band] * takes;
                for change in &mut changes[..j] {
                    change[band] *= passes;
                }
                changes[j][band] = solid[band] - r[band];
                r[band] += upper * changes[j][band];
            }
        }
        std::array::from_fn(|band| (r[band] + more[band]).clamp(0.0, 1.0))
    }

    /// The full sum over overprints at printed coverages; the plain reference for
    /// [`Stack::reflectance`] and the only way where n is not 1. An overprint weighs what it would by chance,
    /// and for each pair its covariance in place of the pair's shares, less where only one of the two prints.
    pub fn neugebauer(&self, printed: &[f32]) -> [f32; BANDS] {
        let count = self.layers.len();
        let pairs: Vec<(usize, usize, f64)> = self
            .meetings
            .iter()
            .map(|m| (m.lower, m.upper, f64::from(m.table.at(printed[m.lower], printed[m.upper]).0)))
            .collect();
        let root = 1.0 / f64::from(self.yule_nielsen);
        let mut sum = [0.0f64; BANDS];
        for set in 0..1usize << count {
            let prints = |i: usize| set >> i & 1 == 1;
            let share = |i: usize| if prints(i) { f64::from(printed[i]) } else { 1.0 - f64::from(printed[i]) };
            let without = |p: usize, q: usize| (0..count).filter(|&i| i != p && i != q).map(share).product::<f64>();
            let by_chance: f64 = (0..count).map(share).product();
            let met: f64 = pairs
                .iter()
                .map(|&(i, j, c)| if prints(i) == prints(j) { c * without(i, j) } else { -c * without(i, j) })
                .sum();
            let weight = by_chance + met;
            if weight == 0.0 {
                continue;
            }
            let over = self.layers.iter().enumerate().filter(|(i, _)| prints(*i));
            let color = over.fold(self.garment, |r, (_, layer)| layer.over(r));
            for (sum, r) in sum.iter_mut().zip(color) {
                *sum += weight * f64::from(r).max(0.0).powf(root);
            }
        }
        sum.map(|x| x.max(0.0).powf(f64::from(self.yule_nielsen)) as f32)
    }
}

/// Layers up to which no memory is asked for.
const FEW: usize = 16;

impl Stack<3> {
    /// The stack of a job's screens. Layers are those nearest to what the coats of ink make of each other
    /// (`overprints.rs`); on unflashed ink an ink keeps a share of its opacity. With compensation on, the film
    /// undoes the gain, so coverages are those on the shirt.
    pub fn of_screens(ground: &Ground<'_>, screens: &[Screen]) -> Self {
        Self::of_inks(ground, screens.iter().map(|s| (s.name.as_str(), &s.ink, s.hits)))
    }

    /// The same from names, inks and hits in print order. Where every ink was measured, overprints are worked
    /// out on its spectra. A screen that does not print on the garment is a layer that changes nothing.
    pub fn of_inks<'a>(ground: &Ground<'_>, inks: impl IntoIterator<Item = (&'a str, &'a Ink, u8)>) -> Self {
        let all: Vec<_> = inks.into_iter().collect();
        let inks = printed(ground, &all);
        let layers = match prints(ground.press, &inks, Coat::from_spectra) {
            Some(prints) if !inks.is_empty() => {
                let fabric = spectrum_of_linear(ground.garment.reflectance()).0;
                layers(fabric, &prints, |light| linear_of_spectrum(&Spectrum(light)))
            }
            _ => {
                let prints = prints(ground.press, &inks, |ink| Some(Coat::from_ink(ink))).unwrap_or_default();
                layers(ground.garment.reflectance(), &prints, |light| light)
            }
        };
        Self::of_layers(ground, LinRgb::from(ground.garment.reflectance()), layers, &inks).among(ground, &all)
    }
}

impl Stack<BANDS> {
    /// The stack of a job whose inks were all measured, band by band; none if one was not. The
    /// garment's spectrum is the smoothest mix of three broad bands that gives its colour, an
    /// assumption that is exact for whites, greys and blacks.
    pub fn of_spectra<'a>(ground: &Ground<'_>, inks: impl IntoIterator<Item = (&'a str, &'a Ink, u8)>) -> Option<Self> {
        let all: Vec<_> = inks.into_iter().collect();
        let inks = printed(ground, &all);
        let fabric = spectrum_of_linear(ground.garment.reflectance()).0;
        let layers = layers(fabric, &prints(ground.press, &inks, Coat::from_spectra)?, |light| light);
        Some(Self::of_layers(ground, fabric, layers, &inks).among(ground, &all))
    }
}

/// A screen's name, ink and hits.
type NamedInk<'a> = (&'a str, &'a Ink, u8);

/// Those that print on the garment.
fn printed<'a>(ground: &Ground<'_>, inks: &[NamedInk<'a>]) -> Vec<NamedInk<'a>> {
    inks.iter().filter(|ink| ground.prints(ink.0)).copied().collect()
}

impl<const BANDS: usize> Stack<BANDS> {
    fn of_layers(
        ground: &Ground<'_>,
        garment: [f32; BANDS],
        layers: Vec<Layer<BANDS>>,
        inks: &[(&str, &Ink, u8)],
    ) -> Self {
        let Ground { press, ruling, meetings, .. } = *ground;
        let gain = if press.compensate { Vec::new() } else { vec![press.gain.curve(ruling); layers.len()] };
        let meetings = meetings_of(meetings, inks.iter().map(|ink| ink.0));
        Self { garment, layers, gain, yule_nielsen: press.yule_nielsen as f32, meetings }
    }

    /// The same with the screens that do not print on the garment in their places, as layers that change nothing.
    fn among(mut self, ground: &Ground<'_>, inks: &[NamedInk<'_>]) -> Self {
        if self.layers.len() == inks.len() {
            return self;
        }
        let places: Vec<usize> = (0..inks.len()).filter(|&at| ground.prints(inks[at].0)).collect();
        for meeting in &mut self.meetings {
            (meeting.lower, meeting.upper) = (places[meeting.lower], places[meeting.upper]);
        }
        let mut layers = vec![Layer { scatter: [0.0; BANDS], through: [1.0; BANDS] }; inks.len()];
        for (place, layer) in places.into_iter().zip(self.layers) {
            layers[place] = layer;
        }
        let gain =
            if ground.press.compensate { Vec::new() } else { vec![ground.press.gain.curve(ground.ruling); inks.len()] };
        Self { layers, gain, ..self }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, LazyLock};

    use super::*;
    use crate::press::{CELL_SIDE, FillOrder, MeetingTable};
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    /// Squares that grow from the middle.
    fn squares() -> FillOrder {
        let far = |at: usize| ((at as f32 + 0.5) / CELL_SIDE as f32 - 0.5).abs();
        let mut order: Vec<usize> = (0..CELL_SIDE * CELL_SIDE).collect();
        order.sort_by(|&a, &b| {
            let value = |at: usize| far(at % CELL_SIDE).max(far(at / CELL_SIDE));
            value(a).total_cmp(&value(b))
        });
        let mut ranks = vec![0.0; order.len()];
        order.iter().enumerate().for_each(|(rank, &at)| ranks[at] = (rank as f32 + 0.5) / order.len() as f32);
        FillOrder::new("square", |x, y| ranks[y * CELL_SIDE + x])
    }

    proptest! {
        /// The affine recurrence equals the sum over all 2^n overprints (print-model.md asks for n <= 6).
        #[test]
        fn recurrence_equals_neugebauer(
            seed in proptest::collection::vec((0.0f32..1.0, 0.0f32..1.0, 0.0f32..1.0), 1..=6),
            garment in 0.0f32..1.0,
        ) {
            let layers = seed.iter().map(|&(r, o, _)| Layer { scatter: [o * r], through: [r - o * r] }).collect();
            let stack = Stack { garment: [garment], layers, gain: vec![], yule_nielsen: 1.0, meetings: vec![] };
            let a: Vec<f32> = seed.iter().map(|s| s.2).collect();
            assert_abs_diff_eq!(stack.reflectance(&a)[0], stack.neugebauer(&a)[0], epsilon = 1e-5);
            // The same where some of them share a lattice: the recurrence with pairs, and the sum with pairs.
            static TABLE: LazyLock<Arc<MeetingTable>> =
                LazyLock::new(|| Arc::new(MeetingTable::new(&squares(), &squares(), 0.15, [0.0; 2])));
            let table = TABLE.clone();
            let count = stack.layers.len();
            let pairs = (1..count).flat_map(|upper| (0..upper).step_by(2).map(move |lower| (lower, upper)));
            let meetings: Vec<Meeting> =
                pairs.map(|(lower, upper)| Meeting { lower, upper, table: table.clone() }).collect();
            let met = Stack { meetings, ..stack };
            let (fast, plain) = (met.reflectance(&a)[0], met.neugebauer(&a)[0].clamp(0.0, 1.0));
            assert_abs_diff_eq!(fast, plain, epsilon = 2e-5);
        }
    }

    /// Three screens on one lattice in register: the dots laid on each other place by place.
    #[test]
    fn two_screens_on_a_lattice_are_their_dots_laid_on_each_other() {
        let fill = squares();
        let table = Arc::new(MeetingTable::new(&fill, &fill, 0.0, [0.0; 2]));
        let layer = |color: f32, opacity: f32| Layer { scatter: [opacity * color], through: [color - opacity * color] };
        let layers = vec![layer(0.8, 0.9), layer(0.1, 0.7), layer(0.5, 0.6)];
        let meetings = vec![Meeting { lower: 0, upper: 2, table }];
        let stack = Stack { garment: [0.02], layers, gain: vec![], yule_nielsen: 1.0, meetings };
        for a in [[0.5, 0.3, 0.25], [0.25, 0.8, 0.75]] {
            let places = (0..CELL_SIDE * CELL_SIDE).map(|at| {
                let rank = fill.rank([at % CELL_SIDE, at / CELL_SIDE].map(|v| (v as f64 + 0.5) / CELL_SIDE as f64));
                let print = |i: usize, r: [f32; 1]| if rank < a[i] { stack.layers[i].over(r) } else { r };
                let base = print(0, stack.garment);
                let middle = [base[0] + a[1] * (stack.layers[1].over(base)[0] - base[0])];
                f64::from(print(2, middle)[0])
            });
            let mean = places.sum::<f64>() / (CELL_SIDE * CELL_SIDE) as f64;
            assert_abs_diff_eq!(f64::from(stack.reflectance(&a)[0]), mean, epsilon = 2e-3);
        }
    }
}
