//! How long frames of the window's own code take. Two clocks: the wall's, and the time that the
//! window's thread was at work. They differ where other threads hold the cores, as a display in
//! software does on a small machine.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// What a frame, or a part of it, took.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Took {
    /// By the clock on the wall.
    pub wall: Duration,
    /// Of the thread's own work; the wall's where the system does not tell.
    pub own: Duration,
}

/// The last frames' times, for the line below the table.
pub struct Times {
    frames: VecDeque<Duration>,
    /// All frames so far.
    pub count: u64,
    /// Whether the window says how long things took.
    pub shown: bool,
}

impl Default for Times {
    fn default() -> Self {
        Self { frames: VecDeque::new(), count: 0, shown: true }
    }
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

/// Times a frame and its parts, one after the other.
pub struct Stopwatch {
    begun: Took,
    lap: Took,
    /// The parts so far.
    pub parts: Vec<(&'static str, Took)>,
}

impl Default for Stopwatch {
    fn default() -> Self {
        let now = now();
        Self { begun: now, lap: now, parts: Vec::new() }
    }
}

impl Stopwatch {
    /// Starts over.
    pub fn start(&mut self) {
        self.begun = now();
        self.lap = self.begun;
        self.parts.clear();
    }

    /// What was done since the last lap was `part`.
    pub fn lap(&mut self, part: &'static str) {
        let now = now();
        self.parts.push((part, since(self.lap, now)));
        self.lap = now;
    }

    /// The frame up to the last lap.
    pub fn frame(&self) -> Took {
        since(self.begun, self.lap)
    }
}

fn since(from: Took, to: Took) -> Took {
    Took { wall: to.wall.saturating_sub(from.wall), own: to.own.saturating_sub(from.own) }
}

/// Both clocks, each from a beginning of its own.
fn now() -> Took {
    use std::sync::OnceLock;
    static BEGAN: OnceLock<Instant> = OnceLock::new();
    let wall = BEGAN.get_or_init(Instant::now).elapsed();
    Took { wall, own: thread_time().unwrap_or(wall) }
}

#[cfg(unix)]
fn thread_time() -> Option<Duration> {
    use rustix::time::{ClockId, clock_gettime};
    Duration::try_from(clock_gettime(ClockId::ThreadCPUTime)).ok()
}

/// Windows counts a thread's time in steps of 15 ms, too coarse for a frame.
#[cfg(not(unix))]
fn thread_time() -> Option<Duration> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thread_that_waits_is_not_at_work() {
        let mut watch = Stopwatch::default();
        watch.start();
        std::thread::sleep(Duration::from_millis(60));
        watch.lap("wait");
        let until = Instant::now() + Duration::from_millis(5);
        while Instant::now() < until {}
        watch.lap("work");
        let [(_, wait), (_, work)] = watch.parts[..] else { panic!("two parts") };
        assert!(wait.wall >= Duration::from_millis(60));
        assert!(work.own > Duration::ZERO && work.own <= work.wall + Duration::from_millis(1));
        let frame = watch.frame();
        assert_eq!(frame.wall, wait.wall + work.wall);
        if cfg!(unix) {
            assert!(frame.own < Duration::from_millis(50), "{frame:?}");
        }
    }
}
