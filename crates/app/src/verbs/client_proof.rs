//! `strikeoff client-proof`: one page for the client to sign.

use anyhow::{Result, bail};
use serde_json::json;
use strikeoff_files::sheet::client_proof_pdf;
use strikeoff_files::text::missing_note;
use strikeoff_files::write_bytes;

use super::files::Files;
use super::sheet::{SheetArgs, content_of, with_note};
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
    if !args.out.extension().is_some_and(|e| e.eq_ignore_ascii_case("pdf")) {
        bail!("a client's proof is a PDF; end the name of {} in .pdf", args.out.display());
    }
    let content = content_of(&args.job, terminal)?;
    let proof = client_proof_pdf(&content, args.paper.into()).map_err(anyhow::Error::msg)?;
    write_bytes(&args.out, &proof.bytes)?;
    let inks: Vec<_> = content.screens.iter().map(|s| &s.ink).collect();
    Ok(Report {
        json: json!({ "proof": args.out, "inks": inks, "missing": proof.missing }),
        text: with_note(format!("{}", args.out.display()), missing_note(&proof.missing)),
    })
}
