//! A 3 x 3 layer of the net by Winograd's minimal filtering F(4 x 4, 3 x 3): 36 products make 16 outputs, where
//! 144 make them directly (Lavin and Gray, 2015). Everything is done on 16 neighbouring 4 x 4 squares at
//! once, one in each lane, so that no sum runs across lanes and a level's width changes no bit.
//!
//! Feature maps come in groups of four rows, groups in blocks of 64 columns: for each row and channel
//! four lines of 16, the first with columns 0, 4, 8 .. of the block, the second with 1, 5, 9 .., and so on.

use fearless_simd::{Level, f32x16, prelude::*};

use super::net::{CHANNELS, Raw, TERMS};
use crate::simd::{Vectors, run};

/// Squares side by side in a block.
pub(super) const LANES: usize = 16;
/// Columns of a block.
pub(super) const BLOCK_PX: usize = 4 * LANES;
/// Places of a square in Winograd's domain.
const PLACES: usize = 36;

/// Floats of a block of so many channels.
pub(super) const fn block_len(channels: usize) -> usize {
    4 * channels * BLOCK_PX
}

/// Blocks to the left, here and to the right in the groups above, here and below.
pub(super) type Around<'a> = [[&'a [f32]; 3]; 3];

/// A layer made ready.
#[derive(Debug, Clone)]
pub(super) struct Layer {
    pub inputs: usize,
    /// A multiple of 12; those that the net lacks are zero.
    pub outputs: usize,
    /// Channels made together, place, channel in, channel out.
    packed: Vec<f32>,
    at_once: usize,
    bias: Vec<f32>,
    slopes: Vec<f32>,
}

/// How many channels a level makes together: as many as its registers hold.
pub(super) fn at_once(level: Level) -> usize {
    fn of<S: Vectors>(_: S) -> usize {
        at_once_on::<S>()
    }
    run!(level, simd => of(simd))
}

const fn at_once_on<S: Vectors>() -> usize {
    match S::f32s::LEN {
        16 => 12,
        8 => 6,
        _ => 3,
    }
}

/// What a thread needs for a block.
pub(super) struct Scratch {
    places: Vec<f32>,
    made: Vec<f32>,
}

impl Default for Scratch {
    fn default() -> Self {
        Self { places: vec![0.0; PLACES * CHANNELS * LANES], made: vec![0.0; PLACES * 12 * LANES] }
    }
}

impl Layer {
    pub(super) fn new(raw: &Raw, terms: &[f64; TERMS], slopes: &[f32], at_once: usize) -> Self {
        let (weight, bias) = raw.folded(terms);
        let (inputs, outputs) = (raw.inputs, raw.outputs.next_multiple_of(12));
        let mut packed = vec![0.0; outputs * PLACES * inputs];
        for out in 0..raw.outputs {
            for input in 0..inputs {
                let filter = &weight[(out * inputs + input) * 9..][..9];
                for (place, value) in transformed(filter).into_iter().enumerate() {
                    let at = ((out / at_once * PLACES + place) * inputs + input) * at_once + out % at_once;
                    packed[at] = value as f32;
                }
            }
        }
        let mut bias: Vec<f32> = bias.into_iter().map(|b| b as f32).collect();
        let mut slopes = slopes.to_vec();
        bias.resize(outputs, 0.0);
        slopes.resize(outputs, 1.0);
        Self { inputs, outputs, packed, at_once, bias, slopes }
    }

    /// Makes a block of the layer's output; `add` is added to it.
    pub(super) fn block(
        &self,
        level: Level,
        around: &Around,
        add: Option<&[f32]>,
        scratch: &mut Scratch,
        out: &mut [f32],
    ) {
        run!(level, simd => self.block_at(simd, around, add, scratch, out));
    }

    #[inline(always)]
    fn block_at<S: Vectors>(
        &self,
        simd: S,
        around: &Around,
        add: Option<&[f32]>,
        scratch: &mut Scratch,
        out: &mut [f32],
    ) {
        assert_eq!(self.at_once, at_once_on::<S>(), "a layer packed for another level");
        match const { at_once_on::<S>() } {
            12 => self.block_on::<S, 12>(simd, around, add, scratch, out),
            6 => self.block_on::<S, 6>(simd, around, add, scratch, out),
            _ => self.block_on::<S, 3>(simd, around, add, scratch, out),
        }
    }

    #[inline(always)]
    fn block_on<S: Vectors, const N: usize>(
        &self,
        simd: S,
        around: &Around,
        add: Option<&[f32]>,
        scratch: &mut Scratch,
        out: &mut [f32],
    ) {
        let places = &mut scratch.places[..PLACES * self.inputs * LANES];
        let (places, _) = places.as_chunks_mut::<LANES>();
        let (made, _) = scratch.made[..PLACES * N * LANES].as_chunks_mut::<LANES>();
        for channel in 0..self.inputs {
            self.fill_places(simd, around, channel, places);
        }
        for (part, packed) in self.packed.chunks_exact(PLACES * self.inputs * N).enumerate() {
            let (packed, _) = packed.as_chunks::<N>();
            let each = packed.chunks_exact(self.inputs).zip(places.chunks_exact(self.inputs));
            for ((weights, inputs), made) in each.zip(made.chunks_exact_mut(N)) {
                let mut sums = [f32x16::splat(simd, 0.0); N];
                for (weights, input) in weights.iter().zip(inputs) {
                    let input = f32x16::load_array_ref(simd, input);
                    for o in 0..N {
                        sums[o] += input * f32x16::splat(simd, weights[o]);
                    }
                }
                for o in 0..N {
                    sums[o].store_slice(&mut made[o]);
                }
            }
            for o in 0..N {
                self.out_of_places::<S, N>(simd, made, o, part * N + o, add, out);
            }
        }
    }

