//! A grey picture that was brought in as a screen: a channel from another program, a scanned
//! positive, a hand-drawn plate. The job's JSON only names it; its pixels are kept beside the art,
//! as the art's own are, and given back by whoever reads the job.

use std::sync::Arc;

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::raster::Plane;
use crate::{Cancelled, Progress};

/// A grey picture by its fingerprint. Two are equal if name and fingerprint are.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GreyPicture {
    /// File name as received.
    #[schemars(transform = table::FILE_NAME.schema())]
    pub file: String,
    /// Fingerprint of the pixels; the name under which a job file keeps them.
    #[schemars(transform = table::FINGERPRINT.schema())]
    pub id: String,
    #[serde(skip)]
    pixels: Option<Arc<Plane<u16>>>,
}

impl PartialEq for GreyPicture {
    fn eq(&self, other: &Self) -> bool {
        self.file == other.file && self.id == other.id
    }
}

impl GreyPicture {
    /// A picture with its pixels, 0 black to 65535 white.
    pub fn new(file: impl Into<String>, id: impl Into<String>, pixels: Plane<u16>) -> Self {
        Self { file: file.into(), id: id.into(), pixels: Some(Arc::new(pixels)) }
    }

    /// The pixels, 0 black to 65535 white; none if the job was read without them.
    pub fn pixels(&self) -> Option<&Arc<Plane<u16>>> {
        self.pixels.as_ref()
    }

    /// Gives the pixels back to a picture that was read from JSON.
    pub fn give(&mut self, pixels: Arc<Plane<u16>>) {
        self.pixels = Some(pixels);
    }
}

/// The plane at another size: every new pixel is the mean of what it covers where the plane is
/// reduced, and a straight line between neighbours where it is enlarged.
pub fn fitted(plane: &Plane<u16>, width: usize, height: usize, progress: &Progress) -> Result<Plane<u16>, Cancelled> {
    if (plane.width(), plane.height()) == (width, height) {
        return Ok(plane.clone());
    }
    let (across, down) = (taps(plane.width(), width), taps(plane.height(), height));
    let mut out = Plane::filled(width, height, 0u16);
    out.data_mut().par_chunks_mut(width.max(1)).enumerate().try_for_each(|(y, row)| {
        progress.step("grey picture", y as f32 / height as f32)?;
        let mut sums = vec![0.0f32; plane.width()];
        let (first, weights) = &down[y];
        for (at, weight) in weights.iter().enumerate() {
            for (sum, &v) in sums.iter_mut().zip(plane.row(first + at)) {
                *sum += weight * f32::from(v);
            }
        }
        for (v, (first, weights)) in row.iter_mut().zip(&across) {
            let sum: f32 = weights.iter().zip(&sums[*first..]).map(|(weight, sum)| weight * sum).sum();
            *v = sum.round().clamp(0.0, 65_535.0) as u16;
        }
        Ok(())
    })?;
    Ok(out)
}

/// For every new pixel the first old one that counts, and the weights of it and those after it.
fn taps(from: usize, to: usize) -> Vec<(usize, Vec<f32>)> {
    let scale = from as f64 / to as f64;
    let reach = scale.max(1.0);
    (0..to)
        .map(|i| {
            let centre = (i as f64 + 0.5) * scale - 0.5;
            let first = (centre - reach).ceil().max(0.0) as usize;
            let last = ((centre + reach).floor().max(0.0) as usize).min(from - 1);
            let first = first.min(last);
            let weight = |j: usize| (1.0 - (j as f64 - centre).abs() / reach).max(1e-9);
            let sum: f64 = (first..=last).map(weight).sum();
            (first, (first..=last).map(|j| (weight(j) / sum) as f32).collect())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_change_and_tones_stay() {
        let ramp = Plane::from_fn(300, 200, |x, y| (x * 200 + y * 20) as u16);
        let none = Progress::none();
        assert_eq!(fitted(&ramp, 300, 200, &none).unwrap(), ramp);
        for (w, h) in [(30, 20), (150, 100), (601, 403), (7, 200), (1, 1)] {
            let made = fitted(&ramp, w, h, &none).unwrap();
            assert!((made.mean_coverage() - ramp.mean_coverage()).abs() < 2e-3, "{w} x {h}");
        }
        // On a ramp any place keeps its tone, away from the edges.
        let half = fitted(&ramp, 150, 100, &none).unwrap();
        assert_eq!(half.get(70, 40), 140 * 200 + 100 + 80 * 20 + 10);
        let flat = fitted(&Plane::filled(17, 9, 41_000), 500, 300, &none).unwrap();
        assert!(flat.data().iter().all(|&v| v == 41_000));
    }
}
