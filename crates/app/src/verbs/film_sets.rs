//! `strikeoff film-sets`: sets of films for a job, each tried with its real dots.

use std::fmt::Write as _;
use std::path::PathBuf;

use anyhow::Context;
use serde_json::json;
use strikeoff_core::moire::film_sets;
use strikeoff_files::job::open_job;

use super::files::{Changing, Files};
use crate::terminal::{Report, Terminal};

/// Compare sets of films by what their dots print, and choose one
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Gives the job this set: its place in the list, from 1, or its name
    #[arg(long = "use", value_name = "SET")]
    chosen: Option<String>,
    /// Where the changed job goes; without it JOB itself is changed and its version before is kept
    /// beside it
    #[arg(short, long, value_name = "JOB2", requires = "chosen")]
    out: Option<PathBuf>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        match self.chosen {
            None => Files::read(&self.job),
            Some(_) => Files::default().change(&self.job, self.out.as_deref()),
        }
    }
}

/// Tries the sets.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let progress = terminal.progress();
    let mut changing = None;
    let mut read = None;
    let file = match args.chosen {
        Some(_) => &mut changing.insert(Changing::open(&args.job, args.out.as_deref())?).file,
        None => read.insert(open_job(&args.job)?),
    };
    let done = file.evaluated(&progress)?;
    let sets = film_sets(&file.job, &done.screens, &progress)?;
    let mut text = String::from(
        "mean CIEDE2000: miss of the proof from the dots, moves from set-up to set-up; texture in L*; risk of beats\n\n",
    );
    for (at, set) in sets.iter().enumerate() {
        let trial = set.trial;
        writeln!(
            text,
            "  {}. {:20} miss {:.2}  moves {:.2}  texture {:.2}  beats {:.0} %",
            at + 1,
            set.name,
            trial.miss,
            trial.moves,
            trial.texture,
            set.beats * 100.0
        )?;
    }
    let figures: Vec<_> = sets.iter().map(|set| set.figures(&done.screens)).collect();
    if let Some(chosen) = &args.chosen {
        let at = chosen.parse::<usize>().ok().and_then(|place| place.checked_sub(1));
        let at = at.or_else(|| sets.iter().position(|set| set.name.eq_ignore_ascii_case(chosen.trim())));
        let names: Vec<&str> = sets.iter().map(|set| set.name).collect();
        let set = at.and_then(|at| sets.get(at));
        let set = set.with_context(|| {
            format!("no film set \"{chosen}\"; --use can be 1 to {} or: {}", sets.len(), names.join(", "))
        })?;
        file.job.film = set.film.clone();
        writeln!(text, "\nthe job has the set \"{}\" now", set.name)?;
        if let Some(changing) = changing.as_mut() {
            changing.save()?;
        }
    }
    Ok(Report { json: json!({ "sets": figures }), text })
}
