//! The proof: the screens printed on the garment, by the print model, pixel by pixel.

use rayon::prelude::*;

use super::{Ground, Optics};
use crate::color::{encode_u16, linear_from_u16};
use crate::ink::Garment;
use crate::raster::{FULL, Picture, Plane, Rgba16};
use crate::screens::Screens;

/// The shirt as it will look, opaque, at the screens' resolution. Screens for which `shown`
/// says no are left out, as if their heads were empty.
pub fn proof_from_screens(screens: &Screens, ground: &Ground<'_>, shown: impl Fn(&str) -> bool) -> Picture {
    let prover = Prover::new(screens, ground, shown);
    let (width, height) = (screens.width, screens.height);
    let mut pixels: Plane<Rgba16> = Plane::filled(width, height, [FULL; 4]);
    pixels.data_mut().par_chunks_mut(width.max(1)).enumerate().for_each(|(y, out)| prover.row(y, 1, out));
    Picture::new(pixels)
}

/// The proof row by row, for those who need no whole picture of it.
pub(crate) struct Prover<'a> {
    planes: Vec<&'a Plane<u16>>,
    optics: Optics,
}

impl<'a> Prover<'a> {
    /// Screens for which `shown` says no are left out.
    pub fn new(screens: &'a Screens, ground: &Ground<'_>, shown: impl Fn(&str) -> bool) -> Self {
        let list: Vec<_> = screens.list.iter().filter(|s| shown(&s.name)).collect();
        let inks = list.iter().map(|s| (s.name.as_str(), &s.ink, s.hits));
        let optics = Optics::of_inks(ground, inks);
        Self { planes: list.iter().map(|s| &s.coverage).collect(), optics }
    }

    /// Every `step`-th pixel of row `y`, as many as fit into `out`.
    pub fn row(&self, y: usize, step: usize, out: &mut [Rgba16]) {
        let rows: Vec<&[u16]> = self.planes.iter().map(|plane| plane.row(y)).collect();
        let mut a = vec![0.0f32; rows.len()];
        for (x, pixel) in out.iter_mut().enumerate() {
            for (a, row) in a.iter_mut().zip(&rows) {
                *a = f32::from(row[x * step]) / 65535.0;
            }
            let [r, g, b] = encode_u16(self.optics.reflectance(&a));
            *pixel = [r, g, b, FULL];
        }
    }
}

/// The art as it should look on a garment: its colours where it is opaque, the fabric where it is
/// clear, blended in linear light between.
pub fn art_on_garment(art: &Picture, garment: &Garment) -> Picture {
    let under = garment.reflectance();
    Picture::new(art.pixels().map(|p| {
        let alpha = f32::from(p[3]) / 65535.0;
        let over = linear_from_u16(&p);
        let [r, g, b] = encode_u16(std::array::from_fn(|i| under[i] + alpha * (over[i] - under[i])));
        [r, g, b, FULL]
    }))
}
