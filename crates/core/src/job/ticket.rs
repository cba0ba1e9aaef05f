//! The ticket: who the job is for, when it is due, how many shirts of which sizes. It goes with the job
//! through the shop and changes no screen.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::date::Date;
use super::run_record::RunRecord;
use super::sizes::{SizeCount, SizesError, read_sizes, write_sizes};
use crate::bounds::table;
use crate::units::LengthUnit;

/// Who the job is for, and what was ordered; printed on films and sheets. What is empty was not stated and is
/// left out there.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct JobInfo {
    /// Name of the job.
    #[schemars(transform = table::TITLE.schema())]
    pub title: String,
    /// The client.
    #[schemars(transform = table::CLIENT.schema())]
    pub client: String,
    /// Order number, as the shop or the client writes it.
    #[schemars(transform = table::ORDER_NUMBER.schema())]
    pub order: String,
    /// Day on which the shirts are due, as year, month and day.
    pub due: Option<Date>,
    /// Version or proof number, as the user writes it.
    #[schemars(transform = table::VERSION.schema())]
    pub version: String,
    /// Date of this version, as the user writes it.
    #[schemars(transform = table::DATE.schema())]
    pub date: String,
    /// Where on the garment it prints, in the shop's words: "full front", "left chest".
    #[schemars(transform = table::PLACEMENT.schema())]
    pub placement: String,
    /// Shirts to print. Where sizes are given it is their sum.
    #[schemars(transform = table::QUANTITY.schema())]
    pub quantity: u32,
    /// Sizes and how many shirts of each.
    #[schemars(transform = table::SIZES.schema())]
    pub sizes: Vec<SizeCount>,
    /// Whatever else the shop should know: packing, delivery.
    #[schemars(transform = table::TICKET_NOTE.schema())]
    pub note: String,
    /// Runs of this job so far, oldest first, as they were written down.
    #[schemars(transform = table::RUNS.schema())]
    pub runs: Vec<RunRecord>,
    /// Unit in which lengths of the print are shown and typed. Default inch.
    pub unit: LengthUnit,
}

impl JobInfo {
    /// Sizes as they are typed: "S 20, M 60".
    pub fn sizes_text(&self) -> String {
        write_sizes(&self.sizes)
    }

    /// Takes sizes as they are typed; the quantity becomes their sum. With no sizes the quantity stays.
    pub fn set_sizes(&mut self, text: &str) -> Result<(), SizesError> {
        self.sizes = read_sizes(text)?;
        if !self.sizes.is_empty() {
            self.quantity = self.shirts_of_sizes();
        }
        Ok(())
    }

    /// Shirts of all sizes together.
    fn shirts_of_sizes(&self) -> u32 {
        self.sizes.iter().fold(0, |sum, one| sum.saturating_add(one.shirts))
    }

    /// Whether quantity and sizes say the same and every run can be; else what to do about it.
    pub(super) fn agrees(&self) -> Result<(), String> {
        for run in &self.runs {
            run.agrees().map_err(|why| format!("the run of {}: {why}", run.date.words()))?;
        }
        let (quantity, sum) = (self.quantity, self.shirts_of_sizes());
        if self.sizes.is_empty() || quantity == sum {
            return Ok(());
        }
        Err(format!(
            "the sizes are {sum} shirts and the quantity is {quantity}; give the quantity of the sizes, or no sizes"
        ))
    }

    /// The ticket line by line, only what is stated: what it is, and what was said. The title is not among them.
    pub fn stated(&self) -> Vec<(&'static str, String)> {
        let text = |text: &str| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
        [
            ("Client", text(&self.client)),
            ("Order", text(&self.order)),
            ("Due", self.due.map(Date::words)),
            ("Version", text(&self.version)),
            ("Date", text(&self.date)),
            ("Placement", text(&self.placement)),
            ("Quantity", (self.quantity > 0).then(|| self.quantity.to_string())),
            ("Sizes", text(&self.sizes_text())),
            ("Notes", text(&self.note)),
        ]
        .into_iter()
        .filter_map(|(what, said)| Some((what, said?)))
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Garment;
    use crate::job::Job;

    #[test]
    fn the_quantity_follows_the_sizes() {
        let mut job = Job::new(Garment::of_color("#202020".parse().unwrap()));
        job.info.quantity = 150;
        job.info.set_sizes("").unwrap();
        assert_eq!(job.info.quantity, 150);
        job.info.set_sizes("S 20, M 60; Navy: L 5").unwrap();
        assert_eq!(job.info.quantity, 85);
        job.check().unwrap();
        assert!(job.info.set_sizes("S").is_err());
        assert_eq!((job.info.quantity, job.info.sizes.len()), (85, 3), "what cannot be read changes nothing");
        // A file that says two things is not taken.
        job.info.quantity = 84;
        let said = job.check().unwrap_err().to_string();
        assert!(said.contains("85 shirts") && said.contains("84"), "{said}");
    }

    #[test]
    fn what_is_not_stated_is_left_out() {
        let mut info = JobInfo::default();
        assert_eq!(info.stated(), []);
        info.due = Some("2026-12-04".parse().unwrap());
        info.client = "  ".into();
        info.set_sizes("M 3").unwrap();
        let said = [("Due", "4 Dec 2026"), ("Quantity", "3"), ("Sizes", "M 3")];
        assert_eq!(info.stated(), said.map(|(what, text)| (what, text.to_owned())));
    }
}
