//! `strikeoff demo`: the whole job on the demo, no window.

use std::fmt::Write as _;
use std::path::PathBuf;

use anyhow::Context;
use serde_json::json;
use strikeoff_core::job::{Detail, evaluate};
use strikeoff_core::press::proof_from_screens;
use strikeoff_files::demo::{demo_art, demo_job_on_black, demo_job_on_white};
use strikeoff_files::picture::{write_film_png, write_png};

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
    let art = demo_art();
    let mut text = String::new();
    let mut reports = Vec::new();
    for (folder, job) in [("on-white", demo_job_on_white()), ("on-black", demo_job_on_black())] {
        let done = evaluate(&job, &art, Detail::Full, &progress)?;
        let out = args.out.join(folder);
        std::fs::create_dir_all(&out).with_context(|| format!("cannot make the folder {}", out.display()))?;
        let proof = proof_from_screens(&done.screens, &job.garment, &job.press, job.film.ruling, |_| true);
        write_png(&out.join("proof.png"), &proof, done.screens.ppi)?;
        for (at, screen) in done.screens.list.iter().enumerate() {
            let name = format!("{:02}-{}.png", at + 1, screen.name.to_lowercase().replace(' ', "-"));
            write_film_png(&out.join(name), &screen.coverage, done.screens.ppi)?;
        }
        writeln!(text, "{folder}: {} screens", done.screens.list.len())?;
        reports.push(json!({"folder": folder, "screens": done.screens.list.len()}));
    }
    Ok(Report { json: json!({"jobs": reports}), text })
}
