//! `strikeoff recover`: what is left of a damaged job, with a list of what is not.

use std::path::PathBuf;

use anyhow::bail;
use serde_json::json;
use strikeoff_files::art::{decode_art, read_art_file};
use strikeoff_files::job::recover_job;

use super::files::{Files, save_new};
use crate::terminal::{Report, Terminal};

/// Save what is left of a damaged job, and say what is not
#[derive(clap::Args)]
pub struct Args {
    /// The damaged job file; it is not changed unless it is the output and --overwrite is given
    job: PathBuf,
    /// Where the recovered job goes
    #[arg(short, long, value_name = "JOB2")]
    out: PathBuf,
    /// The client's picture, if the job has lost it
    #[arg(long, value_name = "FILE")]
    art: Option<PathBuf>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job).and_read(self.art.as_deref()).write(&self.out)
    }
}

/// Does it.
pub fn run(args: Args, _terminal: &Terminal) -> anyhow::Result<Report> {
    let mut file = recover_job(&args.job)?;
    if let Some(path) = &args.art {
        let (name, bytes) = read_art_file(path)?;
        decode_art(&name, &bytes)?;
        (file.art_name, file.art_bytes) = (name, bytes.into());
        file.lost.retain(|line| !line.contains("artwork"));
    } else if let Err(error) = file.art() {
        bail!("the job has lost its artwork ({error}); give the client's picture with --art FILE");
    }
    save_new(&args.out, &file)?;
    let mut text: String = file.lost.iter().map(|line| format!("lost: {line}\n")).collect();
    text += &format!("{}\n", args.out.display());
    Ok(Report { json: json!({ "job": args.out, "lost": file.lost, "edits": file.job.edits.len() }), text })
}
