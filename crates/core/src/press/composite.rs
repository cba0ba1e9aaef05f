//! The proof, fast: rows of coverage to 8-bit sRGB. The plain form is `Stack::reflectance` and
//! `encode_u16`, pixel by pixel. This one takes blocks of a row: each layer's coverages are printed by its
//! gain, laid over the garment (`layers.rs`), and what comes of it turned to codes; gain and code are both
//! read from a curve (`curve.rs`). Stacks with Yule-Nielsen's n other than 1 take the plain form, and those whose
//! dots share a lattice: their sums do not factor.

use std::sync::Arc;

use fearless_simd::Level;

use super::Stack;
use super::curve::Curve;
use super::layers::{self, BLOCK, Solid};
use crate::color::encode_u16;
use crate::simd;

/// Steps of the square root of linear light in the plain form's table of codes.
const STEPS: f32 = 4095.0;

/// Film coverage to printed coverage in 4096 steps: one is far below a code of the proof.
type Gain = Curve<4>;
/// How far parabolas may stray from a gain, in 16-bit codes: 0.15 of an 8-bit one.
const GAIN_CLOSE: f32 = 0.15 * 257.0;

/// Linear light to 8-bit codes in 32768 steps, ten to a code where codes are closest.
type Codes = Curve<1>;

/// A stack made ready for rows of pixels.
pub struct Composite<'a> {
    stack: &'a Stack,
    garment: [u16; 3],
    solids: Vec<Solid>,
    /// Per layer; empty for none.
    gain: Vec<Arc<Gain>>,
    codes: Codes,
    /// 8-bit codes by the square root of linear light; for the plain form.
    plain_codes: Vec<u8>,
}

/// 16 bits of a share of light.
fn whole(share: f32) -> u16 {
    (share.clamp(0.0, 1.0) * 65535.0 + 0.5) as u16
}

impl<'a> Composite<'a> {
    /// Prepares the tables of a stack.
    pub fn new(stack: &'a Stack) -> Self {
        // Layers of one curve share its table, which then stays in the nearest cache.
        let mut gain: Vec<Arc<Gain>> = Vec::new();
        for (at, curve) in stack.gain.iter().enumerate() {
            gain.push(match stack.gain[..at].iter().position(|other| other == curve) {
                Some(same) => gain[same].clone(),
                None => Arc::new(Gain::new(&|coverage| curve.print(coverage) * 65535.0, GAIN_CLOSE)),
            });
        }
        let solid = |layer: &super::Layer| Solid {
            scatter: layer.scatter.map(whole),
            take: layer.through.map(|through| whole(1.0 - through)),
        };
        let code = |root: f32| f32::from(encode_u16([root * root; 3])[0]) / 257.0;
        Self {
            stack,
            garment: stack.garment.map(whole),
            solids: stack.layers.iter().map(solid).collect(),
            gain,
            codes: Codes::new(&|linear| f32::from(encode_u16([linear; 3])[0]) / 257.0, 0.1),
            plain_codes: (0..=STEPS as usize).map(|i| (code(i as f32 / STEPS) + 0.5) as u8).collect(),
        }
    }

    /// One row: `rows` holds a slice of coverage for each layer, all as long as `out`; out comes
    /// opaque sRGB.
    ///
    /// # Panics
    /// If there are more rows than layers or a row is shorter than `out`.
    pub fn row(&self, rows: &[&[u16]], out: &mut [[u8; 4]]) {
        if self.stack.yule_nielsen != 1.0 || !self.stack.meetings.is_empty() {
            return self.row_plain(rows, out);
        }
        self.row_at(simd::level(), rows, out);
    }

    fn row_at(&self, level: Level, rows: &[&[u16]], out: &mut [[u8; 4]]) {
        let solids = &self.solids[..rows.len()];
        let mut coverages = vec![[0; BLOCK]; rows.len()];
        let mut bands = [[0; BLOCK]; 3];
        for (at, out) in out.chunks_mut(BLOCK).enumerate() {
            for (layer, (row, coverage)) in rows.iter().zip(&mut coverages).enumerate() {
                let row = &row[at * BLOCK..][..out.len()];
                match self.gain.get(layer) {
                    Some(gain) => gain.read(level, row, coverage),
                    None => coverage[..row.len()].copy_from_slice(row),
                }
            }
            layers::lay(level, self.garment, solids, &coverages, &mut bands);
            self.codes.read_pixels(level, &bands, out);
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
        self.plain_codes[(linear.clamp(0.0, 1.0).sqrt() * STEPS + 0.5) as usize]
    }
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
                let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).unwrap());
                let stack = Stack::of_inks(&ground, list);
                let composite = Composite::new(&stack);
                let width = 777;
                let planes: Vec<Vec<u16>> = (0..inks.len())
                    .map(|i| (0..width).map(|x| ((x * (7919 * i + 104_729)) % 65_536) as u16).collect())
                    .collect();
                let rows: Vec<&[u16]> = planes.iter().map(Vec::as_slice).collect();
                let (mut plain, mut first) = (vec![[2u8; 4]; width], Vec::new());
                composite.row_plain(&rows, &mut plain);
                for (level, token) in simd::each() {
                    let mut fast = vec![[1u8; 4]; width];
                    composite.row_at(token, &rows, &mut fast);
                    for (f, p) in fast.as_flattened().iter().zip(plain.as_flattened()) {
                        assert!(f.abs_diff(*p) <= 1, "{level:?}: {f} {p}");
                    }
                    if first.is_empty() {
                        first.clone_from(&fast);
                    }
                    assert_eq!(fast, first, "{level:?} against the fewest vectors");
                }
            }
        }
    }
}
