//! The proof, fast: rows of coverage to 8-bit sRGB. The plain form is `Stack::reflectance` and
//! `encode_u16`, pixel by pixel; this one keeps each band as `r <- r + a (S + (T - 1) r)` in single
//! precision and looks the code up. Where the machine has AVX-512 or AVX2 sixteen pixels go at once
//! (`composite_avx512.rs`, `composite_simd.rs`); elsewhere blocks of a row go layer by layer, which compilers turn into
//! whatever the machine has. Stacks with Yule-Nielsen's n other than 1 take the plain form: their
//! sum does not factor.

use std::sync::Arc;

#[cfg(target_arch = "x86_64")]
use super::composite_avx512::Parts;
use super::{GainCurve, Stack};
use crate::color::encode_u16;

/// Steps of the square root of linear light in the table of codes.
pub(super) const STEPS: f32 = 4095.0;
/// Coverage is looked up to 1 in 4096: a step of gain is then far below one code of the proof.
pub(super) const GAIN_SHIFT: u32 = 4;

/// A gain curve made ready for pixels.
#[derive(Debug)]
pub(super) struct Gain {
    /// Coverage in 4096ths to printed coverage, 0..=1.
    pub table: Vec<f32>,
    /// The same as parabolas; none where it bends too sharply for them.
    #[cfg(target_arch = "x86_64")]
    pub parts: Option<Parts>,
}

impl Gain {
    fn new(curve: &GainCurve) -> Self {
        let table: Vec<f32> = (0..=1 << (16 - GAIN_SHIFT)).map(|v| curve.print(v as f32 / 4096.0)).collect();
        Self {
            #[cfg(target_arch = "x86_64")]
            parts: Parts::of(&table),
            table,
        }
    }
}

/// A stack made ready for rows of pixels.
pub struct Composite<'a> {
    pub(super) stack: &'a Stack,
    /// Per layer; empty for none.
    pub(super) gain: Vec<Arc<Gain>>,
    /// 8-bit codes by the square root of linear light.
    pub(super) codes: Vec<i32>,
}

impl<'a> Composite<'a> {
    /// Prepares the tables of a stack.
    pub fn new(stack: &'a Stack) -> Self {
        // Layers of one curve share its table, which then stays in the nearest cache.
        let mut gain: Vec<Arc<Gain>> = Vec::new();
        for (at, curve) in stack.gain.iter().enumerate() {
            gain.push(match stack.gain[..at].iter().position(|other| other == curve) {
                Some(same) => gain[same].clone(),
                None => Arc::new(Gain::new(curve)),
            });
        }
        let codes = (0..=STEPS as usize)
            .map(|i| {
                let root = i as f32 / STEPS;
                let [code, ..] = encode_u16([root * root; 3]);
                ((u32::from(code) + 128) / 257) as i32
            })
            .collect();
        Self { stack, gain, codes }
    }

    /// One row: `rows` holds a slice of coverage for each layer, all as long as `out`; out comes
    /// opaque sRGB.
    ///
    /// # Panics
    /// If there are fewer rows than layers or a row is shorter than `out`.
    pub fn row(&self, rows: &[&[u16]], out: &mut [[u8; 4]]) {
        if self.stack.yule_nielsen != 1.0 {
            return self.row_plain(rows, out);
        }
        #[cfg(target_arch = "x86_64")]
        let done = match super::composite_avx512::row(self, rows, out) {
            0 => super::composite_simd::row(self, rows, out),
            done => done,
        };
        #[cfg(not(target_arch = "x86_64"))]
        let done = 0;
        let rest: Vec<&[u16]> = rows.iter().map(|row| &row[done..]).collect();
        self.row_blocks(&rest, &mut out[done..]);
    }

    /// Blocks of a row, layer by layer.
    fn row_blocks(&self, rows: &[&[u16]], out: &mut [[u8; 4]]) {
        const BLOCK: usize = 256;
        let mut bands = [[0.0f32; BLOCK]; 3];
        for start in (0..out.len()).step_by(BLOCK) {
            let n = BLOCK.min(out.len() - start);
            for (band, fabric) in bands.iter_mut().zip(self.stack.garment) {
                band[..n].fill(fabric);
            }
            let mut a = [0.0f32; BLOCK];
            for (layer, row) in rows.iter().enumerate() {
                let row = &row[start..start + n];
                match self.gain.get(layer) {
                    None => a.iter_mut().zip(row).for_each(|(a, &v)| *a = f32::from(v) * (1.0 / 65535.0)),
                    Some(gain) => a.iter_mut().zip(row).for_each(|(a, &v)| *a = gain.table[gain_index(v)]),
                }
                let solid = &self.stack.layers[layer];
                for (band, values) in bands.iter_mut().enumerate() {
                    let (s, t) = (solid.scatter[band], solid.through[band] - 1.0);
                    for (r, a) in values[..n].iter_mut().zip(&a[..n]) {
                        *r += a * (s + t * *r);
                    }
                }
            }
            for (x, out) in out[start..start + n].iter_mut().enumerate() {
                let [r, g, b] = [0, 1, 2].map(|band| self.code(bands[band][x]));
                *out = [r, g, b, 255];
            }
        }
    }

