//! The same screens on other garments: how the look moves, and what has to change.

use serde::Serialize;

use crate::color::{Lab, ciede2000, lab_from_linear};
use crate::facts::{Survey, cautions};
use crate::ink::{Garment, InkRole};
use crate::job::Job;
use crate::prep::Prepared;
use crate::press::{Ground, Optics};
use crate::screens::Screens;
use crate::{Cancelled, Progress};

/// What a garment does to the look of a job's screens.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GarmentSwap {
    /// The garment.
    pub garment: Garment,
    /// Mean CIEDE2000 of the proof on it against the proof on the job's own garment, over the
    /// printed area.
    pub mean_shift: f64,
    /// 95th percentile of the same.
    pub p95_shift: f64,
    /// What has to change, in sentences. Empty: these screens serve.
    pub changes: Vec<String>,
    /// Cautions for this garment.
    pub cautions: Vec<String>,
}

/// Shift up to which one set of screens serves both garments (assumed).
const SERVES: f64 = 4.0;

/// Judges the screens on each garment.
pub fn swap_garments(
    job: &Job,
    prepared: &Prepared,
    screens: &Screens,
    garments: &[Garment],
    progress: &Progress,
) -> Result<Vec<GarmentSwap>, Cancelled> {
    let s = Survey::new(job, prepared, screens, progress)?;
    let printed: Vec<usize> = (0..s.blocks()).filter(|&at| s.small.iter().any(|p| p.data()[at] > 1310)).collect();
    let step = printed.len().div_ceil(20_000).max(1);
    let sample: Vec<usize> = printed.into_iter().step_by(step).collect();
    let looks = |optics: &Optics| -> Vec<Lab> {
        let mut a = vec![0.0f32; s.len()];
        sample
            .iter()
            .map(|&at| {
                s.coverages(at, &mut a);
                lab_from_linear(optics.reflectance(&a))
            })
            .collect()
    };
    let own = looks(&s.optics);
    let optics_on = |garment| Optics::of_screens(&Ground { garment, ..job.ground() }, &screens.list);
    let base = screens.list.iter().find(|x| x.ink.role == InkRole::BaseWhite);
    let mut out = Vec::new();
    for garment in garments {
        let mut shifts: Vec<f32> = own.iter().zip(looks(&optics_on(garment))).map(|(a, b)| ciede2000(*a, b)).collect();
        shifts.sort_by(f32::total_cmp);
        let mean_shift = shifts.iter().map(|&d| f64::from(d)).sum::<f64>() / shifts.len().max(1) as f64;
        let p95_shift = f64::from(shifts.get(shifts.len() * 95 / 100).copied().unwrap_or(0.0));
        let mut changes = Vec::new();
        match (base, garment.is_white()) {
            (Some(base), true) => {
                changes.push(format!("Leave {} out: a white garment needs no underbase.", base.name));
            }
            (None, false) if mean_shift > SERVES => {
                changes.push("Add an underbase and separate again for this garment.".to_owned());
            }
            (Some(base), false) if mean_shift > SERVES => {
                changes.push(format!(
                    "Make {} again for this garment; the fabric shows through the present one.",
                    base.name
                ));
            }
            _ => {}
        }
        if mean_shift > SERVES && changes.is_empty() {
            changes.push("Separate again for this garment.".to_owned());
        }
        out.push(GarmentSwap { garment: garment.clone(), mean_shift, p95_shift, changes, cautions: cautions(garment) });
    }
    Ok(out)
}
