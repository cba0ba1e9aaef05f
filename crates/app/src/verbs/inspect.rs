//! `strikeoff inspect`: what a job holds and how near its print comes to the art.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use anyhow::bail;
use serde_json::json;
use strikeoff_core::Progress;
use strikeoff_core::job::{Evaluated, Job};
use strikeoff_core::separate::{over_days, print_quality};
use strikeoff_core::sureness::sureness;
use strikeoff_files::job::open_job;
use strikeoff_files::{MANIFESTS, verify};

use super::files::Files;
use super::on::On;
use crate::terminal::{Report, Terminal};

/// Which job.
#[derive(clap::Args)]
pub struct Args {
    /// The job file, or a folder of films or screens whose files are to be checked
    job: PathBuf,
    #[command(flatten)]
    on: On,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job)
    }
}

/// Opens the job and reports on it.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    if args.job.is_dir() {
        return set_of_files(&args.job);
    }
    let file = open_job(&args.job)?;
    let progress = terminal.progress();
    let mut done = file.evaluated(&progress)?;
    let mut report = match args.on.is_named() {
        true => report(&args.on.seen(&file.job, &mut done.screens)?.one_garment(), &done, &progress)?,
        false => report(&file.job, &done, &progress)?,
    };
    if let Some(note) = file.screens_from().note() {
        report.text.insert_str(0, &format!("note: {note}\n"));
        report.json["note"] = note.into();
    }
    Ok(report)
}

/// Whether a folder of films or screens holds what was written into it.
fn set_of_files(folder: &Path) -> anyhow::Result<Report> {
    let state = verify(folder)?;
    if state.manifests.is_empty() {
        bail!("{} holds no {}, so there is nothing to check its files by", folder.display(), MANIFESTS.join(" or "));
    }
    if !state.wrong.is_empty() {
        let found = state.found.iter().map(|found| format!("; {found}")).collect::<String>();
        bail!("{} is not as it was written: {}{found}; write the set again", folder.display(), state.wrong.join(", "));
    }
    let mut text: String = state.found.iter().map(|found| format!("note: {found}\n")).collect();
    text += &format!("{} files are as they were written, by {}\n", state.whole.len(), state.manifests.join(", "));
    Ok(Report { json: json!({ "folder": folder, "set": state }), text })
}

/// The report on an evaluated job; `separate` ends with the same one.
pub fn report(job: &Job, done: &Evaluated, progress: &Progress) -> anyhow::Result<Report> {
    progress.step("compare", 0.0)?;
    let Evaluated { prepared, screens } = done;
    let quality = print_quality(screens, &prepared.picture, &job.ground());
    let days = over_days(screens, &prepared.picture, &job.ground());
    progress.step("compare", 1.0)?;
    let [width_mm, height_mm] = prepared.print_size_mm;
    let ratio = prepared.true_ppi / job.film.ruling.get();
    let meaning = resolution_in_words(ratio);
    let means: Vec<f64> = screens.list.iter().map(|s| s.coverage.mean_coverage()).collect();
    let total: f64 = means.iter().zip(&screens.list).map(|(mean, s)| mean * f64::from(s.hits)).sum();

    let list: Vec<_> = (screens.list.iter().zip(&means))
        .map(|(s, mean)| json!({"name": s.name, "ink": s.ink.name, "hits": s.hits, "mean_coverage": mean}))
        .collect();
    let sure = sureness(job, screens);
    let on = |at: usize| {
        let quality = print_quality(screens, &prepared.picture, &job.ground_of(at));
        (job.garments().nth(at).map(|garment| garment.name.clone()).unwrap_or_default(), quality)
    };
    let garments: Vec<_> = (0..job.garments().count()).skip(1).map(on).collect();
    let on_others: Vec<_> = garments.iter().map(|(name, q)| json!({"garment": name, "delta_e2000": q})).collect();
    let json = json!({
        "also_on": on_others,
        "sureness": sure.as_ref().and_then(|sure| sure.as_ref().ok()),
        "title": job.info.title,
        "garment": job.garment,
        "print_size_mm": [width_mm, height_mm],
        "ppi": screens.ppi.get(),
        "true_ppi": prepared.true_ppi,
        "ruling_lpi": job.film.ruling.get(),
        "resolution_ratio": ratio,
        "resolution_meaning": meaning,
        "screens": list,
        "delta_e2000": {"mean": quality.mean, "p95": quality.p95, "share_over_5": quality.share_over_5},
        "over_days": days,
        "mean_total_ink": total,
        "assumed": screens.list.iter().any(|s| !s.ink.measured),
    });

    let mut text = String::new();
    writeln!(
        text,
        "{} on {}: {:.1} x {:.1} in ({width_mm:.1} x {height_mm:.1} mm) at {} ppi",
        job.info.title,
        job.garment.name,
        width_mm / 25.4,
        height_mm / 25.4,
        screens.ppi
    )?;
    writeln!(
        text,
        "artwork: truly {:.0} ppi at print size, {ratio:.1}x the {} lpi ruling: {meaning}",
        prepared.true_ppi, job.film.ruling
    )?;
    for (at, (screen, mean)) in screens.list.iter().zip(&means).enumerate() {
        let hits = if screen.hits > 1 { format!(", {} hits", screen.hits) } else { String::new() };
        let ink = if screen.name == screen.ink.name { String::new() } else { format!(" ({})", screen.ink.name) };
        let serves = job.serves_words(&screen.name).map(|words| format!(", on {words} only")).unwrap_or_default();
        writeln!(text, "{:3}  {}{ink}: {:.1} %{hits}{serves}", at + 1, screen.name, mean * 100.0)?;
    }
    writeln!(
        text,
        "colour difference (CIEDE2000 of the proof against the artwork): mean {:.2}, 95 % under {:.2}, {:.1} % of the print over 5",
        quality.mean,
        quality.p95,
        quality.share_over_5 * 100.0
    )?;
    for (name, quality) in &garments {
        writeln!(
            text,
            "on {name}: mean {:.2}, 95 % under {:.2}, {:.1} % over 5",
            quality.mean,
            quality.p95,
            quality.share_over_5 * 100.0
        )?;
    }
    writeln!(
        text,
        "over days on which screens print 6 points heavier or lighter and hide 5 % more or less: mean {:.2}, on a bad one {:.2}",
        days.mean, days.bad_day
    )?;
    match &sure {
        Some(Ok(sure)) => writeln!(text, "{}", sure.describe())?,
        Some(Err(why)) => writeln!(text, "note: how sure colours are is not known: {why}")?,
        None => {}
    }
    writeln!(text, "total ink: {:.0} % of the print area", total * 100.0)?;
    if screens.list.iter().any(|s| !s.ink.measured) {
        writeln!(text, "ink colours and opacities are assumed, not measured")?;
    }
    Ok(Report { json, text })
}

/// What true pixels per halftone line mean on the shirt. Common practice, no source: 1.5 to 2
/// pixels a line carry the tones; below that edges and detail suffer first.
fn resolution_in_words(ratio: f64) -> &'static str {
    match ratio {
        r if r >= 2.0 => "tones and edges hold",
        r if r >= 1.5 => "tones hold, fine edges will be soft",
        r if r >= 1.0 => "edges and small detail will look soft",
        _ => "too coarse: single pixels may show; ask the client for a larger picture or print smaller",
    }
}
