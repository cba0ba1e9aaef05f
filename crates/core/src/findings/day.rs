//! A good day and a bad day on press: the same screens, standing off each other and printing
//! heavier or lighter. Feed the result to the proof.

use super::gain::heavier;
use crate::job::{Screen, Screens};
use crate::raster::Plane;
use crate::units::MM_PER_INCH;

/// How one screen prints on the day.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Drift {
    /// Shift to the right and down in mm.
    pub shift_mm: [f64; 2],
    /// Points of gain at half tone more (or less) than expected, -25..=25.
    pub points: f64,
}

/// The screens as they print on the day; `drift` is asked for each by its place in the order.
/// Shifts are whole pixels; what comes in over the edge is bare.
pub fn on_the_day(screens: &Screens, drift: impl Fn(usize) -> Drift) -> Screens {
    let px = screens.ppi.get() / MM_PER_INCH;
    let list = screens
        .list
        .iter()
        .enumerate()
        .map(|(at, screen)| {
            let Drift { shift_mm, points } = drift(at);
            let [dx, dy] = shift_mm.map(|mm| (mm * px).round() as i64);
            let table: Vec<u16> = (0..=255u16)
                .map(|v| (heavier(f32::from(v) / 255.0, (points / 100.0) as f32) * 65535.0).round() as u16)
                .collect();
            let tone = |v: u16| {
                // Straight between the table's entries, so that no tone is lost.
                let (low, part) = (usize::from(v / 257), u32::from(v % 257));
                let (a, b) = (u32::from(table[low]), u32::from(table[(low + 1).min(255)]));
                ((a * (257 - part) + b * part) / 257) as u16
            };
            let plane = &screen.coverage;
            let (w, h) = (plane.width() as i64, plane.height() as i64);
            let coverage = Plane::from_fn(plane.width(), plane.height(), |x, y| {
                let (u, v) = (x as i64 - dx, y as i64 - dy);
                if u < 0 || v < 0 || u >= w || v >= h { 0 } else { tone(plane.get(u as usize, v as usize)) }
            });
            Screen { name: screen.name.clone(), ink: screen.ink.clone(), hits: screen.hits, coverage }
        })
        .collect();
    Screens { width: screens.width, height: screens.height, ppi: screens.ppi, list }
}

/// A bad day: screens stand off by `shift_mm` in turn to the right, down, left and up, and print
/// `points` heavier and lighter by turns. The first screen stays where it is: it is what the
/// others are registered to.
pub fn bad_day(shift_mm: f64, points: f64) -> impl Fn(usize) -> Drift {
    move |at| {
        let shift_mm = match at {
            0 => [0.0, 0.0],
            n if n % 4 == 1 => [shift_mm, 0.0],
            n if n % 4 == 2 => [0.0, shift_mm],
            n if n % 4 == 3 => [-shift_mm, 0.0],
            _ => [0.0, -shift_mm],
        };
        Drift { shift_mm, points: if at % 2 == 0 { points } else { -points } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Ink;
    use crate::units::Ppi;

    fn screens() -> Screens {
        let ink: Ink = serde_json::from_str(r##"{"name":"a","over_white":"#000000","opacity":0.9}"##).unwrap();
        let coverage = Plane::from_fn(40, 30, |x, y| ((x * 1600 + y * 17) % 65536) as u16);
        let screen = |name: &str| Screen { name: name.into(), ink: ink.clone(), hits: 1, coverage: coverage.clone() };
        Screens { width: 40, height: 30, ppi: Ppi::new(254.0).unwrap(), list: vec![screen("a"), screen("b")] }
    }

    #[test]
    fn a_good_day_changes_nothing() {
        let screens = screens();
        assert_eq!(on_the_day(&screens, |_| Drift::default()), screens);
    }

    #[test]
    fn a_bad_day_shifts_by_mm_and_bends_the_middle_tones() {
        let screens = screens();
        let bad = on_the_day(&screens, bad_day(0.2, 10.0));
        // 0.2 mm at 254 ppi are two pixels to the right for the second screen.
        assert_eq!(bad.list[1].coverage.get(1, 5), 0);
        let (meant, got) = (screens.list[1].coverage.get(20, 5), bad.list[1].coverage.get(22, 5));
        let a = f64::from(meant) / 65535.0;
        assert!((f64::from(got) / 65535.0 - (a - 0.4 * a * (1.0 - a))).abs() < 1e-3);
        // The first screen stays and gains.
        let (meant, got) = (screens.list[0].coverage.get(20, 5), bad.list[0].coverage.get(20, 5));
        assert!(got > meant);
    }
}
