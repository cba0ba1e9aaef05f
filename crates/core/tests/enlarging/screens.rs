//! The same for what is printed: screens of enlarged art beside the screens of the art whole.

use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Ink, Shelf};
use strikeoff_core::prep::{Enlarging, Prepared};
use strikeoff_core::press::{Ground, PrintModel};
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::Screens;
use strikeoff_core::separate::{SeparationSettings, separate};
use strikeoff_core::units::Lpi;

use crate::pictures::{held_out, prepared, reduced, through_jpeg};

const INKS: [&str; 4] = ["Golden yellow", "Signal red", "Royal blue", "Ink black"];

fn screens(prepared: &Prepared) -> Screens {
    let shelf: Shelf = serde_json::from_str(include_str!("../../../../assets/shelf.json")).unwrap();
    let inks: Vec<Ink> = INKS.iter().map(|name| shelf.find(name).unwrap().clone()).collect();
    let garment = Garment::of_color("#FFFFFF".parse().unwrap());
    let press = PrintModel::default();
    let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).unwrap());
    let settings = SeparationSettings::for_inks(inks);
    separate(prepared, &ground, &settings, &Progress::none()).unwrap()
}

/// Mean difference of coverage, 0..=1, over all screens.
fn coverage_error(a: &Screens, b: &Screens) -> f64 {
    let of = |(a, b): (&u16, &u16)| f64::from(a.abs_diff(*b)) / 65_535.0;
    let means = a.list.iter().zip(&b.list).map(|(a, b)| {
        let (a, b) = (a.coverage.data(), b.coverage.data());
        a.iter().zip(b).map(of).sum::<f64>() / a.len() as f64
    });
    means.sum::<f64>() / a.list.len() as f64
}

/// Farthest that an edge is looked for, in pixels of the print; what is not found counts as this.
const REACH: isize = 6;

/// Pixels that cover a half and more beside one that covers less.
fn edge(plane: &Plane<u16>) -> Plane<bool> {
    let full = |x: usize, y: usize| plane.get(x, y) >= 32_768;
    Plane::from_fn(plane.width(), plane.height(), |x, y| {
        let right = x + 1 < plane.width() && full(x + 1, y) != full(x, y);
        let below = y + 1 < plane.height() && full(x, y + 1) != full(x, y);
        right || below
    })
}

/// Sum of the distances from each pixel of an edge to the nearest of the other, and their number.
fn apart(from: &Plane<bool>, to: &Plane<bool>) -> (f64, usize) {
    let (width, height) = (from.width() as isize, from.height() as isize);
    let mut sum = (0.0, 0);
    for (x, y) in (0..width * height).map(|i| (i % width, i / width)) {
        if !from.get(x as usize, y as usize) {
            continue;
        }
        let around = (-REACH..=REACH).flat_map(|dy| (-REACH..=REACH).map(move |dx| (dx, dy)));
        let inside = around.filter(|(dx, dy)| (0..width).contains(&(x + dx)) && (0..height).contains(&(y + dy)));
        let near = inside.filter(|(dx, dy)| to.get((x + dx) as usize, (y + dy) as usize));
        let nearest = near.map(|(dx, dy)| ((dx * dx + dy * dy) as f64).sqrt()).fold(REACH as f64, f64::min);
        sum = (sum.0 + nearest, sum.1 + 1);
    }
    sum
}

/// Mean distance between the edges of screens in pixels of the print, both ways.
fn edge_error(a: &Screens, b: &Screens) -> f64 {
    let (mut sum, mut count) = (0.0, 0);
    for (a, b) in a.list.iter().zip(&b.list) {
        let (a, b) = (edge(&a.coverage), edge(&b.coverage));
        for (far, n) in [apart(&a, &b), apart(&b, &a)] {
            sum += far;
            count += n;
        }
    }
    assert!(count > 500, "the drawings have edges: {count} pixels of them");
    sum / count as f64
}

/// Art reduced 4 times and saved as JPEG of quality 75 prints nearer to the art whole than when it is enlarged along
/// edges: about a quarter and more in coverage, an eighth and more in where half coverage lies. A quarter is wanted of both
/// (docs/enlarging.md).
#[test]
fn screens_of_repaired_art_are_nearer_to_those_of_the_art() {
    for name in ["drawing-heron", "drawing-lantern"] {
        let whole = held_out(name);
        let small = through_jpeg(&reduced(&whole, 4), 75);
        let truth = screens(&prepared(&whole, 1, Enlarging::Plain));
        let errors = [Enlarging::Edges, Enlarging::Repair].map(|way| {
            let got = screens(&prepared(&small, 4, way));
            [coverage_error(&truth, &got), edge_error(&truth, &got)]
        });
        let [edges, repair] = errors;
        println!(
            "{name}: coverage {:.4} along edges, {:.4} repaired; edges {:.2} px, {:.2} px",
            edges[0], repair[0], edges[1], repair[1]
        );
        for (what, at, left) in [("coverage", 0, 0.76), ("edges", 1, 0.9)] {
            assert!(repair[at] <= left * edges[at], "{name}, {what}: {:.4} of {:.4}", repair[at], edges[at]);
        }
    }
}
