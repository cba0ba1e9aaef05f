//! The verbs' way to talk: progress on a terminal, a report at the end, one sentence on failure.

use std::io::{self, ErrorKind, IsTerminal, Write, stderr, stdout};
use std::process::ExitCode;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use strikeoff_core::Progress;
use strikeoff_core::names::one_line;

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
    overwrite: bool,
    bar: ProgressBar,
}

impl Terminal {
    /// Shows progress only where standard error is a terminal. `overwrite`: a verb may replace its
    /// own input.
    pub fn new(json: bool, overwrite: bool) -> Self {
        let bar = if stderr().is_terminal() { ProgressBar::new(1000) } else { ProgressBar::hidden() };
        if let Ok(style) = ProgressStyle::with_template("{msg:12} {bar:40} {percent:>3} %  {eta} left") {
            bar.set_style(style);
        }
        Self { json, overwrite, bar }
    }

    /// Whether a verb may replace its own input.
    pub fn overwrite(&self) -> bool {
        self.overwrite
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
                after_output(writeln!(stdout(), "{}", text.trim_end()))
            }
            Err(error) => {
                complain(&in_words(&error));
                ExitCode::from(1)
            }
        }
    }
}

/// Exit code of a shell's child that SIGPIPE ended: 128 and the signal's number.
const PIPE_CLOSED: u8 = 128 + 13;

/// The exit code once the last was written to standard output. Whoever closed a pipe early, like
/// `head`, has what it needs; anything else that keeps the output from being written is said.
pub fn after_output(written: io::Result<()>) -> ExitCode {
    match written.and_then(|()| stdout().flush()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if error.kind() == ErrorKind::BrokenPipe => ExitCode::from(PIPE_CLOSED),
        Err(error) => {
            complain(&format!("cannot write to standard output: {error}"));
            ExitCode::from(1)
        }
    }
}

/// Says a sentence on standard error, on one line whatever names it holds. If that cannot be written, the exit code has to do.
fn complain(sentence: &str) {
    let _ = writeln!(stderr(), "strikeoff: {}", one_line(sentence));
}

/// An error and its causes in one sentence; what the message before says already is not repeated.
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
