//! The table look-up with SSE2, which every x86-64 has: same integers as the plain one, eight
//! pixels at a time. Wider registers gain little, since finding the corners takes most of the time.
//!
//! A node's coverages are one 128-bit register of 16-bit values less 32768; two corners and their
//! 15-bit weights meet in one multiply-add. Weights are negated, because one whole (32768) has no
//! positive 16-bit form. Eight pixels are turned round in registers so that planes are written in
//! full lines.

#![expect(
    unsafe_code,
    reason = "loads and stores by pointer; every index comes from a 16-bit channel and is bounded by it"
)]

use std::arch::x86_64::{
    __m128i, _mm_add_epi32, _mm_loadu_si128, _mm_madd_epi16, _mm_packs_epi32, _mm_set1_epi16, _mm_set1_epi32,
    _mm_srai_epi32, _mm_storeu_si128, _mm_sub_epi32, _mm_unpackhi_epi16, _mm_unpackhi_epi32, _mm_unpackhi_epi64,
    _mm_unpacklo_epi16, _mm_unpacklo_epi32, _mm_unpacklo_epi64, _mm_xor_si128,
};

use super::lookup::{CELL, axis_position};
use super::table::{SIDE, Table};
use crate::raster::Rgba16;

const R: usize = SIDE * SIDE;
const G: usize = SIDE;
const B: usize = 1;

/// The second and third corner's distance from the first, by which of r>=g, g>=b, r>=b hold
/// (bits 2, 1, 0). Impossible combinations repeat a possible one.
const WALK: [(usize, usize); 8] =
    [(B, B + G), (B, B + G), (G, G + B), (G, G + R), (B, B + R), (R, R + B), (R, R + G), (R, R + G)];

/// Coverages of opaque pixels; as many as fill groups of eight. Returns how many were done.
/// `signed` is the table's data, each value less 32768.
///
/// # Panics
/// If the rows are shorter than the pixels.
pub(super) fn row(table: &Table, signed: &[i16], pixels: &[Rgba16], out: &mut [&mut [u16]], from: usize) -> usize {
    assert!(signed.len() >= SIDE * SIDE * SIDE * table.lanes && out.len() >= table.screens);
    assert!(out.iter().all(|row| row.len() >= from + pixels.len()));
    let groups = pixels.len() / 8;
    // SAFETY: every x86-64 has SSE2; lengths are checked above.
    unsafe { groups_of_eight(table, signed, &pixels[..groups * 8], out, from) };
    groups * 8
}

#[target_feature(enable = "sse2")]
fn groups_of_eight(table: &Table, signed: &[i16], pixels: &[Rgba16], out: &mut [&mut [u16]], from: usize) {
    let lanes = table.lanes;
    for (group, eight) in pixels.chunks_exact(8).enumerate() {
        for block in 0..lanes / 8 {
            let mut done = [_mm_set1_epi16(0); 8];
            for (done, pixel) in done.iter_mut().zip(eight) {
                // SAFETY: `corner` gives node indices inside the cube, `block` is inside a node.
                *done = unsafe { one(signed.as_ptr().add(block * 8), lanes, pixel) };
            }
            let rows = turn(done);
            let screens = table.screens.saturating_sub(block * 8).min(8);
            for (row, plane) in rows.into_iter().take(screens).zip(out[block * 8..].iter_mut()) {
                // SAFETY: `row` has checked that rows reach to `from + pixels.len()`.
                unsafe { _mm_storeu_si128(plane.as_mut_ptr().add(from + group * 8).cast::<__m128i>(), row) };
            }
        }
    }
}

#[inline]
#[target_feature(enable = "sse2")]
unsafe fn one(signed: *const i16, lanes: usize, pixel: &Rgba16) -> __m128i {
    let split = |value: u16| {
        let position = axis_position(value);
        let cell = (position / CELL).min(SIDE as u32 - 2);
        (cell as usize, position - cell * CELL)
    };
    let ((cr, r), (cg, g), (cb, b)) = (split(pixel[0]), split(pixel[1]), split(pixel[2]));
    let order = usize::from(r >= g) << 2 | usize::from(g >= b) << 1 | usize::from(r >= b);
    let (second, third) = WALK[order];
    let most = r.max(g).max(b);
    let least = r.min(g).min(b);
    let middle = r + g + b - most - least;
    let base = cr * R + cg * G + cb;
    let load = |node: usize| {
        // SAFETY: node < SIDE^3, since cells end one before the last node.
        unsafe { _mm_loadu_si128(signed.add(node * lanes).cast::<__m128i>()) }
    };
    let (v0, v1, v2, v3) = (load(base), load(base + second), load(base + third), load(base + R + G + B));
    let pair = |a: u32, b: u32| _mm_set1_epi32((a.wrapping_neg() & 0xFFFF | b.wrapping_neg() << 16) as i32);
    let (w01, w23) = (pair(CELL - most, most - middle), pair(middle - least, least));
    let low =
        _mm_add_epi32(_mm_madd_epi16(_mm_unpacklo_epi16(v0, v1), w01), _mm_madd_epi16(_mm_unpacklo_epi16(v2, v3), w23));
    let high =
        _mm_add_epi32(_mm_madd_epi16(_mm_unpackhi_epi16(v0, v1), w01), _mm_madd_epi16(_mm_unpackhi_epi16(v2, v3), w23));
    let half = _mm_set1_epi32((CELL / 2) as i32);
    let round = |x: __m128i| _mm_srai_epi32::<15>(_mm_sub_epi32(half, x));
    _mm_xor_si128(_mm_packs_epi32(round(low), round(high)), _mm_set1_epi16(i16::MIN))
}

/// Eight pixels of eight screens become eight screens of eight pixels.
#[inline]
#[target_feature(enable = "sse2")]
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
