//! The preparation as a whole: crop, size, resample, sharpen.

use super::PrepSettings;
use super::resample::{Part, resample};
use super::sharpen::sharpen;
use crate::job::{Art, Detail};
use crate::raster::Picture;
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

/// Most pixels a prepared picture may have (1.6 GB): 60 x 90 in at 190 ppi.
const MAX_PRINT_PIXELS: usize = 200_000_000;

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
    /// The crop reaches outside the art.
    #[error("the crop reaches outside the artwork; its edges are fractions of it, from 0 to 1")]
    CropOutside,
    /// The resampler refused.
    #[error("the artwork cannot be resampled: {0}")]
    Resample(String),
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
    // Written so that NaN is refused too.
    if !(crop_w >= 1.0 && crop_h >= 1.0) {
        return Err(PrepError::EmptyCrop);
    }
    let inside = |from: f64, length: f64| from >= 0.0 && from + length <= 1.0 + 1e-9;
    if !inside(crop.left, crop.width) || !inside(crop.top, crop.height) {
        return Err(PrepError::CropOutside);
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
    if px[0].saturating_mul(px[1]) > MAX_PRINT_PIXELS {
        return Err(PrepError::TooLarge { width: px[0], height: px[1], ppi: settings.ppi });
    }
    let part = Part { left: art_w * crop.left, top: art_h * crop.top, width: crop_w, height: crop_h };
    let mut picture = resample(&art.picture, part, px[0], px[1], progress)?;
    sharpen(&mut picture, settings.sharpen_radius_mm.px(ppi), settings.sharpen_amount, progress)?;
    Ok(Prepared {
        picture,
        ppi: Ppi::new(ppi).unwrap_or(settings.ppi),
        print_size_mm: size_in.map(|s| s * 25.4),
        true_ppi: crop_w / size_in[0],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prep::CropBox;
    use crate::raster::Plane;
    use crate::units::Mm;

    fn plain(settings: PrepSettings) -> PrepSettings {
        PrepSettings { sharpen_amount: 0.0, ..settings }
    }

    fn art(width: usize, height: usize, f: impl Fn(usize, usize) -> [u16; 4] + Sync) -> Art {
        Art { picture: Picture::new(Plane::from_fn(width, height, f)), ppi: Ppi::new(96.0).unwrap() }
    }

    fn run(art: &Art, settings: &PrepSettings, detail: Detail) -> Prepared {
        prepare(art, settings, detail, &Progress::none()).unwrap()
    }

    #[test]
    fn a_web_sized_file_set_to_18_inches_high_prints_13_5_wide_at_85_ppi() {
        // Arithmetic: 12 x 16 in at 96 ppi is 1152 x 1536 pixels; 18/16 of it is 13.5 in wide,
        // and 1536 pixels over 18 in are 85.3 to the inch.
        let art = art(1152, 1536, |_, _| [30000, 20000, 10000, 65535]);
        let settings =
            plain(PrepSettings { max_height_mm: Some(Mm::from_inches(18.0).unwrap()), ..Default::default() });
        let made = run(&art, &settings, Detail::Proxy { longest_px: 500 });
        assert!(
            (made.print_size_mm[0] / 25.4 - 13.5).abs() < 1e-9 && (made.print_size_mm[1] / 25.4 - 18.0).abs() < 1e-9
        );
        assert!((made.true_ppi - 85.333).abs() < 1e-2);
        assert_eq!((made.picture.width(), made.picture.height()), (375, 500));
    }

    #[test]
    fn strips_join_without_a_seam() {
        // One strip against many: the same picture made 4 rows high and cut must agree.
        let art = art(300, 400, |x, y| {
            let v = ((x * 7919 + y * 104_729) % 65536) as u16;
            [v, v.rotate_left(5), v.rotate_left(9), 65535]
        });
        let settings =
            plain(PrepSettings { max_height_mm: Some(Mm::from_inches(12.0).unwrap()), ..Default::default() });
        let whole = run(&art, &settings, Detail::Full);
        let lower = PrepSettings {
            crop: Some(CropBox { left: 0.0, top: 0.5, width: 1.0, height: 0.5 }),
            max_height_mm: Some(Mm::from_inches(6.0).unwrap()),
            ..settings
        };
        let half = run(&art, &lower, Detail::Full);
        assert_eq!(half.picture.height() * 2, whole.picture.height());
        for y in 0..half.picture.height() {
            let (a, b) = (half.picture.pixels().row(y), whole.picture.pixels().row(y + half.picture.height()));
            let worst = a.iter().zip(b).map(|(a, b)| (0..4).map(|c| a[c].abs_diff(b[c])).max().unwrap()).max();
            assert!(worst.unwrap() <= 2, "row {y}");
        }
    }

    #[test]
    fn clear_pixels_leave_no_fringe() {
        // Opaque mid-orange beside clear pixels that hide black: every pixel with any coverage
        // must stay orange.
        let orange = [60000, 30000, 8000, 65535];
        let art = art(64, 64, |x, y| if (x / 8 + y / 8) % 2 == 0 { orange } else { [0, 0, 0, 0] });
        for inches in [0.3, 2.0] {
            let limit = Some(Mm::from_inches(inches).unwrap());
            let made = run(&art, &plain(PrepSettings { max_height_mm: limit, ..Default::default() }), Detail::Full);
            for p in made.picture.pixels().data().iter().filter(|p| p[3] > 300) {
                for c in 0..3 {
                    assert!(p[c].abs_diff(orange[c]) <= 3 + 65535 / p[3], "{p:?}");
                }
            }
        }
    }

    #[test]
    fn an_unchanged_size_keeps_every_pixel() {
        let mut art = art(50, 40, |x, y| [(x * 1300) as u16, (y * 1600) as u16, 77, 65535]);
        art.ppi = Ppi::new(300.0).unwrap();
        assert_eq!(run(&art, &plain(PrepSettings::default()), Detail::Full).picture, art.picture);
    }

    #[test]
    fn flat_colour_stays_flat_and_sharpening_keeps_it() {
        let art = art(40, 40, |_, _| [12345, 23456, 34567, 65535]);
        let settings = PrepSettings { max_height_mm: Some(Mm::from_inches(1.0).unwrap()), ..Default::default() };
        for p in run(&art, &settings, Detail::Full).picture.pixels().data() {
            for (got, want) in p.iter().zip([12345_u16, 23456, 34567, 65535]) {
                assert!(got.abs_diff(want) <= 2, "{p:?}");
            }
        }
    }

    #[test]
    fn a_bad_crop_is_refused() {
        let art = art(4, 4, |_, _| [0; 4]);
        for (left, width) in [(0.0, 0.0), (0.5, 0.6), (-0.1, 0.5), (0.0, f64::NAN)] {
            let settings =
                PrepSettings { crop: Some(CropBox { left, top: 0.0, width, height: 1.0 }), ..Default::default() };
            assert!(prepare(&art, &settings, Detail::Full, &Progress::none()).is_err());
        }
    }
}
