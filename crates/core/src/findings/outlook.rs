//! The outlook: all findings of a job, worst first, and beside them the plain facts that a press
//! sheet states whether or not anything is wrong.

use crate::screens::ScreenName;
use serde::Serialize;

use super::build_up::build_up;
use super::finding::Finding;
use super::fine_detail::fine_detail;
use super::gain::gain_sensitivity;
use super::grey_levels::levels;
use super::heads::heads;
use super::lost_dots::lost_dots;
use super::lost_tint::{lost_tint, lost_tints, plainly_tinted};
use super::moire::moire;
use super::print_order::print_order;
use super::registration::registration;
use super::resolution::resolution;
use super::shadows::filled_shadows;
use super::steadiness::steadiness;
use super::wet_on_wet::wet_on_wet;
use super::whites::whites;
use crate::facts::{PressFacts, Survey, press_facts, register, sensitivities};
use crate::job::Job;
use crate::prep::Prepared;
use crate::screens::Screens;
use crate::{Cancelled, Progress};

/// Findings and facts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outlook {
    /// Worst first. Empty if nothing matters.
    pub findings: Vec<Finding>,
    /// Always there.
    pub facts: PressFacts,
}

/// All findings of a job, worst first.
pub fn check_job(
    job: &Job,
    prepared: &Prepared,
    screens: &Screens,
    progress: &Progress,
) -> Result<Vec<Finding>, Cancelled> {
    outlook(job, prepared, screens, progress).map(|o| o.findings)
}

/// Findings and facts in one pass over the screens that print on the job's first garment.
pub fn outlook(job: &Job, prepared: &Prepared, screens: &Screens, progress: &Progress) -> Result<Outlook, Cancelled> {
    let screens = &*job.printed(screens);
    let s = Survey::new(job, prepared, screens, progress)?;
    let gain = sensitivities(&s);
    let mut findings = Vec::new();
    findings.extend(resolution(&s));
    findings.extend(levels(&s));
    findings.extend(heads(job, screens));
    let order = print_order(&s);
    let late: Vec<ScreenName> = order.iter().flat_map(|f| f.screens.first().cloned()).collect();
    findings.extend(order);
    let tints = lost_tints(&s);
    let dots = lost_dots(&s, &plainly_tinted(&tints));
    findings.extend(lost_tint(&s, &tints, &dots));
    findings.extend(dots);
    findings.extend(filled_shadows(&s));
    findings.extend(moire(&s));
    findings.extend(steadiness(&s, progress)?);
    findings.extend(whites(&s, &late));
    findings.extend(wet_on_wet(&s));
    findings.extend(build_up(&s));
    findings.extend(gain_sensitivity(&s, &gain));
    let register = register(&s, progress)?;
    findings.extend(registration(&s, &register, progress)?);
    findings.extend(fine_detail(&s, progress)?);
    // Stable: of one severity they keep the order above.
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
    Ok(Outlook { findings, facts: press_facts(&s, gain, &register) })
}
