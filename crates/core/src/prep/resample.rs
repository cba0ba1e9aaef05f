//! Resampling in linear light with premultiplied alpha. The picture is made in strips of rows and
//! these in blocks of columns: only the art that a strip needs is ever held as floats, a block stays
//! in the nearest cache, memory beyond input and output stays at a few megabytes a thread whatever
//! the print size, and strips join without a seam.
//!
//! Within a block each channel lies by itself: rows of the art are brought to the print's width
//! first, then rows of the print are sums of them, and sums and codes alike are made in vectors.

use std::ops::Range;

use fearless_simd::Level;
use rayon::prelude::*;

use super::prepare::PrepError;
use super::separable::{BLOCK, Kernel, Lanes, Line, Taps};
use super::transfer::{code, light_of, linear, whole};
use super::windows::Windows;
use crate::Progress;
use crate::raster::{Picture, Plane, Rgba16};
use crate::simd::{self, Vectors, run};

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
/// Most bytes of floats that a thread holds for a strip.
const STRIP_BYTES: usize = 32 << 20;
/// Rows of print in a strip at most: what is new memory to it is still near when it is written the second time.
const STRIP_ROWS: usize = 96;

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
    let size = [width, height];
    if picture.has_alpha() { run::<4>(picture, part, size, progress) } else { run::<3>(picture, part, size, progress) }
}

/// `N` channels: 4 with alpha.
fn run<const N: usize>(
    picture: &Picture,
    part: Part,
    [width, height]: [usize; 2],
    progress: &Progress,
) -> Result<Picture, PrepError> {
    let (art_w, art_h) = (picture.width(), picture.height());
    let ratio = [part.width / width as f64, part.height / height as f64];
    let columns = Taps::new(Kernel::Lanczos3, part.left, ratio[0], width, art_w);
    let down = Taps::new(Kernel::Lanczos3, part.top, ratio[1], height, art_h);
    let rows = ((STRIP_PIXELS as f64 / art_w as f64 / ratio[1]) as usize).clamp(8, STRIP_ROWS);
    let strips = height.div_ceil(rows);
    let level = simd::level();
    let windows = Windows::of(level, &columns, width, art_w);
    let mut data: Vec<Rgba16> = vec![[0; 4]; width * height];
    data.par_chunks_mut(rows * width).enumerate().try_for_each_init(
        Buffers::<N>::default,
        |buffers, (strip, out)| {
            progress.step("resample", strip as f32 / strips as f32)?;
            let first = strip * rows;
            let reach = down.reach(first..first + out.len() / width);
            let held = Held {
                art: &picture.pixels().data()[reach.start * art_w..reach.end * art_w],
                columns: &columns,
                down: &down,
                art_w,
                first_source: reach.start,
                windows: windows.as_ref(),
            };
            held.strip(level, buffers, first, width, out);
            Ok::<(), PrepError>(())
        },
    )?;
    Ok(Picture::new(Plane::from_vec(width, height, data)))
}

/// What a thread keeps from strip to strip.
#[derive(Default)]
struct Buffers<const N: usize> {
    /// The strip's art in linear light.
    light: Vec<Lanes>,
    /// The same with each channel by itself, where that serves.
    apart: Vec<f32>,
    /// A block of its rows, brought to the print's width.
    across: Vec<[Line; N]>,
}

/// What all blocks of a strip share.
struct Held<'a> {
    /// The art's rows that the strip needs.
    art: &'a [Rgba16],
    columns: &'a Taps,
    down: &'a Taps,
    art_w: usize,
    /// Row of the art that the strip's floats begin with.
    first_source: usize,
    windows: Option<&'a Windows>,
}

