//! Mesh, deposit and grams of ink.

mod advice;
mod ink;
mod mesh;

pub use advice::advise_mesh;
pub use ink::{InkUse, Range, ScreenInk, ScreenLoad, ink_for_run, shirts_with_spares, theory_g};
pub use mesh::{Mesh, MeshError, MeshStatus, mesh_shelf};
