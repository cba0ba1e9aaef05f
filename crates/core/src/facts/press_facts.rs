//! The plain facts that a press sheet states.

use crate::screens::ScreenName;
use serde::Serialize;

use super::register::Register;
use super::sensitivity::Sensitivity;
use super::{
    DotHold, Head, Survey, best_flash, cautions, grey_levels, head_plan, largest_patch, pick_ups, resolution_meaning,
    smallest_gap_mm, smallest_stroke_mm, total_ink,
};
use crate::moire::{Beat, Tones, knit_beats, mesh_beats, safest_angle, safest_angle_set, worst_beat};
use crate::press::Optics;
use crate::usage::{ScreenInk, ScreenLoad, advise_mesh, ink_for_run, shirts_with_spares};

/// Plain facts of one screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScreenFacts {
    /// Name of the screen.
    pub screen: ScreenName,
    /// Its ink.
    pub ink: String,
    /// Mean coverage on the shirt, 0..1.
    pub mean_coverage: f64,
    /// Mean coverage of the film, 0..1.
    pub mean_film: f64,
    /// Mesh by name.
    pub mesh: String,
    /// Threads per inch over lines per inch.
    pub mesh_to_ruling: f64,
    /// Ruling.
    pub ruling_lpi: f64,
    /// Angle.
    pub angle_deg: f64,
    /// Film dots under this coverage are often lost; from the second on they hold.
    pub dots_hold: [f64; 2],
    /// Widest band that mesh and halftone make, in mm, visible or not.
    pub widest_beat_mm: f64,
    /// Whether any beat is visible.
    pub beat_visible: bool,
    /// Smallest stroke and gap that survive, in mm.
    pub smallest_mm: [f64; 2],
    /// Mesh we would take, and why.
    pub advised_mesh: String,
    /// The reason.
    pub advice: String,
    /// Widest band that the garment's knit and the halftone make, in mm, visible or not; of the
    /// usual jersey if the garment's own knit is not stated.
    pub knit_beat_mm: f64,
    /// Shift of this screen from which a gap or fringe is seen, in mm; none up to half a millimetre.
    pub fringe_from_mm: Option<f64>,
    /// Share of this screen's ink that lands on wet ink, 0..1.
    pub on_wet_ink: f64,
}

/// Plain facts of a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PressFacts {
    /// What the art's resolution means at this size and ruling.
    pub resolution: String,
    /// Pixels of the art an inch of print.
    pub true_ppi: f64,
    /// Grey levels of the films.
    pub grey_levels: u32,
    /// Screens in print order.
    pub screens: Vec<ScreenFacts>,
    /// The one angle for all screens that beats least with the job's mesh at its ruling, degrees.
    pub safest_angle_deg: f64,
    /// As many angles as there are screens that beat least with mesh and each other, degrees.
    pub safest_angles_deg: Vec<f64>,
    /// Heads.
    pub heads: Vec<Head>,
    /// Screens' sensitivity to gain, most dangerous first.
    pub gain: Vec<Sensitivity>,
    /// Screen after which one more flash helps most, if any would.
    pub best_flash_after: Option<ScreenName>,
    /// Most ink in one place and on average over the print, in percent of a solid.
    pub ink_most_mean_pct: [f64; 2],
    /// Largest unbroken patch of two full layers, cm2.
    pub largest_patch_cm2: f64,
    /// Ink for the run.
    pub ink: Vec<ScreenInk>,
    /// Shirts to print, spares included.
    pub shirts: u32,
    /// On what bands colours are computed, and which inks were measured, in a sentence.
    pub optics: String,
    /// Cautions for this garment, cure and handling.
    pub cautions: Vec<String>,
}

