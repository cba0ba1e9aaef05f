//! The words on a film and in its tags: what keeps a screen from being burned wrong.

use strikeoff_core::halftone::Emulsion;
use strikeoff_core::job::Job;
use strikeoff_core::names::same;
use strikeoff_core::screens::{Screen, Screens};

use crate::text::{Face, Gaps, Missing, name};

/// Title, client, version and date of a job, as far as they are given. To be set or read by eye; for
/// tags of a file take [`plain`] of it.
pub fn job_line(job: &Job) -> String {
    let info = &job.info;
    stated([("", &info.title), ("", &info.client), ("version ", &info.version), ("", &info.date)])
}

/// Order, day due and placement of a job, as far as they are given.
fn order_line(job: &Job) -> String {
    let info = &job.info;
    let due = info.due.map(|due| due.words()).unwrap_or_default();
    stated([("order ", &info.order), ("due ", &due), ("", &info.placement)])
}

fn stated<const N: usize>(parts: [(&str, &String); N]) -> String {
    let said = parts.into_iter().filter(|(_, text)| !text.is_empty());
    said.map(|(what, text)| format!("{what}{}", name(text))).collect::<Vec<_>>().join(", ")
}

/// Letters on the films of a job that no font has.
pub fn missing_letters(job: &Job, screens: &Screens) -> Vec<Missing> {
    let info = &job.info;
    let of_job = [&info.title, &info.client, &info.version, &info.date, &info.order, &info.placement];
    let of_job = of_job.into_iter().chain(job.garments().map(|garment| &garment.name));
    let mesh = |screen: &Screen| job.run.mesh_of(&screen.name).name.as_str();
    let of_screens = screens.list.iter().flat_map(|s| [s.name.as_str(), s.ink.name.as_str(), mesh(s)]);
    let mut gaps = Gaps::of_names(of_job.map(String::as_str).chain(of_screens));
    for (index, screen) in screens.list.iter().enumerate().filter(|_| job.film.label) {
        let Label { heading, left, right } = label(job, screen, index, screens.list.len());
        [heading].iter().chain(&left).chain(&right).for_each(|line| gaps.look(Face::Mono, line));
    }
    gaps.found()
}

/// The garments of a job.
fn garments(job: &Job) -> String {
    job.garments().map(|garment| name(&garment.name)).collect::<Vec<_>>().join(" / ")
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
    /// Number and ink of the screen.
    pub heading: String,
    /// The screen's own name where it differs, garment, mesh.
    pub left: Vec<String>,
    /// Job and film settings.
    pub right: Vec<String>,
}

/// The label of screen `index` of `count`.
pub fn label(job: &Job, screen: &Screen, index: usize, count: usize) -> Label {
    let film = &job.film;
    // The ink is what must be in the frame; a screen that was given another ink may still be called by the first.
    let renamed = !same(&screen.name, &screen.ink.name);
    let mut left: Vec<String> = renamed.then(|| format!("screen: {}", name(&screen.name))).into_iter().collect();
    let hits = if screen.hits > 1 { format!(", {} hits", screen.hits) } else { String::new() };
    let mesh = name(&job.run.mesh_of(&screen.name).name);
    left.push(format!("garment: {}, mesh {mesh}{hits}", garments(job)));
    if let Some(serves) = job.serves_words(&screen.name) {
        left.push(format!("prints on {} only", name(&serves)));
    }
    let mut right = Vec::new();
    right.extend([job_line(job), order_line(job)].into_iter().filter(|line| !line.is_empty()));
    let down = film.dpi_down.filter(|down| *down != film.dpi).map(|down| format!(" x {down}")).unwrap_or_default();
    let emulsion = match film.emulsion {
        Emulsion::Up => "emulsion up",
        Emulsion::Down => "emulsion down",
    };
    let reverse = if film.reverse { ", reversed" } else { "" };
    right.push(format!("{}, {}{down} dpi, {emulsion}{reverse}", film.describe(&screen.name), film.dpi));
    let printer = film.linearisation.as_ref().map(|l| format!(", film tone {}", name(&l.name))).unwrap_or_default();
    right.push(format!("{}{printer}", gain_line(job)));
    Label { heading: format!("{}/{count} {}", index + 1, name(&screen.ink.name)), left, right }
}
