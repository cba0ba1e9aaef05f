//! Exact areas: what straight edges cover of each pixel, for any number of channels at once.

use kurbo::Point;

/// Rows of pixels that edges add to. Each edge changes what lies to its right; a running sum along the row
/// gives the pixels. Sums are in double precision: a row of any length stays exact to about 1e-12.
pub(crate) struct Rows<const N: usize> {
    width: usize,
    top: usize,
    height: usize,
    sums: Vec<[f64; N]>,
}

impl<const N: usize> Rows<N> {
    /// Rows `top..top + height` of a picture of `width` pixels.
    pub fn new(width: usize, top: usize, height: usize) -> Self {
        Self { width, top, height, sums: vec![[0.0; N]; (width + 2) * height] }
    }

    /// The same rows from `top` on, with nothing in them.
    pub fn begin(&mut self, top: usize) {
        self.top = top;
        self.sums.fill([0.0; N]);
    }

    /// An edge from `p` to `q`. Pixels to the right of it change by `step` where it runs down, by the
    /// opposite where it runs up.
    pub fn edge(&mut self, p: Point, q: Point, step: [f64; N]) {
        let (sign, p, q) = if p.y <= q.y { (1.0, p, q) } else { (-1.0, q, p) };
        let (top, bottom) = (self.top as f64, (self.top + self.height) as f64);
        if q.y <= top || p.y >= bottom || p.y == q.y {
            return;
        }
        let slope = (q.x - p.x) / (q.y - p.y);
        let at = |y: f64| p.x + (y - p.y) * slope;
        let (first, last) = (p.y.max(top), q.y.min(bottom));
        let step = step.map(|s| s * sign);
        let mut y = first;
        let mut x = if first == p.y { p.x } else { at(first) };
        let mut row = first as usize - self.top;
        while y < last {
            let below = ((self.top + row + 1) as f64).min(last);
            let to = if below == q.y { q.x } else { at(below) };
            if below > y {
                self.slice(row, x, to, below - y, &step);
            }
            (x, y) = (to, below);
            row += 1;
        }
    }

    /// The part of an edge within one row, `tall` rows high.
    fn slice(&mut self, row: usize, from: f64, to: f64, tall: f64, step: &[f64; N]) {
        let (left, right) = if from < to { (from, to) } else { (to, from) };
        let wide = self.width as f64;
        // What lies beyond the picture's sides counts as on them.
        if right <= 0.0 || left >= wide || right - left < 1e-9 {
            return self.column(row, 0.5 * (left + right), tall, step);
        }
        let mut x = left;
        if left < 0.0 {
            self.column(row, 0.0, tall * -left / (right - left), step);
            x = 0.0;
        }
        let end = right.min(wide);
        while x < end {
            let next = (x.floor() + 1.0).min(end);
            self.column(row, 0.5 * (x + next), tall * (next - x) / (right - left), step);
            x = next;
        }
    }

    /// A part that stays within one column, its middle at `x`.
    fn column(&mut self, row: usize, x: f64, tall: f64, step: &[f64; N]) {
        let x = x.max(0.0);
        if x >= self.width as f64 {
            return;
        }
        let column = x as usize;
        let here = (column as f64 + 1.0 - x) * tall;
        let at = row * (self.width + 2) + column;
        for (c, step) in step.iter().enumerate() {
            self.sums[at][c] += step * here;
            self.sums[at + 1][c] += step * (tall - here);
        }
    }

    /// Gives those pixels of a row to `take` that lie in the tiles that are wanted, `tile` pixels each.
    pub fn take_row(&self, row: usize, tile: usize, wanted: &[bool], mut take: impl FnMut(usize, [f64; N])) {
        let row = &self.sums[row * (self.width + 2)..][..self.width];
        let mut sum = [0.0; N];
        for ((first, part), &wanted) in (0..).step_by(tile).zip(row.chunks(tile)).zip(wanted) {
            if !wanted && first > 0 {
                // Edges lie in wanted tiles, but for the picture's left side, so here nothing changes.
                continue;
            }
            for (x, add) in (first..).zip(part) {
                for c in 0..N {
                    sum[c] += add[c];
                }
                take(x, sum);
            }
        }
    }

    /// Every pixel in turn, row after row.
    pub fn pixels(&self) -> impl Iterator<Item = [f64; N]> + '_ {
        self.sums.chunks(self.width + 2).flat_map(|row| {
            row[..self.width].iter().scan([0.0; N], |sum, add| {
                for c in 0..N {
                    sum[c] += add[c];
                }
                Some(*sum)
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cover(width: usize, top: usize, height: usize, ring: &[(f64, f64)]) -> Vec<f64> {
        let mut rows = Rows::<1>::new(width, top, height);
        for i in 0..ring.len() {
            let (p, q) = (ring[i], ring[(i + 1) % ring.len()]);
            rows.edge(Point::new(p.0, p.1), Point::new(q.0, q.1), [-1.0]);
        }
        rows.pixels().map(|[v]| v).collect()
    }

    #[test]
    fn a_square_off_the_lattice_covers_what_it_should() {
        let ring = [(0.25, 0.5), (2.5, 0.5), (2.5, 1.75), (0.25, 1.75)];
        let got = cover(3, 0, 2, &ring);
        let want = [0.375, 0.5, 0.25, 0.5625, 0.75, 0.375];
        assert!(got.iter().zip(want).all(|(g, w)| (g + w).abs() < 1e-12 || (g - w).abs() < 1e-12), "{got:?}");
        // The second row alone is the same.
        assert!(cover(3, 1, 1, &ring).iter().zip(&got[3..]).all(|(a, b)| (a - b).abs() < 1e-12));
    }

    #[test]
    fn what_hangs_out_of_the_picture_is_cut_off() {
        let got = cover(2, 0, 2, &[(-3.0, -5.0), (9.0, -5.0), (9.0, 1.0), (-3.0, 1.0)]);
        assert!(got[..2].iter().all(|v| (v.abs() - 1.0).abs() < 1e-12) && got[2..].iter().all(|v| v.abs() < 1e-12));
    }
}
