//! What the bench knows of methods: which one suits the artwork and why, and what each flat colour
//! of spot art is printed with. Found on a lane of its own while the separation is in sight.

use std::sync::Arc;

use egui::Context;
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::separate::{Method, MethodAdvice, SpotColor, advise_method, spot_colors};
use strikeoff_core::tune::planned;

use crate::work::{Lane, Manner};

struct Question {
    prepared: Arc<Prepared>,
    job: Job,
}

/// What came of it.
pub struct MethodStudy {
    /// The method that suits the artwork.
    pub advice: MethodAdvice,
    /// For spot art: the flat colours and what prints each.
    pub spots: Vec<SpotColor>,
}

/// Asks and remembers.
pub struct MethodDesk {
    lane: Lane<Question, MethodStudy>,
    asked: u64,
    /// The last answer.
    pub study: Option<MethodStudy>,
}

impl MethodDesk {
    /// Starts the lane.
    pub fn new(ctx: &Context) -> Self {
        let lane = Lane::new("look at methods", ctx, Manner::FinishFirst, |question: Question, progress| {
            let Question { prepared, job } = question;
            let picture = &prepared.picture;
            let advice = advise_method(picture);
            progress.step("look at methods", 0.5).ok()?;
            let plan = planned(&job.separation, &job.edits).unwrap_or_else(|_| job.separation.clone());
            let spots = match plan.method {
                Method::SpotArt => spot_colors(picture, &job.ground(), &plan),
                _ => Ok(Vec::new()),
            };
            // What cannot be separated says so where the proof would be.
            Some(MethodStudy { advice, spots: spots.unwrap_or_default() })
        });
        Self { lane, asked: 0, study: None }
    }

    /// Forgets the last job.
    pub fn clear(&mut self) {
        self.lane.cancel();
        self.asked = 0;
        self.study = None;
    }

    /// Whether nothing is being looked at.
    pub fn is_idle(&self) -> bool {
        self.lane.is_idle()
    }

    /// Takes what is ready and asks for what is missing.
    pub fn keep_up(&mut self, job: &Job, prepared: &Arc<Prepared>, stamp: u64) {
        if let Some(answer) = self.lane.poll() {
            self.study = Some(answer.value);
        }
        if self.asked != stamp {
            self.asked = stamp;
            self.lane.request(Question { prepared: prepared.clone(), job: job.clone() });
        }
    }
}
