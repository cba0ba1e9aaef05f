//! Rows of the proof with AVX2: sixteen pixels at a time in two groups of eight, so that one group's
//! sums go on while the other's gathers wait; every layer in registers, gain and codes by gather.
//! Tested against the plain form beside the others in `composite.rs`.

#![expect(
    unsafe_code,
    reason = "loads, stores and gathers by pointer; lengths are checked first, indices are clamped to their tables"
)]

use std::arch::x86_64::{
    __m128i, __m256, __m256i, _mm_loadu_si128, _mm256_add_epi32, _mm256_add_ps, _mm256_cvtepi32_ps,
    _mm256_cvtepu16_epi32, _mm256_cvttps_epi32, _mm256_fmadd_ps, _mm256_i32gather_epi32, _mm256_i32gather_ps,
    _mm256_max_ps, _mm256_min_ps, _mm256_mul_ps, _mm256_or_si256, _mm256_set1_epi32, _mm256_set1_ps, _mm256_setzero_ps,
    _mm256_slli_epi32, _mm256_sqrt_ps, _mm256_srli_epi32, _mm256_storeu_si256,
};

use super::composite::{Composite, GAIN_SHIFT, STEPS};

/// As many pixels of the row as fill registers, where the machine has AVX2 and FMA. Returns how
/// many were done; the caller does the rest.
///
/// # Panics
/// If there are fewer rows than layers or a row is shorter than `out`.
pub(super) fn row(composite: &Composite<'_>, rows: &[&[u16]], out: &mut [[u8; 4]]) -> usize {
    if !(is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma")) {
        return 0;
    }
    assert!(rows.len() <= composite.stack.layers.len() && rows.iter().all(|row| row.len() >= out.len()));
    assert!(composite.codes.len() > STEPS as usize);
    assert!(composite.gain.iter().all(|gain| gain.table.len() > 1 << (16 - GAIN_SHIFT)));
    // SAFETY: the features are there; lengths of rows and tables are checked above.
    unsafe { groups_of_sixteen(composite, rows, out) }
}

/// What a layer does, with its row and its table of gain.
struct LayerRow {
    row: *const u16,
    gain: Option<*const f32>,
    scatter: [f32; 3],
    less: [f32; 3],
}

#[target_feature(enable = "avx2,fma")]
fn groups_of_sixteen(composite: &Composite<'_>, rows: &[&[u16]], out: &mut [[u8; 4]]) -> usize {
    let layers = rows.iter().zip(&composite.stack.layers).enumerate().map(|(at, (row, layer))| LayerRow {
        row: row.as_ptr(),
        gain: composite.gain.get(at).map(|gain| gain.table.as_ptr()),
        scatter: layer.scatter,
        less: layer.through.map(|t| t - 1.0),
    });
    let layers: Vec<LayerRow> = layers.collect();
    let fabric = composite.stack.garment.map(|r| _mm256_set1_ps(r));
    let groups = out.len() / 16;
    for group in 0..groups {
        let mut halves = [fabric; 2];
        for layer in &layers {
            let coverage = [0, 1].map(|half| {
                // SAFETY: rows are as long as `out`, of which this is a whole group of sixteen.
                let codes = unsafe { _mm_loadu_si128(layer.row.add(group * 16 + half * 8).cast()) };
                printed(codes, layer.gain)
            });
            for band in 0..3 {
                let (scatter, less) = (_mm256_set1_ps(layer.scatter[band]), _mm256_set1_ps(layer.less[band]));
                for (bands, a) in halves.iter_mut().zip(coverage) {
                    let change = _mm256_fmadd_ps(less, bands[band], scatter);
                    bands[band] = _mm256_fmadd_ps(a, change, bands[band]);
                }
            }
        }
        for (half, bands) in halves.into_iter().enumerate() {
            let [r, g, b] = bands.map(|band| codes_of(composite.codes.as_ptr(), band));
            let opaque = _mm256_set1_epi32(255 << 24);
            let gb = _mm256_or_si256(_mm256_slli_epi32::<8>(g), _mm256_slli_epi32::<16>(b));
            let pixels = _mm256_or_si256(_mm256_or_si256(r, opaque), gb);
            // SAFETY: `out` has sixteen pixels of four bytes from the group's begin on, this is one half.
            unsafe { _mm256_storeu_si256(out.as_mut_ptr().add(group * 16 + half * 8).cast(), pixels) };
        }
    }
    groups * 16
}

/// Printed coverage, 0..=1, of eight 16-bit codes.
#[target_feature(enable = "avx2,fma")]
fn printed(codes: __m128i, gain: Option<*const f32>) -> __m256 {
    let codes = _mm256_cvtepu16_epi32(codes);
    match gain {
        None => _mm256_mul_ps(_mm256_cvtepi32_ps(codes), _mm256_set1_ps(1.0 / 65535.0)),
        Some(table) => {
            let half_step = _mm256_set1_epi32(1 << (GAIN_SHIFT - 1));
            let index = _mm256_srli_epi32::<{ GAIN_SHIFT as i32 }>(_mm256_add_epi32(codes, half_step));
            // SAFETY: a 16-bit code gives an index of at most 4096, and the table holds it.
            unsafe { _mm256_i32gather_ps::<4>(table, index) }
        }
    }
}

/// 8-bit codes of linear light.
#[target_feature(enable = "avx2,fma")]
fn codes_of(table: *const i32, linear: __m256) -> __m256i {
    // The order of operands makes NaN nought.
    let light = _mm256_min_ps(_mm256_max_ps(linear, _mm256_setzero_ps()), _mm256_set1_ps(1.0));
    let steps = _mm256_mul_ps(_mm256_sqrt_ps(light), _mm256_set1_ps(STEPS));
    let index = _mm256_cvttps_epi32(_mm256_add_ps(steps, _mm256_set1_ps(0.5)));
    // SAFETY: light within 0..=1 gives an index within the table of STEPS + 1 codes.
    unsafe { _mm256_i32gather_epi32::<4>(table, index) }
}
