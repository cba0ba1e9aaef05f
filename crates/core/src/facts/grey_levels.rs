//! Grey levels the film printer can make of one halftone cell: (dpi / lpi)^2 + 1.

use crate::units::{Dpi, Lpi};

/// Levels of a cell, paper white included: `floor((dpi / lpi)^2) + 1`.
pub fn grey_levels(dpi: Dpi, ruling: Lpi) -> u32 {
    ((dpi.get() / ruling.get()).powi(2)).floor() as u32 + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// halftone_levels.csv: (dpi / lpi)^2 + 1 for 35 pairs; 16 x 16 cells give 257 (a published
    /// printing text).
    #[test]
    fn levels_follow_the_table() {
        let path = format!("{}/../../tests/fixtures/reference/halftone_levels.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let mut rows = 0;
        for line in text.lines().skip(2) {
            let v: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
            assert_eq!(f64::from(grey_levels(Dpi::new(v[0]).unwrap(), Lpi::new(v[1]).unwrap())), v[3], "{line}");
            rows += 1;
        }
        assert_eq!(rows, 35);
        assert_eq!(grey_levels(Dpi::new(720.0).unwrap(), Lpi::new(45.0).unwrap()), 257);
    }
}
