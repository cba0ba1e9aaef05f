//! The press's gain from a wedge: typed pairs of film and printed percent, or a scan or photograph of our own
//! calibration print, found by its corner marks. Coverage is worked out from light by Murray and Davies
//! (1936), `a = (R0 - R) / (R0 - Rs)`, in the channel in which the ink takes most light.

use strikeoff_core::bounds::{plain_number, table};
use strikeoff_core::names::short;
use strikeoff_core::raster::Picture;
use strikeoff_core::units::Coverage;

use crate::calibration::{WEDGE_PCT, wedge_layout};
use crate::photo::{Field, PhotoError, Shot, Strip, read_photo, read_scan};

/// A wedge that cannot be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WedgeError {
    /// Not two numbers.
    #[error("\"{0}\" is not a step; write film and printed percent as 50:72, steps apart by commas")]
    Step(String),
    /// A line of a table that is not two numbers.
    #[error("line {line}, \"{text}\", is not a step; write film and printed percent as 50,72, a step to a line")]
    Line {
        /// From 1.
        line: usize,
        /// As found.
        text: String,
    },
    /// Not a percentage.
    #[error("{what} of the step {step} must be 0 to 100 %, not {value}; check the reading")]
    Percent {
        /// Film or print.
        what: &'static str,
        /// As typed.
        step: String,
        /// The number.
        value: String,
    },
    /// Bare film that prints, or solid film that does not.
    #[error(
        "the step {0} cannot be: 0 % on film prints 0 % and 100 % prints 100 %; leave it out, the ends are implied"
    )]
    End(String),
    /// A film percent twice.
    #[error("the wedge has two steps of {0} % on film; keep one of them")]
    Twice(String),
    /// Falling.
    #[error("{film_a} % on film reads {print_a} % and {film_b} % reads only {print_b} %; check the reading")]
    Falling {
        /// The lighter step on film, in percent.
        film_a: String,
        /// What it printed.
        print_a: String,
        /// The darker step.
        film_b: String,
        /// What it printed.
        print_b: String,
    },
    /// Nothing between the ends.
    #[error("a wedge needs at least {0} between 0 and 100 %")]
    TooFew(&'static str),
    /// More than a wedge has.
    #[error("a wedge can have at most {most} steps, not {count}", most = table::STEPS.most)]
    TooMany {
        /// How many there are.
        count: usize,
    },
    /// The picture is not good enough.
    #[error(transparent)]
    Photo(#[from] PhotoError),
    /// A wedge that does not show.
    #[error("the solid of a wedge does not stand out from the garment; print it on one on which it shows")]
    NoInk,
}

/// One ink's wedge.
#[derive(Debug, Clone, PartialEq)]
pub struct WedgeReading {
    /// Film coverage and what it printed as, rising.
    pub points: Vec<(Coverage, Coverage)>,
}

impl WedgeReading {
    /// Points gained at the 50 % step.
    pub fn gain_at_half(&self) -> f64 {
        let at = self.points.iter().find(|(film, _)| (film.get() - 0.5).abs() < 1e-6);
        at.map_or(0.0, |(_, print)| (print.get() - 0.5) * 100.0)
    }
}

/// Steps as typed: `5:14, 10:25, 50:72`, film and printed percent, in any order.
pub fn typed_wedge(text: &str) -> Result<WedgeReading, WedgeError> {
    let parts = text.split(',').map(str::trim).filter(|part| !part.is_empty());
    let steps: Vec<(f64, f64)> = parts
        .map(|part| step(part, &[':', '=']).unwrap_or_else(|| Err(WedgeError::Step(short(part)))))
        .collect::<Result<_, _>>()?;
    reading(steps)
}

/// A table with a step to a line: `50,72`, film and printed percent. Empty lines and lines that begin with `#`
/// do not count.
pub fn wedge_table(text: &str) -> Result<WedgeReading, WedgeError> {
    let lines = text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty() && !l.starts_with('#'));
    let steps: Vec<(f64, f64)> = lines
        .map(|(at, line)| {
            step(line.trim(), &[',', ';', '\t'])
                .unwrap_or_else(|| Err(WedgeError::Line { line: at + 1, text: short(line) }))
        })
        .collect::<Result<_, _>>()?;
    if steps.len() < 2 {
        return Err(WedgeError::TooFew("two steps"));
    }
    reading(steps)
}

