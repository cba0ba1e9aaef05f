//! Coverage planes to 1-bit film rows: exact rotated dots of any ruling, angle and device
//! resolution. A film row is computed when it is wanted, so memory never grows with the film.

mod bits;
mod cell;
mod dot;
mod field;
mod grid;
mod kernel;
mod settings;
mod tone;

pub use bits::{BitRow, count_ink, fill_run, invert_row, mirror_row, or_at, words_for};
pub use cell::Cell;
pub use field::{Field, FieldCursor};
pub use grid::{DeviceGrid, DotGrid};
pub use settings::{DotShape, FilmSettings};
pub use tone::ToneTable;
