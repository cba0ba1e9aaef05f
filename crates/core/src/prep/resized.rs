//! A whole picture at another size, for looking at: proofs, thumbnails, client pages.

use super::prepare::PrepError;
use super::resample::{Part, resample};
use crate::Progress;
use crate::raster::Picture;

/// `picture` at `width` x `height` pixels, resampled in linear light with premultiplied alpha.
pub fn resized(picture: &Picture, width: usize, height: usize, progress: &Progress) -> Result<Picture, PrepError> {
    let whole = Part { left: 0.0, top: 0.0, width: picture.width() as f64, height: picture.height() as f64 };
    resample(picture, whole, width, height, progress)
}
