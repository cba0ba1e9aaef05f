//! Which part of the art prints, how large, and at how many pixels.

use std::borrow::Cow;

use super::background::BackgroundSettings;
use super::content::find_content;
use super::prepare::{PrepError, Prepared};
use super::resample::{Part, crop};
use super::{CropBox, PrepSettings};
use crate::raster::{Detail, Picture};
use crate::units::{MM_PER_INCH, Mm, Ppi};

/// Most pixels a prepared picture may have (1.6 GB): 60 x 90 in at 190 ppi.
pub const MAX_PRINT_PIXELS: usize = 200_000_000;
/// Most pixels on a side of a prepared picture: 85 m at 300 ppi.
pub const MAX_PRINT_SIDE_PX: usize = 1_000_000;

/// Which part of the turned art prints, and how large.
pub(super) struct Sized {
    pub part: Part,
    pub size_mm: [f64; 2],
    pub ppi: f64,
    pub px: [usize; 2],
}

impl Sized {
    pub fn prepared(&self, picture: Picture, working: Ppi) -> Prepared {
        Prepared {
            picture,
            ppi: Ppi::new(self.ppi).unwrap_or(working),
            print_size_mm: self.size_mm,
            true_ppi: self.part.width / (self.size_mm[0] / MM_PER_INCH),
        }
    }
}

/// Of a turned picture; its pixels are looked at only for its content.
pub(super) fn size(
    picture: &Picture,
    art_ppi: Ppi,
    settings: &PrepSettings,
    detail: Detail,
) -> Result<Sized, PrepError> {
    let tolerance = settings.background.as_ref().map_or(BackgroundSettings::default().tolerance, |b| b.tolerance);
    let content = |whole: Part| {
        let inner = match settings.crop {
            None => Cow::Borrowed(picture),
            Some(_) => Cow::Owned(crop(picture, whole).0),
        };
        let found = find_content(&inner, tolerance).ok_or(PrepError::NoContent)?;
        let (w, h) = (inner.width() as f64, inner.height() as f64);
        Ok(Part {
            left: whole.left.floor() + found.left * w,
            top: whole.top.floor() + found.top * h,
            width: found.width * w,
            height: found.height * h,
        })
    };
    size_of([picture.width() as f64, picture.height() as f64], art_ppi, settings, detail, content)
}

/// Of art of so many pixels; `content` finds what stands out within a part of it.
pub(super) fn size_of(
    [art_w, art_h]: [f64; 2],
    art_ppi: Ppi,
    settings: &PrepSettings,
    detail: Detail,
    content: impl FnOnce(Part) -> Result<Part, PrepError>,
) -> Result<Sized, PrepError> {
    let kept = settings.crop.unwrap_or(CropBox { left: 0.0, top: 0.0, width: 1.0, height: 1.0 });
    let inside = |from: f64, length: f64| from >= 0.0 && from + length <= 1.0 + 1e-9;
    if !inside(kept.left, kept.width) || !inside(kept.top, kept.height) {
        return Err(PrepError::CropOutside);
    }
    let whole =
        Part { left: art_w * kept.left, top: art_h * kept.top, width: art_w * kept.width, height: art_h * kept.height };
    // Written so that NaN is refused too.
    if !(whole.width >= 1.0 && whole.height >= 1.0) {
        return Err(PrepError::EmptyCrop);
    }
    let (part, margin) = match settings.content_margin_mm {
        None => (whole, 0.0),
        Some(margin) => (content(whole)?, margin.get()),
    };
    let own_mm = [part.width, part.height].map(|px| px / art_ppi.get() * MM_PER_INCH);
    let fit = |limit: Option<Mm>, own: f64| {
        // The margin is part of the print, so the content gets what it leaves.
        limit.map_or(f64::INFINITY, |limit| (limit.get() - 2.0 * margin) / own)
    };
    let scale = match (settings.width_limit_mm(), settings.height_limit_mm()) {
        (None, None) => 1.0,
        (w, h) => fit(w, own_mm[0]).min(fit(h, own_mm[1])),
    };
    if scale <= 0.0 {
        return Err(PrepError::NoRoom);
    }
    // The margin in the art's pixels; it ends where the art does.
    let px_per_mm = part.width / (own_mm[0] * scale);
    let reach = margin * px_per_mm;
    let (left, top) = ((part.left - reach).max(0.0), (part.top - reach).max(0.0));
    let part = Part {
        left,
        top,
        width: (part.left + part.width + reach).min(art_w) - left,
        height: (part.top + part.height + reach).min(art_h) - top,
    };
    let size_mm = [part.width, part.height].map(|px| px / px_per_mm);
    let mut ppi = settings.ppi.get();
    if let Detail::Proxy { longest_px } = detail {
        ppi = ppi.min(longest_px as f64 / size_mm[0].max(size_mm[1]) * MM_PER_INCH);
    }
    let px = size_mm.map(|s| ((s / MM_PER_INCH * ppi).round() as usize).max(1));
    if px[0].saturating_mul(px[1]) > MAX_PRINT_PIXELS || px[0].max(px[1]) > MAX_PRINT_SIDE_PX {
        return Err(PrepError::TooLarge { width: px[0], height: px[1], ppi: settings.ppi });
    }
    Ok(Sized { part, size_mm, ppi, px })
}
