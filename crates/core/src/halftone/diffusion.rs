//! Error diffusion: each dot takes ink or not, and what it took too much or too little goes to its
//! neighbours not yet decided. Rows run to and fro, and the weights of Floyd and Steinberg
//! ("An adaptive algorithm for spatial grey scale", Proc. SID 17, 1976) are varied from dot to dot,
//! which R. Ulichney ("Dithering with blue noise", Proc. IEEE 76, 1988) showed to be what keeps
//! worms and regular patches away. A dot of no coverage or full coverage keeps it and passes
//! nothing on, so that edges and flat solids stay clean.

/// Decides `width` by `height` dots of `coverage(x, y)` (0..=65535); a
/// bit a dot in rows of words. `seed` varies the weights, the same for the same seed.
pub(super) fn diffuse(width: usize, height: usize, seed: u32, coverage: impl Fn(usize, usize) -> u16) -> Vec<u64> {
    let words = width.div_ceil(64);
    let mut bits = vec![0u64; words * height];
    // Errors that wait for this row and the next, a dot of room at both ends.
    let (mut here, mut below) = (vec![0i32; width + 2], vec![0i32; width + 2]);
    for y in 0..height {
        below.fill(0);
        let to_right = y % 2 == 0;
        for step in 0..width {
            let x = if to_right { step } else { width - 1 - step };
            let coverage = coverage(x, y);
            let value = match coverage {
                0 => continue,
                u16::MAX => {
                    bits[y * words + x / 64] |= 1 << (x % 64);
                    continue;
                }
                tone => i32::from(tone) + here[x + 1],
            };
            let ink = value > 32_767;
            if ink {
                bits[y * words + x / 64] |= 1 << (x % 64);
            }
            let error = value - if ink { 65_535 } else { 0 };
            // Sixteenths: 7 ahead, 1 ahead below, 5 below, 3 behind below; each pair of opposite
            // neighbours exchanges up to half of its smaller weight.
            let noise = scatter(x as u32, y as u32, seed);
            let (a, b) = ((noise & 0xff) as i32 - 128, (noise >> 8 & 0xff) as i32 - 128);
            let ahead = error * (7 * 256 + a) / 4096;
            let behind_below = error * (3 * 256 + 3 * b) / 4096;
            let right_below = error * (256 - a) / 4096;
            // The rest, so that nothing is lost to rounding.
            let straight = error - ahead - behind_below - right_below;
            let (front, back) = if to_right { (x + 2, x) } else { (x, x + 2) };
            here[front] += ahead;
            below[back] += behind_below;
            below[x + 1] += straight;
            below[front] += right_below;
        }
        std::mem::swap(&mut here, &mut below);
    }
    bits
}

/// A number that looks random, from a place.
pub(super) fn scatter(x: u32, y: u32, seed: u32) -> u32 {
    let mut h = x.wrapping_mul(0x85EB_CA6B) ^ y.wrapping_mul(0xC2B2_AE35) ^ seed;
    h ^= h >> 15;
    h = h.wrapping_mul(0x2C1B_3C6D);
    h ^= h >> 12;
    h = h.wrapping_mul(0x297A_2D39);
    h ^ h >> 15
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tints_keep_their_area_and_flat_parts_stay_clean() {
        for percent in [1u32, 7, 33, 50, 80, 99] {
            let tone = (percent * 65_535 / 100) as u16;
            let bits = diffuse(300, 300, 1, |_, _| tone);
            let ink: u32 = bits.iter().map(|w| w.count_ones()).sum();
            assert!((f64::from(ink) / 90_000.0 - f64::from(percent) / 100.0).abs() < 0.003, "{percent} %: {ink}");
        }
        // Left tone, right none, a solid below: neither takes or loses a dot.
        let bits = diffuse(128, 100, 1, |x, y| {
            if y >= 50 {
                u16::MAX
            } else if x < 64 {
                20_000
            } else {
                0
            }
        });
        assert!((0..50).all(|y| bits[2 * y + 1] == 0));
        assert!(bits[100..].iter().all(|&word| word == u64::MAX));
    }
}
