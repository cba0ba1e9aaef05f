//! `strikeoff calibrate`: a job that prints step wedges and solids for measuring.

use std::path::PathBuf;

use anyhow::Result;
use serde_json::json;
use strikeoff_core::ink::Ink;
use strikeoff_files::calibration::{WEDGE_PCT, calibration_job};
use strikeoff_files::job::open_job;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::read_shelf;

use super::files::{Files, save_new};
use super::values;
use crate::terminal::{Report, Terminal};

/// Make a job that prints step wedges and solids for measuring
#[derive(clap::Args)]
pub struct Args {
    /// Inks by name, in print order
    #[arg(long, value_delimiter = ',', required = true)]
    inks: Vec<String>,
    /// Ink shelf (JSON); that of the shop profile if left out
    #[arg(long, value_name = "FILE")]
    shelf: Option<PathBuf>,
    /// Garment or card: '#RRGGBB' or a house garment
    #[arg(long, default_value = "#FFFFFF")]
    garment: String,
    /// A job whose mesh, ruling and angle are to be calibrated
    #[arg(long, value_name = "JOB")]
    like: Option<PathBuf>,
    /// The job file to write
    #[arg(short, long)]
    out: PathBuf,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::default().and_read(self.like.as_deref()).and_read(self.shelf.as_deref()).write(&self.out)
    }
}

/// Writes the calibration job.
pub fn run(args: Args, _terminal: &Terminal) -> Result<Report> {
    let shelf = match &args.shelf {
        Some(path) => read_shelf(path)?,
        None => ShopProfile::load()?.shelf,
    };
    let inks: Vec<Ink> = args.inks.iter().map(|n| shelf.find(n).cloned()).collect::<Result<_, _>>()?;
    let like = args.like.as_deref().map(open_job).transpose()?;
    let file = calibration_job(&inks, values::garment(&args.garment)?, like.as_ref().map(|f| &f.job));
    save_new(&args.out, &file)?;
    let text = format!(
        "{}\nMake its films, print once on white and once on black, read the wedges for the gain curve and the solids\n\
         with a spectrophotometer, then: strikeoff measure FILE -o SHELF\n",
        args.out.display()
    );
    Ok(Report { json: json!({ "job": args.out, "inks": args.inks, "wedge_pct": WEDGE_PCT }), text })
}
