//! `strikeoff wedge`: the press's gain curve from a wedge, typed or scanned, into a job.

use std::path::PathBuf;

use anyhow::{Context, Result, bail};
use serde_json::json;
use strikeoff_core::press::DotGain;
use strikeoff_files::measured::{WedgeReading, read_wedge, typed_wedge};
use strikeoff_files::press_print::strip;

use super::files::{Changing, Files};
use super::shot::{picture, told};
use crate::terminal::{Report, Terminal};

/// Where the wedge comes from.
#[derive(clap::Args)]
#[command(group(clap::ArgGroup::new("source").required(true).args(["read", "scan", "photo"])))]
pub struct Args {
    /// The job that gets the gain curve
    job: PathBuf,
    /// Film and printed percents as read, for example 5:14,10:25,30:55,50:74,70:90
    #[arg(long, value_name = "FILM:PRINT,...")]
    read: Option<String>,
    /// A scan of the calibration print with its corner marks, taken as sRGB
    #[arg(long, value_name = "PICTURE")]
    scan: Option<PathBuf>,
    /// A photograph of the calibration print with the reference strip beside it
    #[arg(long, value_name = "PICTURE")]
    photo: Option<PathBuf>,
    /// The strip's measured values, lines of NUMBER L a b (D50); as drawn, which is assumed, if left out
    #[arg(long, value_name = "FILE", requires = "photo")]
    strip: Option<PathBuf>,
    /// Inks on the print in the picture
    #[arg(long, default_value_t = 1)]
    inks: usize,
    /// Use only this ink's wedge, from 1; without it the mean of all
    #[arg(long, value_name = "N")]
    ink: Option<usize>,
    /// What films and sheets call the curve
    #[arg(long, default_value = "measured wedge")]
    name: String,
    /// The job file to write; the job itself if left out
    #[arg(short, long)]
    out: Option<PathBuf>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::default()
            .and_read(self.scan.as_deref())
            .and_read(self.photo.as_deref())
            .and_read(self.strip.as_deref())
            .change(&self.job, self.out.as_deref())
    }
}

/// Reads the wedge and puts its curve into the job.
pub fn run(args: Args, _terminal: &Terminal) -> Result<Report> {
    let mut job = Changing::open(&args.job, args.out.as_deref())?;
    let mut text = String::new();
    let wedges = match (&args.read, args.scan.as_ref().or(args.photo.as_ref())) {
        (Some(text), _) => vec![typed_wedge(text)?],
        (None, Some(path)) => {
            let picture = picture(path)?;
            let strip = args.photo.as_ref().map(|_| strip(args.strip.as_deref())).transpose()?;
            let (wedges, shot) =
                read_wedge(&picture, args.inks, strip.as_ref()).with_context(|| path.display().to_string())?;
            text += &told(&shot);
            wedges
        }
        (None, None) => bail!("give the wedge with --read, --scan or --photo"),
    };
    let points = match args.ink {
        Some(n) => match n.checked_sub(1).and_then(|at| wedges.get(at)) {
            Some(wedge) => wedge.points.clone(),
            None => bail!("there is no ink {n} among the {} read; --ink counts from 1", wedges.len()),
        },
        None => mean(&wedges)?,
    };
    let used = WedgeReading { points: points.clone() };
    for (at, wedge) in wedges.iter().enumerate() {
        text += &format!("wedge {}: +{:.0} points at 50 %\n", at + 1, wedge.gain_at_half());
    }
    text += "film    printed\n";
    for (film, print) in &points {
        text += &format!("{:4.0} %  {:4.1} %\n", film.get() * 100.0, print.get() * 100.0);
    }
    job.file.job.press.gain = DotGain::Measured { name: args.name.clone(), points };
    job.save()?;
    let out = job.out();
    text += &format!("{}\n", out.display());
    let steps: Vec<[f64; 2]> = used.points.iter().map(|(f, p)| [f.get(), p.get()]).collect();
    let at_half: Vec<f64> = wedges.iter().map(WedgeReading::gain_at_half).collect();
    Ok(Report {
        json: json!({ "job": out, "name": args.name, "curve": steps, "points_at_half_by_ink": at_half }),
        text,
    })
}

/// The mean of wedges with the same steps.
fn mean(wedges: &[WedgeReading]) -> Result<Vec<(strikeoff_core::units::Coverage, strikeoff_core::units::Coverage)>> {
    let first = wedges.first().context("no wedge was read")?;
    (first.points.iter().enumerate())
        .map(|(at, (film, _))| {
            let sum: f64 = wedges.iter().filter_map(|w| w.points.get(at)).map(|(_, print)| print.get()).sum();
            Ok((*film, strikeoff_core::units::Coverage::new(sum / wedges.len() as f64)?))
        })
        .collect()
}
