//! `strikeoff measure`: inks from an instrument's file onto a shelf.

use std::path::PathBuf;

use anyhow::Result;
use serde_json::json;
use strikeoff_core::ink::Shelf;
use strikeoff_core::names::same;
use strikeoff_files::measured::read_measured;
use strikeoff_files::shelf::read_shelf;
use strikeoff_files::write_bytes;

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Make an ink shelf from measured spectra
#[derive(clap::Args)]
pub struct Args {
    /// CGATS text or CxF with solids over white and over black
    file: PathBuf,
    /// A shelf to put the inks on; inks of the same name are replaced
    #[arg(long)]
    shelf: Option<PathBuf>,
    /// The shelf to write (JSON)
    #[arg(short, long)]
    out: PathBuf,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.file).and_read(self.shelf.as_deref()).write(&self.out)
    }
}

/// Reads the measurements and writes the shelf.
pub fn run(args: Args, _terminal: &Terminal) -> Result<Report> {
    let read = read_measured(&args.file)?;
    let mut shelf = match &args.shelf {
        Some(path) => read_shelf(path)?,
        None => Shelf::default(),
    };
    let mut text = String::new();
    let mut inks = Vec::new();
    for ink in read.inks {
        text += &format!("{:24} {}  opacity {:.2}\n", ink.name, ink.over_white, ink.opacity.get());
        inks.push(json!({ "name": ink.name, "over_white": ink.over_white, "opacity": ink.opacity }));
        match shelf.inks.iter_mut().find(|i| same(&i.name, &ink.name)) {
            Some(old) => *old = ink,
            None => shelf.inks.push(ink),
        }
    }
    shelf.check()?;
    for note in &read.notes {
        text += &format!("note: {note}\n");
    }
    write_bytes(&args.out, &serde_json::to_vec_pretty(&shelf)?)?;
    text += &format!("{}\n", args.out.display());
    Ok(Report { json: json!({ "shelf": args.out, "inks": inks, "notes": read.notes }), text })
}
