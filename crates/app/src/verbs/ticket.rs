//! `strikeoff ticket`: who a job is for, when it is due, how many shirts of which sizes; shown or changed.

use std::path::PathBuf;

use anyhow::bail;
use serde_json::json;
use strikeoff_core::job::{Date, JobInfo};
use strikeoff_files::job::open_job;

use super::files::{Changing, Files};
use crate::terminal::{Report, Terminal};

/// What a ticket says, as options. An empty text takes away what was said.
#[derive(clap::Args)]
pub struct TicketWords {
    /// Name of the job; the picture's file name if left out
    #[arg(long, help_heading = "Ticket")]
    title: Option<String>,
    /// The client
    #[arg(long, help_heading = "Ticket")]
    client: Option<String>,
    /// Order number
    #[arg(long, value_name = "NUMBER", help_heading = "Ticket")]
    order: Option<String>,
    /// Day on which the shirts are due, as 2026-12-04
    #[arg(long, value_name = "DATE", help_heading = "Ticket")]
    due: Option<String>,
    /// Where on the garment it prints, as 'full front' or 'left chest'
    #[arg(long, value_name = "WORDS", help_heading = "Ticket")]
    placement: Option<String>,
    /// Sizes and shirts, as 'S 20, M 60'; other garments as 'S 20; Navy: M 12'. The quantity is their sum
    #[arg(long, value_name = "SIZES", help_heading = "Ticket")]
    sizes: Option<String>,
    /// Shirts to print, where no sizes are given
    #[arg(long, value_name = "SHIRTS", help_heading = "Ticket")]
    quantity: Option<u32>,
    /// Whatever else the shop should know
    #[arg(long, value_name = "WORDS", help_heading = "Ticket")]
    note: Option<String>,
}

impl TicketWords {
    /// Whether nothing is said.
    fn is_empty(&self) -> bool {
        let texts = [&self.title, &self.client, &self.order, &self.due, &self.placement, &self.sizes, &self.note];
        texts.into_iter().all(Option::is_none) && self.quantity.is_none()
    }

    /// Puts it on a ticket.
    pub fn apply(self, info: &mut JobInfo) -> anyhow::Result<()> {
        let texts = [
            (self.title, &mut info.title),
            (self.client, &mut info.client),
            (self.order, &mut info.order),
            (self.placement, &mut info.placement),
            (self.note, &mut info.note),
        ];
        for (said, field) in texts {
            *field = said.unwrap_or_else(|| std::mem::take(field));
        }
        if let Some(due) = self.due {
            info.due = if due.trim().is_empty() { None } else { Some(due.parse::<Date>()?) };
        }
        if let Some(sizes) = self.sizes {
            info.set_sizes(&sizes)?;
        }
        match self.quantity {
            Some(quantity) if !info.sizes.is_empty() && quantity != info.quantity => bail!(
                "--quantity {quantity} is not the {} shirts of the sizes {}; leave one of the two out, or say --sizes ''",
                info.quantity,
                info.sizes_text()
            ),
            Some(quantity) => info.quantity = quantity,
            None => {}
        }
        Ok(())
    }
}

/// Show or change the ticket of a job
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    #[command(flatten)]
    words: TicketWords,
    /// The changed job; without it the job file is changed
    #[arg(short, long, value_name = "JOB")]
    out: Option<PathBuf>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        match self.words.is_empty() && self.out.is_none() {
            true => Files::read(&self.job),
            false => Files::default().change(&self.job, self.out.as_deref()),
        }
    }
}

/// Changes what is said, and shows the ticket.
pub fn run(args: Args, _terminal: &Terminal) -> anyhow::Result<Report> {
    let info = if args.words.is_empty() && args.out.is_none() {
        open_job(&args.job)?.job.info
    } else {
        let mut changing = Changing::open(&args.job, args.out.as_deref())?;
        args.words.apply(&mut changing.file.job.info)?;
        changing.file.job.check()?;
        changing.save()?;
        changing.file.job.info
    };
    let title = if info.title.trim().is_empty() { "Untitled job" } else { info.title.trim() };
    let lines = info.stated().into_iter().map(|(what, said)| format!("\n{what}: {said}"));
    let text = lines.fold(title.to_owned(), |text, line| text + &line);
    Ok(Report { json: json!({ "ticket": info }), text })
}
