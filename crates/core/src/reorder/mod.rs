//! The reorder: what was printed, what the shop has changed since, what that does to the print, and which films
//! and screens still serve.

mod effect;
mod serves;
mod shop;

pub use effect::{Effect, WorstInk, effect, print_today};
pub use serves::{Serves, serves};
pub use shop::{FingerprintOf, ShopState, take_inks};
