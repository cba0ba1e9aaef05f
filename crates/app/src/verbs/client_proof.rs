//! `strikeoff client-proof`: one page for the client to sign.

use anyhow::Result;
use serde_json::json;
use strikeoff_files::sheet::SheetKind;
use strikeoff_files::text::missing_note;

use super::files::Files;
use super::sheet::{Made, SheetArgs, make, with_note};
use crate::terminal::{Report, Terminal};

/// Write the client's proof of a job
#[derive(clap::Args)]
pub struct Args {
    #[command(flatten)]
    what: SheetArgs,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        self.what.files()
    }
}

/// Writes the proof.
pub fn run(Args { what: args }: Args, terminal: &Terminal) -> Result<Report> {
    let Made { missing, inks, .. } = make(SheetKind::Client, &args, terminal)?;
    Ok(Report {
        json: json!({ "proof": args.out, "inks": inks, "missing": missing }),
        text: with_note(args.out.display().to_string(), missing_note(&missing)),
    })
}
