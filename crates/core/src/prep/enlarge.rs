//! Enlarging that keeps edges crisp: a start by Lanczos's kernel in encoded values, smoothed along
//! edges (never across) so that steps disappear, then corrected until the enlargement, reduced
//! again by area in linear light, gives the art back (iterative back-projection: Irani and
//! Peleg, 1991), and held within the art's local range so that no halo is made. It adds no
//! detail; it spends what is there better than the plain kernel does.
//!
//! The work is done in strips with a margin, so floats of the whole picture are never held. With
//! transparency all steps run on encoded values with alpha multiplied in, and the correction
//! stays linear, so that colour at see-through edges is kept exactly.

use rayon::prelude::*;

use super::prepare::PrepError;
use super::resample::{Part, crop};
use super::separable::{Kernel, Lanes, Taps};
use super::transfer::{code, linear, whole};
use crate::Progress;
use crate::raster::{Picture, Plane, Rgba16};
use crate::simd::{self, run};

/// Corrections after the start; a third gains under 0.1 dB.
const ROUNDS: usize = 2;
/// Rows of art beside a strip that its pixels depend on.
const MARGIN: f64 = 7.0;
/// How far beyond the art's local range a value may go, as a part of that range.
const SLACK: f32 = 0.1;
/// Samples on each side of a pixel in smoothing along edges, spread over about one pixel of art.
const TAPS: usize = 4;

/// `part` of `picture` at `width` x `height` pixels, both at least those of the part.
pub(super) fn enlarge(
    picture: &Picture,
    part: Part,
    width: usize,
    height: usize,
    progress: &Progress,
) -> Result<Picture, PrepError> {
    let (picture, part) = crop(picture, part);
    if picture.has_alpha() {
        run::<true>(&picture, part, width, height, progress)
    } else {
        run::<false>(&picture, part, width, height, progress)
    }
}

/// Everything about the art that strips share. `ALPHA` tells whether any of it is see-through;
/// without it the fourth lane is 1.
struct Source<const ALPHA: bool> {
    width: usize,
    height: usize,
    /// Encoded values 0..=1, alpha multiplied in.
    values: Vec<Lanes>,
    /// Smallest and largest value of the 3 x 3 neighbours.
    low: Vec<Lanes>,
    high: Vec<Lanes>,
    /// Direction along the edge and how much of one there is (0..=1), as x, y components.
    along: Vec<[f32; 2]>,
    part: Part,
    /// Pixels of art a pixel of output, across and down.
    ratio: [f64; 2],
    /// Kernels of the start, of corrections and of the range, across and down.
    start: [Taps; 2],
    correction: [Taps; 2],
    range: [Taps; 2],
}

fn run<const ALPHA: bool>(
    picture: &Picture,
    part: Part,
    width: usize,
    height: usize,
    progress: &Progress,
) -> Result<Picture, PrepError> {
    let source = Source::<ALPHA>::new(picture, part, width, height);
    let margin = (MARGIN / source.ratio[1]).ceil() as usize;
    let rows = ((1 << 20) / width).clamp(4 * margin.min(64), 1024).max(16);
    let strips = height.div_ceil(rows);
    let mut data: Vec<Rgba16> = vec![[0; 4]; width * height];
    data.par_chunks_mut(rows * width).enumerate().try_for_each_init(Buffers::default, |held, (strip, out)| {
        progress.step("enlarge", strip as f32 / strips as f32)?;
        let first = strip * rows;
        let last = first + out.len() / width;
        let (from, to) = (first.saturating_sub(margin), (last + margin).min(height));
        source.strip(held, width, from..to, first, out);
        Ok::<(), PrepError>(())
    })?;
    Ok(Picture::new(Plane::from_vec(width, height, data)))
}

/// What a thread keeps from strip to strip.
#[derive(Default)]
struct Buffers {
    values: Vec<Lanes>,
    old: Vec<Lanes>,
}

/// Encoded, alpha multiplied in, to a straight 16-bit pixel.
#[inline(always)]
fn straight<const ALPHA: bool>(pixel: Lanes) -> Rgba16 {
    let code = |v: f32| whole(if v > 0.0 { if v < 1.0 { v * 65535.0 } else { 65535.0 } } else { 0.0 });
    if !ALPHA {
        return [code(pixel[0]), code(pixel[1]), code(pixel[2]), u16::MAX];
    }
    let alpha = pixel[3];
    if alpha <= 0.5 / 65535.0 {
        return [0; 4];
    }
    [code(pixel[0] / alpha), code(pixel[1] / alpha), code(pixel[2] / alpha), code(alpha)]
}

