//! The verbs' way to talk: progress on a terminal, a report at the end, one sentence on failure.

use std::io::{IsTerminal, stderr};
use std::process::ExitCode;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use strikeoff_core::Progress;

/// What a verb has to say when it has done its work.
pub struct Report {
    /// For scripts (`--json`).
    pub json: serde_json::Value,
    /// For people; may have several lines.
    pub text: String,
}

/// Where a verb reports.
pub struct Terminal {
    json: bool,
    bar: ProgressBar,
}

impl Terminal {
    /// Shows progress only where standard error is a terminal.
    pub fn new(json: bool) -> Self {
        let bar = if stderr().is_terminal() { ProgressBar::new(1000) } else { ProgressBar::hidden() };
        if let Ok(style) = ProgressStyle::with_template("{msg:12} {bar:40} {percent:>3} %  {eta} left") {
            bar.set_style(style);
        }
        Self { json, bar }
    }

    /// Progress for the stages, drawn as a bar.
    pub fn progress(&self) -> Progress {
        let bar = self.bar.clone();
        bar.enable_steady_tick(Duration::from_millis(200));
        Progress::new(move |what, done| {
            bar.set_message(what.to_owned());
            bar.set_position((done * 1000.0) as u64);
        })
    }

    /// Prints the report and gives the exit code: 0 done, 1 the job cannot be done.
    pub fn finish(&self, done: anyhow::Result<Report>) -> ExitCode {
        self.bar.finish_and_clear();
        match done {
            Ok(report) => {
                let text = if self.json { format!("{:#}", report.json) } else { report.text };
                println!("{}", text.trim_end());
                ExitCode::SUCCESS
            }
            Err(error) => {
                eprintln!("strikeoff: {}", in_words(&error));
                ExitCode::from(1)
            }
        }
    }
}

/// An error and its causes in one sentence; what the message before tells already is not told again.
fn in_words(error: &anyhow::Error) -> String {
    let mut said = String::new();
    for cause in error.chain().map(ToString::to_string) {
        if !said.contains(&cause) {
            said += if said.is_empty() { "" } else { ": " };
            said += &cause;
        }
    }
    said
}
