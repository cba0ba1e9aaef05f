//! `strikeoff screens`: each screen as a 16-bit grey PNG in film sense, ink black on white.

use std::path::PathBuf;

use serde_json::json;
use strikeoff_core::Progress;
use strikeoff_core::screens::Screens;
use strikeoff_files::film::write_screen_pictures;
use strikeoff_files::job::{JobFile, open_job};

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Write each screen as a 16-bit grey PNG, ink black on white
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Folder for the pictures; made if it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job)
    }
}

/// Opens the job and writes its screens.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let mut file = open_job(&args.job)?;
    let progress = terminal.progress();
    let screens = screens_of(&mut file, &progress)?;
    let made = write_screen_pictures(&screens, &args.out, &args.files().kept(terminal.overwrite()), &progress)?;
    let mut text = String::new();
    let mut list = Vec::new();
    for (screen, path) in screens.list.iter().zip(&made.files) {
        let mean = screen.coverage.mean_coverage();
        text += &format!("{}  {:.1} %  {}\n", path.display(), mean * 100.0, screen.ink.name);
        list.push(json!({ "name": screen.name, "ink": screen.ink.name, "mean_coverage": mean, "file": path }));
    }
    for note in &made.notes {
        text += &format!("note: {note}\n");
    }
    Ok(Report { json: json!({ "screens": list, "ppi": screens.ppi, "notes": made.notes }), text })
}

/// The job's screens: the stored ones where they fit, made again where not. Stored ones are taken
/// out of the file, since a second copy of large screens would double the memory.
pub fn screens_of(file: &mut JobFile, progress: &Progress) -> anyhow::Result<Screens> {
    let fit = file.fitting_screens().is_some();
    Ok(match file.screens.take() {
        Some(kept) if fit => kept.screens,
        _ => file.evaluated(progress)?.screens,
    })
}
