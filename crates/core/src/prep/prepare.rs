//! The preparation as a whole: crop, size, resample, sharpen.

use super::PrepSettings;
use crate::job::{Art, Detail};
use crate::raster::{Picture, Plane};
use crate::units::Ppi;
use crate::{Cancelled, Progress};

/// The art ready for separation.
#[derive(Debug, Clone, PartialEq)]
pub struct Prepared {
    /// At the working resolution (or the proxy's).
    pub picture: Picture,
    /// Resolution of `picture` at print size.
    pub ppi: Ppi,
    /// Width and height of the print in mm.
    pub print_size_mm: [f64; 2],
    /// Pixels of the art per inch of print: what is really there, whatever `ppi` says.
    pub true_ppi: f64,
}

/// Why art cannot be prepared.
#[derive(Debug, thiserror::Error)]
pub enum PrepError {
    /// The crop leaves nothing.
    #[error("the crop leaves no pixel of the artwork; choose a larger part")]
    EmptyCrop,
    /// Too large to hold.
    #[error(
        "the print would be {width} x {height} pixels at {ppi} ppi; lower the print size or the working resolution"
    )]
    TooLarge {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
        /// Working resolution.
        ppi: Ppi,
    },
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Prepares `art`. At [`Detail::Proxy`] the working resolution is lowered so that the longer side
/// has at most that many pixels; everything else is the same.
pub fn prepare(art: &Art, settings: &PrepSettings, detail: Detail, progress: &Progress) -> Result<Prepared, PrepError> {
    progress.step("prepare", 0.0)?;
    let crop = settings.crop.unwrap_or(super::CropBox { left: 0.0, top: 0.0, width: 1.0, height: 1.0 });
    let (art_w, art_h) = (art.picture.width() as f64, art.picture.height() as f64);
    let (crop_w, crop_h) = (art_w * crop.width, art_h * crop.height);
    if crop_w < 1.0 || crop_h < 1.0 {
        return Err(PrepError::EmptyCrop);
    }
    let own_in = [crop_w / art.ppi.get(), crop_h / art.ppi.get()];
    let scale = match (settings.max_width_mm, settings.max_height_mm) {
        (None, None) => 1.0,
        (w, h) => {
            let by_w = w.map_or(f64::INFINITY, |w| w.inches() / own_in[0]);
            let by_h = h.map_or(f64::INFINITY, |h| h.inches() / own_in[1]);
            by_w.min(by_h)
        }
    };
    let size_in = own_in.map(|s| s * scale);
    let mut ppi = settings.ppi.get();
    if let Detail::Proxy { longest_px } = detail {
        ppi = ppi.min(longest_px as f64 / size_in[0].max(size_in[1]));
    }
    let px = size_in.map(|s| ((s * ppi).round() as usize).max(1));
    if px[0].saturating_mul(px[1]) > 400_000_000 {
        return Err(PrepError::TooLarge { width: px[0], height: px[1], ppi: settings.ppi });
    }
    let pixels = Plane::from_fn(px[0], px[1], |x, y| {
        let sx = ((x as f64 + 0.5) / px[0] as f64 * crop.width + crop.left) * art_w;
        let sy = ((y as f64 + 0.5) / px[1] as f64 * crop.height + crop.top) * art_h;
        art.picture.pixels().get((sx as usize).min(art_w as usize - 1), (sy as usize).min(art_h as usize - 1))
    });
    Ok(Prepared {
        picture: Picture::new(pixels),
        ppi: Ppi::new(ppi).unwrap_or(settings.ppi),
        print_size_mm: size_in.map(|s| s * 25.4),
        true_ppi: crop_w / size_in[0],
    })
}
