//! The table look-up with AVX2, found at run time: same integers as the plain one, eight pixels at
//! a time. Where cells, weights and corners are found in vectors too, that part costs no more than
//! the mixing; done pixel by pixel it took most of the time.
//!
//! A node's coverages are one 128-bit register of 16-bit values less 32768; two pixels share a
//! 256-bit one. Two corners and their 15-bit weights meet in one multiply-add. Weights are negated,
//! because one whole (32768) has no positive 16-bit form. Eight pixels are turned round in
//! registers so that planes are written in full lines. A processor without AVX2 takes the plain way.

#![expect(
    unsafe_code,
    reason = "loads and stores by pointer; every index comes from a 16-bit channel and is bounded by it"
)]

use std::arch::x86_64::*;

use super::lookup::{CELL, finer};
use super::table::Table;
use crate::raster::Rgba16;

/// Whether this processor can.
pub(super) fn available() -> bool {
    is_x86_feature_detected!("avx2")
}

/// Coverages of opaque pixels; as many as fill groups of eight. Returns how many were done.
/// `signed` is the table's data, each value less 32768.
///
/// # Panics
/// If the rows are shorter than the pixels, or without AVX2.
pub(super) fn row(table: &Table, signed: &[i16], pixels: &[Rgba16], out: &mut [&mut [u16]], from: usize) -> usize {
    assert!(available(), "no AVX2");
    let side = table.side;
    assert!(signed.len() >= side * side * side * table.lanes && out.len() >= table.screens);
    assert!(out.iter().all(|row| row.len() >= from + pixels.len()));
    let groups = pixels.len() / 8;
    // SAFETY: AVX2 and lengths are checked above.
    unsafe { groups_of_eight(table, signed, &pixels[..groups * 8], out, from) };
    groups * 8
}

/// Corners and weights of eight pixels: offsets of four nodes in values, and two pairs of negated
/// weights.
#[repr(C, align(32))]
struct Eight {
    nodes: [[u32; 8]; 4],
    pairs: [[u32; 8]; 2],
}

#[target_feature(enable = "avx2")]
fn groups_of_eight(table: &Table, signed: &[i16], pixels: &[Rgba16], out: &mut [&mut [u16]], from: usize) {
    let blocks = table.lanes / 8;
    let mut eight = Eight { nodes: [[0; 8]; 4], pairs: [[0; 8]; 2] };
    for (group, pixels) in pixels.chunks_exact(8).enumerate() {
        find(table, pixels, &mut eight);
        for block in 0..blocks {
            // SAFETY: `find` gives nodes inside the table, `block` is inside a node.
            let rows = turn(unsafe { mix(signed.as_ptr().add(block * 8), &eight) });
            let screens = table.screens.saturating_sub(block * 8).min(8);
            for (row, plane) in rows.into_iter().take(screens).zip(out[block * 8..].iter_mut()) {
                // SAFETY: `row` has checked that rows reach to `from + pixels.len()`.
                unsafe { _mm_storeu_si128(plane.as_mut_ptr().add(from + group * 8).cast::<__m128i>(), row) };
            }
        }
    }
}

/// Cells and weights of eight pixels, as `lookup::corners` finds them.
#[inline]
#[target_feature(enable = "avx2")]
fn find(table: &Table, pixels: &[Rgba16], eight: &mut Eight) {
    let side = table.side as i32;
    let add = |a, b| _mm256_add_epi32(a, b);
    let sub = |a, b| _mm256_sub_epi32(a, b);
    let (r, g, b) = {
        // SAFETY: eight pixels are 64 bytes.
        let (low, high) = unsafe {
            let at = pixels.as_ptr().cast::<__m256i>();
            (_mm256_loadu_si256(at), _mm256_loadu_si256(at.add(1)))
        };
        // Red and green of a pixel share one 32-bit value, blue and alpha the next.
        let rg = _mm256_shuffle_ps::<0b10_00_10_00>(_mm256_castsi256_ps(low), _mm256_castsi256_ps(high));
        let ba = _mm256_shuffle_ps::<0b11_01_11_01>(_mm256_castsi256_ps(low), _mm256_castsi256_ps(high));
        // Halves interleave by twos: put pixels back in their order.
        let rg = _mm256_permute4x64_epi64::<0b11_01_10_00>(_mm256_castps_si256(rg));
        let ba = _mm256_permute4x64_epi64::<0b11_01_10_00>(_mm256_castps_si256(ba));
        let mask = _mm256_set1_epi32(0xFFFF);
        (_mm256_and_si256(rg, mask), _mm256_srli_epi32::<16>(rg), _mm256_and_si256(ba, mask))
    };
    let finer = _mm_cvtsi32_si128(finer(table.side) as i32);
    let last = _mm256_set1_epi32(side - 2);
    let split = |v: __m256i| {
        let carry = _mm256_srli_epi32::<12>(add(v, _mm256_set1_epi32(0x800)));
        let position = _mm256_sll_epi32(add(_mm256_slli_epi32::<4>(v), carry), finer);
        let cell = _mm256_min_epu32(_mm256_srli_epi32::<15>(position), last);
        (cell, sub(position, _mm256_slli_epi32::<15>(cell)))
    };
    let ((cr, r), (cg, g), (cb, b)) = (split(r), split(g), split(b));
    let (most, least) = (_mm256_max_epu32(_mm256_max_epu32(r, g), b), _mm256_min_epu32(_mm256_min_epu32(r, g), b));
    let middle = sub(sub(add(add(r, g), b), most), least);
    // Which of r >= g, g >= b, r >= b hold, as bits 2, 1, 0.
    let not_less = |a, b| _mm256_cmpgt_epi32(add(a, _mm256_set1_epi32(1)), b);
    let bit = |holds, n: i32| _mm256_and_si256(holds, _mm256_set1_epi32(n));
    let order =
        _mm256_or_si256(_mm256_or_si256(bit(not_less(r, g), 4), bit(not_less(g, b), 2)), bit(not_less(r, b), 1));
    // The second and third corner's distance from the first, by order. Impossible orders repeat a
    // possible one.
    let (rs, gs, bs) = (side * side, side, 1);
    let second = _mm256_setr_epi32(bs, bs, gs, gs, bs, rs, rs, rs);
    let third = _mm256_setr_epi32(bs + gs, bs + gs, gs + bs, gs + rs, bs + rs, rs + bs, rs + gs, rs + gs);
    let mul = |a, n: i32| _mm256_mullo_epi32(a, _mm256_set1_epi32(n));
    let base = add(add(mul(cr, rs), mul(cg, gs)), cb);
    let lanes = table.lanes as i32;
    let nodes = [
        base,
        add(base, _mm256_permutevar8x32_epi32(second, order)),
        add(base, _mm256_permutevar8x32_epi32(third, order)),
        add(base, _mm256_set1_epi32(rs + gs + bs)),
    ];
    let minus = |a, b| _mm256_and_si256(sub(b, a), _mm256_set1_epi32(0xFFFF));
    let pair = |a, b| _mm256_or_si256(a, _mm256_slli_epi32::<16>(b));
    let pairs = [
        pair(minus(_mm256_set1_epi32(CELL as i32), most), minus(most, middle)),
        pair(minus(middle, least), minus(least, _mm256_setzero_si256())),
    ];
    for (to, node) in eight.nodes.iter_mut().zip(nodes) {
        // SAFETY: aligned arrays of 32 bytes.
        unsafe { _mm256_store_si256(to.as_mut_ptr().cast(), mul(node, lanes)) };
    }
    for (to, pair) in eight.pairs.iter_mut().zip(pairs) {
        // SAFETY: as above.
        unsafe { _mm256_store_si256(to.as_mut_ptr().cast(), pair) };
    }
}

