//! The workbench: views, commands and background work on `egui`. It opens no window itself, so
//! that tests can drive it without one; the program gives it a `Ui` a frame.
//!
//! Views draw the state and send [`Command`]s; only [`Workbench`] applies them. Anything that
//! may take longer than a few milliseconds runs on a [`work`] lane.

mod advice;
mod apply;
mod art_desk;
mod chain;
mod command;
mod document;
mod foresight;
mod format;
mod held;
mod inquiry;
mod intake;
mod keeping;
mod lanes;
mod log;
mod looking;
mod method_desk;
mod preferences;
mod render;
mod shirt;
mod shop;
mod theme;
mod tiles;
mod times;
mod tuning;
mod views;
mod widgets;
mod work;
mod workbench;

pub use command::Command;
pub use document::Document;
pub use log::Log;
pub use looking::{Sheet, Side, View};
pub use preferences::{Keep, KeepShop, LEAST_POINTS, Preferences, ThemeChoice};
pub use shop::Shop;
pub use workbench::{Opening, Workbench};
