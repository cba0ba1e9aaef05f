//! What stands around the print on a film: registration marks, centre lines, crop corners, the
//! label and the step wedge. Marks are not symmetric: a film that is turned or flipped does not
//! match its neighbours.

use super::shapes::Shape;
use super::text::{text, text_width_mm};

/// Places on a film, millimetres from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sheet {
    /// Width of the film.
    pub width_mm: f64,
    /// Height of the film.
    pub height_mm: f64,
    /// Left edge of the print.
    pub left_mm: f64,
    /// Top edge of the print.
    pub top_mm: f64,
    /// Width of the print.
    pub print_width_mm: f64,
    /// Height of the print.
    pub print_height_mm: f64,
}

/// Thickness of mark lines.
const LINE_MM: f64 = 0.2;
/// Radius of the registration circles.
const TARGET_MM: f64 = 2.5;
/// Least margin that holds marks, label or wedge.
pub const LEAST_MARGIN_MM: f64 = 9.0;

impl Sheet {
    fn middle(&self) -> [f64; 2] {
        [self.left_mm + self.print_width_mm / 2.0, self.top_mm + self.print_height_mm / 2.0]
    }

    fn right_mm(&self) -> f64 {
        self.left_mm + self.print_width_mm
    }

    fn bottom_mm(&self) -> f64 {
        self.top_mm + self.print_height_mm
    }

    /// Middles of the registration targets: top and bottom centre, and one at the left a quarter
    /// down.
    pub fn targets(&self) -> [[f64; 2]; 3] {
        let [x, _] = self.middle();
        [
            [x, self.top_mm / 2.0],
            [x, (self.bottom_mm() + self.height_mm) / 2.0],
            [self.left_mm / 2.0, self.top_mm + self.print_height_mm / 4.0],
        ]
    }

    /// Registration marks, centre lines at the sides and crop corners.
    pub fn marks(&self, out: &mut Vec<Shape>) {
        let mut bar = |x: f64, y: f64, width: f64, height: f64| {
            out.push(Shape::rectangle(x - width / 2.0, y - height / 2.0, width, height));
        };
        let arm = 2.0 * (TARGET_MM + 1.2);
        for [x, y] in self.targets() {
            bar(x, y, arm, LINE_MM);
            bar(x, y, LINE_MM, arm);
        }
        let [_, y] = self.middle();
        let side = 0.5 * self.left_mm;
        bar(self.left_mm / 2.0, y, side, LINE_MM);
        bar((self.right_mm() + self.width_mm) / 2.0, y, side, LINE_MM);
        // Corners stand 1 mm off the print, so that they never print into it.
        let (gap, length) = (1.0, 4.0f64.min(self.left_mm - 1.5));
        for (x, toward_x) in [(self.left_mm, -1.0), (self.right_mm(), 1.0)] {
            for (y, toward_y) in [(self.top_mm, -1.0), (self.bottom_mm(), 1.0)] {
                bar(x + toward_x * (gap + length / 2.0), y, length, LINE_MM);
                bar(x, y + toward_y * (gap + length / 2.0), LINE_MM, length);
            }
        }
        for [x, y] in self.targets() {
            out.push(Shape::ring(x, y, TARGET_MM, LINE_MM));
        }
    }

    /// Room left and right of the middle target in the upper and lower margin: x and width.
    fn columns(&self) -> [(f64, f64); 2] {
        let [middle, _] = self.middle();
        let clear = TARGET_MM + 3.0;
        let left = self.left_mm + 1.0;
        let right = middle + clear;
        [(left, middle - clear - left), (right, self.right_mm() - 1.0 - right)]
    }

    /// The label in the upper margin: the heading and lines left, more lines right. Lines that do
    /// not fit their column are broken; letters shrink until all of them fit, but not under 1.2 mm.
    /// What still does not fit is returned.
    pub fn label(&self, heading: &str, left: &[String], right: &[String], out: &mut Vec<Shape>) -> Vec<String> {
        let columns = self.columns();
        let height = self.top_mm - 2.2;
        let mut lost = Vec::new();
        for (column, (heading, lines)) in columns.iter().zip([(Some(heading), left), (None, right)]) {
            let (x, width) = *column;
            let heading = heading.map(Words::new);
            let lines: Vec<Words> = lines.iter().map(|line| Words::new(line)).collect();
            let mut size = 2.6;
            let broken = loop {
                let mut broken = Vec::new();
                for (words, size) in heading.iter().map(|h| (h, size * 1.3)).chain(lines.iter().map(|l| (l, size))) {
                    broken.extend(words.lines(width / size).into_iter().map(|line| (line, size)));
                }
                let total: f64 = broken.iter().map(|(_, size)| size * 1.15).sum();
                if total <= height || size <= 1.2 {
                    break broken;
                }
                size -= 0.1;
            };
            let mut y = 0.8;
            for (line, size) in broken {
                y += size * 1.15;
                if y > height + 1.0 || text_width_mm(&line, size) > width + 0.01 {
                    lost.push(line);
                } else {
                    text(&line, x, y, size, out);
                }
            }
        }
        lost
    }

