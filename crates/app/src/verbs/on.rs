//! `--on`: which garment of a job on several is looked at.

use anyhow::Result;
use strikeoff_core::job::Job;
use strikeoff_core::screens::Screens;

/// The garment that a verb looks at.
#[derive(clap::Args)]
pub struct On {
    /// Of a job on several garments, the one to look at; its first if left out
    #[arg(long, value_name = "GARMENT")]
    on: Option<String>,
}

impl On {
    /// The job as that garment has it, and of the screens those that print on it.
    pub fn seen(&self, job: &Job, screens: &mut Screens) -> Result<Job> {
        let garment = match &self.on {
            Some(name) => job.find_garment(name).map_err(anyhow::Error::msg)?,
            None => 0,
        };
        let seen = job.seen_on(garment);
        seen.keep_printed(screens);
        Ok(seen)
    }

    /// Whether a garment was named.
    pub fn is_named(&self) -> bool {
        self.on.is_some()
    }
}
