//! Places spread over a picture.

/// Endless places spread evenly over a picture of `width` by `height` pixels, in no row or column: a lattice of the
/// plane (Roberts' sequence of the plastic number). Every so many pixels in a row would lie in a few columns where the
/// step and the width have a divisor in common.
pub(crate) fn spread_places(width: usize, height: usize) -> impl Iterator<Item = (usize, usize)> {
    let place = |n: usize, step: f64, of: usize| (((n as f64 + 0.5) * step).fract() * of as f64) as usize;
    (0..).map(move |n| (place(n, 0.754_877_666, width), place(n, 0.569_840_291, height)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of a picture in 64 parts each has its share, whatever its width.
    #[test]
    fn each_part_of_a_picture_has_its_share() {
        for (width, height) in [(200, 200), (1024, 16), (37, 999)] {
            let mut counts = [0usize; 64];
            for (x, y) in spread_places(width, height).take(6400) {
                counts[x * 8 / width + y * 8 / height * 8] += 1;
            }
            assert!(counts.iter().all(|count| (60..=140).contains(count)), "{width} x {height}: {counts:?}");
        }
    }
}