    /// Squares of one channel with a border of one, brought to Winograd's domain.
    #[inline(always)]
    fn fill_places<S: Vectors>(&self, simd: S, around: &Around, channel: usize, places: &mut [[f32; LANES]]) {
        let zero = f32x16::splat(simd, 0.0);
        let mut rows = [[zero; 6]; 6];
        for (r, row) in rows.iter_mut().enumerate() {
            let ([left, here, right], line) = match r {
                0 => (around[0], 3),
                5 => (around[2], 0),
                _ => (around[1], r - 1),
            };
            let at = (line * self.inputs + channel) * BLOCK_PX;
            let read = |of: &[f32], phase: usize| f32x16::from_slice(simd, &of[at + phase * LANES..][..LANES]);
            let (first, last) = (read(here, 0), read(here, 3));
            let before = read(left, 3).slide::<15>(last);
            let after = first.slide::<1>(read(right, 0));
            *row = into(simd, [before, first, read(here, 1), read(here, 2), last, after]);
        }
        for column in 0..6 {
            let made = into(simd, [0, 1, 2, 3, 4, 5].map(|r| rows[r][column]));
            for r in 0..6 {
                made[r].store_slice(&mut places[(r * 6 + column) * self.inputs + channel]);
            }
        }
    }

    /// One channel of the outputs out of Winograd's domain, bent by its slope.
    #[inline(always)]
    fn out_of_places<S: Vectors, const N: usize>(
        &self,
        simd: S,
        made: &[[f32; LANES]],
        o: usize,
        channel: usize,
        add: Option<&[f32]>,
        out: &mut [f32],
    ) {
        let zero = f32x16::splat(simd, 0.0);
        let mut rows = [[zero; 6]; 4];
        for column in 0..6 {
            let six = [0, 1, 2, 3, 4, 5].map(|r| f32x16::load_array_ref(simd, &made[(r * 6 + column) * N + o]));
            let four = out_of(simd, six);
            for r in 0..4 {
                rows[r][column] = four[r];
            }
        }
        let (bias, slope) = (f32x16::splat(simd, self.bias[channel]), f32x16::splat(simd, self.slopes[channel]));
        for (r, row) in rows.iter().enumerate() {
            let at = (r * self.outputs + channel) * BLOCK_PX;
            for (phase, value) in out_of(simd, *row).into_iter().enumerate() {
                let value = value + bias;
                let mut value = value.simd_gt(zero).select(value, value * slope);
                let at = at + phase * LANES;
                if let Some(add) = add {
                    value += f32x16::from_slice(simd, &add[at..at + LANES]);
                }
                value.store_slice(&mut out[at..at + LANES]);
            }
        }
    }
}

/// Six values of a line to Winograd's domain.
#[inline(always)]
fn into<S: Vectors>(simd: S, d: [f32x16<S>; 6]) -> [f32x16<S>; 6] {
    let times = |k: f32, v: f32x16<S>| v * f32x16::splat(simd, k);
    let (even, odd) = (d[4] - times(4.0, d[2]), d[3] - times(4.0, d[1]));
    let (far, near) = (d[4] - d[2], times(2.0, d[3] - d[1]));
    [
        times(4.0, d[0]) - times(5.0, d[2]) + d[4],
        even + odd,
        even - odd,
        far + near,
        far - near,
        times(4.0, d[1]) - times(5.0, d[3]) + d[5],
    ]
}

/// Six values of Winograd's domain to four of a line.
#[inline(always)]
fn out_of<S: Vectors>(simd: S, m: [f32x16<S>; 6]) -> [f32x16<S>; 4] {
    let times = |k: f32, v: f32x16<S>| v * f32x16::splat(simd, k);
    let (sum, difference) = (m[1] + m[2], m[1] - m[2]);
    let (wide_sum, wide_difference) = (m[3] + m[4], m[3] - m[4]);
    [
        m[0] + sum + wide_sum,
        difference + times(2.0, wide_difference),
        sum + times(4.0, wide_sum),
        difference + times(8.0, wide_difference) + m[5],
    ]
}

/// A 3 x 3 filter in Winograd's domain.
pub(super) fn transformed(filter: &[f64]) -> [f64; PLACES] {
    const G: [[f64; 3]; 6] = [
        [0.25, 0.0, 0.0],
        [-1.0 / 6.0, -1.0 / 6.0, -1.0 / 6.0],
        [-1.0 / 6.0, 1.0 / 6.0, -1.0 / 6.0],
        [1.0 / 24.0, 1.0 / 12.0, 1.0 / 6.0],
        [1.0 / 24.0, -1.0 / 12.0, 1.0 / 6.0],
        [0.0, 0.0, 1.0],
    ];
    let mut out = [0.0; PLACES];
    for (r, down) in G.iter().enumerate() {
        for (c, across) in G.iter().enumerate() {
            for y in 0..3 {
                for x in 0..3 {
                    out[r * 6 + c] += down[y] * across[x] * filter[y * 3 + x];
                }
            }
        }
    }
    out
}
