//! The reference strip that lies beside a print when it is photographed: eight greys over eight fields of colour on white
//! card, with corner marks as the print has. Its colours are known: measured once, or taken as drawn, which is assumed.

use std::fmt::Write as _;

use strikeoff_core::color::{Rgb8, lab_d65_of_d50, lab_from_linear, linear_from_lab};
use strikeoff_core::names::short;

use super::PhotoError;
use super::frame::{HOLE_MM, MARK_MM, middles};

/// Width and height of the strip in mm.
pub const STRIP_SIZE_MM: [f64; 2] = [176.0, 60.0];
pub(super) const FIELD_MM: f64 = 18.0;
const ACROSS: usize = 8;
const LEFT_MM: f64 = 16.0;
const TOP_MM: f64 = 12.0;
/// Greys, which come first.
pub(super) const GREYS: usize = 8;
/// Fields of the strip, as drawn.
const DRAWN: [&str; 2 * ACROSS] = [
    "#F4F4F4", "#D5D5D5", "#B4B4B4", "#949494", "#757575", "#585858", "#3E3E3E", "#282828", "#B23A3E", "#3E8A4B",
    "#34489A", "#4C9FB8", "#A84B85", "#D9B93C", "#F4F4F4", "#757575",
];

/// The colours of a strip's fields.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// Linear light; the colours after the greys may be missing.
    pub(super) linear: Vec<Option<[f64; 3]>>,
    /// Whether they were measured.
    pub measured: bool,
}

impl Default for Strip {
    fn default() -> Self {
        let of = |hex: &&str| hex.parse::<Rgb8>().ok().map(|c| c.linear().map(f64::from));
        Self { linear: DRAWN.iter().map(of).collect(), measured: false }
    }
}

impl Strip {
    /// As measured: lines of a field's number, from 0 in rows of eight, and L* a* b* under D50. All eight greys are
    /// needed.
    pub fn from_text(text: &str) -> Result<Self, PhotoError> {
        let mut linear = vec![None; DRAWN.len()];
        let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'));
        for (at, line) in lines {
            let bad = || PhotoError::StripLine { line: at + 1, text: short(line) };
            let words: Vec<&str> = line.split([' ', '\t', ',', ';']).filter(|w| !w.is_empty()).collect();
            let [number, l, a, b] = words[..] else { return Err(bad()) };
            let field = number.parse::<usize>().ok().filter(|n| *n < DRAWN.len()).ok_or_else(bad)?;
            let mut lab = [0.0f64; 3];
            for (value, word) in lab.iter_mut().zip([l, a, b]) {
                *value = word.parse().map_err(|_| bad())?;
            }
            if !(0.0..=110.0).contains(&lab[0]) || lab[1..].iter().any(|v| !(-150.0..=150.0).contains(v)) {
                return Err(bad());
            }
            linear[field] = Some(linear_of(lab_d65_of_d50(lab)));
        }
        match linear.iter().take(GREYS).position(Option::is_none) {
            Some(field) => Err(PhotoError::StripGrey(field)),
            None => Ok(Self { linear, measured: true }),
        }
    }

    /// The strip as a drawing at true scale, to be printed without fitting to the page.
    pub fn drawing() -> String {
        let [w, h] = STRIP_SIZE_MM;
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n\
             <title>Reference strip for photographs of calibration prints</title>\n\
             <rect width=\"{w}\" height=\"{h}\" fill=\"#FFFFFF\"/>\n"
        );
        for (at, color) in DRAWN.iter().enumerate() {
            let [x, y] = middle(at).map(|v| v - FIELD_MM / 2.0);
            let _ = writeln!(
                out,
                "<rect x=\"{x}\" y=\"{y}\" width=\"{FIELD_MM}\" height=\"{FIELD_MM}\" fill=\"{color}\"/>"
            );
        }
        for (at, [x, y]) in middles(STRIP_SIZE_MM).into_iter().enumerate() {
            let mut square = |side: f64, color: &str| {
                let (left, top) = (x - side / 2.0, y - side / 2.0);
                let _ = writeln!(
                    out,
                    "<rect x=\"{left}\" y=\"{top}\" width=\"{side}\" height=\"{side}\" fill=\"{color}\"/>"
                );
            };
            square(MARK_MM, "#000000");
            if at == 0 {
                square(2.0 * HOLE_MM, "#FFFFFF");
            }
        }
        out + "</svg>\n"
    }
}

fn linear_of(lab: [f64; 3]) -> [f64; 3] {
    let [l, a, b] = lab.map(|v| v as f32);
    linear_from_lab(strikeoff_core::color::Lab::new(l, a, b)).map(f64::from)
}

pub(super) fn lab_of(linear: [f64; 3]) -> [f64; 3] {
    let lab = lab_from_linear(linear.map(|v| v as f32));
    [lab.l, lab.a, lab.b].map(f64::from)
}

/// The middle of a field in mm.
pub(super) fn middle(at: usize) -> [f64; 2] {
    [LEFT_MM + ((at % ACROSS) as f64 + 0.5) * FIELD_MM, TOP_MM + ((at / ACROSS) as f64 + 0.5) * FIELD_MM]
}

/// Places of bare card, over and under the fields.
pub(super) fn card() -> Vec<[f64; 2]> {
    let across = (0..ACROSS).map(|i| LEFT_MM + (i as f64 + 0.5) * FIELD_MM);
    across.flat_map(|x| [[x, TOP_MM / 2.0], [x, STRIP_SIZE_MM[1] - TOP_MM / 2.0]]).collect()
}
