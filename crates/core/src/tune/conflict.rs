//! Edits that cannot be applied because a screen they name is not there (dropped or merged before,
//! or never planned), found without any pixels, each with fixes to choose from.

use super::edits::Again;
use super::{Edit, EditEntry};
use crate::screens::{NewName, ScreenName};
use crate::separate::SeparationSettings;

/// An edit that cannot be applied.
#[derive(Debug, Clone, PartialEq)]
pub struct Conflict {
    /// Place of the edit in the list, from 0.
    pub at: usize,
    /// What is wrong, as a sentence.
    pub what: String,
    /// What can be done about it, the best first. Never empty.
    pub fixes: Vec<ConflictFix>,
}

/// One way to fix a conflict.
#[derive(Debug, Clone, PartialEq)]
pub enum ConflictFix {
    /// Let the edit work on another screen.
    Use {
        /// The screen it names now.
        instead_of: ScreenName,
        /// The one to name.
        screen: ScreenName,
    },
    /// Move it before the edit that takes its screen away.
    MoveTo {
        /// Its new place in the list, from 0.
        at: usize,
    },
    /// Give the screen that it adds a name that is free.
    Rename {
        /// The free name.
        name: NewName,
    },
    /// Leave the name out of a print order.
    LeaveOut {
        /// The name.
        screen: ScreenName,
    },
    /// Switch it off.
    SwitchOff,
    /// Delete it.
    Delete,
}

impl ConflictFix {
    /// As a button or menu entry says it.
    pub fn label(&self) -> String {
        match self {
            Self::Use { screen, .. } => format!("Use \"{screen}\" instead"),
            Self::MoveTo { .. } => "Move before the screen goes".to_owned(),
            Self::Rename { name } => format!("Call it \"{name}\""),
            Self::LeaveOut { screen } => format!("Leave \"{screen}\" out"),
            Self::SwitchOff => "Switch off".to_owned(),
            Self::Delete => "Delete".to_owned(),
        }
    }
}

/// A screen on its way through the edits.
struct Known {
    name: ScreenName,
    /// Where it was taken away, and the screen that took it in.
    gone: Option<(usize, Option<ScreenName>)>,
}

impl Known {
    fn is(&self, name: &ScreenName) -> bool {
        self.gone.is_none() && self.name == *name
    }
}

/// The list walked from its first edit to its last.
struct Walk {
    /// Screens that the separation makes, as `planned` goes through the edits.
    planned: Vec<ScreenName>,
    /// Screens that the separation is to do without.
    never: Vec<ScreenName>,
    known: Vec<Known>,
}

/// All conflicts of a list of edits. One does not hide the next: an edit in conflict is passed over.
pub fn conflicts(separation: &SeparationSettings, edits: &[EditEntry]) -> Vec<Conflict> {
    let mut walk = Walk::new(separation, edits);
    let on = edits.iter().enumerate().filter(|(_, entry)| entry.on);
    on.filter_map(|(at, entry)| walk.step(at, &entry.edit).err()).collect()
}

impl Walk {
    fn new(separation: &SeparationSettings, edits: &[EditEntry]) -> Self {
        let planned: Vec<ScreenName> = separation.screens.iter().map(|s| s.name.clone()).collect();
        // Screens that are dropped with a new separation are not there from the start, and those that are
        // added with one are.
        let (mut made, mut never) = (planned.clone(), Vec::new());
        for again in edits.iter().filter(|e| e.on).filter_map(|e| e.edit.again()) {
            match again {
                Again::Without(screen) => {
                    never.push(screen.clone());
                    if let Some(at) = made.iter().position(|name| name == screen) {
                        made.remove(at);
                    }
                }
                Again::Added(name, ..) if !made.contains(name.screen()) => made.push(name.screen().clone()),
                Again::Added(..) | Again::With(..) => {}
            }
        }
        let known = made.into_iter().map(|name| Known { name, gone: None }).collect();
        Self { planned, never, known }
    }

