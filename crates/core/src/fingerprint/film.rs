//! A solid of an ink as a film with light going back and forth in it (Kubelka 1948), in one band.

/// Light sent back by a film over nothing, and light that comes through it once.
pub(super) fn film(k: f64, s: f64, thick: f64) -> [f64; 2] {
    let s = s.max(1e-6);
    let a = 1.0 + k / s;
    let b = (a * a - 1.0).max(1e-14).sqrt();
    // Beyond this nothing comes through.
    let x = (b * s * thick).min(40.0);
    let whole = a * x.sinh() + b * x.cosh();
    [x.sinh() / whole, b / whole]
}

/// A film over a ground.
pub(super) fn over([own, through]: [f64; 2], ground: f64) -> f64 {
    own + through * through * ground / (1.0 - own * ground)
}

/// Absorption and scatter of the film that shows `over_white` on a perfect white and `over_black` on a perfect black.
pub(super) fn constants(over_white: f64, over_black: f64) -> [f64; 2] {
    let own = over_black.clamp(1e-3, 0.95);
    let through = ((over_white - own) * (1.0 - own)).clamp(1e-4, (1.0 - own).powi(2));
    let a = ((1.0 + own * own - through) / (2.0 * own)).max(1.0 + 1e-6);
    let b = (a * a - 1.0).sqrt();
    let s = (b * own / through.sqrt()).asinh() / b;
    [(s * (a - 1.0)).max(1e-3), s.max(1e-3)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// kubelka_munk.csv (Kubelka 1948, each value checked there by integrating the differential equation).
    #[test]
    fn published_films_come_out_over_every_ground() {
        let path = format!("{}/../../tests/fixtures/reference/kubelka_munk.csv", env!("CARGO_MANIFEST_DIR"));
        let mut rows = 0;
        for line in std::fs::read_to_string(path).unwrap().lines().skip(2) {
            let mut v: Vec<f64> = line.rsplit(',').take(8).map(|v| v.parse().unwrap()).collect();
            v.reverse();
            let made = film(v[1], v[0], v[2]);
            for (ground, want) in [(0.0, v[4]), (0.04, v[5]), (0.8, v[6])] {
                assert_abs_diff_eq!(over(made, ground), want, epsilon = 5e-6);
            }
            rows += 1;
        }
        assert_eq!(rows, 21);
    }

    #[test]
    fn a_film_is_known_by_its_two_colors() {
        for (white, black) in [(0.8, 0.7), (0.3, 0.05), (0.05, 0.03), (0.6, 0.01)] {
            let [k, s] = constants(white, black);
            assert_abs_diff_eq!(over(film(k, s, 1.0), 1.0), white, epsilon = 1e-4);
            assert_abs_diff_eq!(over(film(k, s, 1.0), 0.0), black, epsilon = 1e-4);
        }
    }
}
