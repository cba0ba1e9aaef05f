//! Several films on a roll: where each lies so that the roll is cut as short as can be. Films are
//! put one after another at the highest place where they fit (a skyline), each upright or turned;
//! every choice of turns is tried for up to eight films, and the shortest roll is taken. Cut
//! marks stand between films.

use super::shapes::Shape;
use super::text::text;

/// Where a film lies on a roll, millimetres from its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Left edge.
    pub x_mm: f64,
    /// Upper edge.
    pub y_mm: f64,
    /// Whether it is turned by a right angle.
    pub sideways: bool,
}

/// Films on a roll.
#[derive(Debug, Clone, PartialEq)]
pub struct Packing {
    /// In the order of the films.
    pub places: Vec<Place>,
    /// Length of roll, with the border before the first and behind the last film.
    pub length_mm: f64,
}

/// Room between films and at both ends of the roll, for cut marks.
pub const GAP_MM: f64 = 5.0;

/// Films of `size_mm` on a roll of a width; none if one does not fit either way.
pub fn pack(size_mm: [f64; 2], count: usize, width_mm: f64) -> Option<Packing> {
    let upright_fits = size_mm[0] <= width_mm + 1e-9;
    let sideways_fits = size_mm[1] <= width_mm + 1e-9;
    let turns: Vec<Vec<bool>> = match (upright_fits, sideways_fits) {
        (false, false) => return None,
        (true, false) => vec![vec![false; count]],
        (false, true) => vec![vec![true; count]],
        // Films of a set are alike, so the order of turns is what matters; beyond eight films
        // only "first k upright" and "first k turned" are tried.
        (true, true) if count <= 8 => {
            (0..1usize << count).map(|bits| (0..count).map(|at| bits >> at & 1 == 1).collect()).collect()
        }
        (true, true) => (0..=count)
            .flat_map(|k| [false, true].map(|first| (0..count).map(|at| (at < k) == first).collect()))
            .collect(),
    };
    turns
        .into_iter()
        .map(|turns| place_all(size_mm, &turns, width_mm))
        .min_by(|a, b| a.length_mm.total_cmp(&b.length_mm))
}

