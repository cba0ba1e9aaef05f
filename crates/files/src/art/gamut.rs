//! How much of a picture's colour lies outside sRGB, whose primaries the working space has: inks
//! and garments are named in it, so no proof could show more, and what lies outside is brought to
//! its edge. That is said, with its share, so that a neon ink can be chosen where it matters.

use moxcms::{CmsError, Transform16BitExecutor};
use strikeoff_core::color::oklab_from_linear;

/// Farthest in OKLab that a colour may move without counting: about one just visible step.
const VISIBLE: f32 = 0.02;

/// From ROMM RGB (ISO 22028-2), whose white is D50, to sRGB, both in linear light: the primaries'
/// matrices joined by Bradford's adaptation; computed from the standards' chromaticities.
const SRGB_FROM_ROMM: [[f32; 3]; 3] =
    [[2.034_19, -0.727_42, -0.306_77], [-0.228_81, 1.231_73, -0.002_92], [-0.008_56, -0.153_27, 1.161_84]];

/// The share, 0..=1, of colours that are visibly outside. `wide` brings samples to ROMM RGB.
pub(super) fn outside_share(samples: &[u16], wide: &Transform16BitExecutor, channels: usize) -> Result<f64, CmsError> {
    let count = samples.len() / channels;
    if count == 0 {
        return Ok(0.0);
    }
    let mut romm = vec![0_u16; count * 3];
    wide.transform(samples, &mut romm)?;
    let outside = romm.chunks_exact(3).filter(|p| is_outside([p[0], p[1], p[2]])).count();
    Ok(outside as f64 / count as f64)
}

fn is_outside(romm: [u16; 3]) -> bool {
    let light = romm.map(|v| (f32::from(v) / 65535.0).powf(1.8));
    let linear = SRGB_FROM_ROMM.map(|row| row[0] * light[0] + row[1] * light[1] + row[2] * light[2]);
    if linear.iter().all(|v| (-1e-3..=1.001).contains(v)) {
        return false;
    }
    let (meant, made) = (oklab_from_linear(linear), oklab_from_linear(linear.map(|v| v.clamp(0.0, 1.0))));
    ((meant.l - made.l).powi(2) + (meant.a - made.a).powi(2) + (meant.b - made.b).powi(2)).sqrt() > VISIBLE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_srgb_lacks_is_outside() {
        // Neutral greys are of every space; a full green of ROMM is far outside.
        for v in [0, 20000, 65535] {
            assert!(!is_outside([v; 3]));
        }
        assert!(is_outside([0, 65535, 0]));
        // sRGB's own red in ROMM RGB, by the inverse of the matrix: 0.529, 0.098, 0.017 in linear
        // light.
        let red = [0.529_f64, 0.0984, 0.0169].map(|v| (v.powf(1.0 / 1.8) * 65535.0) as u16);
        assert!(!is_outside(red));
    }
}
