//! What reaches the screens: the one answer for caches, fingerprints and the age of stored screens.

use crate::screens::ScreenName;
use std::collections::BTreeSet;

use serde::Serialize;

use super::Job;
use crate::color::Rgb8;
use crate::prep::PrepSettings;
use crate::press::Ground;
use crate::separate::SeparationSettings;
use crate::tune::Edit;
use crate::units::Coverage;

/// All of a job that its screens are made from, besides the art. Two jobs with equal inputs have
/// equal screens, bit for bit. What is not here (the run, films, dot gain and its compensation, the
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

/// The part of a [`Ground`] that separation and edits read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroundInputs {
    /// Colour of the garment.
    pub fabric: Rgb8,
    /// Screens that are flashed, so that what follows prints on a dry layer.
    pub flashed: BTreeSet<ScreenName>,
    /// Opacity kept by a screen that prints on unflashed ink.
    pub wet_on_wet: Coverage,
    /// Yule-Nielsen's n.
    pub yule_nielsen: f64,
}

impl GroundInputs {
    /// Those of a ground.
    pub fn of(ground: &Ground<'_>) -> Self {
        let press = ground.press;
        Self {
            fabric: ground.garment.color,
            flashed: press.stops.keys().cloned().collect(),
            wet_on_wet: press.wet_on_wet,
            yule_nielsen: press.yule_nielsen,
        }
    }
}

impl Job {
    /// What its screens are made from, besides the art.
    pub fn screen_inputs(&self) -> ScreenInputs {
        ScreenInputs {
            prep: self.working_prep(),
            ground: GroundInputs::of(&self.ground()),
            separation: self.separation.clone(),
            edits: self.edits.iter().filter(|entry| entry.on).map(|entry| entry.edit.clone()).collect(),
        }
    }
}
