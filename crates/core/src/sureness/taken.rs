//! What a job takes over from a fingerprint.

use super::dated;
use crate::color::{Lab, Rgb8, linear_from_lab};
use crate::fingerprint::{Fingerprint, Predictor};
use crate::job::Job;
use crate::names::same;
use crate::press::DotGain;
use crate::units::{Coverage, Opacity};

/// The job with a fingerprint and its gain curve: the mean of its inks', as a job has one.
pub fn with_fingerprint(job: &Job, print: &Fingerprint) -> Result<Job, String> {
    taken(job, print, &Predictor::new(print))
}

/// The job with all that its print model can hold of a fingerprint: the gain curve, each ink's colour and opacity as
/// printed, the share of its opacity that an ink keeps on wet ink, the mean of its pairs', and Yule-Nielsen's n. Inks
/// that the fingerprint does not know stay as they are.
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
    let pairs =
        used.iter().flat_map(|upper| used.iter().filter(move |lower| *lower < upper).map(move |l| (*l, *upper)));
    let kept: Vec<f64> = pairs.map(|(lower, upper)| press.kept(lower, upper)).collect();
    if !kept.is_empty() {
        let mean = kept.iter().sum::<f64>() / kept.len() as f64;
        job.press.wet_on_wet = Coverage::new(mean.clamp(0.0, 1.0)).map_err(|error| error.to_string())?;
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
