//! Photographs and inks for the checks of the separation. The photographs are those of
//! `tests/fixtures/photos` (its note names source and licence), made small; inks are assumed values.

use std::path::Path;

use crate::ink::{Ink, InkRole};
use crate::raster::Picture;
use crate::units::{Lpi, Opacity};

pub(super) const PHOTOS: [&str; 6] =
    ["astronaut.jpg", "cat.jpg", "coffee.jpg", "galaxies.jpg", "rocket.jpg", "horse-alpha.png"];

pub(super) fn photo(name: &str, longest: u32) -> Picture {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fixtures/photos").join(name);
    let image = image::open(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let image = image.thumbnail(longest, longest).to_rgba8();
    Picture::from_rgba8(image.width() as usize, image.height() as usize, &image)
}

pub(super) fn ink(name: &str) -> Ink {
    let (color, opacity, role) = match name {
        "base" | "base 2" => ("#F4F4F0", 0.86, InkRole::BaseWhite),
        "white" => ("#FAFAF7", 0.82, InkRole::White),
        "black" => ("#17171A", 0.95, InkRole::Black),
        "golden" => ("#FBBE22", 0.62, InkRole::Color),
        "lemon" => ("#FCE24A", 0.52, InkRole::Color),
        "orange" => ("#F07A1E", 0.66, InkRole::Color),
        "red" => ("#D8232A", 0.72, InkRole::Color),
        "magenta" => ("#C72F7C", 0.68, InkRole::Color),
        "blue" => ("#2C6FB7", 0.74, InkRole::Color),
        "royal" => ("#22409A", 0.78, InkRole::Color),
        "green" => ("#3F9B45", 0.72, InkRole::Color),
        "brown" => ("#6B3A22", 0.82, InkRole::Color),
        "tan" => ("#C39A6B", 0.72, InkRole::Color),
        "grey" => ("#9A9DA1", 0.80, InkRole::Color),
        other => panic!("no test ink {other}"),
    };
    Ink {
        name: name.into(),
        over_white: color.parse().unwrap(),
        opacity: Opacity::new(opacity).unwrap(),
        role,
        measured: false,
        spectra: None,
    }
}

pub(super) fn lpi() -> Lpi {
    Lpi::new(45.0).unwrap()
}