    fn step(&mut self, at: usize, edit: &Edit) -> Result<(), Conflict> {
        let off = vec![ConflictFix::SwitchOff, ConflictFix::Delete];
        match edit.again() {
            Some(Again::With(screen, _) | Again::Without(screen)) if !self.planned.contains(screen) => {
                let what = format!("\"{screen}\" does not come from the separation, so it cannot be separated again");
                return Err(Conflict { at, what, fixes: off });
            }
            Some(Again::Without(screen)) => {
                self.planned.retain(|name| name != screen);
                // A screen of that name made by an earlier edit goes too.
                self.take_away(at, screen, None);
                return Ok(());
            }
            Some(Again::Added(name, ..)) if self.planned.contains(name.screen()) => {
                return Err(self.name_taken(at, name.screen()));
            }
            Some(Again::Added(name, ..)) => {
                edit.check().map_err(|what| Conflict { at, what, fixes: off })?;
                self.planned.push(name.screen().clone());
                return Ok(());
            }
            Some(Again::With(..)) | None => {}
        }
        if let Some(name) = edit.needs().into_iter().find(|name| !self.known.iter().any(|k| k.is(name))) {
            return Err(self.missing_screen(at, edit, name));
        }
        edit.check().map_err(|what| Conflict { at, what, fixes: off })?;
        if let Some(name) = edit.adds() {
            if self.known.iter().any(|k| k.is(name)) {
                return Err(self.name_taken(at, name));
            }
            self.known.push(Known { name: name.clone(), gone: None });
        }
        if let Some(name) = edit.removes() {
            self.take_away(at, name, edit.takes_in());
        }
        Ok(())
    }

    fn take_away(&mut self, at: usize, name: &ScreenName, into: Option<&ScreenName>) {
        for known in self.known.iter_mut().filter(|k| k.is(name)) {
            known.gone = Some((at, into.cloned()));
        }
    }

    fn name_taken(&self, at: usize, name: &ScreenName) -> Conflict {
        let taken = |free: &ScreenName| self.known.iter().any(|k| k.name == *free);
        let free = (2..).map(|i| ScreenName::from(format!("{name} {i}"))).find(|free| !taken(free));
        let rename = ConflictFix::Rename { name: free.unwrap_or_default().into() };
        let what = format!("the job already has a screen \"{name}\"");
        Conflict { at, what, fixes: vec![rename, ConflictFix::SwitchOff, ConflictFix::Delete] }
    }

    fn missing_screen(&self, at: usize, edit: &Edit, name: &ScreenName) -> Conflict {
        let gone = self.known.iter().rev().find(|k| k.name == *name).and_then(|k| k.gone.as_ref());
        let mut fixes = Vec::new();
        let what = match gone {
            Some((by, Some(into))) => {
                fixes.push(ConflictFix::MoveTo { at: *by });
                fixes.push(ConflictFix::Use { instead_of: name.clone(), screen: into.clone() });
                format!("\"{name}\" was merged into \"{into}\" by edit {}", by + 1)
            }
            Some((by, None)) => {
                fixes.push(ConflictFix::MoveTo { at: *by });
                format!("\"{name}\" was dropped by edit {}", by + 1)
            }
            None if self.never.contains(name) => format!("the screens are separated without \"{name}\""),
            None => format!("the job has no screen \"{name}\""),
        };
        let mut fixes = edit.fixes_without(name, fixes);
        fixes.extend([ConflictFix::SwitchOff, ConflictFix::Delete]);
        Conflict { at, what, fixes }
    }
}

/// Fixes the edit at `at` (from 0) in the way chosen.
pub fn fix_conflict(edits: &mut Vec<EditEntry>, at: usize, fix: &ConflictFix) {
    if at >= edits.len() {
        return;
    }
    match fix {
        ConflictFix::Use { instead_of, screen } => edits[at].edit.rename(instead_of, screen),
        ConflictFix::MoveTo { at: to } => {
            let entry = edits.remove(at);
            edits.insert((*to).min(edits.len()), entry);
        }
        ConflictFix::Rename { name } => {
            if let Some(old) = edits[at].edit.adds_mut() {
                old.clone_from(name);
            }
        }
        ConflictFix::LeaveOut { screen } => {
            if let Edit::Order(order) = &mut edits[at].edit {
                order.screens.retain(|name| name != screen);
            }
        }
        ConflictFix::SwitchOff => edits[at].on = false,
        ConflictFix::Delete => {
            edits.remove(at);
        }
    }
}
