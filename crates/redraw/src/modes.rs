//! Where many pixels have nearly the same colour.

use std::collections::HashMap;

use crate::space::Sample;

/// A colour that many pixels have.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mode {
    pub paint: Sample,
    pub pixels: f32,
}

/// Side of a cell in which samples are summed first.
const CELL: f32 = 3.0;

/// At most `most` modes of these samples, those with most pixels first. A mode takes in what lies within
/// `radius` of it.
pub(crate) fn modes(samples: impl Iterator<Item = (Sample, f32)>, radius: f32, most: usize) -> Vec<Mode> {
    let mut left = cells(samples);
    let mut found = Vec::new();
    while found.len() < most && !left.is_empty() {
        let mut middle = left[0].0;
        let mut pixels = 0.0;
        for _ in 0..4 {
            let mut sum = Sample::default();
            pixels = 0.0;
            for (sample, weight) in left.iter().filter(|(s, _)| s.distance(middle) <= radius) {
                sum += *sample * *weight;
                pixels += weight;
            }
            if pixels > 0.0 {
                middle = sum * (1.0 / pixels);
            }
        }
        let before = left.len();
        left.retain(|(s, _)| s.distance(middle) > radius * 1.4);
        if pixels > 0.0 {
            found.push(Mode { paint: middle, pixels });
        }
        if left.len() == before {
            left.remove(0);
        }
    }
    found.sort_by(|a, b| b.pixels.total_cmp(&a.pixels));
    found
}

/// Mean and weight of each cell that holds samples, heaviest first; ties by where the cell lies.
fn cells(samples: impl Iterator<Item = (Sample, f32)>) -> Vec<(Sample, f32)> {
    let mut held: HashMap<[i16; 4], (Sample, f32)> = HashMap::new();
    let mut samples = samples.filter(|(_, weight)| *weight > 0.0).peekable();
    while let Some((sample, mut weight)) = samples.next() {
        // Flat art comes in runs of one sample.
        while let Some((_, more)) = samples.next_if(|(next, _)| *next == sample) {
            weight += more;
        }
        let cell = sample.0.map(|v| (v / CELL).round() as i16);
        let entry = held.entry(cell).or_default();
        entry.0 += sample * weight;
        entry.1 += weight;
    }
    let mut all: Vec<([i16; 4], (Sample, f32))> = held.into_iter().collect();
    all.sort_by(|a, b| b.1.1.total_cmp(&a.1.1).then(a.0.cmp(&b.0)));
    all.into_iter().map(|(_, (sum, weight))| (sum * (1.0 / weight), weight)).collect()
}
