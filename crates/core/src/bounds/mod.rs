//! The range of every number in a job and the length of every text and list: stated once, as data,
//! in [`table`]. The settings' types put them into their JSON schema, and [`check`] holds values to
//! that schema, so a file's description, its reader, the verbs and the window's fields agree.
//!
//! Ranges are those of a print on a garment: wide enough for anything that a press does, narrow
//! enough that no number makes work or memory that is out of proportion to the print.

mod check;
mod number;
pub mod table;
mod text;

pub(crate) use check::schema_of;
pub use check::{OutOfBounds, check, check_against};
pub use number::{Bound, plain_number, usual};
pub use text::{ListBound, TextBound};
