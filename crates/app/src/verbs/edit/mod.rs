//! `strikeoff edit`: one edit of the screens, added to the job's list, or a change of that list.
//! The result is made at once, so that an edit that cannot be is refused here and not when films
//! are needed.

mod choices;
mod list;
mod typed;
mod what;

use std::path::PathBuf;

use serde_json::json;
use strikeoff_core::tune::{EditEntry, conflicts};
use strikeoff_files::job::{JobFile, open_job};

use super::files::{Changing, Files};
use crate::terminal::{Report, Terminal};
pub(super) use what::find;
use what::{OfList, What};

/// Change the screens of a job
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    #[command(subcommand)]
    what: What,
    /// Where the changed job goes; without it JOB itself is changed and its version before is
    /// kept beside it
    #[arg(short, long, global = true, value_name = "JOB2")]
    out: Option<PathBuf>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        let reads = Files::default().and_read(self.what.picture()).and_read(self.what.shelf().map(PathBuf::as_path));
        match self.what {
            What::OfList(OfList::List) => reads.and_read(Some(&self.job)),
            _ => reads.change(&self.job, self.out.as_deref()),
        }
    }
}

/// Does it, makes the screens and saves.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let note = |file: &JobFile| file.screens_from().note().map_or_else(String::new, |note| format!("note: {note}\n"));
    if matches!(args.what, What::OfList(OfList::List)) {
        let file = open_job(&args.job)?;
        let text = note(&file) + &list::text(&file.job);
        return Ok(Report { json: json!({ "job": args.job, "edits": list::json(&file.job) }), text });
    }
    let mut changing = Changing::open(&args.job, args.out.as_deref())?;
    let file = &mut changing.file;
    let mut text = note(file);
    let progress = terminal.progress();
    let art = file.art()?;
    let of_the_list = match &args.what {
        What::OfList(what) => {
            list::change(&mut file.job, what)?;
            true
        }
        What::Edit(typed) => {
            let before = file.evaluated_on(&art, &progress)?.screens;
            file.job.edits.push(EditEntry::on(typed.edit(&before)?));
            false
        }
    };
    // A list with several conflicts is fixed one by one: until the last there are no screens. A
    // new edit that cannot be applied is refused.
    let stuck = of_the_list && !conflicts(&file.job.separation, &file.job.edits).is_empty();
    let mut screens = Vec::new();
    if stuck {
        text += &list::text(&file.job);
    } else {
        let after = file.evaluated_on(&art, &progress)?.screens;
        for (at, screen) in after.list.iter().enumerate() {
            let mean = screen.coverage.mean_coverage();
            text += &format!("{:2}  {:24} {:24} {:5.1} %\n", at + 1, screen.name, screen.ink.name, mean * 100.0);
            screens.push(json!({
                "name": screen.name, "ink": screen.ink.name, "hits": screen.hits, "mean_coverage": mean,
            }));
        }
        file.keep_screens(after);
    }
    let edits = (file.job.edits.len(), list::json(&file.job));
    changing.save()?;
    let out = changing.out();
    text += &format!("{}\n", out.display());
    let json = json!({
        "job": out, "edits": edits.0, "list": edits.1, "screens": screens,
    });
    Ok(Report { json, text })
}
