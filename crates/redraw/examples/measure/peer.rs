//! The peer: a general open tracer from the registry, in its setting for drawings of flat colours.

use image::RgbaImage;
use visioncortex::ColorImage;
use vtracer::{Config, Preset};

pub fn trace(art: &RgbaImage) -> String {
    let image = ColorImage { pixels: art.as_raw().clone(), width: art.width() as usize, height: art.height() as usize };
    let pipeline = Config::from_preset(Preset::Poster).build().expect("the preset is sound");
    pipeline.to_svg(&image).expect("the peer traces")
}
