//! Resampling along a row, 16 outputs at a time with each channel by itself: where a print is at least half
//! as large again as its art, the six taps of 16 neighbours lie in one window of 16 sources, out of which a
//! shuffle picks them. The same sums as [`Taps::across`], in the same order. Worth while where the shuffle is
//! one instruction, which is with AVX-512.

use std::ops::Range;

use fearless_simd::{Level, f32x16, prelude::*, u8x64, u32x16};

use super::separable::{Line, Taps};
use super::transfer::{light_of, linear};
use crate::raster::Rgba16;
use crate::simd::{Vectors, far_shuffles};

/// Outputs of a step, and sources of a window.
const WIDE: usize = 16;
/// Taps of Lanczos's kernel of radius 3 where it enlarges.
const TAPS: usize = 6;

/// Sources and weights of 16 outputs.
#[repr(align(64))]
struct Window {
    weights: [[f32; WIDE]; TAPS],
    /// Bytes of each output's first source in the window.
    pick: [[u8; 4]; WIDE],
    first: usize,
}

/// How a whole row is made.
pub(super) struct Windows {
    steps: Vec<Window>,
    sources: usize,
}

impl Windows {
    /// None where that is not worth while or the kernel reaches beyond a window.
    pub(super) fn of(level: Level, taps: &Taps, outputs: usize, sources: usize) -> Option<Self> {
        if far_shuffles(level) { Self::of_taps(taps, outputs, sources) } else { None }
    }

    fn of_taps(taps: &Taps, outputs: usize, sources: usize) -> Option<Self> {
        let steps: Option<Vec<Window>> = (0..outputs)
            .step_by(WIDE)
            .map(|from| {
                let first = taps.of(from).0;
                let mut step = Window { weights: [[0.0; WIDE]; TAPS], pick: [[0; 4]; WIDE], first };
                for (i, output) in (from..(from + WIDE).min(outputs)).enumerate() {
                    let (start, weights) = taps.of(output);
                    let weights: &[f32; TAPS] = weights.try_into().ok()?;
                    if start - first + TAPS > WIDE {
                        return None;
                    }
                    step.pick[i] = std::array::from_fn(|byte| (4 * (start - first) + byte) as u8);
                    step.weights.iter_mut().zip(weights).for_each(|(to, &weight)| to[i] = weight);
                }
                Some(step)
            })
            .collect();
        Some(Self { steps: steps?, sources })
    }

    /// Floats of one channel of a row, with those that a window may read beyond its end.
    fn stride(&self) -> usize {
        self.sources + WIDE
    }

    /// Rows of pixels in linear light, taken apart into `N` channels each.
    pub(super) fn take_apart<const N: usize>(&self, pixels: &[Rgba16], out: &mut Vec<f32>) {
        let (table, stride) = (linear(), self.stride());
        // What lies beyond a channel's end stays zero from here on.
        out.clear();
        out.resize(pixels.len() / self.sources * N * stride, 0.0);
        for (row, lines) in pixels.chunks_exact(self.sources).zip(out.chunks_exact_mut(N * stride)) {
            let mut lines = lines.chunks_exact_mut(stride);
            let lines: [&mut [f32]; N] = std::array::from_fn(|_| &mut lines.next().unwrap_or_default()[..row.len()]);
            for (x, pixel) in row.iter().enumerate() {
                let light = light_of::<N>(table, pixel);
                for c in 0..N {
                    lines[c][x] = light[c];
                }
            }
        }
    }

    /// Outputs `columns`, whose first is a multiple of 16, of row `row` of what was taken apart.
    #[inline(always)]
    pub(super) fn across<S: Vectors, const N: usize>(
        &self,
        simd: S,
        columns: Range<usize>,
        apart: &[f32],
        row: usize,
        lines: &mut [Line; N],
    ) {
        if !S::FAR_SHUFFLES {
            unreachable!("made for levels that pick out of 64 bytes");
        }
        let stride = self.stride();
        let row = &apart[row * N * stride..][..N * stride];
        let steps = &self.steps[columns.start / WIDE..columns.end.div_ceil(WIDE)];
        assert!(columns.start.is_multiple_of(WIDE));
        let next: u8x64<S> = u32x16::splat(simd, 0x04_04_04_04).bitcast();
        for (i, step) in steps.iter().enumerate() {
            let mut pick = u8x64::from_slice(simd, step.pick.as_flattened());
            let mut windows = [f32x16::splat(simd, 0.0); N];
            for c in 0..N {
                windows[c] = f32x16::from_slice(simd, &row[c * stride + step.first..][..WIDE]);
            }
            let mut sums = [f32x16::splat(simd, 0.0); N];
            for weights in &step.weights {
                let weights = f32x16::load_array_ref(simd, weights);
                for c in 0..N {
                    sums[c] += weights * windows[c].swizzle_dyn(pick);
                }
                pick += next;
            }
            for c in 0..N {
                sums[c].store_slice(&mut lines[c][i * WIDE..][..WIDE]);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::separable::{BLOCK, Kernel, Lanes};
    use super::*;
    use crate::simd::{self, run};

    #[test]
    fn rows_equal_those_of_pixels() {
        let value = |i: usize| ((i * 7919) % 65_536) as u16;
        for (sources, outputs, from, part) in
            [(131, 600, 0.0, 131.0), (97, 211, 3.25, 80.5), (40, 61, 0.0, 40.0), (6, 19, 0.0, 6.0)]
        {
            let taps = Taps::new(Kernel::Lanczos3, from, part / outputs as f64, outputs, sources);
            let windows = Windows::of_taps(&taps, outputs, sources).expect("enlarges by half or more");
            let pixels: Vec<Rgba16> = (0..3 * sources).map(|i| [0, 1, 2, 3].map(|c| value(4 * i + c))).collect();
            let light: Vec<Lanes> = pixels.iter().map(|pixel| light_of::<4>(linear(), pixel)).collect();
            let mut apart = Vec::new();
            windows.take_apart::<4>(&pixels, &mut apart);
            for (row, pixels) in light.chunks_exact(sources).enumerate() {
                for left in (0..outputs).step_by(BLOCK) {
                    let columns = left..(left + BLOCK).min(outputs);
                    let mut want = [[0.0; BLOCK]; 4];
                    taps.across(columns.clone(), pixels, &mut want);
                    for (level, token) in simd::each().filter(|(_, token)| far_shuffles(*token)) {
                        let mut made = [[0.0; BLOCK]; 4];
                        run!(token, simd => windows.across(simd, columns.clone(), &apart, row, &mut made));
                        for c in 0..4 {
                            let [made, want] = [&made, &want].map(|lines| &lines[c][..columns.len()]);
                            assert_eq!(made, want, "{level:?} {sources} {outputs} {left}");
                        }
                    }
                }
            }
        }
        let reduced = Taps::new(Kernel::Lanczos3, 0.0, 0.9, 100, 90);
        assert!(Windows::of_taps(&reduced, 100, 90).is_none(), "16 outputs look at more than 16 sources");
    }
}
