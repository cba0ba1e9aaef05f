//! The list of edits: shown, switched, moved, deleted, fixed.

use anyhow::bail;
use serde_json::{Value, json};
use strikeoff_core::job::Job;
use strikeoff_core::tune::{conflicts, fix_conflict};

use super::what::OfList;

/// Changes the list.
pub fn change(job: &mut Job, what: &OfList) -> anyhow::Result<()> {
    let place = |number: usize, count: usize| match number {
        1.. if number <= count => Ok(number - 1),
        _ if count == 0 => bail!("the job has no edits"),
        _ => bail!("the job has edits 1 to {count}, no {number}"),
    };
    let count = job.edits.len();
    match what {
        OfList::List => {}
        OfList::On { number } => job.edits[place(*number, count)?].on = true,
        OfList::Off { number } => job.edits[place(*number, count)?].on = false,
        OfList::Delete { number } => {
            job.edits.remove(place(*number, count)?);
        }
        OfList::Move { number, to } => {
            let (from, to) = (place(*number, count)?, place(*to, count)?);
            let entry = job.edits.remove(from);
            job.edits.insert(to, entry);
        }
        OfList::Fix { number, choice } => {
            let at = place(*number, count)?;
            let found = conflicts(&job.separation, &job.edits);
            let Some(conflict) = found.into_iter().find(|c| c.at == at) else {
                bail!("edit {number} can be applied; there is nothing to fix")
            };
            let Some(by) = choice.checked_sub(1).and_then(|i| conflict.fixes.get(i)) else {
                bail!("there are fixes 1 to {} for edit {number}, no {choice}", conflict.fixes.len())
            };
            fix_conflict(&mut job.edits, at, by);
        }
    }
    Ok(())
}

/// The list for people, with what cannot be applied.
pub fn text(job: &Job) -> String {
    let found = conflicts(&job.separation, &job.edits);
    let mut text = String::new();
    if job.edits.is_empty() {
        text += "no edits\n";
    }
    for (at, entry) in job.edits.iter().enumerate() {
        let on = if entry.on { "on " } else { "off" };
        text += &format!("{:3}  {on}  {:16}  {}\n", at + 1, entry.edit.label(), entry.edit.in_words());
        if let Some(conflict) = found.iter().find(|c| c.at == at) {
            text += &format!("     cannot be applied: {}\n", conflict.what);
            for (i, by) in conflict.fixes.iter().enumerate() {
                text += &format!("       fix {} {}: {}\n", at + 1, i + 1, by.label());
            }
        }
    }
    text
}

/// The list for scripts.
pub fn json(job: &Job) -> Value {
    let found = conflicts(&job.separation, &job.edits);
    let entries = job.edits.iter().enumerate().map(|(at, entry)| {
        let conflict = found.iter().find(|c| c.at == at);
        let fixes = conflict.map(|c| c.fixes.iter().map(|m| m.label()).collect::<Vec<_>>());
        json!({
            "number": at + 1, "on": entry.on, "label": entry.edit.label(), "words": entry.edit.in_words(),
            "edit": entry.edit, "cannot": conflict.map(|c| &c.what), "fixes": fixes,
        })
    });
    Value::Array(entries.collect())
}
