//! `strikeoff proof`: what the shirt will look like, as a PNG or TIFF.

use std::path::PathBuf;
use strikeoff_core::screens::ScreenName;

use anyhow::{Context, bail};
use serde_json::json;
use strikeoff_core::bounds::table;
use strikeoff_core::prep::resized;
use strikeoff_core::press::{Ground, proof_from_screens};
use strikeoff_core::preview::{DotsOnTheDay, bad_day, on_the_day};
use strikeoff_core::screens::Screens;
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::job::open_job;
use strikeoff_files::picture::write_picture;

use super::files::Files;
use super::on::On;
use super::values;
use crate::terminal::{Report, Terminal};

/// What to show.
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// The picture to write: .png, .tif or .tiff
    #[arg(short, long, value_name = "PICTURE")]
    out: PathBuf,
    /// Look at the screens on another garment: '#RRGGBB' or a house garment
    #[arg(long, value_name = "COLOUR", conflicts_with = "on")]
    garment: Option<String>,
    #[command(flatten)]
    on: On,
    /// Screens left out, as if their heads were empty
    #[arg(long, value_name = "NAME,...", default_value = "")]
    hide: String,
    /// As on a bad day: screens out of register in turn, printing heavier and lighter by turns
    #[arg(long)]
    bad_day: bool,
    /// How far screens are out of register on a bad day
    #[arg(long, value_name = "LENGTH", default_value = "0.2mm", requires = "bad_day")]
    stand_off: Mm,
    /// Points of gain at 50 % by which they differ on a bad day
    #[arg(long, value_name = "POINTS", default_value_t = 8.0, requires = "bad_day")]
    gain_points: f64,
    /// Width of the PNG in pixels; the working resolution if left out
    #[arg(long, value_name = "PX")]
    width: Option<u32>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job).write(&self.out)
    }
}

/// Proofs and writes.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let file = open_job(&args.job)?;
    let progress = terminal.progress();
    let mut done = file.evaluated(&progress)?;
    let job = args.on.seen(&file.job, &mut done.screens)?;
    let garment = args.garment.as_deref().map(values::garment).transpose()?.unwrap_or(job.garment.clone());
    let hidden = hidden(&args.hide, &done.screens)?;
    progress.step("proof", 0.0)?;
    table::REGISTER.check(args.stand_off.get()).context("--stand-off")?;
    table::BAD_DAY_POINTS.check(args.gain_points).context("--gain-points")?;
    let screens = match args.bad_day {
        true => on_the_day(&done.screens, bad_day(args.stand_off.get(), args.gain_points)),
        false => done.screens,
    };
    let day = DotsOnTheDay::new(&job.film, &screens, bad_day(args.stand_off.get(), args.gain_points));
    let ground = Ground { garment: &garment, ..job.ground() };
    let ground = if args.bad_day { Ground { meetings: Some(day.meetings()), ..ground } } else { ground };
    let proof = proof_from_screens(&screens, &ground, |name| !hidden.iter().any(|h| h == name));
    let (proof, ppi) = match args.width {
        None => (proof, screens.ppi),
        Some(0) => bail!("a proof 0 pixels wide shows nothing; give --width at least 1"),
        Some(width) if width as usize > proof.width() => {
            bail!("the proof has {} pixels across; give --width at most that", proof.width())
        }
        Some(width) => {
            let height = (proof.height() as f64 * f64::from(width) / proof.width() as f64).round().max(1.0);
            let ppi = screens.ppi.get() * f64::from(width) / proof.width() as f64;
            let small = resized(&proof, width as usize, height as usize, &progress)?;
            (small, Ppi::new(ppi.max(1.0))?)
        }
    };
    write_picture(&args.out, &proof, ppi)?;
    let json = json!({"proof": args.out, "width_px": proof.width(), "height_px": proof.height(), "garment": garment, "hidden": hidden, "bad_day": args.bad_day});
    let text = format!("{} ({} x {} pixels)", args.out.display(), proof.width(), proof.height());
    Ok(Report { json, text })
}

fn hidden(list: &str, screens: &Screens) -> anyhow::Result<Vec<ScreenName>> {
    let names = values::names(list);
    names
        .iter()
        .map(|name| match screens.position(&name.into()) {
            Some(at) => Ok(screens.list[at].name.clone()),
            None => {
                let known: Vec<_> = screens.list.iter().map(|s| s.name.as_str()).collect();
                bail!("no screen \"{name}\" in this job; it has: {}", known.join(", "))
            }
        })
        .collect()
}
