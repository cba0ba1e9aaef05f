//! `strikeoff separate`: a picture and a list of inks to a job file with its screens.

use std::path::PathBuf;
use std::sync::Arc;

use anyhow::{Context, bail};
use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Shelf};
use strikeoff_core::job::{Job, evaluate, ink_sets};
use strikeoff_core::names::same;
use strikeoff_core::press::Stop;
use strikeoff_core::raster::{Art, Detail, Picture, Plane};
use strikeoff_core::separate::{InkRequest, PlannedScreen};
use strikeoff_core::units::Lpi;
use strikeoff_files::begin::{ReceivedFile, begin_job};
use strikeoff_files::job::JobFile;
use strikeoff_files::limits::{Budget, check_evaluation};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::read_shelf;

use super::files::{Files, save_new};
use super::how::How;
use super::size::Size;
use super::ticket::TicketWords;
use super::{inspect, values};
use crate::terminal::{Report, Terminal};

/// What to separate, and how.
#[derive(clap::Args)]
pub struct Args {
    /// The client's picture
    art: PathBuf,
    /// Page of a PDF or multi-page TIFF
    #[arg(long, default_value_t = 1)]
    page: usize,
    /// Garment: '#RRGGBB' or the name of a house garment
    #[arg(long, value_name = "COLOUR")]
    garment: String,
    /// A further garment that the same films print on, without whites if it is white; may be given again
    #[arg(long, value_name = "COLOUR")]
    also: Vec<String>,
    /// Inks by name, in print order, first down first
    #[arg(long, value_name = "NAME,NAME,...", required_unless_present = "screens")]
    inks: Option<String>,
    /// Let inks be chosen from the shelf for at most so many screens, an underbase counted; fewer where a screen would
    /// bring nothing
    #[arg(long, value_name = "NUMBER", conflicts_with = "inks")]
    screens: Option<usize>,
    /// The shop's ink shelf (JSON); without it that of the shop profile
    #[arg(long, value_name = "FILE")]
    shelf: Option<PathBuf>,
    #[command(flatten)]
    size: Size,
    /// Ruling the films will have; dot gain and the resolution check follow it
    #[arg(long, value_name = "LPI", default_value = "45")]
    ruling: Lpi,
    /// Screens that print two hits
    #[arg(long, value_name = "NAME,...", default_value = "")]
    two_hits: String,
    /// Screens that are flashed and cooled down before the next one prints
    #[arg(long, value_name = "NAME,...", default_value = "")]
    flash_after: String,
    #[command(flatten)]
    how: How,
    #[command(flatten)]
    ticket: TicketWords,
    /// The job file to write
    #[arg(short, long, value_name = "JOB")]
    out: PathBuf,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.art).and_read(self.shelf.as_deref()).write(&self.out)
    }
}

/// Separates and saves.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let progress = terminal.progress();
    let garment = values::garment(&args.garment)?;
    let own_shelf = args.shelf.as_deref().map(read_shelf).transpose()?;
    let profile = ShopProfile::load()?;
    let shelf = own_shelf.as_ref().unwrap_or(&profile.shelf);
    let named = args.inks.as_deref().map(values::names).unwrap_or_default();
    let inks = named.iter().map(|name| shelf.find(name).cloned()).collect::<Result<Vec<_>, _>>()?;
    if inks.is_empty() && args.screens.is_none() {
        bail!("--inks names no ink");
    }

    let mut picture = ReceivedFile::read(&args.art, args.page, &progress)?;
    let chosen = match args.screens {
        None => None,
        Some(screens) => Some(choose(&args, screens, &garment, &mut picture, (&profile, shelf), &progress)?),
    };
    let mut job = begin_job(&picture.name, garment, inks, &profile, |job| {
        job.separation.screens = chosen.unwrap_or_else(|| std::mem::take(&mut job.separation.screens));
        args.how.apply(job)
    })?;
    args.size.apply(&mut job, &profile)?;
    job.prep.page = args.page;
    job.film.ruling = args.ruling;
    args.ticket.apply(&mut job.info)?;
    for name in values::names(&args.two_hits) {
        let at = planned(&job, &name)?;
        job.separation.screens[at].hits = 2;
    }
    for name in values::names(&args.flash_after) {
        let at = planned(&job, &name)?;
        job.press.stops.insert(job.separation.screens[at].name.clone(), Stop::FlashAndCoolDown);
    }

    if !args.also.is_empty() {
        job.leaves_out = job.usually_left_out(&job.garment);
    }
    for also in &args.also {
        job.add_garment(values::garment(also)?).map_err(anyhow::Error::msg)?;
    }

    check_evaluation(&job, &picture.received.art, Detail::Full, Budget::of_machine())?;
    let done = evaluate(&job, &picture.received.art, Detail::Full, &progress)?;
    let mut report = inspect::report(&job, &done, &progress)?;
    let mut file = JobFile::new(job, picture.name, picture.bytes);
    file.keep_screens(done.screens);
    save_new(&args.out, &file)?;
    report.json["job"] = args.out.display().to_string().into();
    Ok(report)
}

/// The screens chosen from the shelf for the picture at its print size.
fn choose(
    args: &Args,
    screens: usize,
    garment: &Garment,
    picture: &mut ReceivedFile,
    (profile, shelf): (&ShopProfile, &Shelf),
    progress: &Progress,
) -> anyhow::Result<Vec<PlannedScreen>> {
    let none = |_: &mut Job| Ok::<(), anyhow::Error>(());
    let mut job = begin_job(&picture.name, garment.clone(), [], profile, none)?;
    args.size.apply(&mut job, profile)?;
    job.prep.page = args.page;
    job.film.ruling = args.ruling;
    let request = InkRequest { screens, ..InkRequest::default() };
    // The picture is lent: it is large.
    let blank = Picture::new(Plane::filled(1, 1, [0; 4]));
    let lent = std::mem::replace(&mut picture.received.art.picture, blank);
    let art = Arc::new(Art { picture: lent, ppi: picture.received.art.ppi });
    let found = ink_sets(&job, &art, shelf, &request, None, progress);
    picture.received.art = Arc::unwrap_or_clone(art);
    let found = found?;
    let set = found.sets.get(found.chosen).context("no ink of the shelf prints this artwork; add inks")?;
    Ok(set.choice.screens())
}

/// Where a screen of that name stands in the plan, names read as loosely as on the shelf.
pub(super) fn planned(job: &Job, name: &str) -> anyhow::Result<usize> {
    let found = job.separation.screens.iter().position(|s| same(&s.name, name));
    found.with_context(|| format!("\"{name}\" is not among the inks of this job"))
}
