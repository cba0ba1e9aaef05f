//! Same inks, same proof: open ways of taking a picture apart into layers, printed with the same inks by the same
//! print model, beside the separation. Both are implemented here from their descriptions:
//!
//! - nearest inks: the picture's colours are clustered by k-means (Lloyd, "Least squares quantization in PCM",
//!   IEEE Transactions on Information Theory 28, 1982), and each cluster is printed with the ink, or the fabric, that
//!   comes nearest;
//! - additive layers: every pixel is a convex mix of the palette's colours in light, the nearest there is (after Tan,
//!   Lien and Gingold, "Decomposing images into layers via RGB-space geometry", ACM Transactions on Graphics 36, 2016,
//!   with the inks and the fabric as the palette); a weight is a coverage.
//!
//! `cargo test -p strikeoff-core --test same_inks -- --nocapture` prints the table of docs/separation.md.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

#[path = "../reach/pictures.rs"]
mod pictures;

use rayon::prelude::*;
use strikeoff_core::Progress;
use strikeoff_core::color::{ciede2000, lab_from_linear, linear_from_u16};
use strikeoff_core::ink::{Garment, Ink, InkRole, Shelf};
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::{Ground, PrintModel, Stop};
use strikeoff_core::preview::{bad_day, on_the_day};
use strikeoff_core::raster::{Picture, Plane};
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::separate::{SeparationSettings, print_quality, separate};
use strikeoff_core::units::{Lpi, Mm, Ppi};

const INKS: [&str; 6] = ["Base white", "Golden yellow", "Signal red", "Royal blue", "Ink black", "Bright white"];
const PPI: f64 = 100.0;

/// A picture to be printed with inks, the base first if there is one.
struct Bench {
    prepared: Prepared,
    garment: Garment,
    press: PrintModel,
    inks: Vec<Ink>,
}

impl Bench {
    fn new(picture: &Picture, white: bool) -> Self {
        let shelf: Shelf = serde_json::from_str(include_str!("../../../../assets/shelf.json")).unwrap();
        let garment = Garment::of_color(if white { "#FFFFFF" } else { "#17171A" }.parse().unwrap());
        let mut press = PrintModel::default();
        press.stops.insert("Base white".into(), Stop::Flash);
        let inks = INKS[usize::from(white)..].iter().map(|name| shelf.find(name).unwrap().clone()).collect();
        let size = [picture.width(), picture.height()].map(|px| px as f64 / PPI * 25.4);
        let prepared =
            Prepared { ppi: Ppi::new(PPI).unwrap(), print_size_mm: size, true_ppi: PPI, picture: picture.clone() };
        Self { prepared, garment, press, inks }
    }

