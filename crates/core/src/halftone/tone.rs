//! Coverage meant on the shirt to coverage on the film, as one table over all 16-bit values.

use crate::press::GainCurve;

/// What the film carries for each coverage.
#[derive(Debug, Clone, PartialEq)]
pub struct ToneTable {
    table: Vec<u16>,
}

impl ToneTable {
    /// The film carries the coverage itself.
    pub fn identity() -> Self {
        Self { table: (0..=u16::MAX).collect() }
    }

    /// The film carries the inverse of the press's gain.
    pub fn compensating(gain: &GainCurve) -> Self {
        Self::from_fn(|printed| gain.film(printed))
    }

    /// From any function on 0..=1. No ink stays no ink and solid stays solid.
    pub fn from_fn(f: impl Fn(f32) -> f32) -> Self {
        let mut table: Vec<u16> =
            (0..=u16::MAX).map(|v| (f(f32::from(v) / 65_535.0).clamp(0.0, 1.0) * 65_535.0).round() as u16).collect();
        table[0] = 0;
        table[usize::from(u16::MAX)] = u16::MAX;
        Self { table }
    }

    /// The film's coverage.
    #[inline]
    pub fn get(&self, coverage: u16) -> u16 {
        self.table[usize::from(coverage)]
    }
}