impl<const ALPHA: bool> Source<ALPHA> {
    fn new(picture: &Picture, part: Part, width: usize, height: usize) -> Self {
        let (w, h) = (picture.width(), picture.height());
        let values: Vec<Lanes> = picture
            .pixels()
            .data()
            .par_iter()
            .map(|p| {
                let alpha = if ALPHA { f32::from(p[3]) / 65535.0 } else { 1.0 };
                std::array::from_fn(|c| if c == 3 { alpha } else { f32::from(p[c]) / 65535.0 * alpha })
            })
            .collect();
        let plane = Plane::from_vec(w, h, values);
        let range = Plane::from_fn(w, h, |x, y| {
            let (mut low, mut high) = (plane.get(x, y), plane.get(x, y));
            for (nx, ny) in neighbours(x, y, w, h) {
                let p = plane.get(nx, ny);
                for c in 0..4 {
                    low[c] = low[c].min(p[c]);
                    high[c] = high[c].max(p[c]);
                }
            }
            (low, high)
        });
        let (low, high) = range.into_vec().into_iter().unzip();
        let ratio = [part.width / width as f64, part.height / height as f64];
        let taps = |kernel| {
            [Taps::new(kernel, part.left, ratio[0], width, w), Taps::new(kernel, part.top, ratio[1], height, h)]
        };
        Self {
            width: w,
            height: h,
            along: along::<ALPHA>(&plane),
            values: plane.into_vec(),
            low,
            high,
            part,
            ratio,
            start: taps(Kernel::Lanczos3),
            correction: taps(Kernel::CatmullRom),
            range: taps(Kernel::Bilinear),
        }
    }

    /// Makes the strip `out`, whose first row is `first`, from rows `rows` of output.
    fn strip(&self, held: &mut Buffers, width: usize, rows: std::ops::Range<usize>, first: usize, out: &mut [Rgba16]) {
        run!(simd::level() => self.strip_on(held, width, rows, first, out));
    }

    #[inline(always)]
    fn strip_on(
        &self,
        held: &mut Buffers,
        width: usize,
        rows: std::ops::Range<usize>,
        first: usize,
        out: &mut [Rgba16],
    ) {
        held.values.resize(rows.len() * width, [0.0; 4]);
        let [columns, down] = &self.start;
        let mut line = vec![[0.0; 4]; self.width];
        for (y, row) in held.values.chunks_exact_mut(width).enumerate() {
            down.down(rows.start + y, &self.values, 0, self.width, &mut line);
            columns.along(&line, |x, p| row[x] = p);
        }
        self.smooth_along(held, width, rows.start);
        for _ in 0..ROUNDS {
            self.correct(&mut held.values, width, rows.clone());
        }
        let [columns, down] = &self.range;
        let mut high_line = line.clone();
        let mut high = vec![[0.0; 4]; width];
        for (y, out) in out.chunks_exact_mut(width).enumerate() {
            down.down(first + y, &self.low, 0, self.width, &mut line);
            down.down(first + y, &self.high, 0, self.width, &mut high_line);
            columns.along(&high_line, |x, p| high[x] = p);
            let values = &held.values[(first - rows.start + y) * width..][..width];
            columns.along(&line, |x, low| {
                let pixel = std::array::from_fn(|c| {
                    let slack = SLACK * (high[x][c] - low[c]);
                    values[x][c].max(low[c] - slack).min(high[x][c] + slack)
                });
                out[x] = straight::<ALPHA>(pixel);
            });
        }
    }

    /// Where a row or column of output begins in the art.
    fn place(&self, axis: usize, at: usize) -> f64 {
        [self.part.left, self.part.top][axis] + at as f64 * self.ratio[axis]
    }

