//! Beats of a halftone with the garment's knit.

use super::lattice::{beats, sinc};
use super::{Beat, Tones};
use crate::units::Lpi;

/// Beats of a halftone with a jersey of `wales` and `courses` an inch, standing upright. Loops
/// are taken as half open.
pub fn knit_beats(wales: f64, courses: f64, ruling: Lpi, angle_deg: f64, tones: &Tones) -> Vec<Beat> {
    let other = |(m, n): (i32, i32)| {
        // A knit takes ink a little unevenly, it does not hold it back as thread does: a tenth.
        let swing = 0.1 * sinc(f64::from(m) * 0.5).abs() * sinc(f64::from(n) * 0.5).abs();
        ([f64::from(m) * wales, f64::from(n) * courses], swing)
    };
    beats((ruling, angle_deg, tones), 18, &[(1, 0), (0, 1), (1, 1), (1, -1)], other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moire::worst_beat;
    use approx::assert_abs_diff_eq;

    /// A knit of 45 courses an inch under 45 lpi upright lies on the dots; 22.5 degrees are clear.
    #[test]
    fn a_knit_as_fine_as_the_ruling_beats_when_dots_stand_upright() {
        let (ruling, tones) = (Lpi::new(45.0).unwrap(), Tones::new(&[(0.3, 1.0)]));
        let beat = worst_beat(&knit_beats(36.0, 47.0, ruling, 0.0, &tones), ruling).unwrap();
        assert_abs_diff_eq!(beat.per_inch, 2.0, epsilon = 1e-9);
        assert!(worst_beat(&knit_beats(36.0, 47.0, ruling, 22.5, &tones), ruling).is_none());
    }
}
