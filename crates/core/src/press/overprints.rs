//! What screens make where they print on each other, and the affine layers nearest to it.
//!
//! A coat on what lies beneath is no affine map of its light: light goes back and forth between them, and a pair of
//! inks that was measured wet on wet has an opacity of its own. But the expected reflectance of dots has a short form for affine
//! layers alone (`Stack::reflectance`). So every overprint of up to [`DEEP`] screens is worked out exactly, and a
//! screen's layer is the affine map nearest to what it makes of those beneath it. Bare garment and what the base
//! makes of it weigh most, so there it is exact: for a screen by itself, and for two screens.

use super::PrintModel;
use super::layer::{Layer, Seen};
use crate::ink::{Coat, Ink, InkRole};
use crate::screens::ScreenName;
use crate::units::Coverage;

/// Screens under one another that are looked at.
const DEEP: usize = 3;
/// How much oftener a screen is not on a spot than it is: of a base, and of any other.
const ODDS: [f64; 2] = [2.0, 0.4];
/// Weight of the bare garment among overprints.
const BARE: f64 = 30.0;
/// Weight of an ideal white beneath, which decides where all beneath is one colour.
const WHITE: f64 = 1e-4;

/// A screen's ink as it lies on what was printed before it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Print<const BANDS: usize> {
    /// Where no pair says otherwise. After a screen that was not flashed it hides less, on bare cloth too: the
    /// shirt is wet about it, and a layer that is dry here and wet there would be no layer.
    usual: Coat<BANDS>,
    /// On the wet ink of each screen since the last flash, the first of which is `wet_from`, if that pair was
    /// measured.
    wet: Vec<Option<Coat<BANDS>>>,
    wet_from: usize,
    is_base: bool,
}

/// The prints of inks in print order: names of screens, inks and hits. `coat` gives an ink's coat; none if it has
/// none.
pub(super) fn prints<'a, const BANDS: usize>(
    press: &PrintModel,
    inks: &[(&'a str, &'a Ink, u8)],
    coat: impl Fn(&Ink) -> Option<Coat<BANDS>>,
) -> Option<Vec<Print<BANDS>>> {
    let mut wet_from = 0;
    let mut out = Vec::with_capacity(inks.len());
    for (at, &(name, ink, hits)) in inks.iter().enumerate() {
        let coat = coat(ink)?;
        let on = |below: &(&str, &Ink, u8)| {
            press.pair(&below.1.name, &ink.name).map(|keeps| coat.keeping(keeps.get() as f32).hits(hits))
        };
        let keeps = if wet_from < at { press.wet_on_wet.get() as f32 } else { 1.0 };
        let is_base = at == 0 && matches!(ink.role, InkRole::BaseWhite | InkRole::White);
        let (usual, wet) = (coat.keeping(keeps).hits(hits), inks[wet_from..at].iter().map(on).collect());
        out.push(Print { usual, wet, wet_from, is_base });
        if press.stops.contains_key(&ScreenName::from(name)) {
            wet_from = at + 1;
        }
    }
    Some(out)
}

impl PrintModel {
    /// Share of its opacity that an ink keeps on the wet ink of another, if that was measured.
    fn pair(&self, below: &str, above: &str) -> Option<Coverage> {
        let own = self.wet_pairs.iter().find(|pair| pair.below == below && pair.above == above);
        own.map(|pair| pair.keeps)
    }
}

impl<const BANDS: usize> Print<BANDS> {
    /// What it makes of a light, the screen on top of which is `top`.
    fn over(&self, top: Option<usize>, beneath: [f32; BANDS]) -> [f32; BANDS] {
        let wet = top.and_then(|top| top.checked_sub(self.wet_from)).and_then(|place| self.wet.get(place));
        wet.and_then(Option::as_ref).unwrap_or(&self.usual).over(beneath)
    }
}

