//! Rows of the proof with AVX-512: sixteen pixels at a time, every layer in registers. Gathers cost more
//! than sums there, so gain is made of parabolas whose numbers a permutation picks out of two registers,
//! and codes come from a polynomial. Used where the parabolas follow the curve closely; tested against the
//! plain form beside the others in `composite.rs`.

#![expect(unsafe_code, reason = "loads and stores by pointer; lengths are checked first")]

use std::arch::x86_64::*;

use super::composite::Composite;

/// Parts of a gain curve, even steps of the square root of coverage: dots that grow at their edges begin
/// with its slope. The 22nd ends at one half, where dots become holes and the curve bends; the last lies
/// mostly beyond solid.
const PARTS: usize = 32;
/// The root of a part, of one for solid.
const PART: f32 = std::f32::consts::FRAC_1_SQRT_2 / 22.0;
/// The root of the last 16-bit code.
const LAST: f32 = 256.0;
/// How far the parts may stray from the curve, in 8-bit codes of coverage.
const CLOSE: f32 = 0.15 / 255.0;
/// 255 (1.055 t^(5/6) - 0.055), t being the square root of linear light, from the end of sRGB's straight
/// part to 1: minimax (Lawson's iteration), off by 0.04 at most. Highest power first.
const CURVE: [f32; 7] = [-241.889_05, 872.531_25, -1_276.785_5, 994.710_6, -484.556, 401.721_16, -10.770_473];

/// A gain curve as parabolas, each over a part of the root of coverage that counts from 0 to 1.
#[derive(Debug, Clone)]
pub(super) struct Parts {
    base: [f32; PARTS],
    slope: [f32; PARTS],
    bend: [f32; PARTS],
}

impl Parts {
    /// Of a table of even steps from none to solid; none where the curve bends too sharply.
    pub(super) fn of(table: &[f32]) -> Option<Self> {
        let steps = (table.len() - 1) as f32;
        // Between two steps of the table straight on, and so beyond its end.
        let at = |root: f32| {
            let place = (root * PART).powi(2) * steps;
            let left = (place as usize).min(table.len() - 2);
            table[left] + (table[left + 1] - table[left]) * (place - left as f32)
        };
        let ends = |part: usize| [0.0, 0.5, 1.0].map(|u| at(part as f32 + u));
        let parts = Self {
            base: std::array::from_fn(|part| ends(part)[0]),
            slope: std::array::from_fn(|part| {
                let [from, middle, to] = ends(part);
                4.0 * middle - 3.0 * from - to
            }),
            bend: std::array::from_fn(|part| {
                let [from, middle, to] = ends(part);
                2.0 * (from + to) - 4.0 * middle
            }),
        };
        let near = |(at, &want): (usize, &f32)| (parts.at((at as f32 / steps).sqrt()) - want).abs() <= CLOSE;
        table.iter().enumerate().all(near).then_some(parts)
    }

    /// Printed coverage by the root of a coverage.
    fn at(&self, root: f32) -> f32 {
        let part = ((root / PART) as usize).min(PARTS - 1);
        let u = root / PART - part as f32;
        self.base[part] + u * (self.slope[part] + u * self.bend[part])
    }
}

/// As many pixels of the row as fill registers, where the machine has AVX-512. Returns how many were done;
/// the caller does the rest.
///
/// # Panics
/// If there are more rows than layers or a row is shorter than `out`.
pub(super) fn row(composite: &Composite<'_>, rows: &[&[u16]], out: &mut [[u8; 4]]) -> usize {
    let parts: Option<Vec<&Parts>> = composite.gain.iter().map(|gain| gain.parts.as_ref()).collect();
    let Some(parts) = parts.filter(|_| is_x86_feature_detected!("avx512f")) else { return 0 };
    assert!(rows.len() <= composite.stack.layers.len() && rows.iter().all(|row| row.len() >= out.len()));
    assert!(parts.is_empty() || parts.len() >= rows.len());
    // SAFETY: the feature is there; lengths of rows are checked above.
    unsafe { groups_of_sixteen(composite, &parts, rows, out) }
}

/// What a layer does, with its row and its gain.
struct LayerRow<'a> {
    row: *const u16,
    gain: Option<&'a Parts>,
    scatter: [f32; 3],
    less: [f32; 3],
}

