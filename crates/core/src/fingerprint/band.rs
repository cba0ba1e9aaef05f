//! How sure a colour is, as a CIEDE2000.

use crate::color::difference;

/// CIEDE2000 from `lab` that 95 of 100 stay under, where L*, a* and b* err by themselves with these squares of sigma.
///
/// The squares of the steps add up to a weighted sum of squares of normal errors, taken as a gamma distribution of the
/// same mean and spread (Satterthwaite 1946), whose quantile follows Wilson and Hilferty (1931).
pub(super) fn band(lab: [f64; 3], squares: [f64; 3]) -> f64 {
    // The square of CIEDE2000 as a form of the three errors, from half a sigma either way: it is smooth through grey,
    // where chroma and hue are not.
    let sigma = squares.map(f64::sqrt);
    let square = |by: [f64; 3]| {
        let moved = |sign: f64| std::array::from_fn(|c| lab[c] + sign * 0.5 * sigma[c] * by[c]);
        2.0 * (difference(lab, moved(1.0)).powi(2) + difference(lab, moved(-1.0)).powi(2))
    };
    let one = |at: usize| std::array::from_fn(|c| f64::from(u8::from(c == at)));
    let own: [f64; 3] = std::array::from_fn(|c| square(one(c)));
    let both = |i: usize, j: usize| {
        let (a, b): ([f64; 3], [f64; 3]) = (one(i), one(j));
        0.5 * (square(std::array::from_fn(|c| a[c] + b[c])) - own[i] - own[j])
    };
    // Sum and sum of squares of the eigenvalues: the trace, and the squares of all entries.
    let mean: f64 = own.iter().sum();
    let pairs = [(0, 1), (0, 2), (1, 2)];
    let spread =
        own.iter().map(|v| v * v).sum::<f64>() + pairs.iter().map(|(i, j)| 2.0 * both(*i, *j).powi(2)).sum::<f64>();
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
        // At grey CIEDE2000 takes a* half as long again and b* as it is (CIE 142): 2.25 and 1 of a square of sigma, which
        // is 3.25 in the mean and 6.06 in the sum of squares.
        let two = band(grey, [1e-12, 1e-2, 1e-2]).powi(2) / 1e-2;
        assert!(two > 3.841 * 2.25 && two < 5.991 * 2.25, "{two}");
        let near = band([50.0, 0.02, -0.01], [1e-12, 1e-2, 1e-2]).powi(2) / 1e-2;
        assert!((near / two - 1.0).abs() < 0.05, "{near} {two}");
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
