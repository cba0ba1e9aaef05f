//! Where a colour lies in the table: its cell, and the four corners of the tetrahedron around it with weights
//! that add up to exactly one, all in integers.

/// Nodes a side of the usual table.
pub(super) const SIDE: usize = 33;
/// Steps across one cell.
pub(super) const CELL: u32 = 1 << 15;

/// A 16-bit channel on the usual table's axis, in units of 1/32768 cell: 0 and 65535 fall on
/// nodes. Shifted left by [`finer`] for a table with more nodes.
fn axis_position(value: u16) -> u32 {
    let v = u32::from(value);
    // (SIDE - 1) * CELL / 65535 is 16 + 16/65535; exact at both ends, within one step between.
    v * 16 + ((v + 0x800) >> 12)
}

/// How many times a table's cells are halves of the usual one's.
pub(super) fn finer(side: usize) -> u32 {
    ((side - 1) / (SIDE - 1)).trailing_zeros()
}

/// The four corners (node indices) and their weights, which sum to [`CELL`].
pub(super) fn corners(side: usize, color: [u16; 3]) -> [(usize, u32); 4] {
    let position = color.map(|v| axis_position(v) << finer(side));
    let mut base = 0;
    let mut axes = [0u32; 3];
    let strides = [side * side, side, 1];
    for k in 0..3 {
        // The far face belongs to the last cell, at a full step.
        let cell = (position[k] / CELL).min(side as u32 - 2);
        base += cell as usize * strides[k];
        axes[k] = position[k] - cell * CELL;
    }
    // Walk from the base corner along the axes in falling order of position.
    let mut order = [(axes[0], strides[0]), (axes[1], strides[1]), (axes[2], strides[2])];
    order.sort_by_key(|axis| std::cmp::Reverse(axis.0));
    let [(f1, s1), (f2, s2), (f3, s3)] = order;
    [(base, CELL - f1), (base + s1, f1 - f2), (base + s1 + s2, f2 - f3), (base + s1 + s2 + s3, f3)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_weigh_one_and_nodes_are_hit_exactly() {
        assert_eq!(axis_position(0), 0);
        assert_eq!(axis_position(65535), 32 * CELL);
        for side in [SIDE, 2 * SIDE - 1] {
            for color in [[0, 0, 0], [65535; 3], [123, 45_000, 65_535], [30_000, 30_000, 7]] {
                let corners = corners(side, color);
                assert_eq!(corners.iter().map(|c| c.1).sum::<u32>(), CELL);
                assert!(corners.iter().all(|c| c.0 < side * side * side));
            }
            assert_eq!(corners(side, [65535; 3])[3], (side * side * side - 1, CELL));
        }
    }
}
