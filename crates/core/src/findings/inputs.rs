//! Inputs that several findings rest on.

use super::finding::{Basis, Input};
use crate::facts::Survey;
use crate::press::DotGain;
use crate::usage::Mesh;

pub(super) fn mesh_input(mesh: &Mesh) -> Input {
    Input::new(
        "mesh",
        format!("{}: thread {:.0} µm, opening {:.0} µm", mesh.name, mesh.thread_um, mesh.opening_um()),
        if mesh.is_documented() { Basis::Published } else { Basis::Assumed },
    )
}

pub(super) fn gain_input(s: &Survey<'_>) -> Input {
    let measured = matches!(s.job.press.gain, DotGain::Measured { .. });
    let films = if s.job.press.compensate { "compensated on the films" } else { "not compensated" };
    Input::new(
        "dot gain",
        format!("{}, {films}", s.job.press.gain.describe()),
        if measured { Basis::Measured } else { Basis::Assumed },
    )
}

pub(super) fn ruling_input(s: &Survey<'_>, at: usize) -> Input {
    Input::new("ruling", format!("{} lpi", s.ruling(at)), Basis::Job)
}

pub(super) fn dots_input(mesh: &Mesh) -> Input {
    Input::new(
        "dots that hold",
        format!("from {:.0} µm often, from {:.0} µm always", mesh.marginal_dot_um(), mesh.safe_dot_um()),
        Basis::Assumed,
    )
}
