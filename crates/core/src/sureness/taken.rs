//! What a job takes over from a fingerprint.

use super::dated;
use crate::color::{Lab, Rgb8, linear_from_lab};
use crate::fingerprint::{Fingerprint, Predictor};
use crate::job::Job;
use crate::names::same;
use crate::press::{DotGain, WetPair};
use crate::units::{Coverage, Opacity};

/// The job with a fingerprint and its gain curve: the mean of its inks', as a job has one.
pub fn with_fingerprint(job: &Job, print: &Fingerprint) -> Result<Job, String> {
    taken(job, print, &Predictor::new(print))
}

/// The job with all that its print model can hold of a fingerprint: the gain curve, each ink's colour and opacity as
/// printed, the share of its opacity that an ink keeps on the wet ink of each other, for other inks the mean of
/// those, and Yule-Nielsen's n. Inks that the fingerprint does not know stay as they are.
pub fn with_measured(job: &Job, print: &Fingerprint) -> Result<Job, String> {
    let press = Predictor::new(print);
    let mut job = taken(job, print, &press)?;
    let mut used = Vec::new();
    for screen in &mut job.separation.screens {
        let Some(at) = print.inks.iter().position(|ink| same(&ink.name, &screen.ink.name)) else { continue };
        let [l, a, b] = press.over_white(at).map(|v| v as f32);
        screen.ink.over_white = Rgb8::from_linear(linear_from_lab(Lab::new(l, a, b)).map(|v| v.clamp(0.0, 1.0)));
        screen.ink.opacity = Opacity::new(press.opacity(at).clamp(0.01, 1.0)).map_err(|error| error.to_string())?;
        screen.ink.measured = true;
        screen.ink.spectra = None;
        used.push(at);
    }
    // Two screens of one ink are one ink here.
    used.sort_unstable();
    used.dedup();
    let keeps = |share: f64| Coverage::new(share.clamp(0.0, 1.0)).map_err(|error| error.to_string());
    let name = |at: usize| -> String {
        let own = job.separation.screens.iter().find(|screen| same(&screen.ink.name, &print.inks[at].name));
        own.map_or_else(|| print.inks[at].name.clone(), |screen| screen.ink.name.clone())
    };
    let mut pairs = Vec::new();
    for &above in &used {
        // As they were printed on each other: a later ink of the print on an earlier one.
        for &below in used.iter().filter(|below| **below < above) {
            let keeps = keeps(press.kept(below, above))?;
            pairs.push(WetPair { below: name(below), above: name(above), keeps });
        }
    }
    if !pairs.is_empty() {
        let mean = pairs.iter().map(|pair| pair.keeps.get()).sum::<f64>() / pairs.len() as f64;
        job.press.wet_on_wet = keeps(mean)?;
        job.press.wet_pairs.retain(|old| !pairs.iter().any(|new| new.below == old.below && new.above == old.above));
        job.press.wet_pairs.extend(pairs);
    }
    job.press.yule_nielsen = press.yule_nielsen();
    job.check().map_err(|error| error.to_string())?;
    Ok(job)
}

fn taken(job: &Job, print: &Fingerprint, press: &Predictor) -> Result<Job, String> {
    let used: Vec<usize> = (0..print.inks.len())
        .filter(|at| job.separation.screens.iter().any(|s| same(&s.ink.name, &print.inks[*at].name)))
        .collect();
    if used.is_empty() {
        return Err(format!("the fingerprint \"{}\" is of none of the job's inks", print.name));
    }
    let point = |step: u32| -> Result<(Coverage, Coverage), String> {
        let film = f64::from(step) / 20.0;
        let printed = used.iter().map(|at| press.printed(*at, film)).sum::<f64>() / used.len() as f64;
        let coverage = |v: f64| Coverage::new(v).map_err(|error| error.to_string());
        Ok((coverage(film)?, coverage(printed.clamp(film, 1.0))?))
    };
    let points = (1..20).map(point).collect::<Result<Vec<_>, _>>()?;
    let mut job = job.clone();
    job.press.gain = DotGain::Measured { name: dated(print), points };
    job.run.fingerprint = Some(Box::new(print.clone()));
    Ok(job)
}
