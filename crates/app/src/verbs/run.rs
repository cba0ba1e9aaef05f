//! `strikeoff run`: what was written down of each run of a job, kept with the job as it was printed.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::Subcommand;
use serde_json::json;
use strikeoff_core::job::{Date, OnPress, RunRecord, ScreenRun};
use strikeoff_files::job::{JobFile, open_job};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::today;

use super::files::{Changing, Files};
use crate::terminal::{Report, Terminal};

/// Write down a run of a job: shirts, misprints, refills, what was changed on press, grams of ink
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    #[command(subcommand)]
    what: What,
    /// Where the job goes; without it JOB itself is changed and its version before is kept beside it
    #[arg(short, long, global = true, value_name = "JOB2")]
    out: Option<PathBuf>,
}

#[derive(Subcommand)]
enum What {
    /// Show the runs
    List,
    /// Write a run down and keep the job as it was printed
    Add(Box<Add>),
    /// Take a run out; the version that was printed stays
    Delete {
        /// Its number, from 1
        number: usize,
    },
}

#[derive(clap::Args)]
struct Add {
    /// Good shirts printed
    #[arg(long)]
    shirts: u32,
    /// Day of the run, as 2026-12-04; today if left out
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// Test shirts
    #[arg(long, value_name = "SHIRTS", default_value_t = 0)]
    test_shirts: u32,
    /// Misprints
    #[arg(long, value_name = "SHIRTS", default_value_t = 0)]
    misprints: u32,
    /// Ink and refills of a screen, as 'Brick red: 850 in, 610 out, refill 140 280'; once for each screen
    #[arg(long, value_name = "INK")]
    screen: Vec<String>,
    /// What was changed in the print order
    #[arg(long, value_name = "WORDS", default_value = "")]
    order: String,
    /// What was changed in the meshes
    #[arg(long, value_name = "WORDS", default_value = "")]
    mesh: String,
    /// What was seen of the gain
    #[arg(long, value_name = "WORDS", default_value = "")]
    gain: String,
    /// What was changed in the inks
    #[arg(long, value_name = "WORDS", default_value = "")]
    ink: String,
    /// Squeegee: edge, angle, pressure, strokes
    #[arg(long, value_name = "WORDS", default_value = "")]
    squeegee: String,
    /// Whatever else the next run should know
    #[arg(long, value_name = "WORDS", default_value = "")]
    note: String,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        match self.what {
            What::List => Files::read(&self.job),
            _ => Files::default().change(&self.job, self.out.as_deref()),
        }
    }
}

/// Does it.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    if let What::List = args.what {
        return Ok(report(&open_job(&args.job)?, &args.job));
    }
    let mut job = Changing::open(&args.job, args.out.as_deref())?;
    let file = &mut job.file;
    match args.what {
        What::List => {}
        What::Add(add) => {
            let record = add.record(file)?;
            if file.fitting_screens().is_none() {
                let made = file.evaluated(&terminal.progress())?.screens;
                file.keep_screens(made);
            }
            let shop = ShopProfile::load()?.state_for(&file.job);
            file.keep_run(record, shop)?;
        }
        What::Delete { number } => {
            let runs = &mut file.job.info.runs;
            if number == 0 || number > runs.len() {
                bail!("the job has {} runs; there is no run {number}", runs.len());
            }
            runs.remove(number - 1);
        }
    }
    job.save()?;
    Ok(report(&job.file, job.out()))
}

impl Add {
    /// The run; its screens are those of the job.
    fn record(self, file: &JobFile) -> anyhow::Result<RunRecord> {
        let date: Date = self.date.unwrap_or_else(today).parse()?;
        let known: Vec<_> = file.job.screens_and_inks().into_iter().map(|(name, _)| name).collect();
        let mut screens = Vec::new();
        for text in &self.screen {
            let mut run = ScreenRun::read(text)?;
            let Some(name) = known.iter().find(|name| strikeoff_core::names::same(name, &run.screen)) else {
                let list: Vec<&str> = known.iter().map(|name| name.as_str()).collect();
                bail!("no screen \"{}\" in this job; it has: {}", run.screen, list.join(", "));
            };
            run.screen.clone_from(name);
            screens.push(run);
        }
        let (order, mesh, gain, ink, squeegee) = (self.order, self.mesh, self.gain, self.ink, self.squeegee);
        Ok(RunRecord {
            test_shirts: self.test_shirts,
            misprints: self.misprints,
            screens,
            changed: OnPress { order, mesh, gain, ink, squeegee },
            note: self.note,
            ..RunRecord::new(date, self.shirts)
        })
    }
}

fn report(file: &JobFile, job: &Path) -> Report {
    let runs = &file.job.info.runs;
    let mut text: String = runs.iter().enumerate().map(|(at, run)| format!("{:3}  {}\n", at + 1, run.line())).collect();
    if runs.is_empty() {
        text = "no run was written down\n".to_owned();
    }
    Report { json: json!({ "job": job, "runs": runs }), text }
}
