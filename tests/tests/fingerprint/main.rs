//! Fingerprints of presses, held to printed and measured patches and to a press that the code does not share.

#![allow(clippy::unwrap_used)]

mod offset;
mod photo;
mod stack;

/// Random numbers that are the same in every run (Knuth's 64-bit multiplier).
struct Dice(u64);

impl Dice {
    fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.even()
    }

    /// Mean 0, deviation 1: twelve even ones less six.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

fn mean(of: &[f64]) -> f64 {
    of.iter().sum::<f64>() / of.len() as f64
}

fn share(of: &[bool]) -> f64 {
    of.iter().filter(|yes| **yes).count() as f64 / of.len() as f64
}