    /// Replaces each value near an edge by a weighted mean along the edge's direction.
    #[inline(always)]
    fn smooth_along(&self, held: &mut Buffers, width: usize, first: usize) {
        let Buffers { values, old } = held;
        let height = values.len() / width;
        let strides = strides((1.0 / self.ratio[0].max(self.ratio[1])) as f32);
        let columns: Vec<(usize, usize, f32)> =
            (0..width).map(|x| between(self.place(0, x) + 0.5 * self.ratio[0], self.width)).collect();
        let (x_most, y_most) = (width as isize - 1, height as isize - 1);
        old.clear();
        old.extend_from_slice(values);
        let old = old.as_slice();
        let at = |x: isize, y: isize| &old[y.clamp(0, y_most) as usize * width + x.clamp(0, x_most) as usize];
        for y in 0..height {
            let (r0, r1, fy) = between(self.place(1, first + y) + 0.5 * self.ratio[1], self.height);
            let (upper, lower) = (&self.along[r0 * self.width..], &self.along[r1 * self.width..]);
            for (x, &(c0, c1, fx)) in columns.iter().enumerate() {
                // The doubled angle's components can be mixed without care for direction's sign.
                let mix = |i: usize| {
                    let top = upper[c0][i] + (upper[c1][i] - upper[c0][i]) * fx;
                    let bottom = lower[c0][i] + (lower[c1][i] - lower[c0][i]) * fx;
                    top + (bottom - top) * fy
                };
                let [cos2, sin2] = [mix(0), mix(1)];
                let strength = (cos2 * cos2 + sin2 * sin2).sqrt();
                if strength < 0.08 {
                    continue;
                }
                // Half the doubled angle, by the half-angle formulas.
                let cos = ((1.0 + cos2 / strength) * 0.5).max(0.0).sqrt();
                let sin = ((1.0 - cos2 / strength) * 0.5).max(0.0).sqrt().copysign(sin2);
                // Whole pixels along the axis that is nearer, so that only the other needs mixing.
                let flat = cos >= sin.abs();
                let (major, minor) = if flat { (cos, sin) } else { (sin, cos) };
                let stride = &strides[((major.abs() - LEAST_MAJOR) * (STRIDES as f32 / (1.0 - LEAST_MAJOR))) as usize];
                let slope = minor / major;
                let (x, y) = (x as isize, y as isize);
                let mut sum = at(x, y).map(|v| v * stride.weights[0]);
                for k in 1..=TAPS {
                    let forward = stride.pixels * k as isize;
                    let aside = forward as f32 * slope;
                    // Both sides lie mirrored about the pixel.
                    let near = aside.floor();
                    let (part, near) = (aside - near, near as isize);
                    let weights = [stride.weights[k] * (1.0 - part), stride.weights[k] * part];
                    let four = if flat {
                        [
                            at(x + forward, y + near),
                            at(x - forward, y - near),
                            at(x + forward, y + near + 1),
                            at(x - forward, y - near - 1),
                        ]
                    } else {
                        [
                            at(x + near, y + forward),
                            at(x - near, y - forward),
                            at(x + near + 1, y + forward),
                            at(x - near - 1, y - forward),
                        ]
                    };
                    for c in 0..4 {
                        sum[c] += weights[0] * (four[0][c] + four[1][c]) + weights[1] * (four[2][c] + four[3][c]);
                    }
                }
                let value = &mut values[y as usize * width + x as usize];
                for c in 0..4 {
                    value[c] += strength * (sum[c] - value[c]);
                }
            }
        }
    }

