//! `strikeoff garments`: which screens each garment of a job prints, changed if asked, and how the same screens would
//! serve other garments.

use std::fmt::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

use anyhow::{Context, Error, Result};
use serde_json::json;
use strikeoff_core::job::Job;
use strikeoff_core::preview::swap_garments;
use strikeoff_core::screens::ScreenName;
use strikeoff_files::job::{JobFile, open_job};

use super::files::{Changing, Files};
use super::values;
use crate::terminal::{Report, Terminal};

/// Say or change which screens each garment of a job prints, or judge them on other garments
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Other garments to judge the screens on: '#RRGGBB' or a house garment
    garments: Vec<String>,
    /// Print on a further garment too, without whites if it is white; may be given again
    #[arg(long, value_name = "COLOUR", conflicts_with = "garments")]
    add: Vec<String>,
    /// Print no more on a garment of the job
    #[arg(long, value_name = "GARMENT", conflicts_with = "garments")]
    remove: Option<String>,
    /// Of which garment of the job screens are left out or printed; its first if left out
    #[arg(long, value_name = "GARMENT", conflicts_with = "garments")]
    on: Option<String>,
    /// Screens that do not print on it
    #[arg(long, value_name = "NAME,...", default_value = "", conflicts_with = "garments")]
    leave_out: String,
    /// Screens that print on it again
    #[arg(long, value_name = "NAME,...", default_value = "", conflicts_with = "garments")]
    print: String,
    /// The changed job; without it the job file is changed
    #[arg(short, long, value_name = "JOB", conflicts_with = "garments")]
    out: Option<PathBuf>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        match self.changes() {
            true => Files::default().change(&self.job, self.out.as_deref()),
            false => Files::read(&self.job),
        }
    }

    /// Whether the job is to be changed.
    fn changes(&self) -> bool {
        let lists = [&self.leave_out, &self.print];
        !self.add.is_empty() || self.remove.is_some() || lists.iter().any(|list| !list.trim().is_empty())
    }

    fn apply(&self, job: &mut Job) -> Result<()> {
        if !self.add.is_empty() && job.also_on.is_empty() && job.leaves_out.is_empty() {
            job.leaves_out = job.usually_left_out(&job.garment);
        }
        for garment in &self.add {
            job.add_garment(values::garment(garment)?).map_err(Error::msg)?;
        }
        let on = self.on.as_deref().map(|name| job.find_garment(name)).transpose().map_err(Error::msg)?.unwrap_or(0);
        for name in values::names(&self.leave_out) {
            let name = screen(job, &name)?;
            job.left_out_on_mut(on).insert(name);
        }
        for name in values::names(&self.print) {
            let name = screen(job, &name)?;
            job.left_out_on_mut(on).remove(&name);
        }
        if let Some(name) = &self.remove {
            let garment = job.find_garment(name).map_err(Error::msg)?;
            job.remove_garment(garment).map_err(Error::msg)?;
        }
        Ok(job.check()?)
    }
}

/// A screen of the job by its name.
fn screen(job: &Job, name: &str) -> Result<ScreenName> {
    let wanted = ScreenName::from(name);
    let known: Vec<ScreenName> = job.screens_and_inks().into_iter().map(|(name, _)| name).collect();
    known.iter().find(|known| **known == wanted).cloned().with_context(|| {
        let known: Vec<&str> = known.iter().map(ScreenName::as_str).collect();
        format!("no screen \"{name}\" in this job; it has: {}", known.join(", "))
    })
}

/// Changes what is asked, and says which screens each garment prints.
pub fn run(args: Args, terminal: &Terminal) -> Result<Report> {
    if !args.garments.is_empty() {
        return judge(&args, terminal);
    }
    if !args.changes() {
        return uses(&args, open_job(&args.job)?, terminal);
    }
    let mut changing = Changing::open(&args.job, args.out.as_deref())?;
    args.apply(&mut changing.file.job)?;
    let done = changing.file.evaluated(&terminal.progress())?;
    changing.file.keep_screens(done.screens);
    changing.save()?;
    uses(&args, changing.file, terminal)
}

/// What each garment of the job prints.
fn uses(args: &Args, file: JobFile, terminal: &Terminal) -> Result<Report> {
    let progress = terminal.progress();
    let art = Arc::new(file.received_watched(&progress)?.art);
    let done = file.evaluated_on(&art, &progress)?;
    let uses = file.job.garment_uses(&done.screens, &done.prepared.picture, &art, &progress)?;
    let films = done.screens.list.len();
    let own: usize = uses.iter().map(|of| of.screens.len()).sum();
    let mut text = String::new();
    for of in &uses {
        writeln!(
            text,
            "{:16} {} of {films} screens, mean {:.2} (95 % under {:.2}), {:+.2} to films of its own",
            of.garment,
            of.screens.len(),
            of.quality.mean,
            of.quality.p95,
            of.over_own_films
        )?;
    }
    for screen in &done.screens.list {
        let serves = file.job.serves_words(&screen.name).unwrap_or_else(|| "all".to_owned());
        writeln!(text, "  {:24} {serves}", screen.name)?;
    }
    if uses.len() > 1 {
        writeln!(text, "{films} screens serve {} garments; films of their own would be {own}", uses.len())?;
    }
    Ok(Report { json: json!({ "job": args.job, "screens": films, "of_their_own": own, "garments": uses }), text })
}

/// Judges the screens on each of other garments.
fn judge(args: &Args, terminal: &Terminal) -> Result<Report> {
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
