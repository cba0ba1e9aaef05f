//! Applies the edits of a job to its screens.

use super::{Edit, EditEntry};
use crate::job::Screens;
use crate::prep::Prepared;
use crate::{Cancelled, Progress};

/// Why an edit cannot be applied.
#[derive(Debug, thiserror::Error)]
pub enum TuneError {
    /// An edit names a screen that is not there.
    #[error("edit {number} names the screen \"{screen}\", which the job does not have at that point")]
    NoScreen {
        /// Place of the edit in the list, from 1.
        number: usize,
        /// The missing screen.
        screen: String,
    },
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Applies the edits that are switched on, in order.
pub fn apply_edits(
    screens: &mut Screens,
    prepared: &Prepared,
    edits: &[EditEntry],
    progress: &Progress,
) -> Result<(), TuneError> {
    let _ = prepared;
    for (at, entry) in edits.iter().enumerate().filter(|(_, e)| e.on) {
        progress.step("edit", at as f32 / edits.len() as f32)?;
        let find = |screens: &Screens, name: &str| {
            screens.position(name).ok_or_else(|| TuneError::NoScreen { number: at + 1, screen: name.to_owned() })
        };
        match &entry.edit {
            Edit::Drop { screen } => {
                let at = find(screens, screen)?;
                screens.list.remove(at);
            }
            Edit::ReInk { screen, ink } => {
                let at = find(screens, screen)?;
                screens.list[at].ink = ink.clone();
            }
            Edit::Order { screens: names } => {
                for (to, name) in names.iter().enumerate() {
                    let from = find(screens, name)?;
                    let screen = screens.list.remove(from);
                    screens.list.insert(to.min(screens.list.len()), screen);
                }
            }
            Edit::Merge { .. } | Edit::Trim { .. } => {}
        }
    }
    Ok(())
}
