//! What reaches the screens: the one answer for caches, fingerprints and the age of stored screens.

use crate::screens::ScreenName;
use std::collections::BTreeSet;

use serde::Serialize;

use super::{AlsoOn, Job};
use crate::color::Rgb8;
use crate::prep::PrepSettings;
use crate::press::{Pair, WetPair, pairs_on_a_lattice};
use crate::separate::SeparationSettings;
use crate::tune::Edit;
use crate::units::Coverage;

/// All of a job that its screens are made from, besides the art. Two jobs with equal inputs have
/// equal screens, bit for bit. What is not here (the run, films but for dots
/// that share a lattice, dot gain and its compensation, the
/// garment's name, who the job is for, edits that are switched off) changes no screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScreenInputs {
    /// The preparation, at the resolution that the method works at.
    pub prep: PrepSettings,
    /// What the screens are printed on.
    pub ground: GroundInputs,
    /// The separation.
    pub separation: SeparationSettings,
    /// The edits that are switched on, in order.
    pub edits: Vec<Edit>,
}

/// The part of a [`crate::press::Ground`] that separation and edits read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroundInputs {
    /// Colour of the garment.
    pub fabric: Rgb8,
    /// Screens of the job that do not print on it; not written where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<ScreenName>,
    /// Further garments that the screens are made for; not written where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub also_on: Vec<AlsoInputs>,
    /// Screens that are flashed, so that what follows prints on a dry layer.
    pub flashed: BTreeSet<ScreenName>,
    /// Opacity kept by a screen that prints on unflashed ink.
    pub wet_on_wet: Coverage,
    /// Pairs of the job's inks that were measured wet on wet; not written where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub wet_pairs: Vec<WetPair>,
    /// Yule-Nielsen's n.
    pub yule_nielsen: f64,
    /// Screens whose dots do not meet by chance alone; not written where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub meetings: Vec<MeetingInputs>,
}

/// A further garment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AlsoInputs {
    /// Its colour.
    pub fabric: Rgb8,
    /// Screens that do not print on it.
    pub left_out: Vec<ScreenName>,
}

/// Two screens on one lattice. Where it lies does not matter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeetingInputs {
    /// The two.
    pub screens: [ScreenName; 2],
    /// How their dots grow.
    pub fills: [String; 2],
    /// Register of each in cells, one standard deviation each way.
    pub register: f64,
}

impl GroundInputs {
    /// Those of a job.
    pub fn of(job: &Job) -> Self {
        let ground = job.ground();
        let press = ground.press;
        let names: Vec<ScreenName> = job.screens_and_inks().into_iter().map(|(name, _)| name).collect();
        let pairs = pairs_on_a_lattice(ground.meetings, names.iter().map(ScreenName::as_str));
        let meeting = |pair: Pair| MeetingInputs {
            screens: pair.screens.map(|at| names[at].clone()),
            fills: pair.fills.map(|fill| fill.name().to_owned()),
            register: pair.register,
        };
        // Of screens that the job has: other names change nothing.
        let left_out =
            |at: usize| job.left_out_on(at).iter().filter(|name| names.contains(name)).cloned().collect::<Vec<_>>();
        let also = |(at, also): (usize, &AlsoOn)| AlsoInputs { fabric: also.garment.color, left_out: left_out(at + 1) };
        Self {
            left_out: left_out(0),
            also_on: job.also_on.iter().enumerate().map(also).collect(),
            fabric: ground.garment.color,
            flashed: press.stops.keys().cloned().collect(),
            wet_on_wet: press.wet_on_wet,
            wet_pairs: wet_pairs(job),
            yule_nielsen: press.yule_nielsen,
            meetings: pairs.into_iter().map(meeting).collect(),
        }
    }
}

/// Those of which the job has both inks.
fn wet_pairs(job: &Job) -> Vec<WetPair> {
    let inks = job.screens_and_inks();
    let has = |name: &str| inks.iter().any(|(_, ink)| ink.is_some_and(|ink| ink.name == name));
    job.press.wet_pairs.iter().filter(|pair| has(&pair.below) && has(&pair.above)).cloned().collect()
}

impl Job {
    /// What its screens are made from, besides the art.
    pub fn screen_inputs(&self) -> ScreenInputs {
        ScreenInputs {
            prep: self.working_prep(),
            ground: GroundInputs::of(self),
            separation: self.separation.clone(),
            edits: self.edits.iter().filter(|entry| entry.on).map(|entry| entry.edit.clone()).collect(),
        }
    }
}