#[target_feature(enable = "avx512f")]
fn groups_of_sixteen(composite: &Composite<'_>, parts: &[&Parts], rows: &[&[u16]], out: &mut [[u8; 4]]) -> usize {
    let layers = rows.iter().zip(&composite.stack.layers).enumerate().map(|(at, (row, layer))| LayerRow {
        row: row.as_ptr(),
        gain: parts.get(at).copied(),
        scatter: layer.scatter,
        less: layer.through.map(|t| t - 1.0),
    });
    let layers: Vec<LayerRow<'_>> = layers.collect();
    let fabric = composite.stack.garment.map(|r| _mm512_set1_ps(r));
    let groups = out.len() / 16;
    for group in 0..groups {
        let mut bands = fabric;
        for layer in &layers {
            // SAFETY: rows are as long as `out`, of which this is a whole group of sixteen.
            let codes = unsafe { _mm256_loadu_si256(layer.row.add(group * 16).cast()) };
            let a = printed(codes, layer.gain);
            for (band, (&scatter, &less)) in bands.iter_mut().zip(layer.scatter.iter().zip(&layer.less)) {
                let change = _mm512_fmadd_ps(_mm512_set1_ps(less), *band, _mm512_set1_ps(scatter));
                *band = _mm512_fmadd_ps(a, change, *band);
            }
        }
        let [r, g, b] = bands.map(|band| codes_of(band));
        let opaque = _mm512_set1_epi32(255 << 24);
        let gb = _mm512_or_si512(_mm512_slli_epi32::<8>(g), _mm512_slli_epi32::<16>(b));
        let pixels = _mm512_or_si512(_mm512_or_si512(r, opaque), gb);
        // SAFETY: `out` has sixteen pixels of four bytes from the group's begin on.
        unsafe { _mm512_storeu_si512(out.as_mut_ptr().add(group * 16).cast(), pixels) };
    }
    groups * 16
}

/// Printed coverage, 0..=1, of sixteen 16-bit codes.
#[inline]
#[target_feature(enable = "avx512f")]
fn printed(codes: __m256i, gain: Option<&Parts>) -> __m512 {
    let codes = _mm512_cvtepu16_epi32(codes);
    let Some(parts) = gain else {
        return _mm512_mul_ps(_mm512_cvtepi32_ps(codes), _mm512_set1_ps(1.0 / 65535.0));
    };
    // The root by way of its inverse, good to 14 bits; kept off nought, whose inverse is none.
    let code = _mm512_max_ps(_mm512_cvtepi32_ps(codes), _mm512_set1_ps(1e-6));
    let root = _mm512_min_ps(_mm512_mul_ps(code, _mm512_rsqrt14_ps(code)), _mm512_set1_ps(LAST));
    let root = _mm512_mul_ps(root, _mm512_set1_ps(1.0 / (LAST * PART)));
    let part = _mm512_cvttps_epi32(root);
    let u = _mm512_sub_ps(root, _mm512_cvtepi32_ps(part));
    let of = |values: &[f32; PARTS]| {
        // SAFETY: there are 32 values, sixteen in each half.
        let (low, high) = unsafe { (_mm512_loadu_ps(values.as_ptr()), _mm512_loadu_ps(values.as_ptr().add(16))) };
        _mm512_permutex2var_ps(low, part, high)
    };
    _mm512_fmadd_ps(_mm512_fmadd_ps(of(&parts.bend), u, of(&parts.slope)), u, of(&parts.base))
}

/// 8-bit codes of linear light.
#[inline]
#[target_feature(enable = "avx512f")]
fn codes_of(linear: __m512) -> __m512i {
    // The order of operands makes NaN next to nought.
    let light = _mm512_min_ps(_mm512_max_ps(linear, _mm512_set1_ps(1e-9)), _mm512_set1_ps(1.0));
    let root = _mm512_mul_ps(light, _mm512_rsqrt14_ps(light));
    let mut curve = _mm512_set1_ps(CURVE[0]);
    for c in &CURVE[1..] {
        curve = _mm512_fmadd_ps(curve, root, _mm512_set1_ps(*c));
    }
    let straight = _mm512_mul_ps(light, _mm512_set1_ps(12.92 * 255.0));
    let dark = _mm512_cmp_ps_mask::<_CMP_LE_OQ>(light, _mm512_set1_ps(0.003_130_8));
    let code = _mm512_mask_blend_ps(dark, curve, straight);
    _mm512_cvttps_epi32(_mm512_add_ps(code, _mm512_set1_ps(0.5)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_follow_soft_curves_and_refuse_sharp_ones() {
        let table = |curve: &dyn Fn(f32) -> f32| (0..=4096).map(|v| curve(v as f32 / 4096.0)).collect::<Vec<_>>();
        let growing = |v: f32| v + 0.3 * v.sqrt() * (1.0 - v);
        let parts = Parts::of(&table(&growing)).expect("it grows at its edges");
        for code in (0..=65_535u16).step_by(13) {
            let coverage = f32::from(code) / 65_536.0;
            let made = parts.at(coverage.sqrt());
            assert!((made - growing(coverage)).abs() <= 2.0 * CLOSE, "{code}: {made}");
        }
        assert!(Parts::of(&table(&|v| v)).is_some());
        assert!(Parts::of(&table(&|v| if v < 0.51 { 0.0 } else { 1.0 })).is_none());
        assert!(Parts::of(&table(&|v| (v * 7.3).min(1.0))).is_none());
    }
}
