//! Runs written down, and a job printed again.

use std::sync::Arc;

use strikeoff_core::job::RunRecord;
use strikeoff_files::job::NamedVersion;
use strikeoff_files::reorder::Again;

use crate::session::Write;
use crate::{Command, Workbench};

impl Workbench {
    /// Writes a run down, with the job as it was printed.
    pub(super) fn keep_run(&mut self, run: Box<RunRecord>) {
        let Some((doc, screens)) = self.to_write() else { return };
        let shop = Box::new(self.state.session.machine.profile.state_for(&doc.job));
        self.state.errands.write.request(Write::Run { run, shop, doc, screens });
    }

    /// Makes the job what the reorder shows; undo brings back what it is now.
    pub(super) fn print_again(&mut self, what: Again) {
        let Some(look) = self.state.reorder(&self.scratch) else {
            return self.tell("open Reorder first, and wait until the prints are compared");
        };
        let found = &look.found;
        let state = if what == Again::Same { &found.same } else { &found.updated };
        let (mut job, effect) = (state.job.clone(), state.effect.as_ref().map(|effect| effect.words()));
        if let Some(now) = self.state.job() {
            job.info.clone_from(&now.info);
        }
        let words = Command::PrintAgain(what).label();
        self.change(job, &words, false);
        self.say(format!("{words}: {}", effect.unwrap_or_else(|| "the print has another size".to_owned())));
    }

    /// Takes in a run that was written down of the job with this art.
    pub(super) fn take_run(&mut self, run: RunRecord, version: Option<Box<NamedVersion>>, art: &Arc<Vec<u8>>) {
        let table = self.state.session.table.as_mut();
        let Some(table) = table.filter(|table| Arc::ptr_eq(&table.doc().art_bytes, art)) else { return };
        let said = format!("Written down: {}", run.line());
        if let Some(version) = version {
            table.change_versions(|versions| versions.push(*version));
        }
        let mut job = table.doc().job.clone();
        let what = format!("Run of {}", run.date.words());
        job.info.runs.push(run);
        table.change(job, &what, false);
        self.scratch.run = Default::default();
        self.say(said);
    }
}