impl Held<'_> {
    /// Makes the strip `out`, whose first row is `first`, of the art.
    fn strip<const N: usize>(
        &self,
        level: Level,
        buffers: &mut Buffers<N>,
        first: usize,
        width: usize,
        out: &mut [Rgba16],
    ) {
        match self.windows.filter(|_| !self.is_long::<N>()) {
            Some(windows) => {
                run!(level, simd => self.strip_of_channels(simd, windows, buffers, first, width, out))
            }
            None => run!(level => self.strip_of_pixels(buffers, first, width, out)),
        }
    }

    #[inline(always)]
    fn strip_of_channels<S: Vectors, const N: usize>(
        &self,
        simd: S,
        windows: &Windows,
        buffers: &mut Buffers<N>,
        first: usize,
        width: usize,
        out: &mut [Rgba16],
    ) {
        if !S::FAR_SHUFFLES {
            unreachable!("windows are for levels that pick out of 64 bytes");
        }
        let Buffers { apart, across, .. } = buffers;
        windows.take_apart::<N>(self.art, apart);
        let bring = |columns: Range<usize>, row: usize, lines: &mut [Line; N]| {
            windows.across(simd, columns, apart, row, lines);
        };
        self.strip_on(bring, across, first, width, out);
    }

    #[inline(always)]
    fn strip_of_pixels<const N: usize>(
        &self,
        buffers: &mut Buffers<N>,
        first: usize,
        width: usize,
        out: &mut [Rgba16],
    ) {
        let Buffers { light, across, .. } = buffers;
        if self.is_long::<N>() {
            return self.strip_row_by_row::<N>(light, first, width, out);
        }
        linear_pixels::<N>(self.art, light);
        let bring = |columns: Range<usize>, row: usize, lines: &mut [Line; N]| {
            self.columns.across(columns, &light[row * self.art_w..][..self.art_w], lines);
        };
        self.strip_on(bring, across, first, width, out);
    }

    /// `bring` makes some columns of a row of the art.
    #[inline(always)]
    fn strip_on<const N: usize>(
        &self,
        bring: impl Fn(Range<usize>, usize, &mut [Line; N]),
        across: &mut Vec<[Line; N]>,
        first: usize,
        width: usize,
        out: &mut [Rgba16],
    ) {
        across.resize(self.art.len() / self.art_w, [[0.0; BLOCK]; N]);
        let mut made = [[0.0; BLOCK]; N];
        for left in (0..width).step_by(BLOCK) {
            let wide = BLOCK.min(width - left);
            for (row, lines) in across.iter_mut().enumerate() {
                bring(left..left + wide, row, lines);
            }
            for (y, row) in out.chunks_exact_mut(width).enumerate() {
                self.down.down_lines(first + y, across, self.first_source, &mut made);
                codes(&made, &mut row[left..left + wide]);
            }
        }
    }
}

/// Art that is much reduced: the kernel reaches over more rows than a thread may hold.
impl Held<'_> {
    fn is_long<const N: usize>(&self) -> bool {
        let row = self.art_w * size_of::<Lanes>() + size_of::<[Line; N]>();
        self.art.len() / self.art_w * row > STRIP_BYTES
    }

    /// The same sums in the same order, with one row of the art at a time: each is brought to the print's
    /// width and added to all the rows of print that it belongs to.
    #[inline(always)]
    fn strip_row_by_row<const N: usize>(&self, light: &mut Vec<Lanes>, first: usize, width: usize, out: &mut [Rgba16]) {
        let rows = out.len() / width;
        let blocks = width.div_ceil(BLOCK);
        let mut sums = vec![[[0.0_f32; BLOCK]; N]; rows * blocks];
        let mut line = [[0.0; BLOCK]; N];
        // Rows of print that the row of art belongs to; both go down.
        let (mut from, mut to) = (0, 0);
        for (source, pixels) in (self.first_source..).zip(self.art.chunks_exact(self.art_w)) {
            let starts = |y: usize| self.down.of(first + y);
            while to < rows && starts(to).0 <= source {
                to += 1;
            }
            while from < to && starts(from).0 + starts(from).1.len() <= source {
                from += 1;
            }
            linear_pixels::<N>(pixels, light);
            for block in 0..blocks {
                let columns = block * BLOCK..width.min((block + 1) * BLOCK);
                let wide = columns.len();
                self.columns.across(columns, light, &mut line);
                for y in from..to {
                    let (start, weights) = starts(y);
                    let weight = weights[source - start];
                    for (sum, line) in sums[y * blocks + block].iter_mut().zip(&line) {
                        sum[..wide].iter_mut().zip(&line[..wide]).for_each(|(sum, v)| *sum += weight * v);
                    }
                }
            }
        }
        for (row, sums) in out.chunks_exact_mut(width).zip(sums.chunks_exact(blocks)) {
            row.chunks_mut(BLOCK).zip(sums).for_each(|(to, sums)| codes(sums, to));
        }
    }
}

/// Alpha up to which a pixel is clear: half a code.
const FAINT: f32 = 0.5 / 65535.0;

