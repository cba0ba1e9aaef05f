//! What the window tells of itself: a log, and how long frames take.

mod log;
mod times;

pub use log::{Log, Shown};
pub use times::{Stopwatch, Times};

/// The log, if one is written, and the clock of the frame.
#[derive(Default)]
pub struct Telemetry {
    /// The log.
    pub log: Option<Log>,
    /// Times the frame and its parts.
    pub watch: Stopwatch,
}