/// Facts of a job, from what the survey read.
pub(crate) fn press_facts(s: &Survey<'_>, gain: Vec<Sensitivity>, register: &Register) -> PressFacts {
    let (job, screens) = (s.job, s.screens);
    let pairs = pick_ups(s);
    let knit = job.garment.knit.unwrap_or_default();
    let film: Vec<f64> = (0..s.len()).map(|at| s.mean(at, |a| s.film(at, a))).collect();
    let loads: Vec<ScreenLoad<'_>> = (0..s.len())
        .map(|at| ScreenLoad {
            name: s.name(at),
            film_coverage: film[at],
            hits: screens.list[at].hits,
            mesh: job.run.mesh_of(s.name(at)),
        })
        .collect();
    let meshes = job.run.meshes_to_choose();
    let list = (0..s.len())
        .map(|at| {
            let (screen, mesh, ruling) = (&screens.list[at], loads[at].mesh, s.ruling(at));
            let tones = s.tones(at);
            let beats = mesh_beats(mesh, ruling, s.angle(at), &tones);
            let limits = DotHold::of_shape(mesh, ruling, job.film.of_screen(s.name(at)).2);
            let (advised, why) = advise_mesh(
                screen.ink.role,
                s.tonal(at) / s.inked(at).max(1e-9),
                ruling,
                job.garment.is_white(),
                &meshes,
            );
            ScreenFacts {
                screen: screen.name.clone(),
                ink: screen.ink.name.clone(),
                mean_coverage: screen.coverage.mean_coverage(),
                mean_film: film[at],
                mesh: mesh.name.clone(),
                mesh_to_ruling: mesh.threads_per_inch / ruling.get(),
                ruling_lpi: ruling.get(),
                angle_deg: s.angle(at),
                dots_hold: [limits.marginal, limits.safe],
                widest_beat_mm: beats.first().map_or(0.0, Beat::period_mm),
                beat_visible: worst_beat(&beats, ruling).is_some(),
                smallest_mm: [smallest_stroke_mm(mesh), smallest_gap_mm(mesh, &job.press.gain, ruling)],
                advised_mesh: advised.name,
                advice: why,
                knit_beat_mm: knit_beats(knit.wales_per_inch, knit.courses_per_inch, ruling, s.angle(at), &tones)
                    .first()
                    .map_or(0.0, Beat::period_mm),
                fringe_from_mm: register.first_mm[at],
                on_wet_ink: pairs.iter().filter(|p| p.above == at).map(|p| p.share).fold(0.0, f64::max),
            }
        })
        .collect();
    let ink = total_ink(s);
    let mean_ink = ink.iter().map(|&t| f64::from(t)).sum::<f64>() / ink.len().max(1) as f64;
    PressFacts {
        resolution: resolution_meaning(s.true_ppi, job.film.ruling),
        true_ppi: s.true_ppi,
        grey_levels: grey_levels(job.film.dpi, job.film.ruling),
        screens: list,
        safest_angle_deg: safest_angle(&job.run.mesh, job.film.ruling, &Tones::even(), &job.film.angles_at_hand)
            .0
            .get(),
        safest_angles_deg: safest_angle_set(
            &job.run.mesh,
            job.film.ruling,
            &Tones::even(),
            s.len(),
            &job.film.angles_at_hand,
        )
        .0
        .iter()
        .map(|angle| angle.get())
        .collect(),
        heads: head_plan(job, screens),
        gain,
        best_flash_after: best_flash(&pairs, s.len()).map(|(at, _)| s.name(at).to_owned()),
        ink_most_mean_pct: [f64::from(ink.iter().copied().fold(0.0f32, f32::max)) * 100.0, mean_ink * 100.0],
        largest_patch_cm2: largest_patch(s, &ink, 1.9).0,
        ink: ink_for_run(s.print_mm[0] * s.print_mm[1], job.info.quantity, &loads, &job.run.ink),
        shirts: shirts_with_spares(job.info.quantity, job.run.ink.spoilage),
        optics: Optics::describe(screens.list.iter().map(|s| &s.ink)),
        cautions: cautions(&job.garment),
    }
}
