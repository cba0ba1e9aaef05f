//! `strikeoff jobs`: the jobs of a folder, found by client, title, order number, date, ink, garment and colours.

use std::fmt::Write as _;
use std::path::PathBuf;

use serde_json::json;
use strikeoff_files::job_shelf::{JobCard, JobShelf, cache_folder};

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Find jobs in a folder and the folders below it
#[derive(clap::Args)]
pub struct Args {
    /// The folder; it may lie on a share, and may be one that can only be read
    folder: PathBuf,
    /// Words that must all be found: client, title, order number, date, ink, garment, colour
    words: Vec<String>,
    /// Most jobs to list
    #[arg(long, value_name = "NUMBER", default_value_t = 50)]
    most: usize,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::default()
    }
}

/// Looks through the folder and lists what is found.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let mut shelf = JobShelf::open(&args.folder, cache_folder().as_deref())?;
    let looked = shelf.refresh(&terminal.progress())?;
    let (cards, count) = shelf.find(&args.words.join(" "), args.most)?;
    let mut text = String::new();
    for card in &cards {
        writeln!(text, "{}", line(card))?;
        writeln!(text, "    {}", card.path.display())?;
    }
    if count > cards.len() {
        writeln!(text, "and {} more; give more words, or --most", count - cards.len())?;
    }
    writeln!(text, "{count} of {} jobs", looked.jobs)?;
    for why in &looked.unread {
        writeln!(text, "note: {why}")?;
    }
    let list: Vec<_> = cards.iter().map(in_json).collect();
    let json = json!({
        "folder": shelf.folder(), "jobs": looked.jobs, "found": count, "list": list, "unread": looked.unread,
    });
    Ok(Report { json, text })
}

fn line(card: &JobCard) -> String {
    let taken = card.is_taken().then(|| "open at a bench".to_owned());
    [card.title.clone()].into_iter().chain(card.facts()).chain(taken).collect::<Vec<_>>().join("; ")
}

fn in_json(card: &JobCard) -> serde_json::Value {
    json!({
        "job": card.path, "title": card.title, "client": card.client, "order": card.order, "due": card.due,
        "printed": card.printed, "garment": card.garment, "inks": card.inks, "open": card.is_taken(),
    })
}
