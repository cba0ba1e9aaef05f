//! What a choice of inks must show on real photographs: near the best of all sets of a small
//! shelf, and better than the inks nearest to the picture's main colours on the house shelf.

use std::path::Path;

use rayon::prelude::*;

use super::judge::{Judge, Solved};
use super::palette::weighed_colors;
use super::{InkRequest, LEAST_GAIN, suggest};
use crate::Progress;
use crate::color::{ciede2000, lab_from_linear};
use crate::ink::{Garment, Ink, InkRole, Shelf, usual_order};
use crate::press::{Ground, PrintModel};
use crate::raster::Picture;
use crate::separate::samples::{PHOTOS, ink, lpi, photo};
use crate::separate::{PlannedScreen, SeparationSettings};

/// White, black, red.
const GARMENTS: [&str; 3] = ["#FFFFFF", "#17171A", "#A3202B"];
/// Sets that go on from the comparison of all on few colours.
const FINALISTS: usize = 24;

struct Bench {
    picture: Picture,
    garment: Garment,
    settings: SeparationSettings,
    press: PrintModel,
}

impl Bench {
    fn new(name: &str, on: &str) -> Self {
        let garment = Garment::of_color(on.parse().unwrap());
        let picture = photo(name, 96);
        Self { picture, garment, settings: SeparationSettings::default(), press: PrintModel::default() }
    }

    fn judge(&self, colors: usize) -> Judge<'_> {
        let [colors] = weighed_colors(&self.picture, self.garment.reflectance(), [colors]);
        Judge { colors, ground: self.ground(), settings: &self.settings }
    }

    fn ground(&self) -> Ground<'_> {
        Ground::by_chance(&self.garment, &self.press, lpi())
    }

    fn chosen(&self, shelf: &Shelf) -> Vec<Ink> {
        let (request, none) = (InkRequest::default(), Progress::none());
        suggest(&self.picture, &self.ground(), shelf, &request, &self.settings, &none).unwrap().chosen.inks
    }

    fn planned(&self, mut inks: Vec<Ink>) -> Vec<PlannedScreen> {
        usual_order(&mut inks, &self.garment);
        inks.into_iter().map(PlannedScreen::of_ink).collect()
    }
}

/// On a shelf of twelve the chosen six come near the best of all 924 sets: one photograph on each
/// garment here, all six on all three in the test below.
#[test]
fn chosen_inks_are_near_the_best_of_all_sets() {
    let cases = [("astronaut.jpg", 0), ("galaxies.jpg", 1), ("coffee.jpg", 2)];
    near_the_best(&cases.map(|(name, on)| (name, GARMENTS[on])), 1.03);
}

/// Measured: the cup on white 2.6 % from the best, the others within 0.7 %.
#[test]
#[ignore = "half a minute in a release build; run with --ignored when the choice changes"]
fn chosen_inks_are_near_the_best_of_all_sets_everywhere() {
    let cases: Vec<_> = PHOTOS.iter().flat_map(|&name| GARMENTS.map(|on| (name, on))).collect();
    near_the_best(&cases, 1.03);
}

/// The chosen six within a factor of the best of all sets (mean CIEDE2000). All sets are compared
/// on few colours, each starting from the solutions with all twelve inks; the best [`FINALISTS`]
/// and the chosen set are then judged on many, from all starts.
fn near_the_best(cases: &[(&str, &str)], within: f64) {
    let names = "base,white,black,golden,lemon,orange,red,magenta,blue,royal,green,brown";
    let shelf = Shelf { inks: names.split(',').map(ink).collect() };
    let sets: Vec<Vec<usize>> = (0..1u32 << 12)
        .filter(|set| set.count_ones() == 6)
        .map(|set| (0..12).filter(|i| set >> i & 1 == 1).collect())
        .collect();
    assert_eq!(sets.len(), 924);
    let mut far = Vec::new();
    for &(name, on) in cases {
        let bench = Bench::new(name, on);
        let (few, many) = (bench.judge(20), bench.judge(72));
        let of_set = |set: &[usize]| bench.planned(set.iter().map(|&i| shelf.inks[i].clone()).collect());
        let all: Solved = few.solve(bench.planned(shelf.inks.clone()), None);
        let mut rough: Vec<(f64, usize)> = sets
            .par_iter()
            .enumerate()
            .map(|(at, set)| (few.solve(of_set(set), Some(&all)).quality.mean, at))
            .collect();
        rough.sort_by(|a, b| a.0.total_cmp(&b.0));
        let best = rough[..FINALISTS]
            .par_iter()
            .map(|&(_, at)| many.solve(of_set(&sets[at]), None).quality.mean)
            .reduce(|| f64::INFINITY, f64::min);
        let chosen = bench.chosen(&shelf);
        let ours = many.solve(bench.planned(chosen.clone()), None).quality.mean;
        eprintln!(
            "{name} on {on}: chosen {ours:.3} with {}, best of all {best:.3}, ratio {:.4}",
            chosen.len(),
            ours / best
        );
        // Fewer than six are chosen only where the others would bring less than is asked of a screen.
        if ours > best * within + if chosen.len() < 6 { LEAST_GAIN } else { 0.0 } {
            far.push(format!("{name} on {on}: chosen {ours:.3}, best {best:.3}"));
        }
    }
    assert!(far.is_empty(), "{}", far.join("\n"));
}

/// On the house shelf the choice beats the inks nearest to the picture's main colours (k-means in
/// OKLab, nearest by CIEDE2000, each ink once; a base white under them on coloured garments):
/// never worse, and by a fifth on average.
#[test]
fn chosen_inks_beat_the_nearest_to_the_main_colors() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/shelf.json");
    let shelf: Shelf = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
    assert!(shelf.inks.len() >= 36);
    let (mut sum, mut count) = (0.0, 0.0);
    for name in PHOTOS {
        for on in &GARMENTS[..2] {
            let bench = Bench::new(name, on);
            let many = bench.judge(72);
            let mut nearest: Vec<Ink> = Vec::new();
            if !bench.garment.is_white() {
                nearest.push(shelf.inks.iter().find(|i| i.role == InkRole::BaseWhite).unwrap().clone());
            }
            let [mut main] = weighed_colors(&bench.picture, bench.garment.reflectance(), [6 - nearest.len()]);
            main.sort_by(|a, b| b.weight.total_cmp(&a.weight));
            for color in main {
                let want = lab_from_linear(color.color);
                let away = |ink: &&Ink| ciede2000(lab_from_linear(ink.reflectance_over_white()), want);
                let free = shelf.inks.iter().filter(|i| !nearest.contains(i));
                nearest.push(free.min_by(|a, b| away(a).total_cmp(&away(b))).unwrap().clone());
            }
            let theirs = many.solve(bench.planned(nearest), None).quality.mean;
            let chosen = bench.chosen(&shelf);
            let fewer = chosen.len() < 6;
            let ours = many.solve(bench.planned(chosen), None).quality.mean;
            eprintln!("{name} on {on}: chosen {ours:.3}, nearest to main colours {theirs:.3}");
            assert!(
                ours <= theirs + if fewer { LEAST_GAIN } else { 0.0 },
                "{name} on {on}: chosen {ours}, nearest {theirs}"
            );
            sum += ours / theirs;
            count += 1.0;
        }
    }
    eprintln!("mean ratio {:.3}", sum / count);
    assert!(sum / count < 0.8, "mean ratio {}", sum / count);
}
