//! The bench: what is saved, what is passing, and the commands that wait. Commands are applied to it
//! here; `workbench.rs` gives it its frame.

use egui::Context;

use super::Commands;
use crate::letters::Letters;
use crate::state::State;
use crate::telemetry::Telemetry;
use crate::view_state::Scratch;

/// The workbench.
pub struct Workbench {
    pub(crate) ctx: Context,
    pub(crate) state: State,
    pub(crate) scratch: Scratch,
    pub(crate) commands: Commands,
    pub(crate) telemetry: Telemetry,
    pub(crate) letters: Letters,
}
