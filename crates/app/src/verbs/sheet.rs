//! `strikeoff sheet`: what goes with a job on paper: press sheet, client proof, ink list, screen-room list, and the
//! proof as a picture.

use std::path::{Path, PathBuf};

use anyhow::Result;
use clap::ValueEnum;
use serde_json::json;
use strikeoff_core::findings::outlook;
use strikeoff_core::job::Evaluated;
use strikeoff_files::job::{JobFile, open_job};
use strikeoff_files::sheet::{Paper, SheetKind, SheetOf};
use strikeoff_files::text::{Missing, missing_note};

use super::files::Files;
use super::on::On;
use crate::terminal::{Report, Terminal};

/// Write a sheet of a job: for the press, the client, the ink kitchen or the screen room
#[derive(clap::Args)]
pub struct Args {
    /// Which sheet
    #[arg(long, value_enum, default_value = "press")]
    kind: KindName,
    #[command(flatten)]
    what: SheetArgs,
}

/// A sheet by its short name.
#[derive(Clone, Copy, ValueEnum)]
enum KindName {
    /// For the press: a PDF, or .html
    Press,
    /// For the client, with a line to sign: a PDF
    Client,
    /// The shirt as it will look: a .png or .tif
    Proof,
    /// What to mix for each screen: a PDF
    Inks,
    /// Mesh and film of each screen: a PDF
    Screens,
}

impl From<KindName> for SheetKind {
    fn from(name: KindName) -> Self {
        match name {
            KindName::Press => Self::Press,
            KindName::Client => Self::Client,
            KindName::Proof => Self::Proof,
            KindName::Inks => Self::Inks,
            KindName::Screens => Self::Screens,
        }
    }
}

/// A job, a file to write and its paper.
#[derive(clap::Args)]
pub struct SheetArgs {
    /// The job file
    pub job: PathBuf,
    /// The file to write
    #[arg(short, long)]
    pub out: PathBuf,
    #[command(flatten)]
    pub on: On,
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
pub fn run(args: Args, terminal: &Terminal) -> Result<Report> {
    let kind = args.kind.into();
    let Made { missing, inks, watch } = make(kind, &args.what, terminal)?;
    let out = args.what.out;
    Ok(Report {
        json: json!({
            "sheet": out, "kind": kind.title(), "screens": inks.len(), "watch_points": watch, "missing": missing,
        }),
        text: with_note(out.display().to_string(), missing_note(&missing)),
    })
}

/// A report with its note on a line of its own.
pub fn with_note(text: String, note: Option<String>) -> String {
    note.map(|note| format!("{text}\nnote: {note}")).unwrap_or(text)
}

/// What was made.
pub struct Made {
    /// Letters that no font has.
    pub missing: Vec<Missing>,
    /// Names of its inks in print order.
    pub inks: Vec<String>,
    /// What to watch on press.
    pub watch: Vec<String>,
}

/// Makes a sheet of a job, as the window does.
pub fn make(kind: SheetKind, args: &SheetArgs, terminal: &Terminal) -> Result<Made> {
    kind.check_name(&args.out)?;
    let (file, mut done) = for_press(&args.job, terminal)?;
    let job = args.on.seen(&file.job, &mut done.screens)?;
    let look = outlook(&job, &done.prepared, &done.screens, &terminal.progress())?;
    let of = SheetOf { job: &job, prepared: &done.prepared, screens: &done.screens, outlook: &look };
    let missing = of.write(kind, &args.out, args.paper.into())?;
    let inks = done.screens.list.iter().map(|screen| screen.ink.name.clone()).collect();
    Ok(Made { missing, inks, watch: of.content().watch })
}

/// A job with its screens, as findings and sheets read them.
pub fn for_press(job: &Path, terminal: &Terminal) -> Result<(JobFile, Evaluated)> {
    let mut file = open_job(job)?;
    let done = file.evaluated_for_press(&terminal.progress())?;
    Ok((file, done))
}
