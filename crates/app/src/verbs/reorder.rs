//! `strikeoff reorder`: what has changed since a job was printed, what that does to the print, which films and screens
//! still serve; and the job made ready to be printed again, the same or updated.

use std::fmt::Write as _;
use std::path::PathBuf;

use serde_json::{Value, json};
use strikeoff_core::job::SettingDifference;
use strikeoff_core::raster::{Picture, Plane};
use strikeoff_core::separate::Quality;
use strikeoff_core::units::Ppi;
use strikeoff_files::job::{JobFile, open_job};
use strikeoff_files::picture::write_picture;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::reorder::{Again, Reorder, State, again, reorder, run_of};

use super::files::{Changing, Files};
use crate::terminal::{Report, Terminal};

/// Say what has changed since a job was printed, and make it ready to print again, the same or updated
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Print the same: the job becomes what was printed, with its very screens
    #[arg(long, conflicts_with = "updated")]
    same: bool,
    /// Print it updated: what was printed, with the inks, gain and meshes that the shop has changed since
    #[arg(long)]
    updated: bool,
    /// The run that is printed again, from 1; the latest if left out
    #[arg(long, value_name = "NUMBER")]
    run: Option<usize>,
    /// A picture of the print that was made beside the one that would be made: .png, .tif or .tiff
    #[arg(long, value_name = "PICTURE")]
    picture: Option<PathBuf>,
    /// Where the job goes; without it JOB itself is changed and its version before is kept beside it
    #[arg(short, long, value_name = "JOB2")]
    out: Option<PathBuf>,
}

impl Args {
    fn what(&self) -> Option<Again> {
        match (self.same, self.updated) {
            (true, _) => Some(Again::Same),
            (_, true) => Some(Again::Updated),
            _ => None,
        }
    }

    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        let files = match self.what() {
            None => Files::read(&self.job),
            Some(_) => Files::default().change(&self.job, self.out.as_deref()),
        };
        match &self.picture {
            None => files,
            Some(picture) => files.write(picture),
        }
    }
}

/// Looks, and does it where that was requested.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let profile = ShopProfile::load()?;
    let progress = terminal.progress();
    let look = |file: &JobFile| reorder(file, args.run, &profile, &progress);
    let Some(what) = args.what() else {
        let found = look(&open_job(&args.job)?)?;
        picture(&args, &found, &found.now)?;
        return Ok(Report { json: in_json(&found), text: in_words(&found)? });
    };
    let mut job = Changing::open(&args.job, args.out.as_deref())?;
    let found = look(&job.file)?;
    let state = if what == Again::Same { &found.same } else { &found.updated };
    picture(&args, &found, state)?;
    let mut file = again(&job.file, run_of(&job.file.job, args.run)?, what, &profile)?;
    if file.fitting_screens().is_none() {
        let made = file.evaluated(&progress)?.screens;
        file.keep_screens(made);
    }
    job.file = file;
    job.save()?;
    let mut text = String::new();
    state_in_words(&mut text, if what == Again::Same { "the same" } else { "updated" }, state)?;
    writeln!(text, "{}", job.out().display())?;
    let json = json!({ "job": job.out(), "run": found.run, "done": state_in_json(state) });
    Ok(Report { json, text })
}

fn in_json(found: &Reorder) -> Value {
    json!({
        "run": found.run, "changed_in_job": found.in_job, "changed_in_shop": found.in_shop,
        "printed": { "artwork": quality(&found.artwork) },
        "now": state_in_json(&found.now), "same": state_in_json(&found.same), "updated": state_in_json(&found.updated),
    })
}

fn state_in_json(state: &State) -> Value {
    json!({
        "delta_e2000": state.effect, "artwork": quality(&state.artwork), "screens": state.screens,
        "unused": state.unused,
    })
}

fn quality(quality: &Quality) -> Value {
    json!({ "mean": quality.mean, "p95": quality.p95, "share_over_5": quality.share_over_5 })
}

fn in_words(found: &Reorder) -> anyhow::Result<String> {
    let mut text = format!("{}\n", found.run.line());
    let list = |text: &mut String, what: &str, lines: &[String]| -> anyhow::Result<()> {
        if lines.is_empty() {
            writeln!(text, "nothing was changed {what} since")?;
        } else {
            writeln!(text, "changed {what} since:")?;
        }
        for line in lines {
            writeln!(text, "  {line}")?;
        }
        Ok(())
    };
    let settings: Vec<String> = found.in_job.iter().map(SettingDifference::words).collect();
    list(&mut text, "in the job", &settings)?;
    list(&mut text, "in the shop", &found.in_shop)?;
    writeln!(text, "printed then: {:.2} from the artwork on average (CIEDE2000)", found.artwork.mean)?;
    for (what, state) in [("the job as it stands", &found.now), ("--same", &found.same), ("--updated", &found.updated)]
    {
        state_in_words(&mut text, what, state)?;
    }
    Ok(text)
}

fn state_in_words(text: &mut String, what: &str, state: &State) -> anyhow::Result<()> {
    let effect = state.effect.as_ref().map_or_else(|| "the print has another size".to_owned(), |effect| effect.words());
    writeln!(text, "{what}: {effect}; {:.2} from the artwork", state.artwork.mean)?;
    for screen in &state.screens {
        writeln!(text, "  {}", screen.words())?;
    }
    for name in &state.unused {
        writeln!(text, "  {name}: not used any more")?;
    }
    Ok(())
}

/// The print that was made at the left, the one that would be made at the right.
fn picture(args: &Args, found: &Reorder, state: &State) -> anyhow::Result<()> {
    let Some(path) = &args.picture else { return Ok(()) };
    let (a, b) = (found.printed.pixels(), state.picture.pixels());
    let gap = 8;
    let (width, height) = (a.width() + gap + b.width(), a.height().max(b.height()));
    let both = Plane::from_fn(width, height, |x, y| {
        let at = |plane: &Plane<[u16; 4]>, x: usize| (y < plane.height()).then(|| plane.get(x, y));
        let pixel = if x < a.width() { at(a, x) } else { x.checked_sub(a.width() + gap).and_then(|x| at(b, x)) };
        pixel.unwrap_or([u16::MAX; 4])
    });
    write_picture(path, &Picture::new(both), Ppi::new(100.0)?)?;
    Ok(())
}
