//! Moire. Threads of the mesh, dots of a halftone and loops of a knit are lattices; what the eye
//! sees is the difference of two of their harmonics when it falls to a low frequency. Low-order
//! vectors of both lattices are tried and weighed by how strong those harmonics are, since ratio
//! rules of thumb miss coarse beats: 55 lpi at 45 degrees on 156 mesh has a ratio of 2.8, and its
//! (2, 2) harmonic lies 0.44 per inch from the threads, a band of 58 mm. Method: vector sums in
//! the frequency plane (Amidror, "The Theory of the Moire Phenomenon").

mod angle_search;
mod angle_sets;
mod film_sets;
mod knit;
mod lattice;
mod mesh;
mod screens;
mod trial;

pub use angle_search::{safest_angle, safest_angle_set};
pub use angle_sets::{AngleSet, Angles, angle_set, mesh_risk};
pub use film_sets::{FilmSet, FilmSetFigures, film_set_now, film_sets};
pub use knit::knit_beats;
pub use lattice::{Beat, Tones, worst_beat};
pub use mesh::{MESH_VECTORS, mesh_beats};
pub use screens::screen_beats;
pub use trial::DotTrial;

pub(crate) use angle_search::{Dots, Search};
pub(crate) use lattice::texture_mm;
