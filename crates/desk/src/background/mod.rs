//! Work off the window's thread: lanes that compute, and a thread that drops what is heavy.

mod drop;
mod lane;

pub use drop::drop_in_background;
pub use lane::{Doing, Lane, Manner};
