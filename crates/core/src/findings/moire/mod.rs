//! Moire that will show: of every screen with its mesh, with other screens, and with the garment's
//! knit. The beats themselves are computed in the room of that name.

mod knit;
mod mesh;
mod screens;
mod shared;

use super::finding::Finding;
use crate::facts::Survey;

/// Visible moire of a job.
pub(super) fn moire(s: &Survey<'_>) -> Vec<Finding> {
    let mut out = mesh::with_mesh(s);
    out.extend(screens::between_screens(s));
    out.extend(knit::with_knit(s));
    out
}
