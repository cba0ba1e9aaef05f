//! `strikeoff sheet`: the press sheet, as PDF or HTML by the name of the file.

use std::path::{Path, PathBuf};

use anyhow::{Result, bail};
use clap::ValueEnum;
use serde_json::json;
use strikeoff_core::findings::outlook;
use strikeoff_files::job::open_job;
use strikeoff_files::sheet::{Content, Paper, press_sheet_html, press_sheet_pdf};
use strikeoff_files::text::missing_note;
use strikeoff_files::write_bytes;

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Write the press sheet of a job
#[derive(clap::Args)]
pub struct Args {
    #[command(flatten)]
    what: SheetArgs,
}

/// A job, a file to write and its paper.
#[derive(clap::Args)]
pub struct SheetArgs {
    /// The job file
    pub job: PathBuf,
    /// The file to write: a PDF; the press sheet may be .html too
    #[arg(short, long)]
    pub out: PathBuf,
    /// Paper of a PDF
    #[arg(long, value_enum, default_value = "a4")]
    pub paper: PaperName,
}

impl SheetArgs {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job).write(&self.out)
    }
}

/// Paper by name.
#[derive(Clone, Copy, ValueEnum)]
pub enum PaperName {
    /// 210 x 297 mm
    A4,
    /// 8.5 x 11 in
    Letter,
}

impl From<PaperName> for Paper {
    fn from(name: PaperName) -> Self {
        match name {
            PaperName::A4 => Self::A4,
            PaperName::Letter => Self::Letter,
        }
    }
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        self.what.files()
    }
}

/// Writes the sheet.
pub fn run(Args { what: args }: Args, terminal: &Terminal) -> Result<Report> {
    let html = match args.out.extension().and_then(|e| e.to_str()).map(str::to_lowercase).as_deref() {
        Some("pdf") => false,
        Some("html" | "htm") => true,
        _ => bail!("a press sheet is a PDF or an HTML file; end the name of {} in .pdf or .html", args.out.display()),
    };
    let content = content_of(&args.job, terminal)?;
    let mut missing = Vec::new();
    let bytes = if html {
        press_sheet_html(&content).into_bytes()
    } else {
        let sheet = press_sheet_pdf(&content, args.paper.into()).map_err(anyhow::Error::msg)?;
        missing = sheet.missing;
        sheet.bytes
    };
    write_bytes(&args.out, &bytes)?;
    Ok(Report {
        json: json!({
            "sheet": args.out, "screens": content.screens.len(), "watch_points": content.watch, "missing": missing,
        }),
        text: with_note(format!("{}", args.out.display()), missing_note(&missing)),
    })
}

/// A report with its note on a line of its own.
pub fn with_note(text: String, note: Option<String>) -> String {
    note.map(|note| format!("{text}\nnote: {note}")).unwrap_or(text)
}

/// What the sheets of a job say.
pub fn content_of(job: &Path, terminal: &Terminal) -> Result<Content> {
    let mut file = open_job(job)?;
    let progress = terminal.progress();
    let done = file.evaluated_for_press(&progress)?;
    let look = outlook(&file.job, &done.prepared, &done.screens, &progress)?;
    Ok(Content::new(&file.job, &done.prepared, &done.screens, &look))
}
