//! The small picture of the proof that a job file carries, for lists of jobs.

use strikeoff_core::job::Job;
use strikeoff_core::press::proof_from_screens;
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::units::Ppi;

/// Longest side in pixels.
const LONGEST: usize = 320;

/// The proof on the job's garment as a PNG; every pixel is printed from the mean coverage of what
/// it covers.
pub(super) fn thumbnail(job: &Job, screens: &Screens) -> Vec<u8> {
    let step = screens.width.max(screens.height).div_ceil(LONGEST).max(1);
    let (width, height) = (screens.width.div_ceil(step), screens.height.div_ceil(step));
    let small = |s: &Screen| Screen {
        name: s.name.clone(),
        ink: s.ink.clone(),
        hits: s.hits,
        coverage: Plane::from_fn(width, height, |x, y| mean(&s.coverage, x * step, y * step, step)),
    };
    let ppi = Ppi::new((screens.ppi.get() / step as f64).max(1.0)).unwrap_or(screens.ppi);
    let small = Screens { width, height, ppi, list: screens.list.iter().map(small).collect() };
    let proof = proof_from_screens(&small, &job.ground(), |_| true);
    crate::picture::png_bytes(&proof, ppi)
}

fn mean(plane: &Plane<u16>, left: usize, top: usize, step: usize) -> u16 {
    let (right, bottom) = ((left + step).min(plane.width()), (top + step).min(plane.height()));
    let sum: u64 = (top..bottom).flat_map(|y| &plane.row(y)[left..right]).map(|&v| u64::from(v)).sum();
    let count = ((right - left) * (bottom - top)).max(1) as u64;
    ((sum + count / 2) / count) as u16
}
