//! `strikeoff versions`: named states of a job inside its file: what the client saw, what was
//! printed.

use std::path::{Path, PathBuf};

use clap::Subcommand;
use serde_json::json;
use strikeoff_files::job::{JobFile, open_job};
use strikeoff_files::today;

use super::files::{Changing, Files};
use crate::terminal::{Report, Terminal};

/// Keep, list and bring back named versions of a job
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
    /// Show the versions
    List,
    /// Keep the job as it is now, with its full-size screens
    Keep {
        /// A name: "client proof 1", "as printed"
        name: String,
        /// Whatever is worth knowing
        #[arg(long, default_value = "")]
        note: String,
        /// Date; today if absent
        #[arg(long)]
        date: Option<String>,
    },
    /// Make the job what a version was
    Restore {
        /// The version
        name: String,
    },
    /// Take a version out
    Delete {
        /// The version
        name: String,
    },
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
        return Ok(report(&open_job(&args.job)?, &args.job, String::new()));
    }
    let mut job = Changing::open(&args.job, args.out.as_deref())?;
    let file = &mut job.file;
    match args.what {
        What::List => {}
        What::Keep { name, note, date } => {
            if file.fitting_screens().is_none() {
                let made = file.evaluated(&terminal.progress())?.screens;
                file.keep_screens(made);
            }
            file.keep_version(&name, &note, &date.unwrap_or_else(today))?;
        }
        What::Restore { name } => {
            *file = file.version(&name)?;
            if file.fitting_screens().is_none() {
                let made = file.evaluated(&terminal.progress())?.screens;
                file.keep_screens(made);
            }
        }
        What::Delete { name } => {
            file.delete_version(&name)?;
        }
    }
    job.save()?;
    Ok(report(&job.file, job.out(), format!("{}\n", job.out().display())))
}

/// The versions of a job, and what there is to say besides.
fn report(file: &JobFile, job: &Path, more: String) -> Report {
    let mut text = list(file) + &more;
    if let Some(note) = file.screens_from().note() {
        text += &format!("note: {note}\n");
    }
    let versions: Vec<_> = (file.versions.iter())
        .map(|v| {
            json!({
                "name": v.name, "note": v.note, "date": v.date, "edits": v.job.edits.len(),
                "screens_algorithm": v.screens.as_ref().map(|s| s.algorithm_version()),
            })
        })
        .collect();
    Report { json: json!({ "job": job, "versions": versions }), text }
}

fn list(file: &JobFile) -> String {
    if file.versions.is_empty() {
        return "no versions\n".to_owned();
    }
    let line = |v: &strikeoff_files::job::NamedVersion| {
        let with = if v.screens.is_some() { "with screens" } else { "settings only" };
        format!("{:24} {:10} {with:14} {}\n", v.name, v.date, v.note)
    };
    file.versions.iter().map(line).collect()
}
