//! Resampling in linear light with premultiplied alpha, by `fast_image_resize`. The picture is
//! made in strips of rows: only a strip is ever held as floats, so memory beyond input and output
//! stays at a few megabytes a thread whatever the print size. A strip asks the resizer for just
//! the rows it needs, so strips join without a seam.

use fast_image_resize::images::{TypedImage, TypedImageRef};
use fast_image_resize::pixels::{F32x3, F32x4};
use fast_image_resize::{FilterType, PixelTrait, ResizeAlg, ResizeOptions, Resizer};
use rayon::prelude::*;

use super::prepare::PrepError;
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

/// Rows of interleaved floats.
#[derive(Clone, Copy)]
pub(super) struct FloatRows<'a> {
    /// 3 or 4.
    pub channels: usize,
    pub width: usize,
    pub height: usize,
    pub values: &'a [f32],
}

/// Resamples a part of float rows into `made`. Only the two pixel types that are used are named
/// here: the resizer's own dispatch would compile all of its types into this crate.
pub(super) fn stretch(
    resizer: &mut Resizer,
    rows: FloatRows<'_>,
    part: Part,
    filter: FilterType,
    made: &mut [f32],
    width: usize,
    height: usize,
) -> Result<(), PrepError> {
    fn typed<P: PixelTrait>(
        resizer: &mut Resizer,
        rows: FloatRows<'_>,
        options: &ResizeOptions,
        made: &mut [f32],
        size: [u32; 2],
    ) -> Result<(), String> {
        let bytes = bytemuck::cast_slice(rows.values);
        let source =
            TypedImageRef::<P>::from_buffer(rows.width as u32, rows.height as u32, bytes).map_err(|e| e.to_string())?;
        let mut image = TypedImage::<P>::from_buffer(size[0], size[1], bytemuck::cast_slice_mut(made))
            .map_err(|e| e.to_string())?;
        resizer.resize_typed(&source, &mut image, options).map_err(|e| e.to_string())
    }
    // Alpha is multiplied in already.
    let options = ResizeOptions::new()
        .resize_alg(ResizeAlg::Convolution(filter))
        .crop(part.left, part.top, part.width, part.height)
        .use_alpha(false);
    let size = [width as u32, height as u32];
    let done = if rows.channels == 4 {
        typed::<F32x4>(resizer, rows, &options, made, size)
    } else {
        typed::<F32x3>(resizer, rows, &options, made, size)
    };
    done.map_err(PrepError::Resample)
}

/// Floats a strip may hold, on its larger side of the resampling.
const STRIP_FLOATS: usize = 1 << 21;

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
    let channels = if alpha { 4 } else { 3 };
    let ratio = part.height / height as f64;
    let reach = 3.0 * ratio.max(1.0) + 1.0;
    let row_floats = channels * (width.max(1)).max((picture.width() as f64 * ratio) as usize);
    let rows = (STRIP_FLOATS / row_floats).clamp(8, height.max(8));
    // Rounding must not push the part over the edge.
    let across = part.width.min(picture.width() as f64 - part.left);
    let mut data: Vec<Rgba16> = vec![[0; 4]; width * height];
    let strips = height.div_ceil(rows);
    data.par_chunks_mut(rows * width).enumerate().try_for_each_init(
        || (Resizer::new(), Vec::new()),
        |(resizer, floats), (strip, out)| {
            progress.step("resample", strip as f32 / strips as f32)?;
            let count = out.len() / width;
            let top = part.top + (strip * rows) as f64 * ratio;
            let bottom = top + count as f64 * ratio;
            let first = (top - reach).floor().max(0.0) as usize;
            let last = ((bottom + reach).ceil() as usize).min(picture.height());
            linear_rows(picture, first..last, alpha, floats);
            let rows = FloatRows { channels, width: picture.width(), height: last - first, values: floats.as_slice() };
            let kept =
                Part { left: part.left, top: top - first as f64, width: across, height: bottom.min(last as f64) - top };
            let mut made = vec![0.0; width * count * channels];
            stretch(resizer, rows, kept, FilterType::Lanczos3, &mut made, width, count)?;
            encode_rows(&made, alpha, out);
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
fn linear_rows(picture: &Picture, rows: std::ops::Range<usize>, alpha: bool, out: &mut Vec<f32>) {
    let table = linear();
    let width = picture.width();
    let pixels = &picture.pixels().data()[rows.start * width..rows.end * width];
    out.clear();
    if alpha {
        out.extend(pixels.iter().flat_map(|p| {
            let a = f32::from(p[3]) / 65535.0;
            [table[p[0] as usize] * a, table[p[1] as usize] * a, table[p[2] as usize] * a, a]
        }));
    } else {
        out.extend(pixels.iter().flat_map(|p| [table[p[0] as usize], table[p[1] as usize], table[p[2] as usize]]));
    }
}

/// Linear floats back to straight 16-bit pixels. The kernel's overshoot is clipped.
fn encode_rows(made: &[f32], alpha: bool, out: &mut [Rgba16]) {
    let table = encode();
    if alpha {
        for (to, from) in out.iter_mut().zip(made.chunks_exact(4)) {
            let a = from[3];
            *to = if a <= 0.5 / 65535.0 {
                [0; 4]
            } else {
                let rgb = |i: usize| table.get(from[i] / a);
                [rgb(0), rgb(1), rgb(2), (a.min(1.0) * 65535.0 + 0.5) as u16]
            };
        }
    } else {
        for (to, from) in out.iter_mut().zip(made.chunks_exact(3)) {
            let rgb = |i: usize| table.get(from[i]);
            *to = [rgb(0), rgb(1), rgb(2), u16::MAX];
        }
    }
}
