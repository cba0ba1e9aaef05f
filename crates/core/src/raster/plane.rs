//! A plane: one value a pixel, rows from the top, no padding.

use rayon::prelude::*;

/// One value a pixel. Coverage planes are `Plane<u16>`: 0 no ink, 65535 solid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plane<T> {
    width: usize,
    height: usize,
    data: Vec<T>,
}

impl<T: Copy + Send + Sync> Plane<T> {
    /// A plane filled with one value.
    pub fn filled(width: usize, height: usize, value: T) -> Self {
        Self { width, height, data: vec![value; width * height] }
    }

    /// Takes over `data`, `width * height` values in rows.
    ///
    /// # Panics
    /// If the length does not fit: that is a mistake in the caller, not in its input.
    pub fn from_vec(width: usize, height: usize, data: Vec<T>) -> Self {
        assert_eq!(data.len(), width * height, "plane data does not fit its size");
        Self { width, height, data }
    }

    /// Builds a plane from `f(x, y)`, rows in parallel.
    pub fn from_fn(width: usize, height: usize, f: impl Fn(usize, usize) -> T + Sync) -> Self {
        // The place of the next value is counted on; only where a thread begins is it divided out.
        let next = [usize::MAX, 0, 0];
        let value = |[next, x, y]: &mut [usize; 3], at: usize| {
            if *next != at {
                (*x, *y) = (at % width, at / width);
            }
            let value = f(*x, *y);
            (*next, *x) = (at + 1, *x + 1);
            if *x == width {
                (*x, *y) = (0, *y + 1);
            }
            value
        };
        let data = (0..width * height).into_par_iter().with_min_len(1 << 12).map_with(next, value).collect();
        Self { width, height, data }
    }

    /// Pixels across.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    pub fn height(&self) -> usize {
        self.height
    }

    /// All values, row after row.
    pub fn data(&self) -> &[T] {
        &self.data
    }

    /// All values, to change in place.
    pub fn data_mut(&mut self) -> &mut [T] {
        &mut self.data
    }

    /// The values, given away.
    pub fn into_vec(self) -> Vec<T> {
        self.data
    }

    /// One row.
    pub fn row(&self, y: usize) -> &[T] {
        &self.data[y * self.width..(y + 1) * self.width]
    }

    /// One row, to change in place.
    pub fn row_mut(&mut self, y: usize) -> &mut [T] {
        &mut self.data[y * self.width..(y + 1) * self.width]
    }

    /// One value.
    pub fn get(&self, x: usize, y: usize) -> T {
        self.data[y * self.width + x]
    }

    /// Sets one value.
    pub fn set(&mut self, x: usize, y: usize, value: T) {
        self.data[y * self.width + x] = value;
    }

    /// A new plane with every value changed, in parallel.
    pub fn map<U: Copy + Send + Sync>(&self, f: impl Fn(T) -> U + Sync) -> Plane<U> {
        Plane {
            width: self.width,
            height: self.height,
            data: self.data.par_iter().with_min_len(1 << 14).map(|&value| f(value)).collect(),
        }
    }

    /// Changes every value in place, in parallel.
    pub fn apply(&mut self, f: impl Fn(T) -> T + Sync) {
        self.data.par_iter_mut().with_min_len(1 << 14).for_each(|value| *value = f(*value));
    }
}

impl Plane<u16> {
    /// Mean coverage, 0..=1. An empty plane has none.
    pub fn mean_coverage(&self) -> f64 {
        if self.data.is_empty() {
            return 0.0;
        }
        let sum: u64 = self.data.par_chunks(1 << 16).map(|part| part.iter().map(|&v| u64::from(v)).sum::<u64>()).sum();
        sum as f64 / (self.data.len() as f64 * 65535.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn from_fn_fills_row_by_row() {
        let plane = Plane::from_fn(3, 2, |x, y| (10 * y + x) as u16);
        assert_eq!(plane.data(), [0, 1, 2, 10, 11, 12]);
        assert_eq!(plane.row(1), [10, 11, 12]);
        assert_eq!(plane.get(2, 0), 2);
    }

    #[test]
    fn mean_coverage_of_half_a_plane() {
        let plane = Plane::from_fn(4, 4, |x, _| if x < 2 { u16::MAX } else { 0 });
        assert_eq!(plane.mean_coverage(), 0.5);
    }
}
