//! Fixes: changes to a job that a finding proposes, ready to be applied in one step.

use crate::screens::ScreenName;
use serde::Serialize;

use super::words::list_of;
use crate::halftone::{AngleRule, DotShape, SmallDots};
use crate::job::Job;
use crate::press::Stop;
use crate::tune::{Edit, EditEntry};
use crate::units::{Coverage, Degrees, Dpi, Lpi, Mm};
use crate::usage::Mesh;

/// One change to a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "change")]
pub enum Change {
    /// An edit is added at the end of the list.
    Edit {
        /// The edit.
        edit: Edit,
    },
    /// A screen gets another mesh.
    Mesh {
        /// The screen.
        screen: ScreenName,
        /// Its new mesh.
        mesh: Mesh,
    },
    /// Every screen gets another ruling.
    Ruling {
        /// The new ruling.
        ruling: Lpi,
    },
    /// Every screen gets another angle.
    Angle {
        /// The new angle.
        angle: Degrees,
    },
    /// Screens get angles of their own.
    Angles {
        /// The new angle by screen name.
        angles: Vec<(ScreenName, Degrees)>,
    },
    /// Screens get dots of another shape.
    Dot {
        /// The screens.
        screens: Vec<ScreenName>,
        /// Their dots.
        dot: DotShape,
    },
    /// Films carry no dot smaller than this, or than the mesh holds: lighter tones get fewer of it, or smaller
    /// ones are lifted to it or left out.
    SmallestDot {
        /// Film coverage of the smallest dot.
        smallest: Option<Coverage>,
        /// What becomes of smaller ones.
        below: SmallDots,
    },
    /// The film printer's resolution is set.
    FilmResolution {
        /// The new resolution.
        dpi: Dpi,
    },
    /// What follows a screen on the press is set; none means the next prints wet on wet.
    Stop {
        /// The screen.
        screen: ScreenName,
        /// What follows it.
        stop: Option<Stop>,
    },
    /// The largest print height is set.
    MaxHeight {
        /// The new limit.
        height: Mm,
    },
    /// The job goes to a press with more heads.
    Heads {
        /// Its heads.
        heads: u8,
    },
    /// Films carry the inverse of the dot gain.
    Compensate,
}

/// A proposed fix.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fix {
    /// What it does and what is gained, for a button.
    pub label: String,
    /// The changes, applied together.
    pub changes: Vec<Change>,
}

impl Fix {
    pub(super) fn one(label: impl Into<String>, change: Change) -> Self {
        Self { label: label.into(), changes: vec![change] }
    }

    /// Applies the changes to a job. Evaluate it again afterwards.
    pub fn apply(&self, job: &mut Job) {
        for change in &self.changes {
            match change.clone() {
                Change::Edit { edit } => job.edits.push(EditEntry::on(edit)),
                Change::Mesh { screen, mesh } => {
                    job.run.meshes.insert(screen, mesh);
                }
                Change::Ruling { ruling } => {
                    job.film.ruling = ruling;
                    job.film.screens.values_mut().for_each(|own| own.ruling = None);
                }
                Change::Angle { angle } => {
                    job.film.angle = angle;
                    job.film.share_one_angle();
                }
                Change::Angles { angles } => {
                    job.film.angles = AngleRule::Apart;
                    for (screen, angle) in angles {
                        job.film.change_own(&screen, |own| own.angle = Some(angle));
                    }
                }
                Change::Dot { screens, dot } => {
                    for screen in screens {
                        job.film.change_own(&screen, |own| own.dot = Some(dot));
                    }
                }
                Change::SmallestDot { smallest, below } => {
                    job.film.limits.smallest = smallest;
                    job.film.limits.below = below;
                }
                Change::FilmResolution { dpi } => job.film.dpi = dpi,
                Change::Stop { screen, stop: Some(stop) } => {
                    job.press.stops.insert(screen, stop);
                }
                Change::Stop { screen, stop: None } => {
                    job.press.stops.remove(&screen);
                }
                Change::MaxHeight { height } => job.prep.max_height_mm = Some(height),
                Change::Heads { heads } => job.run.heads = heads,
                Change::Compensate => job.press.compensate = true,
            }
        }
    }
}

/// Fixes that drop these screens, all together and one by one; never the last one of a job.
pub(super) fn drops(screens_in_job: usize, names: &[ScreenName]) -> Vec<Fix> {
    let drop = |name: &ScreenName| Change::Edit { edit: Edit::drop(name) };
    let mut out = Vec::new();
    if names.len() > 1 && names.len() < screens_in_job {
        out.push(Fix { label: format!("Drop {}", list_of(names, "and")), changes: names.iter().map(drop).collect() });
    }
    if screens_in_job > 1 {
        out.extend(names.iter().map(|name| Fix::one(format!("Drop {name}"), drop(name))));
    }
    out
}
