//! Edits that cannot be applied because a screen they name is not there (dropped or merged before,
//! or never planned), found without any pixels, each with fixes to choose from.

use super::{Edit, EditEntry};
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
        instead_of: String,
        /// The one it shall name.
        screen: String,
    },
    /// Move it before the edit that takes its screen away.
    MoveTo {
        /// Its new place in the list, from 0.
        at: usize,
    },
    /// Give the screen that it adds a name that is free.
    Rename {
        /// The free name.
        name: String,
    },
    /// Leave the name out of a print order.
    LeaveOut {
        /// The name.
        screen: String,
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
    name: String,
    /// Where it was taken away, and the screen that took it in.
    gone: Option<(usize, Option<String>)>,
}

/// All conflicts of a list of edits. One does not hide the next: an edit in conflict is passed over.
pub fn conflicts(separation: &SeparationSettings, edits: &[EditEntry]) -> Vec<Conflict> {
    let same = |a: &str, b: &str| a.eq_ignore_ascii_case(b);
    // As `planned` walks it: a screen dropped with a new separation is gone for later edits.
    let mut planned: Vec<&str> = separation.screens.iter().map(|s| s.name.as_str()).collect();
    // Screens that are dropped with a new separation are not there from the start, and those that are
    // added with one are.
    let never: Vec<&str> = (edits.iter().filter(|e| e.on))
        .filter_map(|e| if let Edit::Drop { screen, resolve: true } = &e.edit { Some(screen.as_str()) } else { None })
        .collect();
    let mut made = planned.clone();
    for EditEntry { edit, .. } in edits.iter().filter(|e| e.on) {
        match edit {
            Edit::Drop { screen, resolve: true } => {
                if let Some(at) = made.iter().position(|name| same(name, screen)) {
                    made.remove(at);
                }
            }
            Edit::Add { name, resolve: true, .. } if !made.iter().any(|n| same(n, name)) => made.push(name),
            _ => {}
        }
    }
    let mut known: Vec<Known> = made.iter().map(|name| Known { name: (*name).to_owned(), gone: None }).collect();
    let mut found = Vec::new();
    for (at, EditEntry { edit, .. }) in edits.iter().enumerate().filter(|(_, e)| e.on) {
        let resolve = matches!(edit, Edit::Drop { resolve: true, .. } | Edit::ReInk { resolve: true, .. });
        if resolve {
            let screen = edit.needs()[0];
            let Some(plan) = planned.iter().position(|name| same(name, screen)) else {
                let what = format!("\"{screen}\" does not come from the separation, so it cannot be separated again");
                found.push(Conflict { at, what, fixes: vec![ConflictFix::SwitchOff, ConflictFix::Delete] });
                continue;
            };
            if matches!(edit, Edit::Drop { .. }) {
                planned.remove(plan);
                // A screen of that name made by an earlier edit goes too.
                for k in known.iter_mut().filter(|k| k.gone.is_none() && same(&k.name, screen)) {
                    k.gone = Some((at, None));
                }
                continue;
            }
        }
        if let Edit::Add { name, resolve: true, .. } = edit {
            if planned.iter().any(|n| same(n, name)) {
                found.push(name_taken(at, name, &known));
            } else if let Err(what) = edit.check() {
                found.push(Conflict { at, what, fixes: vec![ConflictFix::SwitchOff, ConflictFix::Delete] });
            } else {
                planned.push(name);
            }
            continue;
        }
        let missing =
            edit.needs().into_iter().find(|name| !known.iter().any(|k| k.gone.is_none() && same(&k.name, name)));
        if let Some(name) = missing {
            found.push(missing_screen(at, edit, name, &known, never.iter().any(|n| same(n, name))));
            continue;
        }
        if let Err(what) = edit.check() {
            found.push(Conflict { at, what, fixes: vec![ConflictFix::SwitchOff, ConflictFix::Delete] });
            continue;
        }
        if let Some(name) = edit.adds() {
            if known.iter().any(|k| k.gone.is_none() && same(&k.name, name)) {
                found.push(name_taken(at, name, &known));
                continue;
            }
            known.push(Known { name: name.to_owned(), gone: None });
        }
        if let Some(name) = edit.removes() {
            let into = if let Edit::Merge { into, .. } = edit { Some(into.clone()) } else { None };
            for k in known.iter_mut().filter(|k| k.gone.is_none() && same(&k.name, name)) {
                k.gone = Some((at, into.clone()));
            }
        }
    }
    found
}

fn name_taken(at: usize, name: &str, known: &[Known]) -> Conflict {
    let taken = |free: &String| known.iter().any(|k| k.name.eq_ignore_ascii_case(free));
    let free = (2..).map(|i| format!("{name} {i}")).find(|free| !taken(free)).unwrap_or_default();
    let what = format!("the job already has a screen \"{name}\"");
    Conflict { at, what, fixes: vec![ConflictFix::Rename { name: free }, ConflictFix::SwitchOff, ConflictFix::Delete] }
}

fn missing_screen(at: usize, edit: &Edit, name: &str, known: &[Known], never: bool) -> Conflict {
    let gone = known.iter().rev().find(|k| k.name.eq_ignore_ascii_case(name)).and_then(|k| k.gone.as_ref());
    let mut fixes = Vec::new();
    let what = match gone {
        Some((by, Some(into))) => {
            fixes.push(ConflictFix::MoveTo { at: *by });
            fixes.push(ConflictFix::Use { instead_of: name.to_owned(), screen: into.clone() });
            format!("\"{name}\" was merged into \"{into}\" by edit {}", by + 1)
        }
        Some((by, None)) => {
            fixes.push(ConflictFix::MoveTo { at: *by });
            format!("\"{name}\" was dropped by edit {}", by + 1)
        }
        None if never => format!("the screens are separated without \"{name}\""),
        None => format!("the job has no screen \"{name}\""),
    };
    match edit {
        // An order without the name says the same; moving it would not.
        Edit::Order { .. } => fixes = vec![ConflictFix::LeaveOut { screen: name.to_owned() }],
        // Taking away what is gone needs no other fix than deleting.
        Edit::Drop { .. } => fixes.clear(),
        _ => {}
    }
    fixes.extend([ConflictFix::SwitchOff, ConflictFix::Delete]);
    Conflict { at, what, fixes }
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
            if let Edit::Order { screens } = &mut edits[at].edit {
                screens.retain(|name| !name.eq_ignore_ascii_case(screen));
            }
        }
        ConflictFix::SwitchOff => edits[at].on = false,
        ConflictFix::Delete => {
            edits.remove(at);
        }
    }
}
