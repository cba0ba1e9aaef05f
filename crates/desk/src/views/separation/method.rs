//! The method with its options, the one that suits the artwork, and for spot art what prints each
//! flat colour.

use egui::{Sense, Ui, vec2};
use strikeoff_core::job::Job;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::separate::{Method, SpotEdges, SpotInks};
use strikeoff_core::units::{MM_PER_INCH, Mm};

use super::{choice, slider};
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{card, check, color32, disc, plain_button, quiet};

/// Most flat colours that are listed.
const LISTED: usize = 12;

/// Draws the card.
pub fn method_ui(ui: &mut Ui, state: &State, job: &mut Job) {
    let p = palette(ui.ctx());
    card(ui, "Method", |ui| {
        let mut method = job.separation.method;
        choice(
            ui,
            &mut method,
            &[
                (
                    Method::SimulatedProcess,
                    Method::SimulatedProcess.label(),
                    "Tones on every screen, halftoned: photographs and paintings",
                ),
                (Method::SpotArt, Method::SpotArt.label(), "Flat areas, one ink each: logos and lettering"),
                (Method::Index, Method::Index.label(), "Square dots of one ink each: no ruling, no angles"),
            ],
        );
        if method != job.separation.method {
            state.session.machine.profile.change_method(job, |job| job.set_method(method));
        }
        match state.derived.methods.latest() {
            Some(study) => {
                let advice = &study.advice;
                if advice.method == method {
                    ui.label(quiet(format!("Suits this artwork. {}", advice.reason), p));
                } else {
                    ui.label(quiet(format!("{} would suit this artwork. {}", advice.method.label(), advice.reason), p));
                    let text = format!("Use {}", advice.method.label().to_lowercase());
                    if plain_button(ui, &text).clicked() {
                        state.session.machine.profile.change_method(job, |job| job.set_method(advice.method));
                    }
                }
            }
            None => {
                ui.label(quiet("looking at the artwork", p));
            }
        }
        match method {
            Method::SimulatedProcess => {}
            Method::SpotArt => spot_ui(ui, state, job),
            Method::Index => index_ui(ui, job),
        }
    });
}

fn spot_ui(ui: &mut Ui, state: &State, job: &mut Job) {
    let p = palette(ui.ctx());
    ui.add_space(4.0);
    let mut inks = job.separation.spot.inks;
    choice(
        ui,
        &mut inks,
        &[
            (SpotInks::OneEach, "One ink each", "A flat colour takes the ink that comes nearest, solid"),
            (SpotInks::Layers, "Layers and tints", "A flat colour is mixed from the job's inks"),
        ],
    );
    if inks != job.separation.spot.inks {
        state.session.machine.profile.change_method(job, |job| job.separation.spot.inks = inks);
    }
    let spot = &mut job.separation.spot;
    choice(
        ui,
        &mut spot.edges,
        &[
            (
                SpotEdges::AntiAliased,
                "Smooth outlines",
                "Outline pixels keep their share of each colour; dots draw it on the film",
            ),
            (SpotEdges::Hard, "Hard outlines", "Every pixel is none or solid: plain edges on the film"),
        ],
    );
    let mut trap = spot.trap_mm.get();
    if slider(
        ui,
        "Trap",
        &mut trap,
        0.0..=1.0,
        2,
        0.01,
        " mm",
        "How far light inks reach under darker ones printed later",
    ) {
        spot.trap_mm = Mm::new(trap).unwrap_or(spot.trap_mm);
    }
    let mut same = spot.same_within * 100.0;
    if slider(
        ui,
        "Same colour within",
        &mut same,
        1.0..=20.0,
        0,
        1.0,
        "",
        "Areas that differ by less than this are one flat colour (hundredths of OKLab)",
    ) {
        spot.same_within = same / 100.0;
    }
    let mut least = spot.least_share * 100.0;
    if slider(
        ui,
        "Smallest area",
        &mut least,
        0.0..=5.0,
        2,
        0.05,
        " %",
        "Smaller areas are no flat colour of their own",
    ) {
        spot.least_share = least / 100.0;
    }
    let Some(study) = state.derived.methods.latest().filter(|s| !s.spots.is_empty()) else { return };
    ui.add_space(4.0);
    for spot in study.spots.iter().take(LISTED) {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(vec2(16.0, 16.0), Sense::hover());
            disc(ui.painter(), rect.center(), 7.0, color32(spot.flat.color), p.weak);
            let layer = |(name, a): &(ScreenName, f64)| {
                if *a < 0.995 { format!("{name} {:.0} %", a * 100.0) } else { name.to_string() }
            };
            let printed = match spot.screens.is_empty() {
                true => "bare fabric".to_owned(),
                false => spot.screens.iter().map(layer).collect::<Vec<_>>().join(" + "),
            };
            let text = format!("{}: {printed}, dE {:.1}", spot.flat.color, spot.difference);
            ui.add(egui::Label::new(quiet(text, p)).wrap());
        });
    }
    if study.spots.len() > LISTED {
        ui.label(quiet(format!("and {} more flat colours", study.spots.len() - LISTED), p));
    }
}

fn index_ui(ui: &mut Ui, job: &mut Job) {
    let p = palette(ui.ctx());
    ui.add_space(4.0);
    let mut per_inch = MM_PER_INCH / job.separation.index.dot_mm.get();
    if slider(ui, "Dots per inch", &mut per_inch, 40.0..=400.0, 0, 1.0, "", "Square dots per inch, side by side")
        && let Ok(mm) = Mm::new(MM_PER_INCH / per_inch)
    {
        job.set_index_dot(mm);
    }
    check(ui, &mut job.separation.index.keep_flat, "flat areas in one ink").on_hover_text(
        "Where one ink comes near a flat colour, no second ink is scattered over the area to correct the difference",
    );
    let mm = job.separation.index.dot_mm.get();
    let film_px = mm / MM_PER_INCH * job.film.dpi.get();
    ui.label(quiet(format!("{mm:.3} mm a dot, {film_px:.1} pixels of the film printer"), p));
    if (film_px - film_px.round()).abs() > 0.02 {
        let even = job.film.dpi.get() / film_px.round().max(1.0);
        ui.label(quiet(format!("Dot sizes will vary by a pixel; {even:.1} per inch would be even."), p));
    }
}
