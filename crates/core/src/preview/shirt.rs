//! The one description of a shirt laid out flat, and of where a print lies on it: in the window, on the
//! press sheet and on the client's proof. Drawn by us from a few measures in millimetres (a common adult
//! L; no source, it only sets the scale of the picture). The middle of the collar's line is at x = 0;
//! y runs down.

use std::f64::consts::PI;

use crate::units::Mm;

/// A place on the shirt in mm.
pub type At = [f64; 2];

/// Half the width under the arms.
const HALF_CHEST: f64 = 268.0;
/// From the middle of the collar to the hem.
pub const LENGTH: f64 = 708.0;
/// Half the collar's width and its drop in front.
pub const COLLAR: At = [88.0, 62.0];
/// Width and depth of the collar's rib, and how far down its seam lies in front.
const RIB: At = [15.0, 17.0];
const COLLAR_SEAM: f64 = NECK_TOP + COLLAR[1] + RIB[1];
/// Where shoulder meets sleeve, and the armpit below it.
pub const SHOULDER: At = [214.0, 8.0];
const ARMPIT: At = [HALF_CHEST, 186.0];
/// The sleeve's end, above and below.
const CUFF_TOP: At = [408.0, 142.0];
const CUFF_BOTTOM: At = [330.0, 246.0];
/// The shoulder seam begins this far above the collar's middle.
pub const NECK_TOP: f64 = -58.0;
/// Part of the body's height at which the armpit lies.
pub const ARMHOLE: f64 = 0.26;

/// All of the shirt: its upper left and lower right corner.
pub fn bounds_mm() -> [At; 2] {
    [[-CUFF_TOP[0], NECK_TOP - 8.0], [CUFF_TOP[0], LENGTH]]
}

/// Where a print of a size lies, as left, top, width and height: centred, its top as far below the collar's
/// seam in front as the job says, for that is what is measured at the press.
pub fn print_rect_mm(size_mm: At, below_collar: Mm) -> [f64; 4] {
    let [width, height] = size_mm;
    [-width / 2.0, COLLAR_SEAM + below_collar.get(), width, height]
}

/// The body over u = -1..1 from left to right and v = 0..1 from shoulder to hem.
pub fn body(u: f64, v: f64) -> At {
    // The shoulder line, with the collar cut out of it.
    let x_top = u * SHOULDER[0];
    let top = if x_top.abs() < COLLAR[0] {
        let t = x_top / COLLAR[0];
        NECK_TOP + COLLAR[1] * (1.0 - t * t).sqrt()
    } else {
        let t = (x_top.abs() - COLLAR[0]) / (SHOULDER[0] - COLLAR[0]);
        NECK_TOP + (SHOULDER[1] - NECK_TOP) * t
    };
    let hem = LENGTH - 6.0 * u * u;
    let y = top + (hem - top) * v;
    // From the shoulder out to the armpit, slightly in at the waist, out again at the hem.
    let half = if v < ARMHOLE {
        let t = v / ARMHOLE;
        SHOULDER[0] + (ARMPIT[0] - SHOULDER[0]) * t * t * (3.0 - 2.0 * t)
    } else {
        let t = (v - ARMHOLE) / (1.0 - ARMHOLE);
        HALF_CHEST - 9.0 * (PI * t).sin() + 3.0 * t
    };
    [u * half, y]
}

/// A sleeve, right (`side` 1) or left (-1): u = 0 at the seam to 1 at the cuff, v = 0 above to 1 below.
pub fn sleeve(side: f64, u: f64, v: f64) -> At {
    let seam = body(1.0, ARMHOLE * v);
    let cuff = [0, 1].map(|axis| CUFF_TOP[axis] + (CUFF_BOTTOM[axis] - CUFF_TOP[axis]) * v);
    let bulge = 9.0 * (PI * u).sin() * (1.0 - v);
    let p = [0, 1].map(|axis| seam[axis] + (cuff[axis] - seam[axis]) * u);
    [side * (p[0] + bulge * 0.4), p[1] - bulge]
}

/// The collar's line, t = 0..1 from left to right, at a drop.
pub fn collar(t: f64, drop: f64) -> At {
    let x = 2.0 * t - 1.0;
    [x * COLLAR[0], NECK_TOP + drop * (1.0 - x * x).max(0.0).sqrt()]
}

/// The seam of the collar's rib, t = 0..1 from left to right.
pub fn rib(t: f64) -> At {
    let x = 2.0 * t - 1.0;
    [x * (COLLAR[0] + RIB[0]), NECK_TOP + 4.0 + (COLLAR_SEAM - NECK_TOP - 4.0) * (1.0 - x * x).max(0.0).sqrt()]
}

/// The whole edge of the shirt, from the left end of the collar down the left side, along the hem, up the
/// right side and back along the collar.
pub fn outline() -> Vec<At> {
    let part = |count: usize, at: &dyn Fn(f64) -> At| -> Vec<At> {
        (0..=count).map(|i| at(i as f64 / count as f64)).collect()
    };
    let mut edge = Vec::new();
    for (side, down) in [(-1.0, true), (1.0, false)] {
        let mut parts = [
            vec![[side * COLLAR[0], NECK_TOP], [side * SHOULDER[0], SHOULDER[1]]],
            part(12, &|t| sleeve(side, t, 0.0)),
            part(4, &|t| sleeve(side, 1.0, t)),
            part(12, &|t| sleeve(side, 1.0 - t, 1.0)),
            part(24, &|t| body(side, ARMHOLE + t * (1.0 - ARMHOLE))),
        ]
        .concat();
        if !down {
            parts.reverse();
            edge.extend(part(16, &|t| body(2.0 * t - 1.0, 1.0)));
        }
        edge.extend(parts);
    }
    edge.extend(part(32, &|t| collar(1.0 - t, COLLAR[1])));
    edge
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_large_print_lies_on_the_shirt() {
        let [from, to] = bounds_mm();
        for size in [[342.9, 457.2], [406.4, 558.8], [80.0, 80.0]] {
            let [left, top, width, height] = print_rect_mm(size, Mm::new(75.0).unwrap());
            assert!(left > from[0] && left + width < to[0] && top > from[1], "{left} {top}");
            assert!(top + height <= LENGTH - 20.0);
            assert!((left + width / 2.0).abs() < 1e-9);
        }
    }

    #[test]
    fn the_outline_is_mirrored_and_within_its_bounds() {
        let edge = outline();
        let [from, to] = bounds_mm();
        assert!(edge.iter().all(|[x, y]| (from[0]..=to[0]).contains(x) && (from[1]..=to[1]).contains(y)));
        // Twice the area by the shoelace formula, which is negative for a way round to the left.
        let next = edge.iter().cycle().skip(1);
        let area = edge.iter().zip(next).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>() / 2.0;
        // A shirt of this size covers about 0.43 square metres.
        assert!((380_000.0..480_000.0).contains(&area.abs()), "{area}");
        let lean: f64 = edge.iter().map(|p| p[0]).sum();
        assert!(lean.abs() < 1.0, "{lean}");
    }
}