    /// Adds what is missing for the rows, reduced by area, to give the art back.
    #[inline(always)]
    fn correct(&self, values: &mut [Lanes], width: usize, rows: std::ops::Range<usize>) {
        let first = self.place(1, rows.start).floor().max(0.0) as usize;
        let last = (self.place(1, rows.end).ceil() as usize).min(self.height);
        let mut missing = vec![[0.0_f32; 4]; self.width * (last - first)];
        let columns: Vec<(usize, f32, f32)> =
            (0..width).map(|x| shares(self.place(0, x), self.ratio[0], self.width)).collect();
        let mut sums = vec![[0.0_f32; 4]; width];
        let mut own = vec![[0.0_f32; 4]; self.width];
        let mut weights = vec![0.0_f32; self.width];
        let table = linear();
        let light = |v: f32| if ALPHA { v } else { table[whole(v.clamp(0.0, 1.0) * 65535.0) as usize] };
        for row in first..last {
            // Rows of output that lie in this row of art, each with its share.
            let near = |at: usize| ((at as f64 - self.part.top) / self.ratio[1]).floor().max(0.0) as usize;
            let (low, high) = (near(row).max(rows.start), (near(row + 1) + 1).min(rows.end));
            sums.fill([0.0; 4]);
            let mut tall = 0.0;
            for y in low..high {
                let top = self.place(1, y);
                let share = ((top + self.ratio[1]).min((row + 1) as f64) - top.max(row as f64)).max(0.0) as f32;
                if share <= 0.0 {
                    continue;
                }
                tall += share;
                let line = &values[(y - rows.start) * width..][..width];
                for (sum, v) in sums.iter_mut().zip(line) {
                    for c in 0..LANES[usize::from(ALPHA)] {
                        sum[c] += share * light(v[c]);
                    }
                }
            }
            own.fill([0.0; 4]);
            weights.fill(0.0);
            for (sum, &(at, here, next)) in sums.iter().zip(&columns) {
                for c in 0..4 {
                    own[at][c] += here * sum[c];
                }
                weights[at] += here;
                if next > 0.0 {
                    for c in 0..4 {
                        own[at + 1][c] += next * sum[c];
                    }
                    weights[at + 1] += next;
                }
            }
            let art = &self.values[row * self.width..][..self.width];
            let to = &mut missing[(row - first) * self.width..][..self.width];
            for x in 0..self.width {
                let weight = weights[x] * tall;
                // A sliver at the edge of a strip says too little to correct by.
                if weight < 0.2 * (self.ratio[0] * self.ratio[1]).min(1.0) as f32 {
                    continue;
                }
                for c in 0..LANES[usize::from(ALPHA)] {
                    let mean = own[x][c] / weight;
                    let mean = if ALPHA { mean } else { f32::from(code(mean)) / 65535.0 };
                    to[x][c] = art[x][c] - mean;
                }
            }
        }
        // The correction is art-sized: enlarge it, held at the strip's ends.
        let [columns, down] = &self.correction;
        let mut line = vec![[0.0; 4]; self.width];
        for (y, row) in values.chunks_exact_mut(width).enumerate() {
            down.down_within(rows.start + y, &missing, first, self.width, &mut line);
            columns.along(&line, |x, more| {
                for c in 0..4 {
                    row[x][c] += more[c];
                }
            });
        }
    }
}

/// Lanes that hold something without and with alpha.
const LANES: [usize; 2] = [3, 4];

/// Smallest part of a direction that lies along its nearer axis: half a right angle's cosine.
const LEAST_MAJOR: f32 = std::f32::consts::FRAC_1_SQRT_2;
/// Steps of that part that have weights of their own.
const STRIDES: usize = 16;

/// Samples along an edge: how many whole pixels lie between them on the nearer axis, and their
/// weights, the pixel's own first, which sum to 1 over both sides.
#[derive(Clone, Copy)]
struct Stride {
    pixels: isize,
    weights: [f32; TAPS + 1],
}

/// For directions from the diagonal to an axis, where a pixel of art is `scale` pixels: a bell over
/// about one pixel of art. One more than the steps, for the axis itself.
fn strides(scale: f32) -> [Stride; STRIDES + 1] {
    std::array::from_fn(|step| {
        let major = LEAST_MAJOR + (1.0 - LEAST_MAJOR) * (step as f32 + 0.5).min(STRIDES as f32) / STRIDES as f32;
        let pixels = (scale / TAPS as f32 * major).round().max(1.0);
        let bell: [f32; TAPS + 1] =
            std::array::from_fn(|k| (-0.5 * (k as f32 * pixels / major / scale * 1.5).powi(2)).exp());
        let total = bell[0] + 2.0 * bell[1..].iter().sum::<f32>();
        Stride { pixels: pixels as isize, weights: bell.map(|w| w / total) }
    })
}

/// Indices of the two samples about a place, and the second's weight.
fn between(place: f64, count: usize) -> (usize, usize, f32) {
    let at = (place - 0.5).clamp(0.0, (count - 1) as f64);
    (at as usize, (at as usize + 1).min(count - 1), at.fract() as f32)
}

