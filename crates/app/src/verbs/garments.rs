//! `strikeoff garments`: the same screens on other garments.

use std::path::PathBuf;

use anyhow::Result;
use serde_json::json;
use strikeoff_core::preview::swap_garments;
use strikeoff_files::job::open_job;

use super::files::Files;
use super::values;
use crate::terminal::{Report, Terminal};

/// Say which screens serve other garments
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Garments to judge: '#RRGGBB' or a house garment
    #[arg(required = true)]
    garments: Vec<String>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job)
    }
}

/// Judges the screens on each garment.
pub fn run(args: Args, terminal: &Terminal) -> Result<Report> {
    let garments = args.garments.iter().map(|text| values::garment(text)).collect::<Result<Vec<_>>>()?;
    let mut file = open_job(&args.job)?;
    let progress = terminal.progress();
    let done = file.evaluated_for_press(&progress)?;
    let marks = swap_garments(&file.job, &done.prepared, &done.screens, &garments, &progress)?;
    let mut text = String::new();
    for mark in &marks {
        let verdict = if mark.changes.is_empty() { "these screens serve".to_owned() } else { mark.changes.join(" ") };
        text += &format!(
            "{:12} shift {:5.1} (95 % under {:5.1})  {verdict}\n",
            mark.garment.name, mark.mean_shift, mark.p95_shift
        );
    }
    Ok(Report { json: json!({ "job": args.job, "garments": marks }), text })
}
