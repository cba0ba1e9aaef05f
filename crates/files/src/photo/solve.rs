//! Small systems of equations.

/// Solves `rows * x = values` (Gauss, with the largest pivot); none if there is no one answer.
pub(super) fn solve(mut rows: Vec<Vec<f64>>, mut values: Vec<f64>) -> Option<Vec<f64>> {
    let n = values.len();
    for at in 0..n {
        let pivot = (at..n).max_by(|a, b| rows[*a][at].abs().total_cmp(&rows[*b][at].abs()))?;
        if rows[pivot][at].abs() < 1e-12 {
            return None;
        }
        rows.swap(at, pivot);
        values.swap(at, pivot);
        for below in at + 1..n {
            let by = rows[below][at] / rows[at][at];
            let (upper, lower) = rows.split_at_mut(below);
            lower[0][at..].iter_mut().zip(&upper[at][at..]).for_each(|(value, above)| *value -= by * above);
            values[below] -= by * values[at];
        }
    }
    for at in (0..n).rev() {
        let known: f64 = (at + 1..n).map(|column| rows[at][column] * values[column]).sum();
        values[at] = (values[at] - known) / rows[at][at];
    }
    Some(values)
}

/// Equations of weighted least squares, as they come in.
pub(super) struct Squares {
    rows: Vec<Vec<f64>>,
    values: Vec<f64>,
}

impl Squares {
    /// For so many unknowns, each held to 0 by a little.
    pub fn new(count: usize, held: f64) -> Self {
        let rows = (0..count).map(|i| (0..count).map(|j| if i == j { held } else { 0.0 }).collect()).collect();
        Self { rows, values: vec![0.0; count] }
    }

    /// One more equation.
    pub fn add(&mut self, row: &[f64], value: f64, weight: f64) {
        for (i, a) in row.iter().enumerate().filter(|(_, a)| **a != 0.0) {
            row.iter().enumerate().for_each(|(j, b)| self.rows[i][j] += weight * a * b);
            self.values[i] += weight * a * value;
        }
    }

    /// The answer.
    pub fn solve(self) -> Option<Vec<f64>> {
        solve(self.rows, self.values)
    }
}
