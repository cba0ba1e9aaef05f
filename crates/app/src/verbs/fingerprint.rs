//! `strikeoff fingerprint`: a press read from its calibration print into the shop profile, and taken into a job.

use std::fmt::Write as _;
use std::path::PathBuf;

use anyhow::{Context, Result, bail};
use serde_json::json;
use strikeoff_core::fingerprint::{Change, Fingerprint, Predictor, Tint, spread};
use strikeoff_core::names::{find, same};
use strikeoff_core::press::DotGain;
use strikeoff_core::sureness::{dated, sureness, with_fingerprint, with_measured};
use strikeoff_files::job::open_job;
use strikeoff_files::press_print::{ReadPrint, print_of};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::today;

use super::files::{Changing, Files};
use super::shot::told as shot_told;
use crate::terminal::{Report, Terminal};

/// What is read, or taken.
#[derive(clap::Args)]
#[command(group(clap::ArgGroup::new("what").required(true).args(["read", "take"])))]
pub struct Args {
    /// The calibration print that was measured; with --take the job that gets the fingerprint
    job: PathBuf,
    /// Readings by patch number: CGATS text or CxF of an instrument, or lines of NUMBER L a b (D50); 12f is patch 12 on the
    /// flashed print, 0 the bare garment. Or a photograph of the wet print with the reference strip beside it
    #[arg(long, value_name = "FILE")]
    read: Option<PathBuf>,
    /// A photograph of the flashed print, where --read is one of the wet print
    #[arg(long, value_name = "PICTURE", requires = "read")]
    flashed: Option<PathBuf>,
    /// The strip's measured values, lines of NUMBER L a b (D50); as drawn, which is assumed, if left out
    #[arg(long, value_name = "FILE", requires = "read")]
    strip: Option<PathBuf>,
    /// Give the job this fingerprint of the profile, and its gain curve
    #[arg(long, value_name = "NAME")]
    take: Option<String>,
    /// With --take: use all that was measured and the job's print model can hold, ink colours and opacities, gain, wet on
    /// wet and n
    #[arg(long, requires = "take")]
    measured: bool,
    /// What to call it: press, fabric, mesh, ink line
    #[arg(long, default_value = "press", conflicts_with = "take")]
    name: String,
    /// Date of the measurement; today if left out
    #[arg(long, conflicts_with = "take")]
    date: Option<String>,
    /// Start from these fingerprints of the profile, of the same inks in the same order: twenty patches then serve
    #[arg(long, value_delimiter = ',', value_name = "NAME", conflicts_with = "take")]
    from: Vec<String>,
    /// Noise of a reading in L*, a* and b*, one sigma; 0.3 if left out, and a photograph's own
    #[arg(long, conflicts_with = "take")]
    noise: Option<f64>,
    /// A shop profile in a file; that of this computer if left out
    #[arg(long, value_name = "FILE")]
    profile: Option<PathBuf>,
    /// The profile, or with --take the job, to write; the one that was read if left out
    #[arg(short, long)]
    out: Option<PathBuf>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        if self.take.is_some() {
            return Files::default().and_read(self.profile.as_deref()).change(&self.job, self.out.as_deref());
        }
        let files = Files::read(&self.job)
            .and_read(self.read.as_deref())
            .and_read(self.flashed.as_deref())
            .and_read(self.strip.as_deref());
        match &self.out {
            Some(out) => files.and_read(self.profile.as_deref().filter(|p| *p != out.as_path())).write(out),
            None => files,
        }
    }
}

/// Reads a print, or gives a job what was read.
pub fn run(args: Args, terminal: &Terminal) -> Result<Report> {
    let profile = match &args.profile {
        Some(path) => ShopProfile::import(path)?,
        None => ShopProfile::load()?,
    };
    match (&args.take, &args.read) {
        (Some(name), _) => take(&args, &profile, name, terminal),
        (None, Some(_)) => read(&args, profile, terminal),
        (None, None) => bail!("give --read or --take"),
    }
}

fn known<'a>(profile: &'a ShopProfile, name: &str) -> Result<&'a Fingerprint> {
    find(&profile.fingerprints, name, |print| &print.name).with_context(|| {
        let names: Vec<_> = profile.fingerprints.iter().map(|p| format!("\"{}\"", p.name)).collect();
        let names = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
        format!("the shop profile has no fingerprint \"{}\"; it has {names}", strikeoff_core::names::short(name))
    })
}

fn read(args: &Args, mut profile: ShopProfile, terminal: &Terminal) -> Result<Report> {
    let path = args.read.as_deref().context("give the readings with --read")?;
    if let Some(noise) = args.noise.filter(|noise| !(0.01..=10.0).contains(noise)) {
        bail!("the noise of a reading must be 0.01 to 10, not {noise}");
    }
    let file = open_job(&args.job)?;
    let screens = file.evaluated(&terminal.progress())?.screens;
    let (inks, planned) = print_of(&file.job, &screens)?;
    let read = ReadPrint { wet: path.to_owned(), flashed: args.flashed.clone(), strip: args.strip.clone() };
    let (patches, noise, shots) = read.patches(&planned)?;
    let others = args.from.iter().map(|name| known(&profile, name).cloned()).collect::<Result<Vec<_>>>()?;
    if let Some(other) = others.iter().find(|o| !alike(o, &inks)) {
        bail!("the fingerprint \"{}\" is of other inks, or of another order; leave it out of --from", other.name);
    }
    let mut print = Fingerprint::fit(&args.name, inks, patches, args.noise.unwrap_or(noise), &others)?;
    print.date = args.date.clone().unwrap_or_else(today);
    print.origin = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let before = profile.fingerprints.iter().find(|old| alike(old, &print.inks)).cloned();
    let mut report = told(&print, before.as_ref());
    report.text.insert_str(0, &shots.iter().map(shot_told).collect::<String>());
    profile.fingerprints.retain(|old| !(same(&old.name, &print.name) && old.date == print.date));
    profile.fingerprints.insert(0, print);
    match (&args.out, &args.profile) {
        (Some(out), _) | (None, Some(out)) => profile.export(out)?,
        (None, None) => profile.save()?,
    }
    Ok(report)
}

