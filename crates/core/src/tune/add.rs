//! A screen added to a job: where it prints, and its coverage where the other screens stay as
//! they are.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Source;
use crate::color::{linear_from_u16, oklab_from_linear};
use crate::ink::{Ink, InkRole, UsualRank};
use crate::prep::Prepared;
use crate::press::{Ground, PrintModel, Stack};
use crate::raster::Plane;
use crate::screens::{Screen, Screens};
use crate::{Cancelled, Progress};

/// Where a new screen prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Base whites first, then colours from light to dark, black, other whites.
    #[default]
    Usual,
    /// Before all others but leading whites, which lie under colours.
    First,
    /// After all others.
    Last,
}

impl Place {
    /// Its place among the inks that are there, in print order.
    pub fn among(self, inks: &[&Ink], new: &Ink) -> usize {
        match self {
            Self::Last => inks.len(),
            Self::First if new.role == InkRole::BaseWhite => 0,
            Self::First => inks.iter().position(|ink| !ink.is_white()).unwrap_or(inks.len()),
            Self::Usual => {
                let rank = |ink: &Ink| UsualRank::of(ink, false);
                let new = rank(new);
                let base = inks.iter().position(|ink| !ink.is_white()).unwrap_or(0);
                // A white that leads lies under the colours, whatever it is called.
                let from = if new.is_base() { 0 } else { base };
                (from..inks.len()).find(|&i| rank(inks[i]) > new).unwrap_or(inks.len())
            }
        }
    }
}

/// Coverage of a new screen while the others stay: a first black is read from the art's shadows
/// and edges; any other ink prints as much as brings the proof nearest to the art.
pub(super) fn added(
    screens: &Screens,
    at: usize,
    name: &str,
    ink: &Ink,
    prepared: &Prepared,
    ground: &Ground<'_>,
    progress: &Progress,
) -> Result<Plane<u16>, Cancelled> {
    let has_black = screens.list.iter().any(|s| s.ink.role == InkRole::Black);
    if ink.role == InkRole::Black && !has_black {
        return Source::shadows().read(prepared, progress);
    }
    fitted(screens, at, name, ink, prepared, ground, progress)
}

/// Price of ink, as the separation has it: squared OKLab for the first coverage and for its square.
const PRICE: (f32, f32) = (3e-4, 6e-4);

/// The print is straight in any one coverage (in `R^(1/n)` where Yule-Nielsen's n is not 1), so two
/// proofs give all others: a few damped Newton steps a pixel find the best.
fn fitted(
    screens: &Screens,
    at: usize,
    name: &str,
    ink: &Ink,
    prepared: &Prepared,
    ground: &Ground<'_>,
    progress: &Progress,
) -> Result<Plane<u16>, Cancelled> {
    progress.step("fit the new screen", 0.0)?;
    let mut list: Vec<(&str, &Ink, u8)> = screens.list.iter().map(|s| (s.name.as_str(), &s.ink, s.hits)).collect();
    list.insert(at, (name, ink, 1));
    let press = PrintModel { compensate: true, ..ground.press.clone() };
    let stack = Stack::of_inks(&Ground { press: &press, ..*ground }, list);
    let (width, height) = (screens.width, screens.height);
    let root = 1.0 / stack.yule_nielsen;
    let mut out = Plane::filled(width, height, 0u16);
    let planes: Vec<&Screen> = screens.list.iter().collect();
    let pixels = prepared.picture.pixels();
    out.data_mut().par_chunks_mut(width.max(1)).enumerate().for_each(|(y, out)| {
        let rows: Vec<&[u16]> = planes.iter().map(|s| s.coverage.row(y)).collect();
        let mut a = vec![0.0f32; stack.layers.len()];
        let mut last: Option<(Vec<u16>, [u16; 4], u16)> = None;
        for (x, out) in out.iter_mut().enumerate() {
            let pixel = pixels.get(x, y);
            if pixel[3] == 0 {
                continue;
            }
            let here = rows.iter().map(|row| row[x]);
            if let Some((old, same, value)) = &last
                && *same == pixel
                && here.clone().eq(old.iter().copied())
            {
                *out = *value;
                continue;
            }
            for (i, v) in here.clone().enumerate() {
                a[if i < at { i } else { i + 1 }] = f32::from(v) / 65535.0;
            }
            let mut print = |of_new: f32| {
                a[at] = of_new;
                stack.reflectance(&a).map(|r| if root == 1.0 { r } else { r.max(0.0).powf(root) })
            };
            let (without, with) = (print(0.0), print(1.0));
            let light = |c: f32| -> [f32; 3] {
                std::array::from_fn(|i| {
                    let r = without[i] + c * (with[i] - without[i]);
                    if root == 1.0 { r } else { r.max(0.0).powf(stack.yule_nielsen) }
                })
            };
            let alpha = f32::from(pixel[3]) / 65535.0;
            let over = linear_from_u16(&pixel);
            let aim = std::array::from_fn(|i| stack.garment[i] + alpha * (over[i] - stack.garment[i]));
            let best = nearest(aim, light);
            *out = (best * 65535.0).round() as u16;
            last = Some((here.collect(), pixel, *out));
        }
    });
    progress.step("fit the new screen", 1.0)?;
    Ok(out)
}

