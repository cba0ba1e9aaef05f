//! The sRGB transfer (IEC 61966-2-1) as functions and as a table for 16-bit values.

use std::sync::OnceLock;

use palette::{LinSrgb, Srgb};

use super::LinRgb;

/// Encoded 0..=1 to linear 0..=1.
pub fn linearize(encoded: f32) -> f32 {
    let linear: LinSrgb<f32> = Srgb::new(encoded, encoded, encoded).into_linear();
    linear.red
}

/// Linear 0..=1 to encoded 0..=1.
pub fn encode(linear: f32) -> f32 {
    let x = linear.clamp(0.0, 1.0);
    Srgb::<f32>::from_linear(LinSrgb::new(x, x, x)).red
}

/// Linear light to a 16-bit encoded colour; out-of-range values are clipped.
pub fn encode_u16(linear: LinRgb) -> [u16; 3] {
    static TABLE: OnceLock<Vec<u16>> = OnceLock::new();
    // Square-root spacing keeps the table exact enough in the shadows: worst error under
    // one part in 65535 beyond the linear toe, checked below.
    let table = TABLE.get_or_init(|| {
        (0..=ENCODE_STEPS)
            .map(|i| {
                let root = i as f32 / ENCODE_STEPS as f32;
                (encode(root * root) * 65535.0).round() as u16
            })
            .collect()
    });
    linear.map(|x| {
        let at = x.clamp(0.0, 1.0).sqrt() * ENCODE_STEPS as f32;
        table[(at + 0.5) as usize]
    })
}

const ENCODE_STEPS: usize = 1 << 17;

/// The first three channels of a 16-bit encoded pixel in linear light.
pub fn linear_from_u16(pixel: &[u16]) -> LinRgb {
    static TABLE: OnceLock<Vec<f32>> = OnceLock::new();
    let table = TABLE.get_or_init(|| (0..=u16::MAX).map(|v| linearize(f32::from(v) / 65535.0)).collect());
    [table[pixel[0] as usize], table[pixel[1] as usize], table[pixel[2] as usize]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sixteen_bits_survive_the_trip_through_linear_light() {
        for v in (0..=u16::MAX).step_by(7) {
            let back = encode_u16(linear_from_u16(&[v, v, v]))[0];
            assert!(back.abs_diff(v) <= 1, "{v} came back as {back}");
        }
    }
}
