//! More heads needed than the press has.

use super::finding::{Basis, Finding, Input, Kind, Number, Severity};
use super::fix::{Change, Fix};
use super::words::list_of;
use super::words::plural;
use crate::facts::{Head, head_plan};
use crate::job::Job;
use crate::press::Stop;
use crate::screens::ScreenName;
use crate::screens::Screens;
use crate::tune::Edit;

pub(super) fn heads(job: &Job, screens: &Screens) -> Option<Finding> {
    let plan = head_plan(job, screens);
    let have = usize::from(job.run.heads);
    let needed = plan.iter().filter(|h| **h != Head::Empty).count();
    if needed <= have {
        return None;
    }
    let over = needed - have;
    let mut fixes = Vec::new();
    let cool: Vec<&ScreenName> = screens
        .list
        .iter()
        .filter(|s| job.press.stops.get(&s.name) == Some(&Stop::FlashAndCoolDown))
        .map(|s| &s.name)
        .collect();
    if !cool.is_empty() && cool.len() >= over {
        fixes.push(Fix {
            label: format!("Flash without a cool-down after {}", list_of(&cool[..over], "and")),
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
        fixes.push(Fix::one(
            format!(
                "Drop {}, the screen with the least ink ({:.1} % coverage)",
                least.name,
                least.coverage.mean_coverage() * 100.0
            ),
            Change::Edit { edit: Edit::drop(&least.name) },
        ));
    }
    fixes.push(Fix::one(format!("Run it on a press with {needed} heads"), Change::Heads { heads: needed as u8 }));
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
        number: Number { label: "heads needed".into(), value: needed as f64, unit: "", limit: have as f64 },
        screens: Vec::new(),
        place: None,
        inputs: vec![
            Input::new("heads on the press", have.to_string(), Basis::Job),
            Input::new("screens, flashes and cool-downs", needed.to_string(), Basis::Job),
        ],
        fixes,
    })
}

fn many(count: usize, one: &str, more: &str) -> String {
    format!("{count} {}", plural(count, one, more))
}
