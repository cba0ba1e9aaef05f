//! `strikeoff fingerprint`: a press read from its calibration print into the shop profile, and taken into a job.

use std::fmt::Write as _;
use std::path::PathBuf;

use anyhow::{Context, Result, bail};
use serde_json::json;
use strikeoff_core::fingerprint::{Change, Fingerprint, Predictor, Tint, spread};
use strikeoff_core::names::{find, same};
use strikeoff_core::press::DotGain;
use strikeoff_core::units::Coverage;
use strikeoff_files::job::open_job;
use strikeoff_files::press_print::{print_of, read_patches, readings_from_text};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::today;

use super::files::{Changing, Files};
use crate::terminal::{Report, Terminal};

/// What is read, or taken.
#[derive(clap::Args)]
#[command(group(clap::ArgGroup::new("what").required(true).args(["read", "take"])))]
pub struct Args {
    /// The calibration print that was measured; with --take the job that gets the fingerprint
    job: PathBuf,
    /// Readings by patch number: CGATS text or CxF of an instrument, or lines of NUMBER L a b (D50); 12f is patch 12 on the
    /// flashed print, 0 the bare garment
    #[arg(long, value_name = "FILE")]
    read: Option<PathBuf>,
    /// Give the job this fingerprint of the profile, and its gain curve
    #[arg(long, value_name = "NAME")]
    take: Option<String>,
    /// What to call it: press, fabric, mesh, ink line
    #[arg(long, default_value = "press", conflicts_with = "take")]
    name: String,
    /// Date of the measurement; today if left out
    #[arg(long, conflicts_with = "take")]
    date: Option<String>,
    /// Start from these fingerprints of the profile, of the same inks in the same order: twenty patches then serve
    #[arg(long, value_delimiter = ',', value_name = "NAME", conflicts_with = "take")]
    from: Vec<String>,
    /// Noise of a reading in L*, a* and b*, one sigma
    #[arg(long, default_value_t = 0.3, conflicts_with = "take")]
    noise: f64,
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
        let files = Files::read(&self.job).and_read(self.read.as_deref());
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
        (Some(name), _) => take(&args, &profile, name),
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
    if !(0.01..=10.0).contains(&args.noise) {
        bail!("the noise of a reading must be 0.01 to 10, not {}", args.noise);
    }
    let file = open_job(&args.job)?;
    let screens = file.evaluated(&terminal.progress())?.screens;
    let (inks, planned) = print_of(&file, &screens)?;
    let bytes = std::fs::read(path).with_context(|| format!("cannot read {}", path.display()))?;
    let readings = readings_from_text(&String::from_utf8_lossy(&bytes)).with_context(|| path.display().to_string())?;
    let patches = read_patches(&readings, &planned)?;
    let others = args.from.iter().map(|name| known(&profile, name).cloned()).collect::<Result<Vec<_>>>()?;
    if let Some(other) = others.iter().find(|o| !alike(o, &inks)) {
        bail!("the fingerprint \"{}\" is of other inks, or of another order; leave it out of --from", other.name);
    }
    let mut print = Fingerprint::fit(&args.name, inks, patches, args.noise, &others)?;
    print.date = args.date.clone().unwrap_or_else(today);
    print.origin = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let before = profile.fingerprints.iter().find(|old| alike(old, &print.inks)).cloned();
    let report = told(&print, before.as_ref());
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

fn take(args: &Args, profile: &ShopProfile, name: &str) -> Result<Report> {
    let print = known(profile, name)?.clone();
    let press = Predictor::new(&print);
    let mut job = Changing::open(&args.job, args.out.as_deref())?;
    // The job has one curve: the mean of its inks'.
    let used: Vec<usize> = (0..print.inks.len())
        .filter(|at| job.file.job.separation.screens.iter().any(|s| same(&s.ink.name, &print.inks[*at].name)))
        .collect();
    if used.is_empty() {
        bail!("the fingerprint \"{}\" is of none of the job's inks", print.name);
    }
    let points = (1..20)
        .map(|step| {
            let film = f64::from(step) / 20.0;
            let printed = used.iter().map(|at| press.printed(*at, film)).sum::<f64>() / used.len() as f64;
            Ok((Coverage::new(film)?, Coverage::new(printed.clamp(film.min(1.0), 1.0))?))
        })
        .collect::<Result<Vec<_>>>()?;
    let half = points[9].1.get() * 100.0 - 50.0;
    let name = format!("{} of {}", print.name, print.date);
    job.file.job.press.gain = DotGain::Measured { name: name.clone(), points };
    job.file.job.run.fingerprint = Some(Box::new(print));
    job.save()?;
    let text = format!("{name}: +{half:.0} points at 50 %\n{}\n", job.out().display());
    Ok(Report { json: json!({ "job": job.out(), "fingerprint": name, "gain_points": half }), text })
}
