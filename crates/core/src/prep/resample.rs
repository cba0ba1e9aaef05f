//! Resampling in linear light with premultiplied alpha. The picture is made in strips of rows: only
//! the rows of art that a strip needs are ever held as floats, so memory beyond input and output
//! stays at a few megabytes a thread whatever the print size, and strips join without a seam.

use rayon::prelude::*;

use super::prepare::PrepError;
use super::separable::{Kernel, Lanes, Taps};
use super::transfer::{encode, linear};
use crate::Progress;
use crate::raster::{Picture, Plane, Rgba16};

/// A part of a picture in its own pixels, edges anywhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Part {
    pub left: f64,
    pub top: f64,
    pub width: f64,
    pub height: f64,
}

/// Pixels of art that a strip may hold as floats: 2 MB, the second cache of a usual machine.
const STRIP_PIXELS: usize = 1 << 17;

/// `part` of `picture` at `width` x `height` pixels, by Lanczos's kernel of radius 3.
pub(super) fn resample(
    picture: &Picture,
    part: Part,
    width: usize,
    height: usize,
    progress: &Progress,
) -> Result<Picture, PrepError> {
    if let Some(copy) = plain_copy(picture, part, width, height) {
        return Ok(copy);
    }
    let alpha = picture.has_alpha();
    let (art_w, art_h) = (picture.width(), picture.height());
    let ratio = [part.width / width as f64, part.height / height as f64];
    let columns = Taps::new(Kernel::Lanczos3, part.left, ratio[0], width, art_w);
    let down = Taps::new(Kernel::Lanczos3, part.top, ratio[1], height, art_h);
    let rows = ((STRIP_PIXELS as f64 / art_w as f64 / ratio[1]) as usize).clamp(8, 256);
    let strips = height.div_ceil(rows);
    let mut data: Vec<Rgba16> = vec![[0; 4]; width * height];
    data.par_chunks_mut(rows * width).enumerate().try_for_each_init(
        || (Vec::new(), vec![[0.0; 4]; art_w]),
        |(light, line), (strip, out)| {
            progress.step("resample", strip as f32 / strips as f32)?;
            let first = strip * rows;
            let reach = down.reach(first..first + out.len() / width);
            linear_rows(picture, reach.clone(), alpha, light);
            for (y, out) in out.chunks_exact_mut(width).enumerate() {
                down.down(first + y, light, reach.start, art_w, line);
                if alpha {
                    columns.along(line, |x, p| out[x] = straight(p));
                } else {
                    columns.along(line, |x, p| out[x] = solid(p));
                }
            }
            Ok::<(), PrepError>(())
        },
    )?;
    Ok(Picture::new(Plane::from_vec(width, height, data)))
}

/// Same pixels, only cropped: nothing to compute, nothing to lose.
fn plain_copy(picture: &Picture, part: Part, width: usize, height: usize) -> Option<Picture> {
    let whole = |v: f64| (v - v.round()).abs() < 1e-6;
    if !(whole(part.left) && whole(part.top))
        || (part.width - width as f64).abs() > 1e-6
        || (part.height - height as f64).abs() > 1e-6
    {
        return None;
    }
    let (left, top) = (part.left.round() as usize, part.top.round() as usize);
    if left + width > picture.width() || top + height > picture.height() {
        return None;
    }
    let data = (top..top + height).flat_map(|y| picture.pixels().row(y)[left..left + width].iter().copied()).collect();
    Some(Picture::new(Plane::from_vec(width, height, data)))
}

/// The pixels that a part touches, and the part's place among them.
pub(super) fn crop(picture: &Picture, part: Part) -> (Picture, Part) {
    let (left, top) = (part.left.floor().max(0.0) as usize, part.top.floor().max(0.0) as usize);
    let right = ((part.left + part.width - 1e-9).ceil() as usize).clamp(left + 1, picture.width());
    let bottom = ((part.top + part.height - 1e-9).ceil() as usize).clamp(top + 1, picture.height());
    let data = (top..bottom).flat_map(|y| picture.pixels().row(y)[left..right].iter().copied()).collect();
    let inner = Part {
        left: part.left - left as f64,
        top: part.top - top as f64,
        width: part.width.min((right - left) as f64),
        height: part.height.min((bottom - top) as f64),
    };
    (Picture::new(Plane::from_vec(right - left, bottom - top, data)), inner)
}

/// Rows of the picture as linear floats, alpha multiplied in.
fn linear_rows(picture: &Picture, rows: std::ops::Range<usize>, alpha: bool, out: &mut Vec<Lanes>) {
    let table = linear();
    let width = picture.width();
    let pixels = &picture.pixels().data()[rows.start * width..rows.end * width];
    out.clear();
    if alpha {
        out.extend(pixels.iter().map(|p| {
            let a = f32::from(p[3]) / 65535.0;
            [table[p[0] as usize] * a, table[p[1] as usize] * a, table[p[2] as usize] * a, a]
        }));
    } else {
        out.extend(pixels.iter().map(|p| [table[p[0] as usize], table[p[1] as usize], table[p[2] as usize], 1.0]));
    }
}

/// Linear floats with alpha multiplied in to a straight 16-bit pixel. The kernel's overshoot is
/// clipped.
fn straight(p: Lanes) -> Rgba16 {
    let a = p[3];
    if a <= 0.5 / 65535.0 {
        return [0; 4];
    }
    let table = encode();
    let rgb = |i: usize| table.get(p[i] / a);
    [rgb(0), rgb(1), rgb(2), (a.min(1.0) * 65535.0 + 0.5) as u16]
}

/// The same without alpha.
#[inline(always)]
fn solid(p: Lanes) -> Rgba16 {
    let table = encode();
    [table.get(p[0]), table.get(p[1]), table.get(p[2]), u16::MAX]
}
