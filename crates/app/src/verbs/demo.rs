//! `strikeoff demo`: the whole job on the demo, no window: job file, proof, screens and films, once
//! on a white shirt and once on black.

use std::fmt::Write as _;
use std::path::PathBuf;

use serde_json::json;
use strikeoff_core::job::evaluate;
use strikeoff_core::press::proof_from_screens;
use strikeoff_core::raster::Detail;
use strikeoff_files::FileSet;
use strikeoff_files::art::decode_art;
use strikeoff_files::demo::{DEMO_ART_NAME, DEMO_MANIFEST, demo_art_png, demo_job_on_black, demo_job_on_white};
use strikeoff_files::film::{FilmOptions, films_into, screens_into};
use strikeoff_files::job::{JOB_EXTENSION, JobFile, job_into};
use strikeoff_files::picture::png_bytes;

use super::files::{Files, claim};
use super::inspect;
use crate::terminal::{Report, Terminal};

/// Where to.
#[derive(clap::Args)]
pub struct Args {
    /// Folder that takes the job files, proofs, screens and films; made if missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::default()
    }
}

/// Runs both demo jobs.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let progress = terminal.progress();
    let png = demo_art_png();
    let art = decode_art(DEMO_ART_NAME, &png)?;
    let mut text = String::new();
    let mut reports = Vec::new();
    let mut set = FileSet::begin(&args.out, "demo", &[])?;
    let jobs = [("on-white", demo_job_on_white()), ("on-black", demo_job_on_black())];
    let job_name = |folder: &str| format!("{folder}/lantern-fair.{JOB_EXTENSION}");
    let names = jobs.iter().flat_map(|(folder, _)| [job_name(folder), format!("{folder}/proof.png")]);
    let names: Vec<String> = names.chain([DEMO_MANIFEST.to_owned()]).collect();
    set.check(names.iter().map(String::as_str))?;
    let mut claims = Vec::new();
    for (folder, job) in jobs {
        // Somebody may have the job of an earlier demo open.
        claims.push(claim(&args.out.join(job_name(folder)))?);
        let done = evaluate(&job, &art, Detail::Full, &progress)?;
        let proof = proof_from_screens(&done.screens, &job.ground(), |_| true);
        set.stage(&format!("{folder}/proof.png"))?.bytes(&png_bytes(&proof, done.screens.ppi))?;
        screens_into(&done.screens, &mut set, &format!("{folder}/screens"), &progress)?;
        let inside = format!("{folder}/films");
        let films = films_into(&job, &done.screens, (&mut set, &inside), &FilmOptions::default(), &progress)?;
        let report = inspect::report(&job, &done, &progress)?;
        let mut file = JobFile::new(job, DEMO_ART_NAME, png.clone());
        file.keep_screens(done.screens);
        job_into(&mut set, &job_name(folder), &file)?;
        let out = args.out.join(&inside);
        writeln!(text, "{}\n{} film files in {}\n", report.text, films.films.len(), out.display())?;
        let mut json = report.json;
        json["job"] = args.out.join(job_name(folder)).display().to_string().into();
        reports.push(json);
    }
    set.manifest(DEMO_MANIFEST, &json!({}))?;
    let (_, found) = set.put_in_place()?;
    for note in &found {
        writeln!(text, "note: {note}")?;
    }
    Ok(Report { json: json!({"jobs": reports, "notes": found}), text })
}
