//! The verbs, a file each: arguments in, a report out.

use clap::Subcommand;

use crate::terminal::{Report, Terminal};

/// One part of the job, done without a window.
#[derive(Subcommand)]
pub enum Verb {}

impl Verb {
    /// Does it.
    pub fn run(self, _terminal: &Terminal) -> anyhow::Result<Report> {
        match self {}
    }
}