/// The pixel of art that a pixel of output begins in, its share there and in the next one.
fn shares(place: f64, length: f64, count: usize) -> (usize, f32, f32) {
    let at = (place.max(0.0) as usize).min(count - 1);
    let here = ((at + 1) as f64 - place).clamp(0.0, length);
    let next = if at + 1 < count { length - here } else { 0.0 };
    (at, here as f32, if next > 1e-9 { next as f32 } else { 0.0 })
}

fn neighbours(x: usize, y: usize, w: usize, h: usize) -> impl Iterator<Item = (usize, usize)> {
    let (x0, x1) = (x.saturating_sub(1), (x + 1).min(w - 1));
    (y.saturating_sub(1)..=(y + 1).min(h - 1)).flat_map(move |ny| (x0..=x1).map(move |nx| (nx, ny)))
}

/// Direction along edges from the structure tensor of the art's luma, as the doubled angle's
/// cosine and sine times the edge's strength: high where there is one clear direction.
fn along<const ALPHA: bool>(plane: &Plane<Lanes>) -> Vec<[f32; 2]> {
    let (w, h) = (plane.width(), plane.height());
    let luma = |x: usize, y: usize| {
        let p = plane.get(x, y);
        0.2126 * p[0] + 0.7152 * p[1] + 0.0722 * p[2] + if ALPHA { 0.5 * p[3] } else { 0.0 }
    };
    let luma = Plane::from_fn(w, h, luma);
    let tensor = Plane::from_fn(w, h, |x, y| {
        let at = |dx: isize, dy: isize| {
            luma.get(x.saturating_add_signed(dx).min(w - 1), y.saturating_add_signed(dy).min(h - 1))
        };
        let side = |dx: isize| at(dx, -1) + 2.0 * at(dx, 0) + at(dx, 1);
        let level = |dy: isize| at(-1, dy) + 2.0 * at(0, dy) + at(1, dy);
        let (gx, gy) = ((side(1) - side(-1)) / 8.0, (level(1) - level(-1)) / 8.0);
        [gx * gx, gx * gy, gy * gy]
    });
    Plane::from_fn(w, h, |x, y| {
        let mut sum = [0.0_f32; 3];
        for (nx, ny) in neighbours(x, y, w, h) {
            // A binomial 3 x 3 window.
            let weight = [1.0, 0.5][nx.abs_diff(x)] * [1.0, 0.5][ny.abs_diff(y)] / 4.0;
            let t = tensor.get(nx, ny);
            for i in 0..3 {
                sum[i] += weight * t[i];
            }
        }
        let [a, b, c] = sum;
        let spread = ((a - c).powi(2) + 4.0 * b * b).sqrt();
        let (large, small) = ((a + c + spread) / 2.0, (a + c - spread) / 2.0);
        let clear = ((large - small) / (large + small + 1e-9)).powi(2) * large / (large + 0.03 * 0.03);
        // The tensor's axis lies across the edge; along it the doubled angle turns half round.
        if spread > 1e-12 { [-(a - c) / spread * clear, -2.0 * b / spread * clear] } else { [0.0; 2] }
    })
    .into_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn art(height: usize) -> Picture {
        Picture::new(Plane::from_fn(48, height, |x, y| {
            let v = ((x * 7919 + y * 104_729 + x * y * 13) % 65536) as u16;
            [v, v.rotate_left(3), if (x + y / 3) % 9 < 4 { 60000 } else { 9000 }, 65535]
        }))
    }

    fn run(picture: &Picture, top: usize, scale: usize) -> Picture {
        let height = picture.height() - top;
        let part = Part { left: 0.0, top: top as f64, width: 48.0, height: height as f64 };
        enlarge(picture, part, 48 * scale, height * scale, &Progress::none()).unwrap()
    }

    #[test]
    fn strips_join_without_a_seam() {
        // 2400 rows are made in three strips; cut off 100 rows of art and strips end elsewhere.
        let art = art(800);
        let (whole, lower) = (run(&art, 0, 3), run(&art, 100, 3));
        for y in 600..2100 {
            let (a, b) = (whole.pixels().row(y + 300), lower.pixels().row(y));
            let worst = a.iter().zip(b).map(|(a, b)| (0..3).map(|c| a[c].abs_diff(b[c])).max().unwrap()).max();
            // One 8-bit level.
            assert!(worst.unwrap() <= 257, "row {y}: {worst:?}");
        }
    }

    #[test]
    fn the_enlargement_gives_the_art_back_and_stays_in_its_range() {
        // A step edge: reduced by area in linear light it must be the art again, without halos.
        let art = Picture::new(Plane::from_fn(48, 40, |x, _| {
            let v = match x {
                0..=22 => 12000,
                23 => 30000,
                _ => 52000,
            };
            [v, v, v, 65535]
        }));
        let made = run(&art, 0, 4);
        for p in made.pixels().data() {
            // The slack: a tenth of the local range.
            assert!((8000..=56000).contains(&p[0]), "{p:?}");
        }
        for x in 2..46 {
            let mean: f64 =
                (0..4).map(|i| f64::from(linear()[made.pixels().get(4 * x + i, 80)[0] as usize])).sum::<f64>() / 4.0;
            let back = crate::color::encode(mean as f32) * 65535.0;
            assert!((back - f32::from(art.pixels().get(x, 20)[0])).abs() < 1500.0, "column {x}: {back}");
        }
    }

    #[test]
    fn line_art_gets_no_rings_and_comes_nearer_to_its_original() {
        // Discs, rings, slanted strokes and hairlines in a dark ink on a pale ground, none of them
        // at the end of the range, so that rings are not clipped away; reduced 4x by area.
        const INK: f64 = 9000.0;
        const PAPER: f64 = 56_000.0;
        let side = 384;
        let drawn = Plane::from_fn(side, side, |x, y| {
            // Four samples each way, so that the original has smooth edges itself.
            let mut ink = 0.0;
            for i in 0..16 {
                let (x, y) = (x as f64 + (i % 4) as f64 / 4.0 + 0.125, y as f64 + (i / 4) as f64 / 4.0 + 0.125);
                let away = (x - 110.0).hypot(y - 120.0);
                let disc = away < 34.0 || (52.0..60.0).contains(&away) || (75.0..78.0).contains(&away);
                let stroke = ((x - 250.0) + 0.37 * y).abs() < 9.0 || ((y - 300.0) - 0.21 * x).abs() < 3.0;
                let corner = x > 290.0 && y > 60.0 && y < 190.0 && x - 290.0 < 190.0 - y;
                ink += f64::from(u8::from(disc || stroke || corner)) / 16.0;
            }
            let (a, b) =
                (crate::color::linearize((INK / 65535.0) as f32), crate::color::linearize((PAPER / 65535.0) as f32));
            b + (a - b) * ink as f32
        });
        let code = |light: f32| crate::color::encode(light) * 65535.0;
        let small = Plane::from_fn(side / 4, side / 4, |x, y| {
            let sum: f32 = (0..16).map(|i| drawn.get(4 * x + i % 4, 4 * y + i / 4)).sum();
            let v = code(sum / 16.0).round() as u16;
            [v, v, v, 65535]
        });
        let small = Picture::new(small);
        let part = Part { left: 0.0, top: 0.0, width: side as f64 / 4.0, height: side as f64 / 4.0 };
        let go = Progress::none();
        let judge = |made: Picture| {
            let (mut worst, mut rings, mut error) = (0.0_f64, 0.0, 0.0);
            for (p, &light) in made.pixels().data().iter().zip(drawn.data()) {
                let v = f64::from(p[0]);
                let beyond = (INK - v).max(v - PAPER).max(0.0) / (PAPER - INK);
                worst = worst.max(beyond);
                rings += beyond;
                error += (v - f64::from(code(light))).powi(2);
            }
            let count = (side * side) as f64;
            (worst, rings / count, 10.0 * (65535.0_f64.powi(2) / (error / count)).log10())
        };
        let edges = judge(enlarge(&small, part, side, side, &go).unwrap());
        let plain = judge(super::super::resample::resample(&small, part, side, side, &go).unwrap());
        println!("line art: worst ring, mean ring, PSNR: along edges {edges:?}, plain {plain:?}");
        assert!(edges.0 < 0.11, "a ring of {:.3} of the step; the slack is a tenth", edges.0);
        assert!(edges.1 < 0.8 * plain.1, "{edges:?} {plain:?}");
        assert!(edges.2 > plain.2 + 0.5, "{edges:?} {plain:?}");
    }
}
