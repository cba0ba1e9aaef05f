//! `strikeoff compare`: two jobs (or versions kept inside them) side by side, and which films must
//! be made again.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::Context;
use serde_json::json;
use strikeoff_core::Progress;
use strikeoff_core::job::{Job, compare};
use strikeoff_core::screens::Screens;
use strikeoff_files::job::open_job;

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Say how two jobs differ: settings, screens, and which films must be made again
#[derive(clap::Args)]
pub struct Args {
    /// The earlier job
    a: PathBuf,
    /// The later job
    b: PathBuf,
    /// A version kept in the earlier job, instead of its present state
    #[arg(long, value_name = "NAME")]
    a_version: Option<String>,
    /// A version kept in the later job, instead of its present state
    #[arg(long, value_name = "NAME")]
    b_version: Option<String>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.a).and_read(Some(&self.b))
    }
}

/// Opens both, makes or unpacks their screens and compares.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let progress = terminal.progress();
    let (job_a, screens_a, art_a) = load(&args.a, args.a_version.as_deref(), &progress)?;
    let (job_b, screens_b, art_b) = load(&args.b, args.b_version.as_deref(), &progress)?;
    let found = compare((&job_a, &screens_a), (&job_b, &screens_b));
    let same_art = art_a == art_b;
    let mut text = String::new();
    if found.is_same() && same_art {
        text += "the two jobs are the same; no film must be made again\n";
    }
    if !same_art {
        text += "the artwork differs\n";
    }
    for s in &found.settings {
        text += &format!("setting {}: {} -> {}\n", s.setting, s.a, s.b);
    }
    for s in found.screens.iter().filter(|s| s.place[0] != s.place[1] || s.ink[0] != s.ink[1] || s.hits[0] != s.hits[1])
    {
        let side = |at: usize| match (s.place[at], &s.ink[at], s.hits[at]) {
            (Some(place), Some(ink), Some(hits)) => format!("place {place}, {ink}, hits {hits}"),
            _ => "not there".to_owned(),
        };
        text += &format!("screen {}: {} -> {}\n", s.screen, side(0), side(1));
    }
    for film in &found.remake {
        text += &format!("remake the film {}: {}\n", film.screen, film.why.join("; "));
    }
    for name in &found.unused {
        text += &format!("the film {name} is no longer used\n");
    }
    let mut json = serde_json::to_value(&found).context("the comparison cannot be written as JSON")?;
    json["same_art"] = json!(same_art);
    json["same"] = json!(found.is_same() && same_art);
    Ok(Report { json, text })
}

fn load(path: &Path, version: Option<&str>, progress: &Progress) -> anyhow::Result<(Job, Screens, Arc<Vec<u8>>)> {
    let file = open_job(path)?;
    let file = match version {
        Some(name) => file.version(name)?,
        None => file,
    };
    let screens = match file.fitting_screens() {
        Some(kept) => kept.screens.clone(),
        None => file.evaluated(progress)?.screens,
    };
    Ok((file.job, screens, file.art_bytes))
}
