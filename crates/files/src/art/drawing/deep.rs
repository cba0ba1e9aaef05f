//! Renderers follow nested groups by calling themselves, so a drawing gets a thread with a deep
//! stack. A drawing that panics is a bad file.

use std::thread;

use super::super::error::Fault;

/// Stack of the drawing thread.
const STACK: usize = 64 << 20;

/// Runs `draw` on a thread of its own.
pub(super) fn on_a_deep_stack<T: Send>(draw: impl FnOnce() -> Result<T, Fault> + Send) -> Result<T, Fault> {
    thread::scope(|scope| {
        let thread = thread::Builder::new().name("draw".into()).stack_size(STACK).spawn_scoped(scope, draw);
        let Ok(thread) = thread else {
            return Err(Fault::NotDrawn("the system gives no thread for it".into()));
        };
        thread.join().unwrap_or_else(|_| Err(Fault::Damaged("it broke off the drawing".into())))
    })
}
