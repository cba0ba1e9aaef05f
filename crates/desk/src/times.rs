//! How long frames of the window's own code take.

use std::collections::VecDeque;
use std::time::Duration;

/// The last frames' times, for the overlay and for the smoke run's log.
#[derive(Default)]
pub struct Times {
    frames: VecDeque<Duration>,
    /// All frames so far.
    pub count: u64,
}

impl Times {
    /// A frame took so long.
    pub fn add(&mut self, time: Duration) {
        self.frames.push_back(time);
        self.count += 1;
        if self.frames.len() > 600 {
            self.frames.pop_front();
        }
    }

    /// The share `part` (0..=1) of the last frames took no longer than this.
    pub fn percentile(&self, part: f64) -> Duration {
        let mut sorted: Vec<_> = self.frames.iter().copied().collect();
        sorted.sort();
        let at = ((sorted.len() as f64 - 1.0) * part).round().max(0.0) as usize;
        sorted.get(at).copied().unwrap_or_default()
    }
}