    fn ground(&self) -> Ground<'_> {
        Ground::by_chance(&self.garment, &self.press, Lpi::new(45.0).unwrap())
    }

    fn base(&self) -> Option<usize> {
        self.inks.iter().position(|ink| ink.role == InkRole::BaseWhite)
    }

    /// Colours of the palette in light: the fabric, then every ink, solid, on the base where there is one.
    fn palette(&self) -> Vec<[f32; 3]> {
        let fabric = self.garment.reflectance();
        std::iter::once(fabric).chain(self.inks.iter().map(Ink::reflectance_over_white)).collect()
    }

    /// Screens from the weight of each ink in each pixel, the fabric's first; the base goes under all but black.
    fn screens(&self, weights: &[Vec<f32>]) -> Screens {
        let (width, height) = (self.prepared.picture.width(), self.prepared.picture.height());
        let black = self.inks.iter().position(|ink| ink.role == InkRole::Black);
        let of = |at: usize| {
            let coverage = |w: &Vec<f32>| match Some(at) == self.base() {
                true => 1.0 - w[0] - black.map_or(0.0, |black| w[black + 1]),
                false => w[at + 1],
            };
            let data = weights.iter().map(|w| (coverage(w).clamp(0.0, 1.0) * 65535.0).round() as u16).collect();
            let ink = self.inks[at].clone();
            Screen { name: ink.name.as_str().into(), ink, hits: 1, coverage: Plane::from_vec(width, height, data) }
        };
        Screens { width, height, ppi: self.prepared.ppi, list: (0..self.inks.len()).map(of).collect() }
    }

    fn light(&self) -> Vec<[f32; 3]> {
        let fabric = self.garment.reflectance();
        let over = |p: &[u16; 4]| {
            let (alpha, light) = (f32::from(p[3]) / 65535.0, linear_from_u16(p));
            std::array::from_fn(|i| fabric[i] + alpha * (light[i] - fabric[i]))
        };
        self.prepared.picture.pixels().data().iter().map(over).collect()
    }

    fn nearest_inks(&self) -> Screens {
        let light = self.light();
        let labs: Vec<[f32; 3]> = light.iter().map(|c| lab_from_linear(*c)).map(|l| [l.l, l.a, l.b]).collect();
        let palette = self.palette();
        let away = |a: &[f32; 3], b: &[f32; 3]| (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f32>();
        // As many clusters as there are colours to print, from pixels spread evenly over the sorted lightness.
        let mut sorted = labs.clone();
        sorted.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let count = palette.len();
        let mut centers: Vec<[f32; 3]> = (0..count).map(|i| sorted[(2 * i + 1) * sorted.len() / (2 * count)]).collect();
        let nearest = |lab: &[f32; 3], of: &[[f32; 3]]| {
            (0..of.len()).min_by(|a, b| away(lab, &of[*a]).total_cmp(&away(lab, &of[*b]))).unwrap()
        };
        for _ in 0..20 {
            let mut sums = vec![([0.0f64; 3], 0.0f64); count];
            for lab in &labs {
                let (sum, weight) = &mut sums[nearest(lab, &centers)];
                (0..3).for_each(|i| sum[i] += f64::from(lab[i]));
                *weight += 1.0;
            }
            for (center, (sum, weight)) in centers.iter_mut().zip(sums).filter(|(_, (_, weight))| *weight > 0.0) {
                *center = sum.map(|s| (s / weight) as f32);
            }
        }
        let printed: Vec<_> = palette.iter().map(|c| lab_from_linear(*c)).collect();
        let ink_of: Vec<usize> = centers
            .iter()
            .map(|c| {
                let lab = strikeoff_core::color::Lab::new(c[0], c[1], c[2]);
                let off = |at: &usize| ciede2000(printed[*at], lab);
                // The base is printed by rule, not by choice.
                let inks = (0..count).filter(|at| Some(*at) != self.base().map(|base| base + 1));
                inks.min_by(|a, b| off(a).total_cmp(&off(b))).unwrap()
            })
            .collect();
        let weights = |lab: &[f32; 3]| {
            let mut w = vec![0.0; count];
            w[ink_of[nearest(lab, &centers)]] = 1.0;
            w
        };
        self.screens(&labs.iter().map(weights).collect::<Vec<_>>())
    }

    fn additive_layers(&self) -> Screens {
        let palette = self.palette();
        let skip = self.base().map(|base| base + 1);
        let weights: Vec<Vec<f32>> = self.light().par_iter().map(|color| convex(&palette, skip, *color)).collect();
        self.screens(&weights)
    }

    fn ours(&self) -> Screens {
        let mut settings = SeparationSettings::for_inks(self.inks.iter().cloned());
        // Behind edges the base is held back for the press's sake; the other ways do not hold theirs back.
        settings.underbase.choke_mm = Mm::new(0.0).unwrap();
        separate(&self.prepared, &self.ground(), &settings, &Progress::none()).unwrap()
    }

    /// Mean CIEDE2000, its 95th percentile, ink in percent, roughness, and the mean after 0.15 mm of register.
    fn figures(&self, screens: &Screens) -> [f64; 5] {
        let art = &self.prepared.picture;
        let quality = print_quality(screens, art, &self.ground());
        let off = print_quality(&on_the_day(screens, bad_day(0.15, 0.0)), art, &self.ground());
        let ink: f64 = screens.list.iter().map(|s| s.coverage.mean_coverage()).sum();
        let (mut own, mut of_art) = (0.0, 0.0);
        for y in 0..art.height() {
            for x in 1..art.width() {
                let step = |plane: &Plane<u16>| f64::from(plane.get(x, y).abs_diff(plane.get(x - 1, y)));
                own += screens.list.iter().map(|s| step(&s.coverage)).sum::<f64>();
                let [p, q] = [x, x - 1].map(|x| art.pixels().get(x, y));
                of_art += (0..3).map(|i| f64::from(p[i].abs_diff(q[i]))).sum::<f64>();
            }
        }
        [quality.mean, quality.p95, ink * 100.0, own / of_art.max(1.0), off.mean]
    }
}

