//! The table look-up by vectors: the same integers as the plain one, eight pixels at a time. Cells, weights
//! and corners are found in vectors too; pixel by pixel that took most of the time.
//!
//! A node's coverages are blocks of eight 16-bit values less 32768, four pixels to a vector. Two corners and
//! their 15-bit weights meet in one multiplication that adds pairs. Weights are negated, because one whole
//! (32768) has no positive 16-bit form. Eight pixels are turned round in registers, so that planes are
//! written in full lines.

use fearless_simd::{Level, i16x8, i16x32, i32x16, prelude::*, u16x8, u32x4, u32x8, u64x2};

use super::corners::{CELL, finer};
use super::table::Table;
use crate::raster::Rgba16;
use crate::simd::{Vectors, run};

/// Coverages of opaque pixels; as many as fill groups of eight. Returns how many were done.
/// `signed` is the table's data, each value less 32768.
///
/// # Panics
/// If the rows are shorter than the pixels.
pub(super) fn row(
    level: Level,
    table: &Table,
    signed: &[i16],
    pixels: &[Rgba16],
    out: &mut [&mut [u16]],
    from: usize,
) -> usize {
    let blocks = table.side.pow(3) * (table.lanes / 8);
    assert!(table.side > 1 && signed.as_chunks::<8>().0.len() >= blocks, "a value for every node");
    let groups = pixels.as_chunks::<8>().0;
    // Blocks of 128 bits are put together faster by twos than by fours.
    #[cfg(target_arch = "x86_64")]
    let level = level.as_avx2().map_or(level, fearless_simd::Simd::level);
    run!(level, simd => groups_of_eight(simd, table, signed, groups, out, from));
    groups.len() * 8
}

/// Corners and weights of eight pixels: blocks of the table at which four nodes begin, and two pairs of negated
/// weights.
struct Eight {
    nodes: [[u32; 8]; 4],
    pairs: [[u32; 8]; 2],
}

#[inline(always)]
fn groups_of_eight<S: Vectors>(
    simd: S,
    table: &Table,
    signed: &[i16],
    groups: &[[Rgba16; 8]],
    out: &mut [&mut [u16]],
    from: usize,
) {
    let (signed, blocks) = (signed.as_chunks::<8>().0, table.lanes / 8);
    for (group, pixels) in groups.iter().enumerate() {
        let eight = find(simd, table, pixels);
        for block in 0..blocks {
            let values = &signed[block..];
            let rows = turn(mix(simd, values, &eight, 0), mix(simd, values, &eight, 4));
            let screens = table.screens.saturating_sub(block * 8).min(8);
            for (row, plane) in rows.into_iter().take(screens).zip(out[block * 8..].iter_mut()) {
                row.store_slice(&mut plane[from + group * 8..][..8]);
            }
        }
    }
}

/// Cells and weights of eight pixels, as `corners::corners` finds them.
#[inline(always)]
fn find<S: Vectors>(simd: S, table: &Table, pixels: &[Rgba16; 8]) -> Eight {
    let [r, g, b, _] = u16x8::load_four_interleaved(simd, pixels.as_flattened());
    let ((r, g), (b, _)) = (r.combine(g).widen(), b.combine(b).widen());
    let ((cell_r, r), (cell_g, g), (cell_b, b)) = (split(table, r), split(table, g), split(table, b));
    let (most, least) = (r.max(g).max(b), r.min(g).min(b));
    let middle = r + g + b - most - least;
    let step_b = table.lanes as u32 / 8;
    let (step_g, step_r) = (step_b * table.side as u32, step_b * (table.side * table.side) as u32);
    let base = cell_r * step_r + cell_g * step_g + cell_b * step_b;
    // From the first corner along the axes in falling order of position.
    let (r_g, g_b, r_b) = (r.simd_ge(g), g.simd_ge(b), r.simd_ge(b));
    let second = r_g.select(
        r_b.select(u32x8::splat(simd, step_r), u32x8::splat(simd, step_b)),
        g_b.select(u32x8::splat(simd, step_g), u32x8::splat(simd, step_b)),
    );
    let third = r_g.select(
        g_b.select(u32x8::splat(simd, step_r + step_g), u32x8::splat(simd, step_r + step_b)),
        r_b.select(u32x8::splat(simd, step_g + step_r), u32x8::splat(simd, step_g + step_b)),
    );
    let nodes = [base, base + second, base + third, base + (step_r + step_g + step_b)];
    let cell = u32x8::splat(simd, CELL);
    // Negated: `b - a` for `a - b`.
    let pairs = [pair(most - cell, middle - most), pair(least - middle, u32x8::splat(simd, 0) - least)];
    Eight {
        nodes: [nodes[0].to_array(), nodes[1].to_array(), nodes[2].to_array(), nodes[3].to_array()],
        pairs: [pairs[0].to_array(), pairs[1].to_array()],
    }
}

