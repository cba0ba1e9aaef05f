//! The computation behind Strikeoff: from a picture to the screens that print it on a garment,
//! and back to what the shirt will look like. Planes and pictures in, planes and pictures out;
//! no files, windows, clocks or environment.
//!
//! Data flows one way: art -> [`prep`] -> [`separate`] -> [`tune`] -> [`press`] (the proof) and
//! [`halftone`] (the films). [`job`] holds what the user decided and runs the chain. Beside it stand
//! the plain [`facts`] of the screens on the press, the [`findings`] of what will go wrong, [`preview`]s
//! of other days, orders and garments, [`moire`], the [`quote`] of minutes and money, and the [`reorder`] of what was
//! printed before.

pub mod bounds;
pub mod color;
pub mod facts;
pub mod findings;
pub mod fingerprint;
pub mod halftone;
pub mod ink;
pub mod job;
pub mod moire;
pub mod names;
pub mod prep;
pub mod press;
pub mod preview;
mod progress;
pub mod quote;
pub mod raster;
pub mod recipe;
pub mod reorder;
pub mod screens;
pub mod separate;
pub mod simd;
pub mod sureness;
pub mod tune;
pub mod units;
pub mod usage;

pub use progress::{Cancelled, Progress};
