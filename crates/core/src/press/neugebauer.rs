//! The Neugebauer sum over any set of primaries, computed or measured: each overprint of n inks
//! weighs as much as dots that lie independently give it area (Demichel 1924), and lights are
//! added as they are (Neugebauer 1937) or in `R^(1/n)` (Yule & Nielsen 1951). The layers of
//! [`Stack`](super::Stack) compute their primaries; a characterised press brings measured ones.

/// Expected reflectance at printed coverages `a` (0..=1). `primary(k)` is the solid overprint
/// of all inks whose bit is set in `k`, bit i for `a[i]`; `n` is Yule-Nielsen's factor, 1 for none.
pub fn neugebauer<const BANDS: usize>(a: &[f64], n: f64, primary: impl Fn(usize) -> [f64; BANDS]) -> [f64; BANDS] {
    let mut sum = [0.0; BANDS];
    for overprint in 0..1usize << a.len() {
        let weight: f64 =
            a.iter().enumerate().map(|(i, &a)| if overprint >> i & 1 == 1 { a } else { 1.0 - a }).product();
        if weight == 0.0 {
            continue;
        }
        for (sum, r) in sum.iter_mut().zip(primary(overprint)) {
            *sum += weight * r.max(0.0).powf(1.0 / n);
        }
    }
    sum.map(|x| x.powf(n))
}

/// Area that a tint of reflectance `tint` seems to cover between bare `ground` and `solid`, in
/// one band (Murray 1936 for n = 1, Yule & Nielsen 1951 otherwise). It is how a wedge is read.
pub fn effective_area(ground: f64, solid: f64, tint: f64, n: f64) -> f64 {
    let p = |r: f64| r.max(0.0).powf(1.0 / n);
    (p(ground) - p(tint)) / (p(ground) - p(solid))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn rows(text: &str) -> impl Iterator<Item = Vec<f64>> {
        text.lines().skip(2).map(|line| line.split(',').map(|v| v.parse().unwrap()).collect())
    }

    /// Every 40th patch of FOGRA39L (Fogra 2006, Debian icc-profiles-free): an independent
    /// program's Neugebauer sums on nominal coverages from the 16 measured primaries.
    #[test]
    fn sums_of_measured_primaries_match_an_independent_program() {
        let reference = |name| {
            std::fs::read_to_string(format!(
                "{}/../../tests/fixtures/reference/neugebauer_fogra39_{name}.csv",
                env!("CARGO_MANIFEST_DIR")
            ))
            .unwrap()
        };
        let mut primaries = [[0.0; 3]; 16];
        for row in rows(&reference("primaries")) {
            let at = (0..4).map(|i| (row[i] as usize) << i).sum::<usize>();
            primaries[at] = [row[4], row[5], row[6]];
        }
        let mut seen = 0;
        for row in rows(&reference("sample")) {
            let a: Vec<f64> = row[..4].iter().map(|c| c / 100.0).collect();
            for (n, columns) in [(1.0, 10..13), (2.0, 13..16)] {
                let got = neugebauer(&a, n, |k| primaries[k]);
                for (got, want) in got.iter().zip(&row[columns]) {
                    // Primaries are stored to two decimals.
                    assert_abs_diff_eq!(*got, *want, epsilon = 0.006);
                }
            }
            seen += 1;
        }
        assert_eq!(seen, 41);
    }

    #[test]
    fn a_wedge_reads_back_the_area_it_was_made_of() {
        for n in [1.0, 1.7] {
            let tint = neugebauer(&[0.37], n, |k| if k == 1 { [0.05] } else { [0.9] })[0];
            assert_abs_diff_eq!(effective_area(0.9, 0.05, tint, n), 0.37, epsilon = 1e-12);
        }
    }
}
