//! Coverage planes to 1-bit film rows: exact rotated dots of any ruling, angle and device
//! resolution. A film row is computed when it is wanted, so memory never grows with the film.

mod bits;
mod cell;
mod dot;
mod field;
mod grid;
mod kernel;
#[cfg(target_arch = "x86_64")]
mod kernel_avx2;
mod settings;
mod tone;

pub use bits::{BitRow, count_ink, fill_run, invert_row, mirror_row, or_at, words_for};
pub use cell::Cell;
pub use field::{Field, FieldCursor};
pub use grid::{DeviceGrid, DotGrid};
pub use settings::{DotLimits, DotNameError, DotPolicy, DotShape, Emulsion, FilmSettings, Linearisation, ScreenFilm};
pub use tone::ToneTable;