/// The coverage at which `light` comes nearest to a colour, ink priced: the best of a few, then
/// between its neighbours by falling steps.
fn nearest(aim: [f32; 3], light: impl Fn(f32) -> [f32; 3]) -> f32 {
    let lab = |c: [f32; 3]| {
        let lab = oklab_from_linear(c.map(|x| x.max(0.0) + 0.004));
        [lab.l, lab.a, lab.b]
    };
    let target = lab(aim);
    let cost = |a: f32| {
        let here = lab(light(a));
        (0..3).map(|i| (here[i] - target[i]).powi(2)).sum::<f32>() + PRICE.0 * a + PRICE.1 * a * a
    };
    let mut best = (cost(0.0), 0.0f32);
    for a in [0.25, 0.5, 0.75, 1.0] {
        let value = cost(a);
        if value < best.0 {
            best = (value, a);
        }
    }
    let mut step = 0.125f32;
    while step > 2e-4 {
        let (low, high) = ((best.1 - step).max(0.0), (best.1 + step).min(1.0));
        let (at_low, at_high) = (cost(low), cost(high));
        if at_low < best.0 && at_low <= at_high {
            best = (at_low, low);
        } else if at_high < best.0 {
            best = (at_high, high);
        }
        step *= 0.5;
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::{ciede2000, lab_from_linear};
    use crate::ink::Garment;
    use crate::raster::{FULL, Picture};
    use crate::units::{Lpi, Opacity, Ppi};

    fn ink(name: &str, color: &str, role: InkRole) -> Ink {
        Ink {
            name: name.into(),
            over_white: color.parse().unwrap(),
            opacity: Opacity::new(0.7).unwrap(),
            role,
            measured: false,
            spectra: None,
        }
    }

    #[test]
    fn new_inks_find_their_place() {
        let inks = [
            ink("base", "#F4F4F0", InkRole::BaseWhite),
            ink("yellow", "#F6D21F", InkRole::Color),
            ink("blue", "#1F4FA3", InkRole::Color),
            ink("white", "#FAFAFA", InkRole::White),
        ];
        let all: Vec<&Ink> = inks.iter().collect();
        let red = ink("red", "#C8202F", InkRole::Color);
        let black = ink("black", "#161616", InkRole::Black);
        let base = ink("base 2", "#F0F0EE", InkRole::BaseWhite);
        assert_eq!(Place::Usual.among(&all, &red), 2);
        assert_eq!(Place::Usual.among(&all, &black), 3);
        assert_eq!(Place::Usual.among(&all, &base), 1);
        assert_eq!(Place::First.among(&all, &black), 1);
        assert_eq!(Place::Last.among(&all, &black), 4);
        assert_eq!(Place::Usual.among(&[], &red), 0);
    }

    /// Art printed with yellow alone, to which a red is added: orange comes near, yellow stays.
    #[test]
    fn a_new_ink_does_what_it_can_while_the_rest_stay() {
        let orange = [0xF0F0, 0x7C7C, 0x2222, FULL];
        let yellow = [0xF6F6, 0xD2D2, 0x1F1F, FULL];
        let picture = Picture::new(Plane::from_fn(20, 4, |x, _| if x < 10 { orange } else { yellow }));
        let ppi = Ppi::new(100.0).unwrap();
        let prepared = Prepared { picture, ppi, print_size_mm: [5.0, 1.0], true_ppi: 100.0 };
        let first = ink("yellow", "#F6D21F", InkRole::Color);
        let coverage = Plane::filled(20, 4, FULL);
        let screens = Screens {
            width: 20,
            height: 4,
            ppi,
            list: vec![Screen { name: "yellow".into(), ink: first, hits: 1, coverage }],
        };
        let garment = Garment::of_color("#FFFFFF".parse().unwrap());
        let press = PrintModel::default();
        let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).unwrap());
        let red = ink("red", "#D8232A", InkRole::Color);
        let plane = added(&screens, 1, "red", &red, &prepared, &ground, &Progress::none()).unwrap();
        assert!(plane.get(15, 2) < 1500, "yellow stays yellow: {}", plane.get(15, 2));
        let a = f32::from(plane.get(5, 2)) / 65535.0;
        let inks = [("yellow", &screens.list[0].ink, 1u8), ("red", &red, 1)];
        let stack = Stack::of_inks(&ground, inks);
        let lab = |c| lab_from_linear(c);
        let want = lab(linear_from_u16(&orange));
        let (before, after) = (lab(stack.reflectance(&[1.0, 0.0])), lab(stack.reflectance(&[1.0, a])));
        assert!(ciede2000(after, want) < 0.4 * ciede2000(before, want), "{a}");
        // No other coverage is nearer by more than the price of ink explains, as OKLab measures.
        let squared = |c: f32| {
            let ok = |light: [f32; 3]| {
                let lab = oklab_from_linear(light.map(|x| x + 0.004));
                [lab.l, lab.a, lab.b]
            };
            let (print, art) = (ok(stack.reflectance(&[1.0, c])), ok(linear_from_u16(&orange)));
            (0..3).map(|i| (print[i] - art[i]).powi(2)).sum::<f32>()
        };
        for other in (0..=100).map(|c| c as f32 / 100.0) {
            let saved = PRICE.0 * (a - other) + PRICE.1 * (a * a - other * other);
            assert!(squared(a) + saved < squared(other) + 1e-6, "{a} against {other}");
        }
        // CIEDE2000 would have it at 3.46 with a little more red; here it is 4.47.
        let best = (0..=100).map(|c| ciede2000(lab(stack.reflectance(&[1.0, c as f32 / 100.0])), want));
        assert!(ciede2000(after, want) < best.fold(f32::INFINITY, f32::min) + 1.1);
    }
}
