//! The press run: heads, meshes, register, deposit and grams of ink.

mod advice;
mod habit;
mod ink;
mod mesh;
mod run;

pub use advice::advise_mesh;
pub use habit::MeshDefaults;
pub use ink::{InkUse, Range, ScreenInk, ScreenLoad, ink_for_run, shirts_with_spares, theory_g};
pub use mesh::{Mesh, MeshError, MeshStatus, mesh_shelf};
pub use run::{PressRun, choose_from};
