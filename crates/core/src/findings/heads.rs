//! The head plan: screens, flashes and cool-downs in their places on the press.

use serde::Serialize;

use super::finding::{Basis, Finding, Input, Kind, Number, Severity};
use super::mend::{Change, Mend};
use crate::job::Job;
use crate::press::Stop;
use crate::screens::Screens;
use crate::tune::Edit;

/// What stands on a head.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "holds", content = "screen")]
pub enum Head {
    /// A screen, by name.
    Screen(String),
    /// A flash.
    Flash,
    /// Nothing: the print cools down.
    CoolDown,
    /// Nothing.
    Empty,
}

impl Head {
    /// In words: the screen's name, or what stands there instead.
    pub fn label(&self) -> &str {
        match self {
            Self::Screen(name) => name,
            Self::Flash => "flash",
            Self::CoolDown => "cool-down",
            Self::Empty => "empty",
        }
    }
}

/// Heads with their numbers, from 1: "1 Base white", "2 flash".
pub fn numbered_heads(heads: &[Head]) -> Vec<String> {
    heads.iter().zip(1..).map(|(head, number)| format!("{number} {}", head.label())).collect()
}

/// Heads from the first to the last; empty ones fill up to the press's count. A flash after the
/// last screen is the dryer's work and takes no head.
pub fn head_plan(job: &Job, screens: &Screens) -> Vec<Head> {
    let mut plan = Vec::new();
    for (at, screen) in screens.list.iter().enumerate() {
        plan.push(Head::Screen(screen.name.clone()));
        if at + 1 == screens.list.len() {
            break;
        }
        match job.press.stops.get(&screen.name) {
            Some(Stop::Flash) => plan.push(Head::Flash),
            Some(Stop::FlashAndCoolDown) => plan.extend([Head::Flash, Head::CoolDown]),
            None => {}
        }
    }
    while plan.len() < usize::from(job.run.heads) {
        plan.push(Head::Empty);
    }
    plan
}

pub(super) fn heads(job: &Job, screens: &Screens) -> Option<Finding> {
    let plan = head_plan(job, screens);
    let have = usize::from(job.run.heads);
    let needed = plan.iter().filter(|h| **h != Head::Empty).count();
    if needed <= have {
        return None;
    }
    let over = needed - have;
    let mut mends = Vec::new();
    let cool: Vec<&str> = screens
        .list
        .iter()
        .filter(|s| job.press.stops.get(&s.name) == Some(&Stop::FlashAndCoolDown))
        .map(|s| s.name.as_str())
        .collect();
    if !cool.is_empty() && cool.len() >= over {
        mends.push(Mend {
            label: format!("Flash without a cool-down head after {}", cool[..over].join(", ")),
            changes: cool[..over]
                .iter()
                .map(|name| Change::Stop { screen: (*name).to_owned(), stop: Some(Stop::Flash) })
                .collect(),
        });
    }
    if over == 1
        && let Some(least) =
            screens.list.iter().min_by(|a, b| a.coverage.mean_coverage().total_cmp(&b.coverage.mean_coverage()))
    {
        mends.push(Mend::one(
            format!(
                "Drop {}, the screen with the least ink ({:.1} %)",
                least.name,
                least.coverage.mean_coverage() * 100.0
            ),
            Change::Edit { edit: Edit::drop(&least.name) },
        ));
    }
    mends.push(Mend::one(format!("Run it on a press with {needed} heads"), Change::Heads { heads: needed as u8 }));
    let count = |what: &dyn Fn(&Head) -> bool| plan.iter().filter(|h| what(h)).count();
    Some(Finding {
        kind: Kind::Heads,
        severity: Severity::Fault,
        what: format!(
            "The job needs {needed} heads ({}, {}, {}) and the press has {have}.",
            many(count(&|h| matches!(h, Head::Screen(_))), "screen", "screens"),
            many(count(&|h| *h == Head::Flash), "flash", "flashes"),
            many(count(&|h| *h == Head::CoolDown), "cool-down", "cool-downs")
        ),
        number: Number { label: "heads needed".into(), value: needed as f64, unit: "heads", limit: have as f64 },
        screens: Vec::new(),
        place: None,
        inputs: vec![
            Input::new("heads on the press", have.to_string(), Basis::Job),
            Input::new("screens, flashes and cool-downs", needed.to_string(), Basis::Job),
        ],
        mends,
    })
}

fn many(count: usize, one: &str, more: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}