/// Two 16-bit values side by side.
#[inline(always)]
fn pair<S: Vectors>(first: u32x8<S>, second: u32x8<S>) -> u32x8<S> {
    (first & 0xFFFF) | second << 16
}

/// Cells along one axis, and positions in them.
#[inline(always)]
fn split<S: Vectors>(table: &Table, value: u32x8<S>) -> (u32x8<S>, u32x8<S>) {
    let position = ((value << 4) + ((value + 0x800) >> 12)) << finer(table.side);
    let cell = (position >> CELL.trailing_zeros()).min(table.side as u32 - 2);
    (cell, position - (cell << CELL.trailing_zeros()))
}

/// Eight screens of four pixels from `first` on, a pixel a block.
#[inline(always)]
fn mix<S: Vectors>(simd: S, signed: &[[i16; 8]], eight: &Eight, first: usize) -> i16x32<S> {
    let (low, high) =
        simd.zip_by_blocks(corner(simd, signed, &eight.nodes[0], first), corner(simd, signed, &eight.nodes[1], first));
    let weights = of_blocks(simd, &eight.pairs[0], first);
    let (low_sum, high_sum) = (low.pairwise_dot_product(weights), high.pairwise_dot_product(weights));
    let (low, high) =
        simd.zip_by_blocks(corner(simd, signed, &eight.nodes[2], first), corner(simd, signed, &eight.nodes[3], first));
    let weights = of_blocks(simd, &eight.pairs[1], first);
    let (low_sum, high_sum) =
        (low_sum + low.pairwise_dot_product(weights), high_sum + high.pairwise_dot_product(weights));
    let half = i32x16::splat(simd, (CELL / 2) as i32);
    simd.narrow_by_blocks((half - low_sum) >> 15, (half - high_sum) >> 15) ^ i16::MIN
}

/// A corner's values of four pixels.
#[inline(always)]
fn corner<S: Vectors>(simd: S, signed: &[[i16; 8]], nodes: &[u32; 8], first: usize) -> i16x32<S> {
    let (a, b) = (node(simd, signed, nodes[first]), node(simd, signed, nodes[first + 1]));
    let (c, d) = (node(simd, signed, nodes[first + 2]), node(simd, signed, nodes[first + 3]));
    a.combine(b).combine(c.combine(d))
}

/// A block of the table.
#[inline(always)]
fn node<S: Vectors>(simd: S, signed: &[[i16; 8]], at: u32) -> i16x8<S> {
    debug_assert!((at as usize) < signed.len());
    #[expect(unsafe_code, reason = "32 checked reads for eight pixels take a sixth of their time")]
    // SAFETY: `find` holds cells to those of the table, whose blocks `row` has counted.
    let block = unsafe { signed.get_unchecked(at as usize) };
    i16x8::load_array_ref(simd, block)
}

/// A value for each of four blocks.
#[inline(always)]
fn of_blocks<S: Vectors>(simd: S, pairs: &[u32; 8], first: usize) -> i16x32<S> {
    let (a, b) = (u32x4::splat(simd, pairs[first]), u32x4::splat(simd, pairs[first + 1]));
    let (c, d) = (u32x4::splat(simd, pairs[first + 2]), u32x4::splat(simd, pairs[first + 3]));
    a.combine(b).combine(c.combine(d)).bitcast()
}

/// Eight pixels of eight screens become eight screens of eight pixels.
#[inline(always)]
fn turn<S: Vectors>(low: i16x32<S>, high: i16x32<S>) -> [u16x8<S>; 8] {
    let ((p0, p1), (p2, p3)) = (low.split().0.split(), low.split().1.split());
    let ((p4, p5), (p6, p7)) = (high.split().0.split(), high.split().1.split());
    let (a, b) = (fours(p0, p1, p2, p3), fours(p4, p5, p6, p7));
    let mut rows = [p0.bitcast(); 8];
    for k in 0..4 {
        rows[2 * k] = a[k].zip_low(b[k]).bitcast();
        rows[2 * k + 1] = a[k].zip_high(b[k]).bitcast();
    }
    rows
}

/// Four pixels of eight screens become eight screens of four pixels, two to a vector.
#[inline(always)]
fn fours<S: Vectors>(p: i16x8<S>, q: i16x8<S>, r: i16x8<S>, s: i16x8<S>) -> [u64x2<S>; 4] {
    let (pq_low, pq_high): (u32x4<S>, u32x4<S>) = (p.zip_low(q).bitcast(), p.zip_high(q).bitcast());
    let (rs_low, rs_high): (u32x4<S>, u32x4<S>) = (r.zip_low(s).bitcast(), r.zip_high(s).bitcast());
    [
        pq_low.zip_low(rs_low).bitcast(),
        pq_low.zip_high(rs_low).bitcast(),
        pq_high.zip_low(rs_high).bitcast(),
        pq_high.zip_high(rs_high).bitcast(),
    ]
}
