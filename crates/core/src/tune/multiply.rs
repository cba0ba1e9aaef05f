//! Multiply, the way two screens become one: the film values (1 - coverage, so that clear film
//! is 1 and solid ink 0) are multiplied. W3C Compositing and Blending Level 1, "multiply":
//! `B(cb, cs) = cb x cs`. Clear film leaves the other screen as it is; solid stays solid.

use crate::raster::FULL;

/// Multiply of two film values of 16 bits, rounded to nearest.
pub fn multiply_film(backdrop: u16, source: u16) -> u16 {
    let product = u32::from(backdrop) * u32::from(source);
    // Exact (p + 32767) / 65535 for every product of two 16-bit values; it cannot overflow.
    ((u64::from(product) + 32_767) / 65_535) as u16
}

/// Coverage of two screens merged by multiplying their film values.
pub fn multiply_coverage(into: u16, from: u16) -> u16 {
    FULL - multiply_film(FULL - into, FULL - from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_formula_on_a_grid_and_at_the_ends() {
        // W3C Compositing and Blending Level 1, section "multiply": B(cb, cs) = cb x cs.
        for a in (0..=65_535u32).step_by(257).chain([1, 2, 65_534]) {
            for b in (0..=65_535u32).step_by(51).chain([1, 2, 65_534]) {
                let exact = f64::from(a) * f64::from(b) / 65_535.0;
                let ours = f64::from(multiply_film(a as u16, b as u16));
                assert!((ours - exact).abs() <= 0.5 + 1e-9, "{a} x {b}: {ours} for {exact}");
            }
            assert_eq!(multiply_film(a as u16, FULL), a as u16);
            assert_eq!(multiply_film(a as u16, 0), 0);
        }
    }

    #[test]
    fn clear_film_changes_nothing_and_ink_only_adds() {
        for a in (0..=65_535u32).step_by(4369) {
            assert_eq!(multiply_coverage(a as u16, 0), a as u16);
            assert_eq!(multiply_coverage(a as u16, FULL), FULL);
            assert!(multiply_coverage(a as u16, 20_000) >= (a as u16).max(20_000));
        }
    }
}