/// The colour of the screens for which `prints_here` says yes, laid on each other.
#[cfg(test)]
pub(super) fn overprint<const BANDS: usize>(
    garment: [f32; BANDS],
    prints: &[Print<BANDS>],
    prints_here: impl Fn(usize) -> bool,
) -> [f32; BANDS] {
    let here = (0..prints.len()).filter(|&at| prints_here(at));
    here.fold((None, garment), |(top, light), at| (Some(at), prints[at].over(top, light))).1
}

/// The affine layers nearest to the prints on a garment, in the bands that `see` sees.
pub(super) fn layers<const BANDS: usize, const OUT: usize>(
    garment: [f32; BANDS],
    prints: &[Print<BANDS>],
    see: impl Fn([f32; BANDS]) -> [f32; OUT],
) -> Vec<Layer<OUT>> {
    struct Spot<const BANDS: usize, const OUT: usize> {
        light: [f32; BANDS],
        seen: [f32; OUT],
        top: Option<usize>,
        count: usize,
        odds: f64,
    }
    let mut spots = vec![Spot { light: garment, seen: see(garment), top: None, count: 0, odds: 1.0 }];
    let mut seen = Vec::new();
    let mut out = Vec::with_capacity(prints.len());
    for (at, print) in prints.iter().enumerate() {
        seen.clear();
        let white = [1.0; BANDS];
        seen.push(Seen { beneath: see(white), shows: see(print.usual.over(white)), weight: WHITE });
        for place in 0..spots.len() {
            let spot = &spots[place];
            let light = print.over(spot.top, spot.light);
            let shows = see(light);
            let weight = if spot.count == 0 { BARE } else { spot.odds };
            seen.push(Seen { beneath: spot.seen, shows, weight });
            if spot.count < DEEP {
                let odds = spot.odds * if print.is_base { ODDS[0] } else { ODDS[1] };
                spots.push(Spot { light, seen: shows, top: Some(at), count: spot.count + 1, odds });
            }
        }
        out.push(Layer::nearest(&seen));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::{LinRgb, ciede2000, lab_from_linear};
    use crate::ink::Garment;
    use crate::press::{Ground, Stack, WetPair};
    use crate::units::{Lpi, Opacity};
    use approx::assert_abs_diff_eq;

    fn ink(name: &str, hex: &str, opacity: f64, role: InkRole) -> Ink {
        let opacity = Opacity::new(opacity).unwrap();
        Ink { name: name.into(), over_white: hex.parse().unwrap(), opacity, role, measured: false, spectra: None }
    }

    fn six() -> Vec<Ink> {
        vec![
            ink("Base white", "#F4F3EE", 0.85, InkRole::BaseWhite),
            ink("Golden yellow", "#F2B51C", 0.55, InkRole::Color),
            ink("Brick red", "#B5332B", 0.6, InkRole::Color),
            ink("Sea blue", "#1F5C96", 0.6, InkRole::Color),
            ink("Violet", "#5B3A86", 0.6, InkRole::Color),
            ink("Ink black", "#1B1A1C", 0.9, InkRole::Black),
        ]
    }

    fn numbers(seed: &mut u32) -> f32 {
        *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (*seed >> 8) as f32 / (1u32 << 24) as f32
    }

    /// Dots by chance over exact overprints, in double precision.
    fn exact(garment: LinRgb, prints: &[Print<3>], a: &[f32]) -> LinRgb {
        let mut sum = [0.0f64; 3];
        for set in 0..1usize << a.len() {
            let shares = a.iter().enumerate().map(|(i, &a)| f64::from(if set >> i & 1 == 1 { a } else { 1.0 - a }));
            let weight: f64 = shares.product();
            let light = overprint(garment, prints, |i| set >> i & 1 == 1);
            (0..3).for_each(|band| sum[band] += weight * f64::from(light[band]));
        }
        sum.map(|v| v as f32)
    }

    /// How far the short form is from the sum over exact overprints, for coverages of one to four screens at a
    /// time on four garments, wet on wet with a flashed base. One screen and two are met exactly.
    #[test]
    fn layers_stand_for_the_overprints() {
        let inks = six();
        let mut press = PrintModel::default();
        press.stops.insert("Base white".into(), super::super::Stop::Flash);
        let list: Vec<_> = inks.iter().map(|i| (i.name.as_str(), i, 1u8)).collect();
        let (mut seed, mut errors) = (1, Vec::new());
        for color in ["#FFFFFF", "#17171A", "#8E1F24", "#8A8D8F"] {
            let garment = Garment::of_color(color.parse().unwrap());
            let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).unwrap());
            let prints = prints(&press, &list, |ink| Some(Coat::from_ink(ink))).unwrap();
            let stack = Stack::of_inks(&ground, list.iter().copied());
            let mut here = Vec::new();
            for count in 1..=4 {
                for _ in 0..300 {
                    let mut a = vec![0.0f32; inks.len()];
                    let dark = color != "#FFFFFF";
                    if dark && count > 1 {
                        a[0] = 0.3 + 0.7 * numbers(&mut seed);
                    }
                    for _ in 0..count - usize::from(dark && count > 1) {
                        let at =
                            usize::from(dark) + (numbers(&mut seed) * (inks.len() - usize::from(dark)) as f32) as usize;
                        a[at] = numbers(&mut seed);
                    }
                    let (short, full) = (stack.reflectance(&a), exact(garment.reflectance(), &prints, &a));
                    let error = ciede2000(lab_from_linear(short), lab_from_linear(full));
                    if count == 1 {
                        assert!(error < 0.35, "{color} {a:?} {error}");
                    }
                    here.push(error);
                }
            }
            let mean = here.iter().sum::<f32>() / here.len() as f32;
            here.sort_by(f32::total_cmp);
            println!(
                "{color}: mean {mean:.2}, p95 {:.2}, most {:.2}",
                here[here.len() * 95 / 100],
                here[here.len() - 1]
            );
            errors.push((mean, here[here.len() * 95 / 100]));
        }
        assert!(errors.iter().all(|(mean, p95)| *mean < 0.3 && *p95 < 1.0), "{errors:?}");
    }

    #[test]
    fn a_pair_that_was_measured_has_its_own_opacity_and_a_flash_ends_it() {
        let inks = six();
        let mut press = PrintModel::default();
        let keeps = Coverage::new(0.4).unwrap();
        press.wet_pairs.push(WetPair { below: "Golden yellow".into(), above: "Brick red".into(), keeps });
        let look = |press: &PrintModel, set: [usize; 2]| {
            let garment = Garment::of_color("#FFFFFF".parse().unwrap());
            let list = set.map(|at| (inks[at].name.as_str(), &inks[at], 1u8));
            Stack::of_inks(&Ground::by_chance(&garment, press, Lpi::new(45.0).unwrap()), list).reflectance(&[1.0; 2])
        };
        let garment: LinRgb = Garment::of_color("#FFFFFF".parse().unwrap()).reflectance();
        let [yellow, red, blue] = [1, 2, 3].map(|at| Coat::from_ink(&inks[at]));
        let by_hand = |upper: &Coat, keeps, lower: &Coat| upper.keeping(keeps).over(lower.over(garment));
        for (got, want) in [
            (look(&press, [1, 2]), by_hand(&red, 0.4, &yellow)),
            (look(&press, [1, 3]), by_hand(&blue, 0.85, &yellow)),
            (look(&press, [2, 1]), by_hand(&yellow, 0.85, &red)),
        ] {
            // On white, which no ink equals in a band; where one does, no layer gives both, and the garment is met.
            let error = ciede2000(lab_from_linear(got), lab_from_linear(want));
            assert!(error < 0.7, "{error}: {got:?} for {want:?}");
        }
        press.stops.insert("Golden yellow".into(), super::super::Stop::Flash);
        let dry = by_hand(&red, 1.0, &yellow);
        (0..3).for_each(|band| assert_abs_diff_eq!(look(&press, [1, 2])[band], dry[band], epsilon = 1e-4));
    }
}
