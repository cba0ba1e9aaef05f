//! Advice that takes a while: which inks would print this picture, and what each screen is worth.
//! Both look at a small picture on a lane of their own.

use std::sync::Arc;

use egui::{ColorImage, Context};
use strikeoff_core::Progress;
use strikeoff_core::ink::Shelf;
use strikeoff_core::job::Job;
use strikeoff_core::separate::{Choice, InkRequest, SeparationSettings, Worth, screen_worth, separate, suggest};
use strikeoff_core::tune::planned;

use crate::chain::Level;
use crate::looking::View;
use crate::render::{Look, PxRect, draw};
use crate::work::{Lane, Manner};

/// A picture and a job to advise on.
pub struct Question {
    /// A small level.
    pub level: Arc<Level>,
    /// The job.
    pub job: Job,
    /// Inks at hand.
    pub shelf: Arc<Shelf>,
    /// What inks are to be chosen for.
    pub wanted: InkRequest,
    /// The job state.
    pub stamp: u64,
}

/// A set of inks with a small proof.
pub struct InkSet {
    /// The inks and what they are worth.
    pub choice: Choice,
    /// Its print on the job's garment.
    pub proof: ColorImage,
}

/// The lane that chooses inks: sets from one screen up, or one sentence.
pub fn suggest_lane(ctx: &Context) -> Lane<Question, Result<Vec<InkSet>, String>> {
    Lane::new("suggest inks", ctx, Manner::StopAtOnce, |question: Question, progress| {
        let found = ink_sets(&question, progress);
        if progress.step("", 1.0).is_err() { None } else { Some(found) }
    })
}

fn ink_sets(question: &Question, progress: &Progress) -> Result<Vec<InkSet>, String> {
    let Question { level, job, shelf, wanted, .. } = question;
    let picture = &level.prepared.picture;
    let found =
        suggest(picture, &job.ground(), shelf, wanted, &job.separation, progress).map_err(|error| error.to_string())?;
    let mut sets = Vec::new();
    for choice in found.curve {
        let settings = SeparationSettings { screens: choice.screens(), ..job.separation.clone() };
        let screens =
            separate(&level.prepared, &job.ground(), &settings, progress).map_err(|error| error.to_string())?;
        let small = Level { prepared: level.prepared.clone(), screens: Arc::new(screens) };
        let look = Look {
            view: View::Print,
            garment: job.garment.clone(),
            press: job.press.clone(),
            film: job.film.clone(),
            hidden: Default::default(),
            screen: None,
            drifts: Default::default(),
        };
        let [width, height] = small.size_px();
        sets.push(InkSet { choice, proof: draw(&small, &look, PxRect { x: 0, y: 0, width, height }) });
    }
    Ok(sets)
}

/// The lane that weighs screens: what dropping or merging each would cost.
pub fn worth_lane(ctx: &Context) -> Lane<Question, (u64, Worth)> {
    Lane::new("weigh screens", ctx, Manner::StopAtOnce, |question: Question, progress| {
        let Question { level, job, shelf, stamp, .. } = &question;
        let plan = planned(&job.separation, &job.edits).ok()?;
        let picture = &level.prepared.picture;
        let worth = screen_worth(picture, &job.ground(), shelf, &plan, progress).ok()?;
        Some((*stamp, worth))
    })
}