    /// Patches of the step wedge that fit into the lower margin: x, y, side and percent each.
    /// Numbers are drawn over the patches.
    pub fn wedge(&self, out: &mut Vec<Shape>) -> Vec<WedgePatch> {
        let side = (self.height_mm - self.bottom_mm() - 5.5).min(6.0);
        let columns = self.columns();
        let fit = |width: f64| (width / side).floor().max(0.0) as usize;
        let room = [fit(columns[0].1), fit(columns[1].1)];
        let mut patches = Vec::new();
        // Light tones left, dark tones right of the middle.
        for ((x, width), (steps, room)) in columns.iter().zip([(LIGHT, room[0]), (DARK, room[1])]) {
            let mut chosen: Vec<u32> = steps.iter().take(room).copied().collect();
            chosen.sort_unstable();
            let used = chosen.len() as f64 * side;
            let start = if steps == LIGHT { x + width - used } else { *x };
            for (at, percent) in chosen.into_iter().enumerate() {
                let patch =
                    WedgePatch { x_mm: start + at as f64 * side, y_mm: self.bottom_mm() + 3.6, side_mm: side, percent };
                let label = percent.to_string();
                let size = 1.5;
                text(&label, patch.x_mm + (side - text_width_mm(&label, size)) / 2.0, patch.y_mm - 0.5, size, out);
                patches.push(patch);
            }
        }
        patches
    }
}

/// One step of the wedge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WedgePatch {
    /// Left edge.
    pub x_mm: f64,
    /// Upper edge.
    pub y_mm: f64,
    /// Side of the square.
    pub side_mm: f64,
    /// Film coverage in percent.
    pub percent: u32,
}

/// Steps in order of worth: a narrow film carries the first ones only.
const LIGHT: &[u32] = &[5, 10, 20, 30, 40, 2, 3, 15, 1, 4, 7, 0, 6, 8, 9, 25, 35, 45];
const DARK: &[u32] = &[100, 50, 90, 70, 80, 60, 95, 97, 85, 98, 93, 99, 96, 92, 94, 91, 75, 65, 55];

/// The words of a line with their widths at a text size of 1 mm.
struct Words(Vec<(String, f64)>);

impl Words {
    fn new(line: &str) -> Self {
        Self(line.split_whitespace().map(|word| (word.to_owned(), text_width_mm(word, 1.0))).collect())
    }

    /// Broken at blanks into lines no wider than `width`. A word that is wider by itself is broken
    /// inside.
    fn lines(&self, width: f64) -> Vec<String> {
        let blank = text_width_mm(" ", 1.0);
        let mut lines: Vec<(String, f64)> = Vec::new();
        for (word, wide) in &self.0 {
            match lines.last_mut() {
                Some((last, used)) if *used + blank + wide <= width => {
                    last.push(' ');
                    last.push_str(word);
                    *used += blank + wide;
                }
                _ if *wide <= width => lines.push((word.clone(), *wide)),
                _ => {
                    lines.push(Default::default());
                    for letter in word.chars() {
                        let letter_wide = text_width_mm(letter.encode_utf8(&mut [0; 4]), 1.0);
                        match lines.last_mut() {
                            Some((last, used)) if last.is_empty() || *used + letter_wide <= width => {
                                last.push(letter);
                                *used += letter_wide;
                            }
                            _ => lines.push((letter.to_string(), letter_wide)),
                        }
                    }
                }
            }
        }
        lines.into_iter().map(|(line, _)| line).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: Sheet = Sheet {
        width_mm: 325.4,
        height_mm: 425.4,
        left_mm: 12.7,
        top_mm: 12.7,
        print_width_mm: 300.0,
        print_height_mm: 400.0,
    };

    #[test]
    fn a_flipped_or_turned_film_does_not_match() {
        let places = |f: fn([f64; 2]) -> [f64; 2]| {
            let mut list: Vec<_> = SHEET.targets().into_iter().map(f).map(|p| p.map(|v| v.round() as i64)).collect();
            list.sort_unstable();
            list
        };
        let straight = places(|p| p);
        assert_ne!(straight, places(|[x, y]| [SHEET.width_mm - x, y]));
        assert_ne!(straight, places(|[x, y]| [x, SHEET.height_mm - y]));
        assert_ne!(straight, places(|[x, y]| [SHEET.width_mm - x, SHEET.height_mm - y]));
    }

    #[test]
    fn nothing_but_the_print_lies_in_the_print() {
        let mut shapes = Vec::new();
        SHEET.marks(&mut shapes);
        let lost = SHEET.label("1/6 BLACK", &["ink Night black".into()], &["a job".into()], &mut shapes);
        assert!(lost.is_empty());
        let patches = SHEET.wedge(&mut shapes);
        assert_eq!(patches.len(), LIGHT.len() + DARK.len());
        // A fine raster of the print area stays empty.
        let (mut row, mut crossings) = (vec![0u64; 26], Vec::new());
        for y in 0..2126 {
            row.fill(0);
            for shape in &shapes {
                shape.fill_row(y, [127.0; 2], 1627, &mut crossings, &mut row);
            }
            let inside =
                |px: usize, from: f64, size: f64| (from + 0.3..from + size - 0.3).contains(&((px as f64 + 0.5) / 5.0));
            if inside(y, SHEET.top_mm, SHEET.print_height_mm) {
                for x in (0..1627).filter(|&x| inside(x, SHEET.left_mm, SHEET.print_width_mm)) {
                    assert_eq!(row[x / 64] >> (x % 64) & 1, 0, "{x} {y}");
                }
            }
        }
    }

    #[test]
    fn a_narrow_film_keeps_the_steps_worth_most_and_says_what_is_lost() {
        let narrow = Sheet { width_mm: 85.4, print_width_mm: 60.0, ..SHEET };
        let mut shapes = Vec::new();
        let steps: Vec<u32> = narrow.wedge(&mut shapes).iter().map(|p| p.percent).collect();
        assert!(steps.contains(&5) && steps.contains(&100), "{steps:?}");
        assert!(!narrow.label("1/6 BLACK", &["long words ".repeat(60)], &[], &mut shapes).is_empty());
    }
}
