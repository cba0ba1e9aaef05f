//! What the user can make the bench do, and the doing of it: the only place where the job changes.

mod apply;
mod bench;
mod command;
mod files;
mod job;
mod look;
mod press;
mod runs;
mod tuning;

pub use bench::Workbench;
pub use command::Command;
pub use job::free_name;
pub use tuning::{curve, edge_mm, set_curve, set_edge_mm, set_hits, set_strength, set_trim, strength, trim};

/// Commands that views send, in their order.
#[derive(Debug, Default)]
pub struct Commands(Vec<Command>);

impl Commands {
    /// Adds one.
    pub fn push(&mut self, command: Command) {
        self.0.push(command);
    }

    /// Adds several.
    pub fn extend(&mut self, commands: impl IntoIterator<Item = Command>) {
        self.0.extend(commands);
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Takes them all.
    pub fn take(&mut self) -> Vec<Command> {
        std::mem::take(&mut self.0)
    }
}
