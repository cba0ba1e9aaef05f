//! `strikeoff costs`: what it costs in colour to drop each screen or to merge it into another, as the screens
//! stand and separated again.

use std::fmt::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

use serde_json::json;
use strikeoff_core::job::{Trial, costs};
use strikeoff_files::job::open_job;
use strikeoff_files::profile::ShopProfile;

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Say what dropping or merging each screen costs in colour
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Tries every ink of the shelf on this screen as well
    #[arg(long, value_name = "SCREEN")]
    inks_for: Option<String>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::default().and_read(Some(&self.job))
    }
}

/// Tries every drop and merge on the job.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let file = open_job(&args.job)?;
    let progress = terminal.progress();
    let art = Arc::new(file.art()?);
    let done = file.evaluated_on(&art, &progress)?;
    let shelf = ShopProfile::load()?.shelf;
    let inks = match &args.inks_for {
        None => None,
        Some(name) => {
            let screen = super::edit::find(&done.screens, name)?;
            let mut trial = Trial::new(&file.job, &art, &done.prepared, &done.screens, &progress)?;
            Some((screen.clone(), trial.inks(&screen, &shelf, &progress)?))
        }
    };
    let found = costs(&file.job, &art, &shelf, (&done.prepared, &done.screens), &progress)?;
    let mut text = format!(
        "mean colour difference (CIEDE2000) of the proof against the artwork, now: {:.2}\n\nwith a screen dropped:\n",
        found.now
    );
    for screen in &found.screens {
        let Some(cost) = &screen.drop else { continue };
        let again = cost.again.map_or_else(String::new, |again| format!(", separated again {again:.2}"));
        writeln!(text, "  {:24} {:5.1} %  {:.2}{again}", screen.name, screen.coverage * 100.0, cost.as_is)?;
    }
    writeln!(text, "\nwith two screens merged:")?;
    for merge in &found.merges {
        let mixed = merge.mixed.as_ref();
        let mixed = mixed.map_or_else(String::new, |m| format!(", in one mixed ink {} {:.2}", m.color, m.again));
        writeln!(text, "  {} into {}: {:.2}{mixed}", merge.from, merge.into, merge.cost.as_is)?;
    }
    let mut json = json!(found);
    if let Some((screen, inks)) = inks {
        writeln!(text, "\n{screen} in another ink of the shelf, best first:")?;
        for ink in &inks {
            let again = ink.cost.again.map_or_else(String::new, |again| format!(", separated again {again:.2}"));
            writeln!(text, "  {:24} {:.2}{again}", ink.ink.name, ink.cost.as_is)?;
        }
        json["inks"] = json!({"screen": screen, "inks": inks});
    }
    Ok(Report { json, text })
}
