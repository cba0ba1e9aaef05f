//! `strikeoff calibrate`: a job that prints step wedges and solids for measuring.

use std::path::PathBuf;

use anyhow::{Result, bail};
use serde_json::json;
use strikeoff_core::fingerprint::{MOST_READINGS, Planned};
use strikeoff_core::ink::Ink;
use strikeoff_core::job::Job;
use strikeoff_files::calibration::{WEDGE_PCT, calibration_job};
use strikeoff_files::job::open_job;
use strikeoff_files::photo::Strip;
use strikeoff_files::press_print::{patches, press_print};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::read_shelf;
use strikeoff_files::write_bytes;

use super::files::{Files, save_new};
use super::values;
use crate::terminal::{Report, Terminal};

/// Make a job that prints step wedges and solids, or the patches of a press's fingerprint, for measuring
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
    /// Print patches that fit the whole press model instead of wedges
    #[arg(long)]
    fingerprint: bool,
    /// Readings of the fingerprint at most; 20 serve where other presses of these inks are known
    #[arg(long, default_value_t = MOST_READINGS, requires = "fingerprint")]
    readings: usize,
    /// Draw the reference strip that lies beside the print when it is photographed (SVG at true scale)
    #[arg(long, value_name = "FILE")]
    strip: Option<PathBuf>,
    /// The job file to write
    #[arg(short, long)]
    out: PathBuf,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        let files = Files::default().and_read(self.like.as_deref()).and_read(self.shelf.as_deref()).write(&self.out);
        match &self.strip {
            Some(strip) => files.write(strip),
            None => files,
        }
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
    if let Some(path) = &args.strip {
        write_bytes(path, Strip::drawing().as_bytes())?;
    }
    if args.fingerprint {
        return fingerprint(&args, &inks, like.as_ref().map(|f| &f.job));
    }
    let file = calibration_job(&inks, values::garment(&args.garment)?, like.as_ref().map(|f| &f.job));
    save_new(&args.out, &file)?;
    let text = format!(
        "{}\nMake its films, print once on white and once on black, read the wedges for the gain curve and the solids\n\
         with a spectrophotometer, then: strikeoff measure FILE -o SHELF\n",
        args.out.display()
    );
    Ok(Report { json: json!({ "job": args.out, "inks": args.inks, "wedge_pct": WEDGE_PCT }), text })
}

/// The calibration print of the press, with the list of what to read on which print.
fn fingerprint(args: &Args, inks: &[Ink], like: Option<&Job>) -> Result<Report> {
    let garment = values::garment(&args.garment)?;
    let least = 4 * inks.len() + 1;
    if args.readings < least {
        bail!("{} inks need {least} readings or more, not {}", inks.len(), args.readings);
    }
    if args.readings > MOST_READINGS {
        bail!("a print has {MOST_READINGS} readings at most, not {}", args.readings);
    }
    let planned = patches(inks, &garment, args.readings);
    let file = press_print(inks, garment, like, args.readings)?;
    save_new(&args.out, &file)?;
    let listed = |on: &dyn Fn(&Planned) -> bool| {
        planned.iter().enumerate().filter(|(_, p)| on(p)).map(|(at, _)| at.to_string()).collect::<Vec<_>>()
    };
    let (wet, flashed) = (listed(&|p| p.wet.is_some()), listed(&|p| p.flashed.is_some()));
    let base = planned.iter().any(|p| p.wet.is_some_and(|flashes| flashes != 0));
    let text = format!(
        "{}\nMake its films and print it twice on the garment as the job will be printed, inks in the same order and cured as\n\
         their data sheets say.\n  Print 1 wet on wet{}: read {}\n  Print 2 with a flash after every ink: read {}\n\
         Patch 0 is the bare garment. Name readings by number, 12f for patch 12 on print 2, then:\n\
         strikeoff fingerprint {} --read FILE --name PRESS\n\
         A photograph of each print with the reference strip beside it (--strip FILE draws it) serves too:\n\
         --read PRINT1.jpg --flashed PRINT2.jpg\n",
        args.out.display(),
        if base { ", but for a flash after the base" } else { "" },
        wet.join(" "),
        if flashed.is_empty() { "nothing".to_owned() } else { flashed.join(" ") },
        args.out.display()
    );
    let films: Vec<&Vec<f64>> = planned.iter().map(|p| &p.film).collect();
    Ok(Report {
        json: json!({ "job": args.out, "inks": args.inks, "patches": films, "wet": wet, "flashed": flashed }),
        text,
    })
}
