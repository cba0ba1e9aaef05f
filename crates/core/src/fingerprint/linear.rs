//! Cholesky's way to solve a symmetric system: a few dozen to a few hundred unknowns.

/// The lower factor.
#[derive(Debug, Clone)]
pub(super) struct Cholesky(Vec<Vec<f64>>);

impl Cholesky {
    /// Of a matrix whose lower half is filled; none if it is not positive.
    pub fn of(mut m: Vec<Vec<f64>>) -> Option<Self> {
        for i in 0..m.len() {
            for j in 0..=i {
                let sum = m[i][j] - (0..j).map(|k| m[i][k] * m[j][k]).sum::<f64>();
                if i == j {
                    if sum.is_nan() || sum <= 0.0 {
                        return None;
                    }
                    m[i][i] = sum.sqrt();
                } else {
                    m[i][j] = sum / m[j][j];
                }
            }
            m[i].truncate(i + 1);
        }
        Some(Self(m))
    }

    /// Half of the way to the solution.
    pub fn halfway(&self, right: &[f64]) -> Vec<f64> {
        let mut out: Vec<f64> = Vec::with_capacity(right.len());
        for (row, right) in self.0.iter().zip(right) {
            let known: f64 = row.iter().zip(&out).map(|(l, v)| l * v).sum();
            out.push((right - known) / row[out.len()]);
        }
        out
    }

    /// The solution.
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut out = self.halfway(right);
        for i in (0..out.len()).rev() {
            out[i] /= self.0[i][i];
            let v = out[i];
            for (j, l) in self.0[i][..i].iter().enumerate() {
                out[j] -= l * v;
            }
        }
        out
    }

    /// Logarithm of the matrix's determinant.
    pub fn log_determinant(&self) -> f64 {
        2.0 * self.0.iter().map(|row| row[row.len() - 1].ln()).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solved_system_gives_its_right_side_back() {
        let m = vec![vec![4.0, 1.0, 0.5], vec![1.0, 3.0, 0.2], vec![0.5, 0.2, 2.0]];
        let x = Cholesky::of(m.clone()).unwrap().solve(&[1.0, 2.0, 3.0]);
        for (row, want) in m.iter().zip([1.0, 2.0, 3.0]) {
            assert!((row.iter().zip(&x).map(|(a, b)| a * b).sum::<f64>() - want).abs() < 1e-12);
        }
        // 4 (6 - 0.04) - 1 (2 - 0.1) + 0.5 (0.2 - 1.5).
        assert!((Cholesky::of(m).unwrap().log_determinant() - 21.29f64.ln()).abs() < 1e-12);
        assert!(Cholesky::of(vec![vec![1.0, 2.0], vec![2.0, 1.0]]).is_none());
    }
}
