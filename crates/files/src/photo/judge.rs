//! Whether a photograph is good enough. The limits are common practice, no source: what blurs a field into its neighbour,
//! clips a colour or casts an edge of light on it is refused, as the figures would look as good as others.

use strikeoff_core::raster::Picture;

use super::frame::Frame;
use super::light::Light;
use super::sample::{Sample, smooth};
use super::{PhotoError, Seen};

const LEAST_SIDE_PX: usize = 500;
const LEAST_PX_MM: f64 = 1.5;
const MOST_STEEP: f64 = 1.8;
/// 10 to 90 % of an edge; the bare garment is read 2.5 mm from the nearest ink.
const MOST_EDGE_MM: f64 = 1.8;
const MOST_CLIPPED: f64 = 0.05;
/// Encoded light by which quarters of a field may differ.
const MOST_SPOTTED: f64 = 0.06;
const LEAST_WHITE: f64 = 0.35;
/// Shares of the light that spots of one material may lie from a smooth surface: one, and the root of the mean square.
const MOST_UNEVEN: [f64; 2] = [0.15, 0.05];

pub(super) fn large_enough(picture: &Picture) -> Result<(), PhotoError> {
    let side = picture.width().max(picture.height());
    if side < LEAST_SIDE_PX || picture.width().min(picture.height()) < LEAST_SIDE_PX / 3 {
        return Err(PhotoError::Tiny(side));
    }
    Ok(())
}

pub(super) fn geometry(picture: &Picture, frame: &Frame) -> Result<(), PhotoError> {
    let scales = frame.scales();
    let [least, most] = [f64::min, f64::max].map(|f| scales.iter().copied().reduce(f).unwrap_or(1.0));
    if least < LEAST_PX_MM {
        return Err(PhotoError::Small { found: least, least: LEAST_PX_MM });
    }
    if most / least > MOST_STEEP {
        return Err(PhotoError::Steep(most / least));
    }
    let mut widths: Vec<f64> = frame.edges().iter().filter_map(|line| edge_mm(picture, frame, line)).collect();
    widths.sort_by(f64::total_cmp);
    match widths.get(widths.len() / 2) {
        Some(width) if *width <= MOST_EDGE_MM => Ok(()),
        Some(width) => Err(PhotoError::Blurred(*width)),
        None => Err(PhotoError::NoMarks(4)),
    }
}

/// Width of an edge across a line, 10 to 90 %, in mm.
fn edge_mm(picture: &Picture, frame: &Frame, [from, to]: &[[f64; 2]; 2]) -> Option<f64> {
    const STEPS: usize = 41;
    let long = (to[0] - from[0]).hypot(to[1] - from[1]);
    let beside = [(to[1] - from[1]) / long, (from[0] - to[0]) / long];
    let value = |step: usize| {
        let t = step as f64 / (STEPS - 1) as f64;
        let sum: f64 = (-3..=3)
            .map(|line| {
                let by = f64::from(line) * 0.3;
                let at: [f64; 2] = std::array::from_fn(|i| from[i] + t * (to[i] - from[i]) + by * beside[i]);
                smooth(picture, frame.at(at))
            })
            .sum();
        sum / 7.0
    };
    let line: Vec<f64> = (0..STEPS).map(value).collect();
    let (first, last) = (line[..4].iter().sum::<f64>() / 4.0, line[STEPS - 4..].iter().sum::<f64>() / 4.0);
    if (last - first).abs() < 0.02 {
        return None;
    }
    let share: Vec<f64> = line.iter().map(|v| (v - first) / (last - first)).collect();
    let passes = |level: f64| share.iter().position(|v| *v >= level);
    let (low, high) = (passes(0.1)?, share.iter().rposition(|v| *v <= 0.9)?);
    Some(high.saturating_sub(low).max(1) as f64 * long / (STEPS - 1) as f64)
}

