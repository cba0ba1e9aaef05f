//! Coverage planes to 1-bit film rows: exact rotated dots of any ruling, angle and device
//! resolution, and dots of one size as blue noise, by error diffusion or for index separations.
//! A film row is computed when it is needed, so memory never grows with the film.

mod across;
mod apart;
mod bits;
mod blue_noise;
mod borders;
mod cell;
mod cells;
mod diffusion;
mod dot;
mod dots;
mod field;
mod grid;
mod kernel;
mod lattices;
mod settings;
mod shape;
mod shapes;
mod thin;
mod tone;

pub(crate) use apart::turn_between;
pub use bits::{BitRow, count_ink, fill_run, invert_run, mirror_row, or_at, words_for};
pub use blue_noise::{BLUE_NOISE_SIDE, blue_noise_threshold};
pub use cell::Cell;
pub use dots::Dots;
pub use field::{Field, FieldCursor};
pub use grid::{DeviceGrid, DotGrid};
pub use settings::{
    AngleRule, DotLimits, Emulsion, FilmSettings, Linearisation, ScreenDots, ScreenFilm, SmallDots, SmallHoles,
};
pub use shape::{DOT_SIZES_MM, DotNameError, DotShape, dot_side};
pub use tone::ToneTable;
