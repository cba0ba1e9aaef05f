//! The head plan: screens, flashes and cool-downs in their places on the press.

use crate::screens::ScreenName;
use serde::Serialize;

use crate::job::Job;
use crate::press::Stop;
use crate::screens::Screens;

/// What stands on a head.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "holds", content = "screen")]
pub enum Head {
    /// A screen, by name.
    Screen(ScreenName),
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
