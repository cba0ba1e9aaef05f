//! The workbench: views, commands and background work on `egui`. It opens no window itself, so
//! that tests can drive it without one; the program gives it a `Ui` a frame.
//!
//! There are three kinds of state: the [`session`], which is saved or must not be lost; the
//! [`view_state`], which is passing; and what is [`derived`] from the two, a struct of slots that lanes
//! work out. Views draw them and send [`Command`]s; [`commands`] alone applies them. Anything that may
//! take longer than a few milliseconds runs on a lane.

mod background;
mod commands;
mod derived;
mod inquiry;
mod letters;
mod render;
mod session;
mod state;
mod telemetry;
mod ui;
mod view_state;
mod views;
mod workbench;

pub use commands::{Command, Workbench};
pub use render::View;
pub use session::{Document, Keep, KeepShop, LEAST_POINTS, Preferences, Shop, ThemeChoice};
pub use telemetry::Log;
pub use view_state::{Sheet, Side};
pub use workbench::Opening;
