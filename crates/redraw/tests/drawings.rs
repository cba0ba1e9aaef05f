//! Three drawings, clean and through JPEG, held to the drawings themselves as resvg draws them sharp at eight
//! times the size. Sources: the `resvg` and `jpeg-encoder` crates.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

#[path = "../examples/measure/compare.rs"]
#[allow(dead_code)]
mod compare;
#[path = "../examples/measure/drawing.rs"]
#[allow(dead_code)]
mod drawing;

use std::path::Path;

use compare::{Score, Truth};
use drawing::Drawing;
use strikeoff_redraw::{Art, Settings, redraw};

fn score(name: &str, jpeg: bool) -> Score {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/drawings").join(name);
    let drawing = Drawing::open(&path).expect("a flat drawing");
    let clean = drawing.picture(4);
    let art = if jpeg { drawing::through_jpeg(&clean, 75) } else { clean };
    let art =
        Art::new(art.width() as usize, art.height() as usize, art.as_raw()).map(|a| redraw(&a, &Settings::default()));
    Truth::of(&drawing, jpeg).score(&art.expect("the size fits").expect("the art is flat").to_svg())
}

#[test]
fn clean_drawings_are_redrawn_to_a_twentieth_of_a_pixel() {
    for name in ["lantern.svg", "heron.svg", "fair.svg"] {
        let s = score(name, false);
        assert!(s.mean < 0.05 && s.lost == 0, "{name}: {s}");
        assert!(s.corners > 10 && s.corners_near * 20 >= s.corners * 17, "{name}: {} of {}", s.corners_near, s.corners);
    }
}

#[test]
fn drawings_through_jpeg_are_redrawn_to_a_tenth_of_a_pixel() {
    for name in ["lantern.svg", "heron.svg", "fair.svg"] {
        let s = score(name, true);
        assert!(s.mean < 0.1 && s.lost == 0, "{name}: {s}");
    }
}