/// Where no marks are found, a dark picture is dark, and one without sharp edges blurred, before all else.
pub(super) fn plain_reason(picture: &Picture, other: PhotoError) -> PhotoError {
    let (w, h) = (picture.width(), picture.height());
    let gray = |x: usize, y: usize| smooth(picture, [x as f64 + 0.5, y as f64 + 0.5]);
    let step = (w.max(h) / 600).max(1);
    // An edge that is let through rises over twice as much of a print that fills half of the picture.
    let reach = w.max(h) / 400 + 1;
    let (mut near, mut far, mut white) = ([0.0f64; 2], [0.0f64; 2], 0.0f64);
    for y in (0..h.saturating_sub(8 * reach)).step_by(step) {
        for x in (0..w.saturating_sub(8 * reach)).step_by(step) {
            let here = gray(x, y);
            white = white.max(here);
            for (axis, [u, v]) in [[1, 0], [0, 1]].into_iter().enumerate() {
                near[axis] = near[axis].max((gray(x + u * reach, y + v * reach) - here).abs());
                far[axis] = far[axis].max((gray(x + 8 * u * reach, y + 8 * v * reach) - here).abs());
            }
        }
    }
    if white < LEAST_WHITE {
        return PhotoError::Dark(white * 100.0);
    }
    let soft = |axis: usize| far[axis] > 0.1 && near[axis] < 0.45 * far[axis];
    if let Some(axis) = (0..2).find(|axis| soft(*axis)) {
        let px_mm = w.max(h) as f64 / 400.0;
        return PhotoError::Blurred(far[axis] / near[axis].max(1e-3) * reach as f64 / px_mm);
    }
    other
}

pub(super) fn samples(seen: &Seen, strip: bool) -> Result<(), PhotoError> {
    let named = |what: &str, list: &[Sample]| -> Result<(), PhotoError> {
        for (at, sample) in list.iter().enumerate() {
            let what = || format!("{what} {at}");
            if sample.clipped() > MOST_CLIPPED {
                return Err(PhotoError::Clipped { what: what() });
            }
            if sample.quarters() > MOST_SPOTTED {
                return Err(PhotoError::Spotted { what: what() });
            }
        }
        Ok(())
    };
    if strip {
        let white = (0..3).map(|c| super::encode(seen.strip[0].mean_plain(c))).fold(0.0, f64::max);
        if white < LEAST_WHITE {
            return Err(PhotoError::Dark(white * 100.0));
        }
    }
    named("field of the strip", &seen.strip)?;
    named("patch", &seen.fields)?;
    let clipped = |list: &[Sample]| list.iter().filter(|s| s.clipped() > MOST_CLIPPED).count();
    if clipped(&seen.bare) > 0 {
        return Err(PhotoError::Clipped { what: "the garment".to_owned() });
    }
    if clipped(&seen.card) > 0 {
        return Err(PhotoError::Clipped { what: "the card of the strip".to_owned() });
    }
    Ok(())
}

pub(super) fn light(light: &Light, garment: usize) -> Result<(), PhotoError> {
    let judged = |what: &'static str, off: &[f64]| {
        let most = off.iter().fold(0.0, |most: f64, v| most.max(v.abs()));
        let mean = (off.iter().map(|v| v * v).sum::<f64>() / off.len().max(1) as f64).sqrt();
        let bad = most > MOST_UNEVEN[0] || mean > MOST_UNEVEN[1];
        if bad { Err(PhotoError::Uneven(what, most * 100.0)) } else { Ok(()) }
    };
    judged("garment", &light.off[..garment.min(light.off.len())])?;
    judged("strip", &light.off[garment.min(light.off.len())..])
}

/// Scatter of readings of one colour, one sigma of L*, a* and b*.
pub(super) fn scatter(labs: &[[f64; 3]]) -> f64 {
    let count = labs.len().max(1) as f64;
    let mean: [f64; 3] = std::array::from_fn(|c| labs.iter().map(|lab| lab[c]).sum::<f64>() / count);
    let squares: f64 = labs.iter().flat_map(|lab| (0..3).map(move |c| (lab[c] - mean[c]).powi(2))).sum();
    (squares / (3.0 * count)).sqrt()
}
