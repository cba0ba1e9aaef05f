//! Acts on the screens of a job whose cost in colour is known before they are done.

use super::Job;
use crate::ink::Ink;
use crate::screens::ScreenName;
use crate::separate::PlannedScreen;
use crate::tune::{Edit, EditEntry, edits};

/// An act whose cost is known before it is done.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// Take a screen out.
    Drop {
        /// The screen.
        screen: ScreenName,
        /// Separate the others again to make up for it.
        again: bool,
    },
    /// Multiply a screen into another and take it out.
    Merge {
        /// The screen that goes.
        from: ScreenName,
        /// The screen that stays.
        into: ScreenName,
    },
    /// One screen in place of two, in an ink of its own, all separated again.
    Mix {
        /// The screen that goes.
        from: ScreenName,
        /// The screen that stays, with the new ink.
        into: ScreenName,
        /// The ink.
        ink: Box<Ink>,
    },
    /// Print a screen with another ink.
    ReInk {
        /// The screen.
        screen: ScreenName,
        /// The ink.
        ink: Box<Ink>,
        /// Separate all screens again for it.
        again: bool,
    },
    /// A set of inks in place of the job's own, all separated again.
    Inks {
        /// Its screens, in print order.
        screens: Vec<PlannedScreen>,
    },
}

impl Act {
    /// The job after it. Edits that could not be applied any more, because their screen is then never made,
    /// stay in the list and are switched off; so are, with a new set of inks, those that took screens out, put
    /// others in, gave them other inks or another order.
    pub fn done(&self, job: &Job) -> Job {
        let mut job = job.clone();
        match self {
            Self::Drop { screen, again: false } => push(&mut job, Edit::drop(screen)),
            Self::Drop { screen, again: true } => separate_without(&mut job, screen),
            Self::Merge { from, into } => push(&mut job, Edit::merge(from, into)),
            Self::Mix { from, into, ink } => {
                re_ink(&mut job, into, ink, true);
                separate_without(&mut job, from);
            }
            Self::ReInk { screen, ink, again } => re_ink(&mut job, screen, ink, *again),
            Self::Inks { screens } => {
                use_inks(&mut job, screens);
                job.leave_out_usual();
            }
        }
        job.give_angles();
        job
    }

    /// The edits that it switches off, in words.
    pub fn switches_off(&self, job: &Job) -> Vec<String> {
        let done = self.done(job);
        let pairs = job.edits.iter().zip(&done.edits);
        let off = pairs.filter(|(before, after)| before.on && !after.on);
        off.map(|(entry, _)| format!("{} {}", entry.edit.label(), entry.edit.in_words())).collect()
    }

    /// In the words of the window.
    pub fn words(&self) -> String {
        let again = |again: &bool| if *again { ", separate again" } else { "" };
        match self {
            Self::Drop { screen, again: now } => format!("Drop {screen}{}", again(now)),
            Self::Merge { from, into } => format!("Merge {from} into {into}"),
            Self::Mix { from, into, ink } => format!("{from} and {into} in one ink, {}", ink.name),
            Self::ReInk { screen, ink, again: now } => format!("Print {screen} with {}{}", ink.name, again(now)),
            Self::Inks { screens } if screens.len() == 1 => "Use 1 ink".to_owned(),
            Self::Inks { screens } => format!("Use {} inks", screens.len()),
        }
    }
}

fn push(job: &mut Job, edit: impl Into<Edit>) {
    job.edits.push(EditEntry::on(edit));
}

fn re_ink(job: &mut Job, screen: &ScreenName, ink: &Ink, separate_again: bool) {
    push(job, edits::ReInk { screen: screen.clone(), ink: ink.clone(), separate_again });
}

fn separate_without(job: &mut Job, screen: &ScreenName) {
    for entry in &mut job.edits {
        if let Edit::Order(order) = &mut entry.edit {
            order.screens.retain(|name| name != screen);
        }
        entry.on &= !entry.edit.needs().contains(&screen);
    }
    push(job, edits::Drop { screen: screen.clone(), separate_again: true });
}

fn use_inks(job: &mut Job, screens: &[PlannedScreen]) {
    let there = |name: &ScreenName| screens.iter().any(|screen| screen.name == *name);
    for entry in &mut job.edits {
        let edit = &entry.edit;
        let of_the_set = edit.removes().is_some()
            || edit.adds().is_some()
            || edit.again().is_some()
            || matches!(edit, Edit::ReInk(_) | Edit::Order(_));
        entry.on &= !of_the_set && edit.needs().into_iter().all(there);
    }
    job.press.stops.retain(|name, _| there(name));
    job.separation.screens = screens.to_vec();
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Garment;
    use crate::separate::SeparationSettings;
    use crate::units::Coverage;

    fn ink(name: &str) -> Ink {
        serde_json::from_str(&format!(r##"{{"name":"{name}","over_white":"#205080","opacity":0.7}}"##)).unwrap()
    }

    fn job() -> Job {
        let mut job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        job.separation = SeparationSettings::for_inks(["sun", "red", "black"].map(ink));
        let trim = |screen: &str| Edit::trim(screen, Coverage::new(0.05).unwrap(), false);
        job.edits = vec![EditEntry::on(trim("sun")), EditEntry::on(trim("red")), EditEntry::on(Edit::drop("black"))];
        job
    }

    /// Nothing that the user did is lost: what a new set or a dropped screen leaves without its screen is in
    /// the list, switched off, and said.
    #[test]
    fn edits_without_their_screen_are_switched_off_and_kept() {
        let job = job();
        let on = |job: &Job| job.edits.iter().map(|entry| entry.on).collect::<Vec<_>>();
        let screens = SeparationSettings::for_inks(["red", "moss"].map(ink)).screens;
        let act = Act::Inks { screens };
        assert_eq!(on(&act.done(&job)), [false, true, false]);
        assert_eq!(act.done(&job).edits.len(), 3);
        assert_eq!(act.switches_off(&job).len(), 2);
        let drop = Act::Drop { screen: "red".into(), again: true };
        assert_eq!(on(&drop.done(&job)), [true, false, true, true]);
        assert!(drop.switches_off(&job)[0].starts_with("Trim red"), "{:?}", drop.switches_off(&job));
    }
}
