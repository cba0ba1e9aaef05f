//! What is done once at the user's word, each on a lane of its own: dialogs of the system, opening,
//! reading a grey picture, writing, looking for angles.

use std::path::PathBuf;
use std::sync::Arc;

use egui::Context;
use strikeoff_core::job::Job;
use strikeoff_core::moire::{AngleSet, Angles, angle_set};
use strikeoff_core::screens::Screens;
use strikeoff_core::tune::GreyPicture;

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
            angles: Lane::new("look for angles", ctx, Manner::FinishFirst, |find: FindAngles, _| {
                Some((angle_set(find.set, &find.job, &find.screens), find.screens))
            }),
        }
    }

    /// Whether nothing that changes the job is under way or was not taken in. A dialog waits for the user,
    /// not for work.
    pub fn are_read(&self) -> bool {
        self.open.is_idle() && self.grey.is_idle() && self.angles.is_idle()
    }

    /// Whether nothing is being written either.
    pub fn are_idle(&self) -> bool {
        self.are_read() && self.write.is_idle()
    }
}
