//! Resampling along a row for AVX-512, 16 outputs at a time with each channel by itself: where a print is
//! at least half as large again as its art, the six taps of 16 neighbours lie in one window of 16
//! sources, and a permutation picks them. The same sums as [`Taps::across`], in the same order.
#![expect(unsafe_code, reason = "vector intrinsics; loads stay inside the rows by the lengths asserted")]

use std::arch::x86_64::*;
use std::ops::Range;

use super::resample::light_of;
use super::separable::{BLOCK, Line, Taps};
use super::transfer::linear;
use crate::raster::Rgba16;

/// Outputs of a step, and sources of a window.
const WIDE: usize = 16;
/// Taps of Lanczos's kernel of radius 3 where it enlarges.
const TAPS: usize = 6;

/// Sources and weights of 16 outputs.
#[repr(align(64))]
struct Window {
    weights: [[f32; WIDE]; TAPS],
    /// Place of each output's first source in the window.
    pick: [i32; WIDE],
    first: usize,
}

/// How a whole row is made.
pub(super) struct Windows {
    steps: Vec<Window>,
    sources: usize,
}

impl Windows {
    /// None where the machine has no AVX-512 or the kernel reaches beyond a window.
    pub(super) fn of(taps: &Taps, outputs: usize, sources: usize) -> Option<Self> {
        if !std::arch::is_x86_feature_detected!("avx512f") {
            return None;
        }
        let steps: Option<Vec<Window>> = (0..outputs)
            .step_by(WIDE)
            .map(|from| {
                let first = taps.of(from).0;
                let mut step = Window { weights: [[0.0; WIDE]; TAPS], pick: [0; WIDE], first };
                for (i, output) in (from..(from + WIDE).min(outputs)).enumerate() {
                    let (start, weights) = taps.of(output);
                    let weights: &[f32; TAPS] = weights.try_into().ok()?;
                    if start - first + TAPS > WIDE {
                        return None;
                    }
                    step.pick[i] = (start - first) as i32;
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
        // What lies beyond a channel's end stays nought from here on.
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
    #[target_feature(enable = "avx512f")]
    pub(super) fn across<const N: usize>(
        &self,
        columns: Range<usize>,
        apart: &[f32],
        row: usize,
        lines: &mut [Line; N],
    ) {
        let stride = self.stride();
        let row = &apart[row * N * stride..][..N * stride];
        let steps = &self.steps[columns.start / WIDE..columns.end.div_ceil(WIDE)];
        assert!(steps.len() <= BLOCK / WIDE && columns.start.is_multiple_of(WIDE));
        for (i, step) in steps.iter().enumerate() {
            assert!(step.first <= self.sources);
            // SAFETY: a step's arrays have 16 values; each channel has 16 from `first` on, as `stride` counts
            // them; and a line has 16 from each step's place on.
            unsafe {
                let one = _mm512_set1_epi32(1);
                let mut pick = _mm512_loadu_si512(step.pick.as_ptr().cast());
                let windows: [__m512; N] =
                    std::array::from_fn(|c| _mm512_loadu_ps(row.as_ptr().add(c * stride + step.first)));
                let mut sums = [_mm512_setzero_ps(); N];
                for weights in &step.weights {
                    let weights = _mm512_loadu_ps(weights.as_ptr());
                    for (sum, &window) in sums.iter_mut().zip(&windows) {
                        *sum = _mm512_add_ps(*sum, _mm512_mul_ps(weights, _mm512_permutexvar_ps(pick, window)));
                    }
                    pick = _mm512_add_epi32(pick, one);
                }
                for (line, sum) in lines.iter_mut().zip(sums) {
                    _mm512_storeu_ps(line.as_mut_ptr().add(i * WIDE), sum);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::separable::{Kernel, Lanes};
    use super::*;

    #[test]
    fn rows_equal_those_of_pixels() {
        if !std::arch::is_x86_feature_detected!("avx512f") {
            return;
        }
        let value = |i: usize| ((i * 7919) % 65_536) as u16;
        for (sources, outputs, from, part) in
            [(131, 600, 0.0, 131.0), (97, 211, 3.25, 80.5), (40, 61, 0.0, 40.0), (6, 19, 0.0, 6.0)]
        {
            let taps = Taps::new(Kernel::Lanczos3, from, part / outputs as f64, outputs, sources);
            let windows = Windows::of(&taps, outputs, sources).expect("enlarges by half or more");
            let pixels: Vec<Rgba16> = (0..3 * sources).map(|i| [0, 1, 2, 3].map(|c| value(4 * i + c))).collect();
            let light: Vec<Lanes> = pixels.iter().map(|pixel| light_of::<4>(linear(), pixel)).collect();
            let mut apart = Vec::new();
            windows.take_apart::<4>(&pixels, &mut apart);
            for (row, pixels) in light.chunks_exact(sources).enumerate() {
                for left in (0..outputs).step_by(BLOCK) {
                    let columns = left..(left + BLOCK).min(outputs);
                    let (mut want, mut made) = ([[0.0; BLOCK]; 4], [[0.0; BLOCK]; 4]);
                    taps.across(columns.clone(), pixels, &mut want);
                    // SAFETY: the feature was detected above.
                    unsafe { windows.across(columns.clone(), &apart, row, &mut made) };
                    for c in 0..4 {
                        assert_eq!(made[c][..columns.len()], want[c][..columns.len()], "{sources} {outputs} {left}");
                    }
                }
            }
        }
        let reduced = Taps::new(Kernel::Lanczos3, 0.0, 0.9, 100, 90);
        assert!(Windows::of(&reduced, 100, 90).is_none(), "16 outputs look at more than 16 sources");
    }
}
