//! Resampling in linear light with premultiplied alpha, by `fast_image_resize`. The picture is
//! made in strips of rows: only a strip is ever held as floats, so memory beyond input and output
//! stays at a few megabytes a thread whatever the print size. A strip asks the resizer for just
//! the rows it needs, so strips join without a seam.

use fast_image_resize::images::{Image, ImageRef};
use fast_image_resize::pixels::{F32x3, F32x4};
use fast_image_resize::{FilterType, PixelTrait, PixelType, ResizeAlg, ResizeOptions, Resizer};
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
            let kind = if alpha { PixelType::F32x4 } else { PixelType::F32x3 };
            let source =
                ImageRef::new(picture.width() as u32, (last - first) as u32, bytemuck::cast_slice(floats), kind)
                    .map_err(|e| PrepError::Resample(e.to_string()))?;
            let mut made = Image::new(width as u32, count as u32, kind);
            // Alpha is multiplied in already; strips are the parallel work.
            let options = ResizeOptions::new()
                .resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3))
                .crop(part.left, top - first as f64, part.width, bottom - top)
                .use_alpha(false);
            convolve(resizer, &source, &mut made, &options)?;
            encode_rows(made.buffer(), alpha, out);
            Ok::<(), PrepError>(())
        },
    )?;
    Ok(Picture::new(Plane::from_vec(width, height, data)))
}

/// Resizes through the typed entry: the untyped one would compile the kernels of every pixel type
/// into this crate, minutes of it.
fn convolve(
    resizer: &mut Resizer,
    source: &ImageRef,
    made: &mut Image,
    options: &ResizeOptions,
) -> Result<(), PrepError> {
    fn typed<P: PixelTrait>(
        resizer: &mut Resizer,
        source: &ImageRef,
        made: &mut Image,
        options: &ResizeOptions,
    ) -> Result<(), String> {
        let source = source.typed_image::<P>().ok_or("pixel type of the source")?;
        let mut made = made.typed_image_mut::<P>().ok_or("pixel type of the result")?;
        resizer.resize_typed(&source, &mut made, options).map_err(|e| e.to_string())
    }
    match source.pixel_type() {
        PixelType::F32x4 => typed::<F32x4>(resizer, source, made, options),
        _ => typed::<F32x3>(resizer, source, made, options),
    }
    .map_err(PrepError::Resample)
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
fn encode_rows(made: &[u8], alpha: bool, out: &mut [Rgba16]) {
    let table = encode();
    let float = |b: &[u8]| f32::from_ne_bytes([b[0], b[1], b[2], b[3]]);
    if alpha {
        for (to, from) in out.iter_mut().zip(made.chunks_exact(16)) {
            let a = float(&from[12..]);
            *to = if a <= 0.5 / 65535.0 {
                [0; 4]
            } else {
                let rgb = |i: usize| table.get(float(&from[4 * i..]) / a);
                [rgb(0), rgb(1), rgb(2), (a.min(1.0) * 65535.0 + 0.5) as u16]
            };
        }
    } else {
        for (to, from) in out.iter_mut().zip(made.chunks_exact(12)) {
            let rgb = |i: usize| table.get(float(&from[4 * i..]));
            *to = [rgb(0), rgb(1), rgb(2), u16::MAX];
        }
    }
}
