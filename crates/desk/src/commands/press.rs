//! What is measured: calibration prints read into the shop profile, inks taken from their measurements.

use std::path::Path;

use strikeoff_core::fingerprint::Fingerprint;
use strikeoff_core::ink::Ink;
use strikeoff_core::names::same;
use strikeoff_core::sureness::dated;
use strikeoff_files::measured::read_measured;
use strikeoff_files::press_print::ReadPrint;

use crate::Workbench;
use crate::session::ReadPress;

impl Workbench {
    /// Reads the calibration print on the table.
    pub(super) fn read_press(&mut self, print: ReadPrint, name: String) {
        let (Some(doc), Some(full)) = (self.state.doc(), self.state.current_full()) else {
            return self.tell("the screens are still being made; read the print in a moment");
        };
        let (job, screens) = (Box::new(doc.job.clone()), full.levels[0].screens.clone());
        self.state.errands.press.request(ReadPress { job, screens, print, name });
    }

    /// Takes an ink of the shelf from an instrument's file: that of its name, or the only one in it. Its name stays.
    pub(super) fn measure_ink(&mut self, at: usize, path: &Path) {
        let mut profile = self.state.session.machine.profile.clone();
        let Some(ink) = profile.shelf.inks.get_mut(at) else { return };
        let read = match read_measured(path) {
            Ok(read) => read,
            Err(error) => return self.tell(error.to_string()),
        };
        let found = read.inks.iter().find(|read| same(&read.name, &ink.name));
        let Some(found) = found.or(read.inks.first().filter(|_| read.inks.len() == 1)) else {
            return self.tell(format!("{} has no ink called {}", path.display(), ink.name));
        };
        *ink = Ink { name: ink.name.clone(), role: ink.role, ..found.clone() };
        let said = format!(
            "{} is as it was measured{}",
            ink.name,
            read.notes.first().map_or_else(String::new, |n| format!("; {n}"))
        );
        self.change_shop(profile);
        self.say(said);
    }

    /// Keeps a fingerprint in the shop profile, in place of one of the same name and day.
    pub(super) fn keep_press(&mut self, print: Fingerprint, read: &str) {
        let mut profile = self.state.session.machine.profile.clone();
        profile.fingerprints.retain(|old| !(same(&old.name, &print.name) && old.date == print.date));
        self.say(format!("The fingerprint {} is in the shop profile: {read}", dated(&print)));
        profile.fingerprints.insert(0, print);
        self.change_shop(profile);
    }
}
