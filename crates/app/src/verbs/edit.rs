//! `strikeoff edit`: one edit of the screens, added to the job's list. The result is made at once,
//! so that an edit that cannot be is refused here and not when films are wanted.

use std::path::PathBuf;

use anyhow::{Context, bail};
use clap::Subcommand;
use serde_json::json;
use strikeoff_core::job::Screens;
use strikeoff_core::tune::{Edit, EditEntry};
use strikeoff_core::units::Coverage;
use strikeoff_files::job::{open_job, save_job};
use strikeoff_files::shelf::{house_shelf, read_shelf};

use crate::terminal::{Report, Terminal};

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

#[derive(Subcommand)]
enum What {
    /// Merge one screen into another: multiply their film values and drop the first
    Merge {
        /// The screen that goes
        from: String,
        /// The screen that stays
        into: String,
    },
    /// Print a screen with another ink
    ReInk {
        /// The screen
        screen: String,
        /// Name of the new ink on the shelf
        ink: String,
        /// The shop's ink shelf (JSON); without it the house shelf
        #[arg(long, value_name = "FILE")]
        shelf: Option<PathBuf>,
    },
    /// Take a screen out
    Drop {
        /// The screen
        screen: String,
    },
    /// Set the print order, first down first; screens not named follow as they stand
    Order {
        /// Names of screens
        #[arg(value_delimiter = ',', required = true)]
        screens: Vec<String>,
    },
    /// Take light tones out of a screen, and its ink out of the background
    Trim {
        /// The screen
        screen: String,
        /// Coverage below this becomes none, 0..1
        #[arg(long, default_value = "0")]
        below: f64,
        /// Clear the screen where the artwork's background is
        #[arg(long)]
        background: bool,
    },
}

/// Adds the edit, makes the screens and saves.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let mut file = open_job(&args.job)?;
    let progress = terminal.progress();
    let art = file.art()?;
    let before = file.evaluated_on(&art, &progress)?.screens;
    let mut text = String::new();
    if let Some(note) = file.screens_from().note() {
        text += &format!("note: {note}\n");
    }
    let edit = edit_of(args.what, &before)?;
    file.job.edits.push(EditEntry { on: true, edit });
    let after = file.evaluated_on(&art, &progress)?.screens;
    let screens: Vec<_> = (after.list.iter())
        .map(|s| json!({ "name": s.name, "ink": s.ink.name, "hits": s.hits, "mean_coverage": s.coverage.mean_coverage() }))
        .collect();
    for (at, screen) in after.list.iter().enumerate() {
        let mean = screen.coverage.mean_coverage() * 100.0;
        text += &format!("{:2}  {:24} {:24} {mean:5.1} %\n", at + 1, screen.name, screen.ink.name);
    }
    file.keep_screens(after);
    let out = args.out.unwrap_or(args.job);
    save_job(&out, &file)?;
    text += &format!("{}\n", out.display());
    Ok(Report { json: json!({ "job": out, "edits": file.job.edits.len(), "screens": screens }), text })
}

/// The edit, with screens under the names that the job has for them.
fn edit_of(what: What, screens: &Screens) -> anyhow::Result<Edit> {
    let known = |name: &str| find(screens, name);
    Ok(match what {
        What::Merge { from, into } => {
            let (from, into) = (known(&from)?, known(&into)?);
            if from == into {
                bail!("\"{from}\" cannot be merged into itself; name two screens");
            }
            Edit::merge(from, into)
        }
        What::ReInk { screen, ink, shelf } => {
            let ink = match shelf {
                Some(path) => read_shelf(&path)?.find(&ink)?.clone(),
                None => house_shelf().find(&ink)?.clone(),
            };
            Edit::re_ink(known(&screen)?, ink)
        }
        What::Drop { screen } => {
            if screens.list.len() == 1 {
                bail!("\"{screen}\" is the only screen; a job needs one");
            }
            Edit::drop(known(&screen)?)
        }
        What::Order { screens: names } => {
            let names = names.iter().map(|n| known(n.trim())).collect::<Result<Vec<_>, _>>()?;
            if let Some(twice) = names.iter().enumerate().find(|(at, name)| names[..*at].contains(name)) {
                bail!("the order names \"{}\" twice", twice.1);
            }
            Edit::Order { screens: names }
        }
        What::Trim { screen, below, background } => {
            if below == 0.0 && !background {
                bail!("nothing to trim: give --below, --background or both");
            }
            let below = Coverage::new(below).context("--below")?;
            Edit::trim(known(&screen)?, below, background)
        }
    })
}

/// A screen by name, or by its ink's; case, blanks, `-` and `_` are ignored as on the shelf.
fn find(screens: &Screens, name: &str) -> anyhow::Result<String> {
    let plain = |text: &str| -> String {
        text.chars().filter(|c| !matches!(c, ' ' | '-' | '_')).flat_map(char::to_lowercase).collect()
    };
    let wanted = plain(name);
    let by_name = screens.list.iter().find(|s| plain(&s.name) == wanted);
    match by_name.or_else(|| screens.list.iter().find(|s| plain(&s.ink.name) == wanted)) {
        Some(screen) => Ok(screen.name.clone()),
        None => {
            let names: Vec<_> = screens.list.iter().map(|s| s.name.as_str()).collect();
            bail!("the job has no screen \"{name}\"; it has {}", names.join(", "))
        }
    }
}
