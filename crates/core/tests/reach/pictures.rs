//! The pictures: six photographs of `tests/fixtures/photos` (sources and licences in its note), made small, and two
//! illustrations drawn here.

use std::path::Path;

use strikeoff_core::color::{Lab, encode_u16, linear_from_lab};
use strikeoff_core::raster::{Picture, Plane};

const LONGEST: u32 = 200;

/// All of them with their names.
pub fn all() -> Vec<(&'static str, Picture)> {
    let photos = ["astronaut.jpg", "cat.jpg", "coffee.jpg", "galaxies.jpg", "rocket.jpg", "horse-alpha.png"];
    let mut list: Vec<(&'static str, Picture)> = photos.into_iter().map(|name| (name, photo(name))).collect();
    list.push(("heron at dusk", heron()));
    list.push(("lantern", lantern()));
    list
}

fn photo(name: &str) -> Picture {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fixtures/photos").join(name);
    let image = image::open(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let image = image.thumbnail(LONGEST, LONGEST).to_rgba8();
    Picture::from_rgba8(image.width() as usize, image.height() as usize, &image)
}

fn lab(l: f32, chroma: f32, hue: f32) -> [u16; 4] {
    let hue = hue.to_radians();
    let [r, g, b] =
        encode_u16(linear_from_lab(Lab::new(l, chroma * hue.cos(), chroma * hue.sin())).map(|v| v.clamp(0.0, 1.0)));
    [r, g, b, u16::MAX]
}

/// A sky from orange to violet, water that gives it back darker, a pale bird in grey-greens.
fn heron() -> Picture {
    Picture::new(Plane::from_fn(180, 200, |x, y| {
        let (x, y) = (x as f32 / 180.0, y as f32 / 200.0);
        let bird = ((x - 0.5) / 0.13).powi(2) + ((y - 0.55) / 0.3).powi(2);
        let neck = ((x - 0.5 - 0.1 * (y * 14.0).sin()) / 0.03).abs() < 1.0 && (0.12..0.4).contains(&y);
        if bird < 1.0 || neck {
            return lab(62.0 + 24.0 * (1.0 - bird).clamp(0.0, 1.0), 9.0 + 6.0 * x, 150.0 + 60.0 * y);
        }
        if y < 0.7 {
            lab(78.0 - 42.0 * y, 28.0 + 16.0 * x, 65.0 - 75.0 * y)
        } else {
            lab(44.0 - 30.0 * y, 16.0, 300.0 - 60.0 * x)
        }
    }))
}

/// A warm light that falls off into a blue night, with a frame of browns.
fn lantern() -> Picture {
    Picture::new(Plane::from_fn(180, 200, |x, y| {
        let (x, y) = (x as f32 / 180.0 - 0.5, y as f32 / 200.0 - 0.5);
        let far = x.hypot(y);
        if x.abs() < 0.2 && y.abs() < 0.3 {
            if x.abs() > 0.17 || y.abs() > 0.27 || x.abs() < 0.012 {
                return lab(28.0 + 20.0 * (0.5 - y), 18.0, 60.0);
            }
            return lab(92.0 - 60.0 * far, 14.0 + 70.0 * far, 88.0 - 40.0 * far);
        }
        lab(
            46.0 * (-4.0 * (far - 0.2).max(0.0)).exp() + 8.0,
            10.0 + 14.0 * (-5.0 * far).exp(),
            285.0 + 60.0 * (-6.0 * (far - 0.2).max(0.0)).exp(),
        )
    }))
}
