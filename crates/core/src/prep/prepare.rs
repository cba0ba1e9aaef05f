//! The preparation as a whole: turn, crop, size, clean, resample, sharpen.

use std::borrow::Cow;

use strikeoff_redraw::RedrawError;

use super::background::remove;
use super::blocks::deblock;
use super::enlarge::enlarge;
use super::learned::repair;
use super::noise::denoise;
use super::redrawn::redrawn;
use super::resample::{Part, crop, resample};
use super::sharpen::{Sharpening, sharpen};
use super::sized::{Sized, size, size_of};
use super::specks::{Speck, find_specks, remove_specks};
use super::straighten::{straighten, straightened_size};
use super::{Enlarging, PrepSettings, WeightsError};
use crate::bounds::{OutOfBounds, check};
use crate::raster::{Art, Detail, Picture};
use crate::units::{MM_PER_INCH, Ppi};
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
    /// The crop reaches outside the art.
    #[error("the crop reaches outside the artwork; its edges are fractions of it, from 0 to 1")]
    CropOutside,
    /// Nothing but background.
    #[error("nothing stands out from the background, so there is no content to crop to; crop by hand")]
    NoContent,
    /// A setting beyond its range.
    #[error(transparent)]
    OutOfRange(#[from] OutOfBounds),
    /// A margin larger than the print.
    #[error("the margins round the content leave no room for it; lower the margin or raise the print size")]
    NoRoom,
    /// The net's weights cannot be used.
    #[error(transparent)]
    Weights(#[from] WeightsError),
    /// The art cannot be redrawn.
    #[error(transparent)]
    Redraw(#[from] RedrawError),
    /// The resampler refused.
    #[error("the artwork cannot be resampled: {0}")]
    Resample(String),
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Prepares `art`. At [`Detail::Proxy`] the working resolution is lowered so that the longer side
/// has at most that many pixels; everything else is the same.
///
/// Art that is finer than the working resolution is reduced first and cleaned then; coarser art
/// is cleaned on its own pixels and then enlarged.
pub fn prepare(art: &Art, settings: &PrepSettings, detail: Detail, progress: &Progress) -> Result<Prepared, PrepError> {
    progress.step("prepare", 0.0)?;
    check(settings)?;
    let turned = turn(&art.picture, settings);
    let sized = size(&turned, art.ppi, settings, detail)?;
    let [width, height] = sized.px;
    let cleaning =
        settings.deblock > 0.0 || settings.denoise > 0.0 || settings.background.is_some() || settings.specks.is_some();
    let mut picture = if cleaning {
        let mut cleanable = Cleanable::of(&turned, &sized, settings, progress)?;
        drop(turned);
        progress.step("clean", 0.0)?;
        cleanable.clean(settings);
        if let Some(specks) = &settings.specks {
            remove_specks(&mut cleanable.picture, cleanable.ppi, specks);
        }
        match cleanable.part {
            Some(part) => resized(&cleanable.picture, part, width, height, settings, progress)?,
            None => cleanable.picture,
        }
    } else {
        resized(&turned, sized.part, width, height, settings, progress)?
    };
    let sharpening = Sharpening {
        sigma_px: settings.sharpen_radius_mm.px(sized.ppi),
        amount: settings.sharpen_amount,
        threshold: settings.sharpen_threshold,
        halo_limit: settings.halo_limit,
    };
    sharpen(&mut picture, &sharpening, progress)?;
    Ok(sized.prepared(picture, settings.ppi))
}

/// Pixels across and down of the print that [`prepare`] makes, without making it. The art's pixels are
/// looked at only where the print is cropped to its content.
pub fn print_px(art: &Art, settings: &PrepSettings, detail: Detail) -> Result<[usize; 2], PrepError> {
    check(settings)?;
    if settings.content_margin_mm.is_some() {
        return Ok(size(&turn(&art.picture, settings), art.ppi, settings, detail)?.px);
    }
    let (w, h) = (art.picture.width() as f64, art.picture.height() as f64);
    let upright = if settings.turn.quarters.is_multiple_of(2) { [w, h] } else { [h, w] };
    let turned = match settings.straighten.get() {
        0.0 => upright,
        degrees => straightened_size(upright, degrees),
    };
    Ok(size_of(turned, art.ppi, settings, detail, Ok)?.px)
}

/// The art as it was received in the place and size that [`prepare`] gives it: turned, cropped and
/// sized, and nothing else done. What a preparation is compared with.
pub fn as_received(
    art: &Art,
    settings: &PrepSettings,
    detail: Detail,
    progress: &Progress,
) -> Result<Prepared, PrepError> {
    check(settings)?;
    let turned = turn(&art.picture, settings);
    let sized = size(&turned, art.ppi, settings, detail)?;
    let [width, height] = sized.px;
    let picture = resample(&turned, sized.part, width, height, progress)?;
    Ok(sized.prepared(picture, settings.ppi))
}

/// All of the art, turned and straightened but not cropped, at most `longest_px` on its longer
/// side: what a crop is drawn on.
pub fn whole_art(
    art: &Art,
    settings: &PrepSettings,
    longest_px: usize,
    progress: &Progress,
) -> Result<Picture, PrepError> {
    let turned = turn(&art.picture, settings);
    let (w, h) = (turned.width() as f64, turned.height() as f64);
    let scale = (longest_px as f64 / w.max(h)).min(1.0);
    let px = |length: f64| ((length * scale).round() as usize).max(1);
    resample(&turned, Part { left: 0.0, top: 0.0, width: w, height: h }, px(w), px(h), progress)
}

/// The art turned and straightened; not copied where neither is set.
fn turn<'a>(picture: &'a Picture, settings: &PrepSettings) -> Cow<'a, Picture> {
    let mut turned = Cow::Borrowed(picture);
    if !settings.turn.quarters.is_multiple_of(4) || settings.turn.mirrored {
        turned = Cow::Owned(settings.turn.apply(picture.clone()));
    }
    if settings.straighten.get() != 0.0 {
        turned = Cow::Owned(straighten(&turned, settings.straighten.get()));
    }
    turned
}

/// How many times as large a print must be for edges or the net to pay; below, the kernel alone is used.
pub const ENLARGED_FROM: f64 = 1.2;

/// Resamples, in the way chosen where there is something to enlarge.
fn resized(
    picture: &Picture,
    part: Part,
    width: usize,
    height: usize,
    settings: &PrepSettings,
    progress: &Progress,
) -> Result<Picture, PrepError> {
    let grows = width as f64 >= ENLARGED_FROM * part.width && height as f64 >= ENLARGED_FROM * part.height;
    match settings.enlarging {
        Enlarging::Edges if grows => enlarge(picture, part, width, height, progress),
        Enlarging::Redraw if width as f64 >= part.width && height as f64 >= part.height => {
            redrawn(picture, part, width, height, settings, progress)
        }
        Enlarging::Repair if grows => repair(picture, part, width, height, settings.repair, progress),
        _ => resample(picture, part, width, height, progress),
    }
}

/// Stray specks as the preparation meets them, those that `settings` take away included: on the
/// art's own pixels where it is enlarged, so that what enlarging spreads round a dot is none.
pub fn stray_specks(
    art: &Art,
    settings: &PrepSettings,
    detail: Detail,
    progress: &Progress,
) -> Result<Vec<Speck>, PrepError> {
    check(settings)?;
    let turned = turn(&art.picture, settings);
    let sized = size(&turned, art.ppi, settings, detail)?;
    let mut cleanable = Cleanable::of(&turned, &sized, settings, progress)?;
    drop(turned);
    progress.step("find specks", 0.5)?;
    cleanable.clean(settings);
    let mut specks = find_specks(&cleanable.picture, cleanable.ppi, &settings.specks.clone().unwrap_or_default());
    // Whole pixels of the art were cut out; the print may begin within the first.
    let [left, top] = cleanable.part.map_or([0.0; 2], |part| [part.left, part.top].map(|px| px / cleanable.ppi));
    for speck in &mut specks {
        speck.x_mm -= left * MM_PER_INCH;
        speck.y_mm -= top * MM_PER_INCH;
    }
    Ok(specks)
}

/// The art on the pixels that it is cleaned on: its own if it is enlarged, else those of the print.
struct Cleanable {
    picture: Picture,
    /// What of it is still to be enlarged.
    part: Option<Part>,
    ppi: f64,
    /// Whether blocks and noise are still there; in pixels that were averaged away they are not.
    compressed: bool,
}

impl Cleanable {
    fn of(turned: &Picture, sized: &Sized, settings: &PrepSettings, progress: &Progress) -> Result<Self, PrepError> {
        let [width, height] = sized.px;
        let art_per_px = sized.part.height / height as f64;
        if art_per_px < 1.0 {
            let (picture, part) = crop(turned, sized.part);
            return Ok(Self { picture, part: Some(part), ppi: sized.ppi * art_per_px, compressed: true });
        }
        let picture = resized(turned, sized.part, width, height, settings, progress)?;
        Ok(Self { picture, part: None, ppi: sized.ppi, compressed: art_per_px < 1.5 })
    }

    /// Everything but specks.
    fn clean(&mut self, settings: &PrepSettings) {
        if self.compressed {
            deblock(&mut self.picture, settings.deblock);
            denoise(&mut self.picture, settings.denoise);
        }
        if let Some(background) = &settings.background {
            remove(&mut self.picture, background, background.feather_mm.px(self.ppi));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prep::{CropBox, PrintArea};
    use crate::raster::Plane;
    use crate::units::Mm;

    fn plain(settings: PrepSettings) -> PrepSettings {
        PrepSettings { sharpen_amount: 0.0, enlarging: Enlarging::Plain, ..settings }
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
    fn the_tightest_limit_of_order_platen_and_garment_holds() {
        let art = art(100, 200, |_, _| [30000, 20000, 10000, 65535]);
        let mm = |v| Mm::new(v).unwrap();
        let area = |w, h| Some(PrintArea { width_mm: mm(w), height_mm: mm(h) });
        let settings = PrepSettings { max_height_mm: Some(mm(400.0)), ..Default::default() };
        let size = |settings: PrepSettings| {
            let made = run(&art, &plain(settings), Detail::Proxy { longest_px: 100 });
            made.print_size_mm.map(|v| (v * 100.0).round() / 100.0)
        };
        assert_eq!(size(settings.clone()), [200.0, 400.0]);
        // A platen of 380 x 360: its height governs. A garment 150 wide: its width does.
        assert_eq!(size(PrepSettings { platen: area(380.0, 360.0), ..settings.clone() }), [180.0, 360.0]);
        let both = PrepSettings { platen: area(380.0, 360.0), smallest_garment: area(150.0, 500.0), ..settings };
        assert_eq!(size(both.clone()), [150.0, 300.0]);
        // Without an order the art fills what it may.
        assert_eq!(size(PrepSettings { max_height_mm: None, ..both }), [150.0, 300.0]);
    }

    #[test]
    fn what_was_received_lies_where_the_prepared_art_does() {
        let art = art(60, 80, |x, y| if (10..50).contains(&x) && y > 20 { [9000; 4] } else { [0; 4] });
        let settings = PrepSettings {
            crop: Some(CropBox { left: 0.1, top: 0.0, width: 0.9, height: 1.0 }),
            content_margin_mm: Some(Mm::new(2.0).unwrap()),
            max_width_mm: Some(Mm::new(50.0).unwrap()),
            deblock: 1.0,
            ..Default::default()
        };
        let detail = Detail::Proxy { longest_px: 200 };
        let (made, before) = (run(&art, &settings, detail), as_received(&art, &settings, detail, &Progress::none()));
        let before = before.unwrap();
        assert_eq!((made.print_size_mm, made.true_ppi, made.ppi), (before.print_size_mm, before.true_ppi, before.ppi));
        assert_eq!(made.picture.width(), before.picture.width());
        let whole = whole_art(&art, &settings, 40, &Progress::none()).unwrap();
        assert_eq!((whole.width(), whole.height()), (30, 40));
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
