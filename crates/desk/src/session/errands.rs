//! What is done once at the user's word, each on a lane of its own: dialogs of the system, opening,
//! reading a grey picture, writing, looking for angles.

use std::path::PathBuf;
use std::sync::Arc;

use egui::Context;
use strikeoff_core::fingerprint::Fingerprint;
use strikeoff_core::job::Job;
use strikeoff_core::moire::{AngleSet, Angles, angle_set};
use strikeoff_core::screens::Screens;
use strikeoff_core::tune::GreyPicture;
use strikeoff_files::press_print::{ReadPrint, print_of};
use strikeoff_files::today;

use super::Shop;
use super::opening::{Ask, Chosen, NotOpened, Open, Opened, dialog_lane, grey_lane, open_lane};
use super::writing::{Write, Written, write_lane};
use crate::background::{Lane, Manner};

/// Angles to look for.
pub struct FindAngles {
    /// In which way.
    pub set: AngleSet,
    /// For this job.
    pub job: Box<Job>,
    /// And its screens.
    pub screens: Arc<Screens>,
}

/// A calibration print to read.
pub struct ReadPress {
    /// The print's job.
    pub job: Box<Job>,
    /// And its screens.
    pub screens: Arc<Screens>,
    /// Its readings.
    pub print: ReadPrint,
    /// What the fingerprint is to be called.
    pub name: String,
}

impl ReadPress {
    /// Reads and fits it; with what to say of the reading.
    fn fitted(self) -> Result<(Fingerprint, String), String> {
        let (inks, planned) = print_of(&self.job, &self.screens).map_err(|error| error.to_string())?;
        let (patches, noise, shots) = self.print.patches(&planned).map_err(|error| error.to_string())?;
        let mut print = Fingerprint::fit(&self.name, inks, patches, noise, &[]).map_err(|error| error.to_string())?;
        print.date = today();
        print.origin = self.print.wet.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let strip = match shots.first() {
            None => "",
            Some(shot) if shot.strip_measured => ", by the strip as measured",
            Some(_) => ", by the strip as drawn, which is assumed",
        };
        let count = print.patches.len();
        Ok((print, format!("{count} patches, noise of a reading {noise:.1}{strip}")))
    }
}

/// The lanes of errands.
pub struct Errands {
    /// Dialogs of the system.
    pub dialog: Lane<Ask, (Ask, Chosen)>,
    /// Opens pictures and jobs.
    pub open: Lane<Open, Result<(Opened, Option<PathBuf>), NotOpened>>,
    /// Reads a grey picture for a screen.
    pub grey: Lane<PathBuf, Result<GreyPicture, String>>,
    /// Writes jobs, versions and films.
    pub write: Lane<Write, Written>,
    /// Reads calibration prints.
    pub press: Lane<ReadPress, Result<(Fingerprint, String), String>>,
    /// Looks for angles.
    pub angles: Lane<FindAngles, (Angles, Arc<Screens>)>,
}

impl Errands {
    /// Starts the lanes.
    pub fn new(ctx: &Context, shop: &Arc<Shop>) -> Self {
        Self {
            dialog: dialog_lane(ctx),
            open: open_lane(ctx, shop.clone()),
            grey: grey_lane(ctx),
            write: write_lane(ctx),
            press: Lane::new("read the print", ctx, Manner::FinishFirst, |read: ReadPress, _| Some(read.fitted())),
            angles: Lane::new("look for angles", ctx, Manner::FinishFirst, |find: FindAngles, _| {
                Some((angle_set(find.set, &find.job, &find.screens), find.screens))
            }),
        }
    }

    /// Whether nothing that changes the job is under way or was not taken in. A dialog waits for the user,
    /// not for work.
    pub fn are_read(&self) -> bool {
        self.open.is_idle() && self.grey.is_idle() && self.angles.is_idle() && self.press.is_idle()
    }

    /// Whether nothing is being written either.
    pub fn are_idle(&self) -> bool {
        self.are_read() && self.write.is_idle()
    }
}