/// One step; none where it is not two numbers.
fn step(text: &str, between: &[char]) -> Option<Result<(f64, f64), WedgeError>> {
    let (film, print) = text.split_once(between)?;
    let number = |v: &str| v.trim().trim_end_matches('%').trim().parse::<f64>().ok();
    let (film, print) = (number(film)?, number(print)?);
    let beyond = [("the film", film), ("the print", print)].into_iter().find(|(_, v)| !(0.0..=100.0).contains(v));
    Some(match beyond {
        Some((what, value)) => Err(WedgeError::Percent { what, step: short(text), value: plain_number(value) }),
        None if (film == 0.0 && print != 0.0) || (film == 100.0 && print != 100.0) => Err(WedgeError::End(short(text))),
        None => Ok((film, print)),
    })
}

/// Checks and sorts steps in percent. The ends are implied.
fn reading(mut steps: Vec<(f64, f64)>) -> Result<WedgeReading, WedgeError> {
    if steps.len() > table::STEPS.most {
        return Err(WedgeError::TooMany { count: steps.len() });
    }
    steps.sort_by(|a, b| a.0.total_cmp(&b.0));
    steps.retain(|s| s.0 > 0.0 && s.0 < 100.0);
    if steps.is_empty() {
        return Err(WedgeError::TooFew("one step"));
    }
    let said = |v: f64| plain_number((v * 10.0).round() / 10.0);
    for pair in steps.windows(2) {
        let [(film_a, print_a), (film_b, print_b)] = [pair[0], pair[1]];
        if film_a == film_b {
            return Err(WedgeError::Twice(plain_number(film_a)));
        }
        if print_b < print_a - NOISE {
            let [film_a, print_a, film_b, print_b] = [film_a, print_a, film_b, print_b].map(said);
            return Err(WedgeError::Falling { film_a, print_a, film_b, print_b });
        }
    }
    let mut most: f64 = 0.0;
    let coverage = |what, v: f64| {
        Coverage::new(v / 100.0).map_err(|_| WedgeError::Percent { what, step: said(v), value: plain_number(v) })
    };
    let points = steps.into_iter().map(|(film, print)| {
        // Reading noise is evened out: no step prints less than the one before.
        most = most.max(print);
        Ok::<_, WedgeError>((coverage("the film", film)?, coverage("the print", most)?))
    });
    Ok(WedgeReading { points: points.collect::<Result<_, _>>()? })
}

/// Points by which a darker step may read lighter than the one before: noise of the reading (assumed).
const NOISE: f64 = 3.0;

/// Reads the wedges off a scan or a photograph of a calibration print of so many inks, first ink first. A photograph
/// has the reference strip beside the print; a scan without one is taken as sRGB.
pub fn read_wedge(
    picture: &Picture,
    inks: usize,
    strip: Option<&Strip>,
) -> Result<(Vec<WedgeReading>, Shot), WedgeError> {
    let layout = wedge_layout(inks.max(1));
    let shot = match strip {
        Some(strip) => read_photo(picture, &layout, strip)?,
        None => read_scan(picture, &layout)?,
    };
    let wedges = shot.fields.chunks(WEDGE_PCT.len()).map(wedge).collect::<Result<Vec<_>, WedgeError>>()?;
    Ok((wedges, shot))
}

