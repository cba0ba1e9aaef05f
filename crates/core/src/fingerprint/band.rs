//! How sure a colour is, as a CIEDE2000.

use crate::color::difference_steps;

/// CIEDE2000 from `lab` that 95 of 100 stay under, where L*, a* and b* err by themselves with these squares of sigma.
///
/// The squares of the steps add up to a weighted sum of squares of normal errors, taken as a gamma distribution of the
/// same mean and spread (Satterthwaite 1946), whose quantile follows Wilson and Hilferty (1931).
pub(super) fn band(lab: [f64; 3], squares: [f64; 3]) -> f64 {
    // Steps of colour for one sigma of each channel.
    let steps: [[f64; 3]; 3] = std::array::from_fn(|c| {
        let sigma = squares[c].sqrt();
        let at = |by: f64| {
            let mut moved = lab;
            moved[c] += by;
            difference_steps(lab, moved)
        };
        let (up, down) = (at(0.5 * sigma), at(-0.5 * sigma));
        std::array::from_fn(|i| up[i] - down[i])
    });
    // Sum and sum of squares of the eigenvalues: the trace, and the squares of all entries.
    let entry = |i: usize, j: usize| steps.iter().map(|s| s[i] * s[j]).sum::<f64>();
    let mean: f64 = (0..3).map(|i| entry(i, i)).sum();
    let spread: f64 = (0..3).flat_map(|i| (0..3).map(move |j| (i, j))).map(|(i, j)| entry(i, j).powi(2)).sum();
    if mean <= 0.0 {
        return 0.0;
    }
    let freedom = mean * mean / spread;
    let ninth = 2.0 / (9.0 * freedom);
    (mean * (1.0 - ninth + 1.644_854 * ninth.sqrt()).powi(3)).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of chi-square from any table (Abramowitz and Stegun, 26.8): 3.841, 5.991 and 7.815 of 1, 2 and 3.
    #[test]
    fn bands_are_quantiles() {
        let grey = [50.0, 0.0, 0.0];
        assert!((band(grey, [1.0, 0.0, 0.0]).powi(2) / 3.841 - 1.0).abs() < 0.03);
        // Steps of a* near grey are half as long again.
        let two = band(grey, [1e-12, 1e-4, 1e-4]).powi(2);
        let [_, a, b] = difference_steps(grey, [50.0, 0.01, 0.0]);
        assert!((a * a + b * b - 2.25e-4).abs() < 2e-6);
        assert!(two > 1e-4 * 3.841 && two < 2.3e-4 * 5.991 * 1.05, "{two}");
        assert_eq!(band(grey, [0.0; 3]), 0.0);
    }

    /// Against 20 000 drawn errors at several colours.
    #[test]
    fn nineteen_of_twenty_drawn_errors_lie_within() {
        let mut seed = 7u64;
        let mut even = move || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / (1u64 << 53) as f64
        };
        let mut normal = move || (0..12).map(|_| even()).sum::<f64>() - 6.0;
        for (lab, sigma) in [
            ([50.0, 5.0, -3.0], [0.5, 0.5, 0.5]),
            ([40.0, 50.0, 30.0], [0.3, 1.0, 0.6]),
            ([30.0, 20.0, -50.0], [0.8, 0.2, 0.9]),
        ] {
            let limit = band(lab, sigma.map(|s: f64| s * s));
            let within = (0..20_000)
                .filter(|_| {
                    let moved: [f64; 3] = std::array::from_fn(|c| lab[c] + sigma[c] * normal());
                    crate::color::difference(lab, moved) <= limit
                })
                .count();
            assert!((18_700..=19_300).contains(&within), "{lab:?}: {within}");
        }
    }
}
