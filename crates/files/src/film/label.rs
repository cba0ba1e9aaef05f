//! The words on a film and in its tags: what keeps a screen from being burned wrong.

use strikeoff_core::halftone::Emulsion;
use strikeoff_core::job::Job;
use strikeoff_core::screens::Screen;

/// Title, client, version and date of a job, as far as they are given.
pub fn job_line(job: &Job) -> String {
    let info = &job.info;
    let version = if info.version.is_empty() { String::new() } else { format!("version {}", info.version) };
    let parts = [&info.title, &info.client, &version, &info.date];
    parts.into_iter().filter(|part| !part.is_empty()).cloned().collect::<Vec<_>>().join(", ")
}

/// How the film answers the press's gain.
pub fn gain_line(job: &Job) -> String {
    if job.press.compensate {
        format!("compensated for gain {}", job.press.gain.describe())
    } else {
        "not compensated for gain".into()
    }
}

/// A label in its parts.
pub struct Label {
    /// Number and name of the screen.
    pub heading: String,
    /// Ink, garment, mesh.
    pub left: Vec<String>,
    /// Job and film settings.
    pub right: Vec<String>,
}

/// The label of screen `index` of `count`.
pub fn label(job: &Job, screen: &Screen, index: usize, count: usize) -> Label {
    let film = &job.film;
    let mut left = vec![format!("ink: {}", screen.ink.name)];
    let hits = if screen.hits > 1 { format!(", {} hits", screen.hits) } else { String::new() };
    let mesh = &job.run.mesh_of(&screen.name).name;
    left.push(format!("garment: {}, mesh {mesh}{hits}", job.garment.name));
    let mut right = Vec::new();
    let job_line = job_line(job);
    if !job_line.is_empty() {
        right.push(job_line);
    }
    let down = film.dpi_down.filter(|down| *down != film.dpi).map(|down| format!(" x {down}")).unwrap_or_default();
    let emulsion = match film.emulsion {
        Emulsion::Up => "emulsion up",
        Emulsion::Down => "emulsion down",
    };
    let reverse = if film.reverse { ", reversed" } else { "" };
    right.push(format!("{}, {}{down} dpi, {emulsion}{reverse}", film.describe(&screen.name), film.dpi));
    let printer = film.linearisation.as_ref().map(|l| format!(", film tone {}", l.name)).unwrap_or_default();
    right.push(format!("{}{printer}", gain_line(job)));
    Label { heading: format!("{}/{count} {}", index + 1, screen.name), left, right }
}