fn alike(print: &Fingerprint, inks: &[strikeoff_core::fingerprint::AssumedInk]) -> bool {
    print.inks.len() == inks.len() && print.inks.iter().zip(inks).all(|(a, b)| same(&a.name, &b.name))
}

fn told(print: &Fingerprint, before: Option<&Fingerprint>) -> Report {
    let press = Predictor::new(print);
    let count = print.inks.len();
    let mut text = format!("{} of {}: {} patches\n", print.name, print.date, print.patches.len());
    let mut inks = Vec::new();
    for (at, ink) in print.inks.iter().enumerate() {
        let (points, opacity) = (press.gain_points(at), press.opacity(at));
        let _ = writeln!(text, "  {:24} gains {points:3.0} points at 50 %, opacity {opacity:.2}", ink.name);
        inks.push(
            json!({ "name": ink.name, "gain_points": points, "opacity": opacity, "over_white": press.over_white(at) }),
        );
    }
    let mut pairs = Vec::new();
    for upper in 0..count {
        for lower in 0..upper {
            let kept = press.kept(lower, upper);
            let _ = writeln!(
                text,
                "  {} on wet {} keeps {:.0} % of its opacity",
                print.inks[upper].name,
                print.inks[lower].name,
                kept * 100.0
            );
            pairs.push(json!({ "lower": print.inks[lower].name, "upper": print.inks[upper].name, "kept": kept }));
        }
    }
    let tints: Vec<Tint> = spread(count, 200).into_iter().map(Tint::wet).collect();
    let bands: Vec<f64> = press.predict(&tints).iter().map(|p| p.band).collect();
    let band = (bands.iter().map(|b| b * b).sum::<f64>() / bands.len() as f64).sqrt();
    let _ = writeln!(text, "colours of mixtures within {band:.1}, 19 times of 20 (CIEDE2000)");
    let mixtures: Vec<Tint> = spread(count, 400)
        .into_iter()
        .map(|film| Tint::wet(film.iter().map(|a| (a * 20.0).round() / 20.0).collect()))
        .collect();
    let next = press.next(&mixtures, &tints).map(|tint| tint.film.clone()).unwrap_or_default();
    let percents: Vec<String> = next
        .iter()
        .zip(&print.inks)
        .filter(|(a, _)| **a > 0.0)
        .map(|(a, ink)| format!("{} {:.0} %", ink.name, a * 100.0))
        .collect();
    let _ = writeln!(text, "the patch that would narrow this most: {}", percents.join(", "));
    let change = before.and_then(|old| Change::between(&Predictor::new(old), &press).map(|change| (old, change)));
    if let Some((old, change)) = &change {
        let _ = writeln!(text, "since {} of {}: {}", old.name, old.date, change.describe());
    }
    let since = change.map(|(old, c)| json!({ "name": old.name, "date": old.date, "points": c.points, "mean": c.mean, "p95": c.p95, "sure": c.sure }));
    let json = json!({
        "name": print.name, "date": print.date, "patches": print.patches.len(), "inks": inks, "pairs": pairs,
        "yule_nielsen": press.yule_nielsen(), "band": band, "next_patch": next, "since": since,
    });
    Report { json, text }
}

fn take(args: &Args, profile: &ShopProfile, name: &str, terminal: &Terminal) -> Result<Report> {
    let print = known(profile, name)?.clone();
    let mut job = Changing::open(&args.job, args.out.as_deref())?;
    let taken = if args.measured { with_measured } else { with_fingerprint };
    let after = taken(&job.file.job, &print).map_err(anyhow::Error::msg)?;
    let name = dated(&print);
    let half = match &after.press.gain {
        DotGain::Measured { points, .. } => points[9].1.get() * 100.0 - 50.0,
        _ => bail!("the fingerprint gave no gain curve"),
    };
    let mut text = format!("{name}: +{half:.0} points at 50 %\n");
    let mut figures = Vec::new();
    if args.measured {
        // As it stands, told by the same fingerprint, and as it will be.
        let mut before = job.file.job.clone();
        before.run.fingerprint = Some(Box::new(print));
        for (when, of) in [("before", before), ("after", after.clone())] {
            job.file.job = of;
            let screens = job.file.evaluated(&terminal.progress())?.screens;
            let sure = sureness(&job.file.job, &screens).context("the job has no fingerprint")?;
            let sure = sure.map_err(anyhow::Error::msg)?;
            text += &format!("{when}: {}\n", sure.describe());
            figures.push(json!({ "when": when, "sureness": sure }));
        }
    }
    job.file.job = after;
    job.save()?;
    text += &format!("{}\n", job.out().display());
    let json = json!({ "job": job.out(), "fingerprint": name, "gain_points": half, "measured": figures });
    Ok(Report { json, text })
}