/// Linear light, alpha multiplied in, to straight 16-bit pixels. The kernel's overshoot is clipped.
#[inline(always)]
fn codes<const N: usize>(lines: &[Line; N], out: &mut [Rgba16]) {
    let mut coded = [[u16::MAX; BLOCK]; 4];
    if N == 4 {
        let alphas = &lines[N - 1];
        for (to, &alpha) in coded[3].iter_mut().zip(alphas) {
            let alpha = if alpha > FAINT { alpha } else { 0.0 };
            *to = whole(if alpha < 1.0 { alpha } else { 1.0 } * 65535.0);
        }
        for (coded, line) in coded.iter_mut().zip(lines).take(3) {
            for ((to, &v), &alpha) in coded.iter_mut().zip(line).zip(alphas) {
                // What is clear has no colour: 0 times anything finite.
                let inverse = if alpha > FAINT { 1.0 / alpha } else { 0.0 };
                *to = code(v * inverse);
            }
        }
    } else {
        for (coded, line) in coded.iter_mut().zip(lines).take(3) {
            coded.iter_mut().zip(line).for_each(|(to, &v)| *to = code(v));
        }
    }
    let [red, green, blue, alpha] = &coded;
    for ((((pixel, &r), &g), &b), &a) in out.iter_mut().zip(red).zip(green).zip(blue).zip(alpha) {
        *pixel = [r, g, b, a];
    }
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

/// Pixels as linear floats; where there is no alpha, it is 1.
fn linear_pixels<const N: usize>(pixels: &[Rgba16], out: &mut Vec<Lanes>) {
    let table = linear();
    out.clear();
    out.extend(pixels.iter().map(|pixel| {
        let light = light_of::<N>(table, pixel);
        std::array::from_fn(|c| light.get(c).copied().unwrap_or(1.0))
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Row by row, a pixel at a time.
    fn plain(picture: &Picture, part: Part, width: usize, height: usize) -> Vec<Rgba16> {
        let (w, h) = (picture.width(), picture.height());
        let columns = Taps::new(Kernel::Lanczos3, part.left, part.width / width as f64, width, w);
        let down = Taps::new(Kernel::Lanczos3, part.top, part.height / height as f64, height, h);
        let mut light = Vec::new();
        linear_pixels::<4>(picture.pixels().data(), &mut light);
        let mut line = vec![[0.0; 4]; w];
        let mut out = Vec::new();
        for y in 0..height {
            down.down(y, &light, 0, w, &mut line);
            columns.along(&line, |_, p| {
                let a = p[3];
                let rgb = |c: usize| (crate::color::encode(p[c] / a) * 65535.0 + 0.5) as u16;
                out.push(if a > 0.5 / 65535.0 {
                    [rgb(0), rgb(1), rgb(2), (a.min(1.0) * 65535.0 + 0.5) as u16]
                } else {
                    [0; 4]
                });
            });
        }
        out
    }

    #[test]
    fn art_that_is_not_held_equals_the_plain_way() {
        for clear in [false, true] {
            for (art_w, art_h, width, height) in [(3, 60_000, 2, 9), (700, 9_000, 300, 11), (5, 20_000, 1, 1)] {
                let art = Picture::new(Plane::from_fn(art_w, art_h, |x, y| {
                    let v = ((x * 7919 + y * 104_729 + x * y * 13) % 65536) as u16;
                    let alpha = if !clear || y % 4000 < 2000 { 65535 } else { v.rotate_left(9) / 3 };
                    [v, v.rotate_left(3), v.rotate_left(7), alpha]
                }));
                let part = Part { left: 0.0, top: 0.0, width: art_w as f64, height: art_h as f64 };
                let made = resample(&art, part, width, height, &Progress::none()).unwrap();
                for (a, b) in made.pixels().data().iter().zip(plain(&art, part, width, height)) {
                    assert!((0..4).all(|c| a[c].abs_diff(b[c]) <= 3), "{a:?} {b:?} {clear} {art_w} x {art_h}");
                }
            }
        }
    }

    #[test]
    fn blocks_equal_the_plain_way() {
        for clear in [false, true] {
            let art = Picture::new(Plane::from_fn(131, 97, |x, y| {
                let v = ((x * 7919 + y * 104_729 + x * y * 13) % 65536) as u16;
                let alpha = if !clear || x % 40 < 20 { 65535 } else { v.rotate_left(9) / 3 * u16::from(y % 30 > 9) };
                [v, v.rotate_left(3), v.rotate_left(7), alpha]
            }));
            for (part, width, height) in [
                (Part { left: 0.0, top: 0.0, width: 131.0, height: 97.0 }, 600, 411),
                (Part { left: 3.25, top: 8.5, width: 100.5, height: 77.25 }, 257, 301),
                (Part { left: 0.0, top: 0.0, width: 131.0, height: 97.0 }, 40, 30),
                (Part { left: 5.0, top: 5.0, width: 2.0, height: 2.0 }, 9, 9),
            ] {
                let made = resample(&art, part, width, height, &Progress::none()).unwrap();
                for (at, (a, b)) in made.pixels().data().iter().zip(plain(&art, part, width, height)).enumerate() {
                    // Where alpha is faint, its rounding decides the colour.
                    let least = 2 + 200 / b[3].max(1);
                    assert!((0..4).all(|c| a[c].abs_diff(b[c]) <= least), "{at}: {a:?} {b:?} {clear} {part:?}");
                }
            }
        }
    }
}
