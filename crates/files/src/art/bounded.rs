//! Drawing an SVG or PDF runs someone else's program, so it runs on a thread of its own with a
//! deep stack, and we stop waiting for it after a while. A drawing that panics is a bad file.

use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

use super::error::Fault;

/// Stack of the drawing thread: nested groups use it.
const STACK: usize = 64 << 20;
/// Longest that a page may take to draw.
const PATIENCE: Duration = Duration::from_secs(60);

/// Runs `draw` bounded in time and depth.
pub(super) fn bounded<T: Send + 'static>(draw: impl FnOnce() -> Result<T, Fault> + Send + 'static) -> Result<T, Fault> {
    let (send, receive) = channel();
    let thread = thread::Builder::new().name("draw".into()).stack_size(STACK).spawn(move || {
        let _ = send.send(draw());
    });
    if thread.is_err() {
        return Err(Fault::TooInvolved("no thread could be started for it".into()));
    }
    match receive.recv_timeout(PATIENCE) {
        Ok(done) => done,
        Err(RecvTimeoutError::Timeout) => {
            Err(Fault::TooInvolved(format!("it takes more than {} seconds", PATIENCE.as_secs())))
        }
        Err(RecvTimeoutError::Disconnected) => Err(Fault::Damaged("it broke the drawing off".into())),
    }
}

/// Longer side that vector art is drawn at: 18 in at 300 ppi, the largest usual print.
pub(super) const VECTOR_LONGEST_PX: f64 = 5400.0;
