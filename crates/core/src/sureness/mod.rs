//! How sure the colours of a job are: the fingerprint that it was made with, at the coverages that its films print.

mod map;
mod taken;

pub use map::BandMap;
pub use taken::{with_fingerprint, with_measured};

use serde::Serialize;

use crate::color::{difference, lab_from_linear};
use crate::fingerprint::{Fingerprint, Predictor, Tint};
use crate::job::Job;
use crate::names::same;
use crate::press::{GainCurve, Stop};
use crate::screens::Screens;

/// How sure the colours of a print are.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sureness {
    /// The fingerprint's name and date.
    pub from: String,
    /// CIEDE2000 that colours stay within 19 times of 20: root of the mean square over the inked print.
    pub band: f64,
    /// The same where it is widest, but for a twentieth of the print.
    pub worst: f64,
    /// CIEDE2000 between what the fingerprint and the job's print model say, on average.
    pub off_model: f64,
}

impl Sureness {
    /// In a sentence.
    pub fn describe(&self) -> String {
        format!(
            "colour within {:.1}, 19 times of 20 (up to {:.1} where it is least sure), by the fingerprint {}; the job's print model lies {:.1} from it on average (CIEDE2000)",
            self.band, self.worst, self.from, self.off_model
        )
    }
}

/// Places of the print that are looked at.
const PLACES: usize = 400;
/// A garment counts as the fingerprint's ground up to this CIEDE2000.
const SAME_GROUND: f64 = 6.0;

/// How sure a job's colours are; none if it has no fingerprint, or why that does not tell.
pub fn sureness(job: &Job, screens: &Screens) -> Option<Result<Sureness, String>> {
    Some(of(job, screens, job.run.fingerprint.as_deref()?))
}

fn of(job: &Job, screens: &Screens, print: &Fingerprint) -> Result<Sureness, String> {
    let known = Known::of(job, screens, print)?;
    let ground = job.ground();
    let (mut tints, mut models) = (Vec::new(), Vec::new());
    let stack = crate::press::Stack::of_screens(&ground, &screens.list);
    let step = (screens.width * screens.height / (PLACES * 4)).max(1);
    for at in (step / 2..screens.width * screens.height).step_by(step) {
        let a: Vec<f32> = screens.list.iter().map(|s| f32::from(s.coverage.data()[at]) / 65535.0).collect();
        if a.iter().all(|a| *a == 0.0) || tints.len() == PLACES {
            continue;
        }
        tints.push(known.tint(&a));
        models.push(lab(stack.reflectance(&a)));
    }
    if tints.is_empty() {
        return Err("the print has no ink".to_owned());
    }
    let told = Predictor::new(print).predict(&tints);
    let count = told.len() as f64;
    let mut bands: Vec<f64> = told.iter().map(|p| p.band).collect();
    bands.sort_by(f64::total_cmp);
    Ok(Sureness {
        from: dated(print),
        band: (bands.iter().map(|b| b * b).sum::<f64>() / count).sqrt(),
        worst: bands[(bands.len() - 1) * 95 / 100],
        off_model: told.iter().zip(models).map(|(p, model)| difference(model, p.lab)).sum::<f64>() / count,
    })
}

/// A fingerprint by its name and date.
pub fn dated(print: &Fingerprint) -> String {
    if print.date.is_empty() { print.name.clone() } else { format!("{} of {}", print.name, print.date) }
}

fn lab(c: [f32; 3]) -> [f64; 3] {
    let lab = lab_from_linear(c);
    [lab.l, lab.a, lab.b].map(f64::from)
}

/// How a job's screens are told by a fingerprint.
struct Known {
    /// The fingerprint's ink of each screen.
    inks: Vec<usize>,
    /// Inks of the fingerprint.
    count: usize,
    flashed: u32,
    /// From what a screen means to what its film carries.
    film: Option<GainCurve>,
}

impl Known {
    fn of(job: &Job, screens: &Screens, print: &Fingerprint) -> Result<Self, String> {
        if !print.is_whole() {
            return Err(format!(
                "the fingerprint \"{}\" is damaged; take it again with: strikeoff fingerprint JOB --take NAME",
                print.name
            ));
        }
        let mut inks = Vec::new();
        for screen in &screens.list {
            let found = print.inks.iter().position(|ink| same(&ink.name, &screen.ink.name));
            let Some(ink) = found.filter(|ink| inks.iter().all(|before| before < ink) && screen.hits == 1) else {
                return Err(format!(
                    "the fingerprint \"{}\" does not tell of \"{}\" in this place: it knows single hits of {}, in this order",
                    print.name,
                    screen.ink.name,
                    print.inks.iter().map(|ink| ink.name.as_str()).collect::<Vec<_>>().join(", ")
                ));
            };
            inks.push(ink);
        }
        if difference(lab(job.garment.reflectance()), print.ground) > SAME_GROUND {
            return Err(format!("the fingerprint \"{}\" was printed on another colour than this garment", print.name));
        }
        let flashed = flashes(job, screens, &inks);
        let film = job.press.compensate.then(|| job.press.gain.curve(job.ground().ruling));
        Ok(Self { inks, count: print.inks.len(), flashed, film })
    }

    /// What coverages, as the screens mean them, are to the fingerprint.
    fn tint(&self, coverages: &[f32]) -> Tint {
        let mut film = vec![0.0; self.count];
        for (ink, a) in self.inks.iter().zip(coverages) {
            film[*ink] = f64::from(self.film.as_ref().map_or(*a, |curve| curve.film(*a)));
        }
        Tint { film, flashed: self.flashed }
    }
}

/// Where the job flashes, a bit an ink of the fingerprint: before the ink after a stop.
fn flashes(job: &Job, screens: &Screens, inks: &[usize]) -> u32 {
    let stop =
        |at: usize| matches!(job.press.stops.get(&screens.list[at].name), Some(Stop::Flash | Stop::FlashAndCoolDown));
    (1..inks.len()).filter(|at| stop(at - 1)).map(|at| 1u32 << inks[at]).sum()
}