/// Weights, none below nothing and 1 in all, of the mix nearest to a colour: weight is moved pair by pair, from the
/// worst colour in use to the best, as far as it helps.
fn convex(palette: &[[f32; 3]], skip: Option<usize>, color: [f32; 3]) -> Vec<f32> {
    let dot = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let mut weights = vec![0.0f32; palette.len()];
    weights[0] = 1.0;
    let mut mix = palette[0];
    for _ in 0..200 {
        let left: [f32; 3] = std::array::from_fn(|i| color[i] - mix[i]);
        let gain = |at: &usize| dot(palette[*at], left);
        let all = || (0..palette.len()).filter(|at| Some(*at) != skip);
        let to = all().max_by(|a, b| gain(a).total_cmp(&gain(b))).unwrap();
        let from = all().filter(|at| weights[*at] > 0.0).min_by(|a, b| gain(a).total_cmp(&gain(b))).unwrap();
        let way: [f32; 3] = std::array::from_fn(|i| palette[to][i] - palette[from][i]);
        let length = dot(way, way);
        if to == from || length < 1e-9 {
            break;
        }
        let moved = (dot(left, way) / length).clamp(0.0, weights[from]);
        if moved < 1e-6 {
            break;
        }
        weights[from] -= moved;
        weights[to] += moved;
        mix = std::array::from_fn(|i| mix[i] + moved * way[i]);
    }
    weights
}

#[test]
fn the_separation_prints_nearer_than_open_ways_of_making_layers() {
    let pictures = pictures::all();
    println!("| garment | way | mean | p95 | ink | roughness | mean, 0.15 mm off |");
    for white in [true, false] {
        let mut sums = [[0.0f64; 5]; 3];
        for (name, picture) in &pictures {
            let bench = Bench::new(picture, white);
            let ways = [bench.nearest_inks(), bench.additive_layers(), bench.ours()];
            let figures = ways.map(|screens| bench.figures(&screens));
            for (sum, figures) in sums.iter_mut().zip(figures) {
                sum.iter_mut().zip(figures).for_each(|(sum, v)| *sum += v / pictures.len() as f64);
            }
            let [nearest, additive, ours] = figures.map(|f| f[0]);
            assert!(ours < nearest && ours < additive, "{name}, white {white}: {ours} of {nearest}, {additive}");
        }
        let garment = if white { "white" } else { "black" };
        for (way, f) in ["nearest inks", "additive layers", "the separation"].iter().zip(sums) {
            let [mean, p95, ink, rough, off] = f;
            println!("| {garment} | {way} | {mean:.2} | {p95:.1} | {ink:.0} % | {rough:.2} | {off:.2} |");
        }
        let [nearest, additive, ours] = sums;
        // A third of the difference of either, films about as rough as those of the nearest inks, and still
        // nearer than both with every screen out of register.
        assert!(ours[0] < 0.4 * nearest[0].min(additive[0]), "{ours:?}, {nearest:?}, {additive:?}");
        assert!(
            ours[3] < 1.2 * nearest[3] && ours[4] < nearest[4].min(additive[4]),
            "{ours:?}, {nearest:?}, {additive:?}"
        );
    }
}