fn wedge(steps: &[Field]) -> Result<WedgeReading, WedgeError> {
    let (bare, solid) = (steps[0].light, steps[steps.len() - 1].light);
    let channel = (0..3).max_by(|&a, &b| (bare[a] - solid[a]).abs().total_cmp(&(bare[b] - solid[b]).abs()));
    let channel = channel.unwrap_or(1);
    let span = bare[channel] - solid[channel];
    if span.abs() < 0.03 {
        return Err(WedgeError::NoInk);
    }
    let steps = WEDGE_PCT.iter().zip(steps).map(|(&film, step)| {
        let a = ((bare[channel] - step.light[channel]) / span).clamp(0.0, 1.0);
        (f64::from(film), a * 100.0)
    });
    reading(steps.collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::calibration_job;
    use crate::shelf::house_shelf;
    use strikeoff_core::Progress;
    use strikeoff_core::color::encode_u16;
    use strikeoff_core::ink::{Garment, Ink};
    use strikeoff_core::press::DotGain;
    use strikeoff_core::raster::Plane;
    use strikeoff_core::units::Lpi;

    #[test]
    fn typed_steps_are_read_and_nonsense_is_named() {
        let read = typed_wedge("50:72, 5=14 %, 10:25").unwrap();
        assert_eq!(read.points.len(), 3);
        assert!((read.gain_at_half() - 22.0).abs() < 1e-9);
        assert!(typed_wedge("fifty").unwrap_err().to_string().contains("50:72"));
        assert!(typed_wedge("10:30, 20:20").unwrap_err().to_string().contains("only 20 %"));
        for (text, says) in [
            ("5:NaN,50:60", "the print of the step 5:NaN must be 0 to 100 %, not NaN"),
            ("NaN:5", "the film of the step NaN:5 must be"),
            ("5:inf", "not inf"),
            ("50:-1", "the print of the step 50:-1 must be 0 to 100 %, not -1"),
            ("50:120", "not 120"),
            ("1e308:5", "not 1e308"),
            ("0:5,50:60", "the step 0:5 cannot be"),
            ("50:60,100:90", "the step 100:90 cannot be"),
            ("50:60, 10:20, 50:61", "two steps of 50 %"),
            ("0:0", "at least one step"),
            ("", "at least one step"),
            ("50", "\"50\" is not a step"),
            ("a\nb\u{1b}[31m:5", "\"a b [31m:5\" is not a step"),
        ] {
            let error = typed_wedge(text).unwrap_err().to_string();
            assert!(error.contains(says) && !error.contains('\n'), "{text}: {error}");
        }
        assert_eq!(wedge_table("# heron\n50,72\n\n10,25\n").unwrap(), typed_wedge("10:25,50:72").unwrap());
        for (text, says) in [("50,72", "two steps"), ("50,72\nx", "line 2"), ("50,72\n60,NaN", "not NaN")] {
            assert!(wedge_table(text).unwrap_err().to_string().contains(says), "{text}");
        }
    }

    /// A calibration print of two inks, printed with a known gain, laid on a scanner a little
    /// askew, with noise: the curve comes back within two points.
    #[test]
    fn the_gain_comes_back_from_a_scan_that_lies_askew() {
        let inks: Vec<Ink> = ["Ink black", "Signal red"].map(|n| house_shelf().find(n).unwrap().clone()).to_vec();
        let file = calibration_job(&inks, Garment::of_color("#FFFFFF".parse().unwrap()), None);
        let screens = file.evaluated(&Progress::none()).unwrap().screens;
        let curve = DotGain::AtHalf { points: 24.0 }.curve(Lpi::new(45.0).unwrap());
        let (sin, cos) = 1.6f64.to_radians().sin_cos();
        let solids: Vec<[f32; 3]> = inks.iter().map(Ink::reflectance_over_white).collect();
        let (w, h) = (1240, 880);
        let scan = Picture::new(Plane::from_fn(w, h, |x, y| {
            // 100 ppi scan of a 150 ppi print that lies 40 and 60 pixels in and is turned.
            let (x, y) = (x as f64 - 60.0, y as f64 - 40.0);
            let (u, v) = ((x * cos + y * sin) * 1.5, (-x * sin + y * cos) * 1.5);
            let mut light = [0.86f32, 0.85, 0.81];
            if u >= 0.0 && v >= 0.0 && (u as usize) < screens.width && (v as usize) < screens.height {
                for (screen, solid) in screens.list.iter().zip(&solids) {
                    let a = curve.print(f32::from(screen.coverage.get(u as usize, v as usize)) / 65535.0);
                    (0..3).for_each(|i| light[i] += a * (solid[i] * 0.85 - light[i]));
                }
            }
            let mixed = ((u * 7919.0) as i64 ^ (v * 104_729.0) as i64).wrapping_mul(2_654_435_761);
            let noise = ((mixed >> 12) & 255) as f32 / 255.0 * 0.02 - 0.01;
            let [r, g, b] = encode_u16(light.map(|l| (l + noise).clamp(0.0, 1.0)));
            [r, g, b, 65535]
        }));
        let (read, _) = read_wedge(&scan, 2, None).unwrap();
        assert_eq!(read.len(), 2);
        for wedge in &read {
            for (film, print) in &wedge.points {
                let want = f64::from(curve.print(film.get() as f32));
                assert!((print.get() - want).abs() < 0.02, "{} % reads {}, printed {want}", film.get(), print.get());
            }
        }
        assert_eq!(read_wedge(&scan, 3, None).unwrap_err(), WedgeError::Photo(PhotoError::NoMarks(4)));
        let blank = Picture::new(Plane::filled(800, 600, [60000, 60000, 60000, 65535]));
        assert_eq!(read_wedge(&blank, 1, None).unwrap_err(), WedgeError::Photo(PhotoError::NoMarks(4)));
    }
}
