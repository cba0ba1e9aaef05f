//! `strikeoff demo`: the whole job on the demo, no window: job file, proof, screens and films, once
//! on a white shirt and once on black.

use std::fmt::Write as _;
use std::path::PathBuf;

use anyhow::Context;
use serde_json::json;
use strikeoff_core::job::evaluate;
use strikeoff_core::press::proof_from_screens;
use strikeoff_core::raster::Detail;
use strikeoff_files::art::decode_art;
use strikeoff_files::demo::{DEMO_ART_NAME, demo_art_png, demo_job_on_black, demo_job_on_white};
use strikeoff_files::film::{FilmOptions, write_films, write_screen_pictures};
use strikeoff_files::job::{JOB_EXTENSION, JobFile, save_job};
use strikeoff_files::picture::write_png;

use super::inspect;
use crate::terminal::{Report, Terminal};

/// Where to.
#[derive(clap::Args)]
pub struct Args {
    /// Folder that takes the job files, proofs, screens and films; made if missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

/// Runs both demo jobs.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let progress = terminal.progress();
    let png = demo_art_png();
    let art = decode_art(DEMO_ART_NAME, &png)?;
    let mut text = String::new();
    let mut reports = Vec::new();
    for (folder, job) in [("on-white", demo_job_on_white()), ("on-black", demo_job_on_black())] {
        let out = args.out.join(folder);
        std::fs::create_dir_all(&out).with_context(|| format!("cannot make the folder {}", out.display()))?;
        let done = evaluate(&job, &art, Detail::Full, &progress)?;
        let proof = proof_from_screens(&done.screens, &job.ground(), |_| true);
        write_png(&out.join("proof.png"), &proof, done.screens.ppi)?;
        write_screen_pictures(&done.screens, &out.join("screens"), &progress)?;
        let films = write_films(&job, &done.screens, &out.join("films"), &FilmOptions::default(), &progress)?;
        let report = inspect::report(&job, &done, &progress)?;
        let mut file = JobFile::new(job, DEMO_ART_NAME, png.clone());
        file.keep_screens(done.screens);
        let path = out.join(format!("lantern-fair.{JOB_EXTENSION}"));
        save_job(&path, &file)?;
        writeln!(text, "{}\n{} film files in {}\n", report.text, films.films.len(), out.join("films").display())?;
        let mut json = report.json;
        json["job"] = path.display().to_string().into();
        reports.push(json);
    }
    Ok(Report { json: json!({"jobs": reports}), text })
}