fn place_all(size_mm: [f64; 2], turns: &[bool], width_mm: f64) -> Packing {
    // Steps of the skyline: left edge, and how far down the roll is taken from there on.
    let mut skyline = vec![(0.0f64, GAP_MM)];
    let mut places = Vec::new();
    let mut length_mm = 0.0f64;
    for &sideways in turns {
        let [w, h] = if sideways { [size_mm[1], size_mm[0]] } else { size_mm };
        let mut best: Option<(f64, f64)> = None;
        for at in 0..skyline.len() {
            let x = skyline[at].0;
            if x + w > width_mm + 1e-9 {
                break;
            }
            let y = skyline[at..].iter().take_while(|step| step.0 < x + w - 1e-9).fold(0.0f64, |y, s| y.max(s.1));
            if best.is_none_or(|(_, top)| y < top - 1e-9) {
                best = Some((x, y));
            }
        }
        let Some((x, y)) = best else { unreachable!("every film fits across at the left edge") };
        places.push(Place { x_mm: x, y_mm: y, sideways });
        length_mm = length_mm.max(y + h + GAP_MM);
        let end = x + w + GAP_MM;
        let after = skyline.iter().rev().find(|step| step.0 <= end).map_or(GAP_MM, |step| step.1);
        skyline.retain(|step| step.0 < x - 1e-9 || step.0 > end + 1e-9);
        skyline.push((x, y + h + GAP_MM));
        skyline.push((end, after));
        skyline.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    Packing { places, length_mm }
}

/// Cut marks: hairlines that run on from each film's edges into the room between films, ending at
/// its corners.
pub fn cut_marks(films_mm: &[[f64; 4]], sheet_mm: [f64; 2], out: &mut Vec<Shape>) {
    const LINE: f64 = 0.15;
    const LONGEST: f64 = 4.0;
    for (index, &[left, top, width, height]) in films_mm.iter().enumerate() {
        for x in [left, left + width] {
            for (y, toward) in [(top, -1.0), (top + height, 1.0)] {
                // As far as there is room before the next film or the end of the sheet.
                let free = |dx: f64, dy: f64| {
                    let clear = |[l, t, w, h]: [f64; 4], x: f64, y: f64| x < l || x > l + w || y < t || y > t + h;
                    let mut reach = 0.0;
                    while reach < LONGEST {
                        let (x, y) = (x + dx * (reach + 0.6), y + dy * (reach + 0.6));
                        let inside = (0.0..=sheet_mm[0]).contains(&x) && (0.0..=sheet_mm[1]).contains(&y);
                        let others = films_mm.iter().enumerate().filter(|(at, _)| *at != index);
                        if !inside || !others.into_iter().all(|(_, &film)| clear(film, x, y)) {
                            break;
                        }
                        reach += 0.2;
                    }
                    reach
                };
                // A line must not leave the sheet sideways.
                let at = x.clamp(LINE / 2.0, sheet_mm[0] - LINE / 2.0);
                let reach = free(0.0, toward);
                if reach > 0.5 {
                    out.push(Shape::rectangle(at - LINE / 2.0, y.min(y + toward * reach), LINE, reach));
                }
                let outward = if x == left { -1.0 } else { 1.0 };
                let reach = free(outward, 0.0);
                if reach > 0.5 {
                    out.push(Shape::rectangle(x.min(x + outward * reach), y - LINE / 2.0, reach, LINE));
                }
            }
        }
    }
}

/// A line of words in the border before the first film.
pub fn roll_words(line: &str, out: &mut Vec<Shape>) {
    text(line, 7.0, GAP_MM - 1.8, 2.0, out);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(size: [f64; 2], count: usize, width: f64) -> f64 {
        let packing = pack(size, count, width).unwrap();
        let boxes: Vec<[f64; 4]> = packing
            .places
            .iter()
            .map(|p| {
                let [w, h] = if p.sideways { [size[1], size[0]] } else { size };
                [p.x_mm, p.y_mm, w, h]
            })
            .collect();
        assert_eq!(boxes.len(), count);
        for (i, a) in boxes.iter().enumerate() {
            assert!(a[0] >= 0.0 && a[0] + a[2] <= width + 1e-6 && a[1] >= GAP_MM, "{a:?}");
            assert!(a[1] + a[3] + GAP_MM <= packing.length_mm + 1e-6);
            for b in &boxes[i + 1..] {
                let apart = |from: usize| {
                    a[from] + a[from + 2] + GAP_MM <= b[from] + 1e-6 || b[from] + b[from + 2] + GAP_MM <= a[from] + 1e-6
                };
                assert!(apart(0) || apart(1), "{a:?} {b:?} in {packing:?}");
            }
        }
        packing.length_mm
    }

    #[test]
    fn films_never_touch_and_the_roll_is_as_short_as_arithmetic_says() {
        // 350 x 460 mm on 610 mm (24 in): one upright a row is 6 x 465 + 5; turned 6 x 355 + 5.
        assert!((check([350.0, 460.0], 6, 610.0) - 2135.0).abs() < 1e-6);
        // On 914 mm (36 in) rows of two upright would take 3 x 465 + 5 = 1400; mixed with turned ones
        // they take 5 + 460 + 5 + 460 + 5 + 350 + 5.
        assert!((check([350.0, 460.0], 6, 914.0) - 1290.0).abs() < 1e-6);
        // One upright beside a turned one: 350 + 5 + 460 = 815 wide. Four films: two rows of two
        // upright do not fit (705 of 700), so a stack of turned ones is taken.
        assert!((check([350.0, 460.0], 4, 700.0) - 1425.0).abs() < 1e-6);
        // Two turned films stand beside one upright of twice their height and more.
        assert!((check([200.0, 420.0], 3, 630.0) - 430.0).abs() < 1e-6);
        assert!(pack([350.0, 460.0], 2, 300.0).is_none());
    }

    #[test]
    fn lengths_stay_near_the_least_that_area_allows() {
        let (mut worst, mut sum, mut count) = (0.0f64, 0.0, 0);
        for width in [330.0, 432.0, 610.0, 914.0, 1118.0] {
            for films in [1usize, 2, 3, 5, 6, 8, 10, 14] {
                for size in [[300.0, 380.0], [350.0, 460.0], [120.0, 150.0], [310.0, 330.0]] {
                    if size[0] > width {
                        assert!(pack(size, films, width).is_none());
                        continue;
                    }
                    let length = check(size, films, width);
                    // No packing is shorter than the area, nor than one film.
                    let area = films as f64 * (size[0] + GAP_MM) * (size[1] + GAP_MM) / (width + GAP_MM) + GAP_MM;
                    let one = size[0].min(size[1]) + 2.0 * GAP_MM;
                    let least = area.max(if size[1] <= width { one } else { size[1] + 2.0 * GAP_MM });
                    assert!(length >= least - 1e-6);
                    // Nor longer than one film under the other.
                    assert!(length <= films as f64 * (size[1] + GAP_MM) + GAP_MM + 1e-6);
                    worst = worst.max(length / least);
                    sum += length / least;
                    count += 1;
                }
            }
        }
        let mean = sum / f64::from(count);
        assert!(mean < 1.35 && worst < 2.0, "mean {mean}, worst {worst}");
    }
}
