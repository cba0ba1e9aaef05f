//! Specks and pinholes: islands of ink or of bare film that are too small to hold on the mesh.
//! Pixels that touch, also at corners for ink, belong to one island.

use crate::raster::Plane;

/// Clears islands of at least `at` coverage whose area is under `under_px` pixels, soft rim
/// included: the lighter pixels that touch only a cleared island go with it.
pub(super) fn clear_specks(plane: &mut Plane<u16>, at: u16, under_px: f64) {
    let islands = small_islands(plane, under_px, true, |v| v >= at.max(1));
    let (w, h) = (plane.width(), plane.height());
    for island in islands {
        for i in island {
            // The rim: neighbours under the threshold belong to the island that goes.
            for n in neighbours(i, w, h, true) {
                if plane.data()[n] < at {
                    plane.data_mut()[n] = 0;
                }
            }
            plane.data_mut()[i] = 0;
        }
    }
}

/// Fills islands under `at` coverage whose area is under `under_px` pixels to the mean coverage of
/// the ink around each.
pub(super) fn fill_pinholes(plane: &mut Plane<u16>, at: u16, under_px: f64) {
    let islands = small_islands(plane, under_px, false, |v| v < at);
    let (w, h) = (plane.width(), plane.height());
    for island in islands {
        let (mut sum, mut count) = (0u64, 0u64);
        for &i in &island {
            for n in neighbours(i, w, h, true).filter(|&n| plane.data()[n] >= at) {
                sum += u64::from(plane.data()[n]);
                count += 1;
            }
        }
        if let Some(mean) = (sum + count / 2).checked_div(count) {
            for i in island {
                plane.data_mut()[i] = mean as u16;
            }
        }
    }
}

/// Pixel numbers of every island of `inside` smaller than `under_px`.
fn small_islands(plane: &Plane<u16>, under_px: f64, corners: bool, inside: impl Fn(u16) -> bool) -> Vec<Vec<usize>> {
    let (w, h) = (plane.width(), plane.height());
    let data = plane.data();
    let mut seen = vec![false; data.len()];
    let mut islands = Vec::new();
    let mut todo = Vec::new();
    for start in 0..data.len() {
        if seen[start] || !inside(data[start]) {
            continue;
        }
        seen[start] = true;
        todo.push(start);
        let mut island = Vec::new();
        let mut size = 0usize;
        while let Some(i) = todo.pop() {
            size += 1;
            // Large islands need no list.
            if (size as f64) < under_px {
                island.push(i);
            }
            for n in neighbours(i, w, h, corners) {
                if !seen[n] && inside(data[n]) {
                    seen[n] = true;
                    todo.push(n);
                }
            }
        }
        if (size as f64) < under_px {
            islands.push(island);
        }
    }
    islands
}

/// Neighbours of pixel `i`: four, or eight with corners.
fn neighbours(i: usize, w: usize, h: usize, corners: bool) -> impl Iterator<Item = usize> {
    const AROUND: [(i64, i64); 8] = [(0, -1), (-1, 0), (1, 0), (0, 1), (-1, -1), (1, -1), (-1, 1), (1, 1)];
    let (x, y) = ((i % w) as i64, (i / w) as i64);
    AROUND[..if corners { 8 } else { 4 }].iter().filter_map(move |(dx, dy)| {
        let (nx, ny) = (x + dx, y + dy);
        ((0..w as i64).contains(&nx) && (0..h as i64).contains(&ny)).then(|| ny as usize * w + nx as usize)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::FULL;

    fn of(rows: &[&str]) -> Plane<u16> {
        Plane::from_fn(rows[0].len(), rows.len(), |x, y| match rows[y].as_bytes()[x] {
            b'#' => FULL,
            b'-' => 2000,
            _ => 0,
        })
    }

    #[test]
    fn small_specks_go_with_their_rim_and_large_ones_stay() {
        let mut plane = of(&["-#-...", "...###", "...###", "#.....", ".#...."]);
        clear_specks(&mut plane, 6000, 3.0);
        assert_eq!(plane, of(&["......", "...###", "...###", "......", "......"]));
        let mut plane = of(&["#...", ".#..", "..#."]);
        clear_specks(&mut plane, 6000, 3.0);
        assert_eq!(plane, of(&["#...", ".#..", "..#."]), "three joined at corners are not under 3");
    }

    #[test]
    fn pinholes_fill_to_what_is_around_and_open_ground_stays() {
        let mut plane = of(&["#####", "#.#.#", "###.#", "#####"]);
        fill_pinholes(&mut plane, 30_000, 3.0);
        assert!(plane.data().iter().all(|&v| v == FULL));
        let mut plane = of(&["#####", "#...#", "#...#"]);
        fill_pinholes(&mut plane, 30_000, 3.0);
        assert_eq!(plane.get(2, 1), 0);
    }
}
