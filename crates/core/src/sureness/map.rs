//! How sure the colour of each pixel of a print is.

use std::collections::HashMap;

use super::Known;
use crate::fingerprint::{Predictor, Tint};
use crate::job::Job;
use crate::screens::Screens;

/// The band of each pixel, CIEDE2000, row by row; 0 where there is no ink.
#[derive(Debug, Clone, PartialEq)]
pub struct BandMap {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// The bands.
    pub bands: Vec<f32>,
}

/// Steps of a coverage between which bands hardly differ.
const STEPS: f32 = 12.0;
/// Most mixtures that are told; pixels of others take the band of the nearest one that is.
const MOST: usize = 3000;

impl BandMap {
    /// Of a job's screens, by the fingerprint that it was made with; none if it has none that tells of them.
    pub fn of(job: &Job, screens: &Screens) -> Option<Self> {
        let print = job.run.fingerprint.as_deref()?;
        let known = Known::of(job, screens, print).ok()?;
        let rows: Vec<&[u16]> = screens.list.iter().map(|s| s.coverage.data()).collect();
        let key = |at: usize| -> Vec<u8> {
            rows.iter().map(|row| (f32::from(row[at]) / 65535.0 * STEPS).round() as u8).collect()
        };
        let keys: Vec<Vec<u8>> = (0..screens.width * screens.height).map(key).collect();
        let mut counts: HashMap<&[u8], usize> = HashMap::new();
        for key in keys.iter().filter(|key| key.iter().any(|a| *a > 0)) {
            *counts.entry(key).or_default() += 1;
        }
        let mut often: Vec<(&[u8], usize)> = counts.into_iter().collect();
        often.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
        let rare = often.split_off(often.len().min(MOST));
        let tint = |key: &[u8]| -> Tint { known.tint(&key.iter().map(|a| f32::from(*a) / STEPS).collect::<Vec<_>>()) };
        let tints: Vec<Tint> = often.iter().map(|(key, _)| tint(key)).collect();
        let told = Predictor::new(print).predict(&tints);
        let mut bands: HashMap<&[u8], f32> =
            often.iter().zip(&told).map(|((key, _), told)| (*key, told.band as f32)).collect();
        let near = |a: &[u8], b: &[u8]| a.iter().zip(b).map(|(a, b)| u32::from(a.abs_diff(*b)).pow(2)).sum::<u32>();
        for (key, _) in rare {
            let nearest = often.iter().map(|(other, _)| *other).min_by_key(|other| near(key, other));
            let band = nearest.and_then(|nearest| bands.get(nearest).copied()).unwrap_or(0.0);
            bands.insert(key, band);
        }
        let bands = keys.iter().map(|key| bands.get(key.as_slice()).copied().unwrap_or(0.0)).collect();
        Some(Self { width: screens.width, height: screens.height, bands })
    }

    /// The band at a place, from 0 to 1 across and down.
    pub fn at(&self, across: f64, down: f64) -> f32 {
        let place = |part: f64, count: usize| ((part * count as f64).max(0.0) as usize).min(count.saturating_sub(1));
        self.bands.get(place(down, self.height) * self.width + place(across, self.width)).copied().unwrap_or(0.0)
    }
}