/// Eight screens of eight pixels, a pixel a register.
#[inline]
#[target_feature(enable = "avx2")]
unsafe fn mix(signed: *const i16, eight: &Eight) -> [__m128i; 8] {
    let mut done = [_mm_setzero_si128(); 8];
    let half = _mm256_set1_epi32((CELL / 2) as i32);
    for two in 0..4 {
        let (p, q) = (2 * two, 2 * two + 1);
        // SAFETY: nodes are inside the table.
        let load = |corner: usize| unsafe {
            let at = |i: usize| _mm_loadu_si128(signed.add(eight.nodes[corner][i] as usize).cast());
            _mm256_inserti128_si256::<1>(_mm256_castsi128_si256(at(p)), at(q))
        };
        let weights = |k: usize| {
            let at = |i: usize| _mm_set1_epi32(eight.pairs[k][i] as i32);
            _mm256_inserti128_si256::<1>(_mm256_castsi128_si256(at(p)), at(q))
        };
        let (v0, v1, v2, v3) = (load(0), load(1), load(2), load(3));
        let (w01, w23) = (weights(0), weights(1));
        let low = _mm256_add_epi32(
            _mm256_madd_epi16(_mm256_unpacklo_epi16(v0, v1), w01),
            _mm256_madd_epi16(_mm256_unpacklo_epi16(v2, v3), w23),
        );
        let high = _mm256_add_epi32(
            _mm256_madd_epi16(_mm256_unpackhi_epi16(v0, v1), w01),
            _mm256_madd_epi16(_mm256_unpackhi_epi16(v2, v3), w23),
        );
        let round = |x: __m256i| _mm256_srai_epi32::<15>(_mm256_sub_epi32(half, x));
        let both = _mm256_xor_si256(_mm256_packs_epi32(round(low), round(high)), _mm256_set1_epi16(i16::MIN));
        done[p] = _mm256_castsi256_si128(both);
        done[q] = _mm256_extracti128_si256::<1>(both);
    }
    done
}

/// Eight pixels of eight screens become eight screens of eight pixels.
#[inline]
#[target_feature(enable = "avx2")]
fn turn(p: [__m128i; 8]) -> [__m128i; 8] {
    let a: [__m128i; 4] = std::array::from_fn(|i| _mm_unpacklo_epi16(p[2 * i], p[2 * i + 1]));
    let b: [__m128i; 4] = std::array::from_fn(|i| _mm_unpackhi_epi16(p[2 * i], p[2 * i + 1]));
    let four = |x: [__m128i; 4]| {
        let (l0, h0) = (_mm_unpacklo_epi32(x[0], x[1]), _mm_unpackhi_epi32(x[0], x[1]));
        let (l1, h1) = (_mm_unpacklo_epi32(x[2], x[3]), _mm_unpackhi_epi32(x[2], x[3]));
        [_mm_unpacklo_epi64(l0, l1), _mm_unpackhi_epi64(l0, l1), _mm_unpacklo_epi64(h0, h1), _mm_unpackhi_epi64(h0, h1)]
    };
    let ([p0, p1, p2, p3], [p4, p5, p6, p7]) = (four(a), four(b));
    [p0, p1, p2, p3, p4, p5, p6, p7]
}