    /// The plain form, any stack.
    pub fn row_plain(&self, rows: &[&[u16]], out: &mut [[u8; 4]]) {
        let mut a = vec![0.0f32; rows.len()];
        for (x, out) in out.iter_mut().enumerate() {
            for (a, row) in a.iter_mut().zip(rows) {
                *a = f32::from(row[x]) / 65535.0;
            }
            let [r, g, b] = self.stack.reflectance(&a).map(|r| self.code(r));
            *out = [r, g, b, 255];
        }
    }

    fn code(&self, linear: f32) -> u8 {
        self.codes[(linear.clamp(0.0, 1.0).sqrt() * STEPS + 0.5) as usize] as u8
    }
}

/// Nearest entry of a gain table.
fn gain_index(coverage: u16) -> usize {
    (usize::from(coverage) + (1 << (GAIN_SHIFT - 1))) >> GAIN_SHIFT
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::Rgb8;
    use crate::ink::{Garment, Ink, InkRole};
    use crate::press::{Ground, PrintModel};
    use crate::units::{Lpi, Opacity};

    fn ink(name: &str, rgb: [u8; 3], opacity: f64) -> Ink {
        let opacity = Opacity::new(opacity).unwrap();
        Ink { name: name.into(), over_white: Rgb8(rgb), opacity, role: InkRole::Color, measured: false, spectra: None }
    }

    /// The fast rows are never more than one code off the plain one, with and without gain, at
    /// lengths that do not fill a block or a register.
    #[test]
    fn fast_rows_equal_plain_rows() {
        let inks = [
            ink("a", [20, 20, 24], 0.9),
            ink("b", [200, 40, 50], 0.7),
            ink("c", [250, 220, 70], 0.5),
            ink("d", [240, 240, 236], 0.8),
        ];
        for compensate in [true, false] {
            let press = PrintModel { compensate, ..PrintModel::default() };
            for fabric in [[255; 3], [12, 12, 14], [30, 60, 120]] {
                let garment = Garment::of_color(Rgb8(fabric));
                let list = inks.iter().map(|i| (i.name.as_str(), i, 1));
                let ground = Ground { garment: &garment, press: &press, ruling: Lpi::new(45.0).unwrap() };
                let stack = Stack::of_inks(&ground, list);
                let composite = Composite::new(&stack);
                let width = 777;
                let planes: Vec<Vec<u16>> = (0..inks.len())
                    .map(|i| (0..width).map(|x| ((x * (7919 * i + 104_729)) % 65_536) as u16).collect())
                    .collect();
                let rows: Vec<&[u16]> = planes.iter().map(Vec::as_slice).collect();
                let (mut fast, mut plain) = (vec![[1u8; 4]; width], vec![[2u8; 4]; width]);
                composite.row_plain(&rows, &mut plain);
                // A form says how many pixels it did; none where the machine lacks it.
                type Form = fn(&Composite<'_>, &[&[u16]], &mut [[u8; 4]]) -> usize;
                let whole: [Form; 2] = [
                    |composite, rows, out| (composite.row(rows, out), out.len()).1,
                    |composite, rows, out| (composite.row_blocks(rows, out), out.len()).1,
                ];
                #[cfg(target_arch = "x86_64")]
                let vector: [Form; 2] = [super::super::composite_simd::row, super::super::composite_avx512::row];
                #[cfg(not(target_arch = "x86_64"))]
                let vector: [Form; 0] = [];
                for form in whole.into_iter().chain(vector) {
                    fast.fill([1; 4]);
                    let done = form(&composite, &rows, &mut fast);
                    for (f, p) in fast[..done].as_flattened().iter().zip(plain.as_flattened()) {
                        assert!(f.abs_diff(*p) <= 1, "{f} {p}");
                    }
                }
                #[cfg(target_arch = "x86_64")]
                assert!(
                    composite.gain.iter().all(|gain| gain.parts.is_some()),
                    "the usual gain can be made of parabolas"
                );
            }
        }
    }
}
