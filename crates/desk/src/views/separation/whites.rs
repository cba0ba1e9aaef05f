//! The whites: the underbase with its choke and what it goes under, and the highlight white with
//! its ramp.

use egui::Ui;
use strikeoff_core::job::Job;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::separate::{Method, ScreenPart};
use strikeoff_core::units::Mm;

use super::{share, slider};
use crate::ui::theme::palette;
use crate::ui::widgets::{card, check, quiet};

/// Draws the cards.
pub fn whites_ui(ui: &mut Ui, job: &mut Job) {
    let white = job.garment.is_white();
    let parts = job.separation.parts(white);
    if parts.contains(&ScreenPart::Underbase) {
        base_ui(ui, job, &parts, white);
        ui.add_space(8.0);
    }
    if parts.contains(&ScreenPart::HighlightWhite) && job.separation.method == Method::SimulatedProcess {
        highlight_ui(ui, job);
        ui.add_space(8.0);
    }
}

fn base_ui(ui: &mut Ui, job: &mut Job, parts: &[ScreenPart], white: bool) {
    let p = palette(ui.ctx());
    let method = job.separation.method;
    let names: Vec<ScreenName> = (job.separation.screens.iter().zip(parts))
        .filter(|(_, part)| **part != ScreenPart::Underbase)
        .map(|(s, _)| s.name.clone())
        .collect();
    let bases = parts.iter().filter(|p| **p == ScreenPart::Underbase).count();
    let base = &mut job.separation.underbase;
    card(ui, "Underbase", |ui| {
        if white {
            check(ui, &mut base.on_white, "Print a base on this white garment")
                .on_hover_text("White fabric needs none; off unless you ask for it");
            if !base.on_white {
                return;
            }
        }
        if method == Method::SimulatedProcess {
            share(ui, "Strength", &mut base.strength, "How willingly white goes under tones that could do with less");
        }
        if method == Method::Index {
            ui.label(quiet("Every dot has its own base; there is no choke.", p));
        } else {
            length(ui, "Choke", &mut base.choke_mm, "How far the base stays behind the edges of what lies on it");
            if bases > 1 {
                length(
                    ui,
                    "Second choke",
                    &mut base.second_choke_mm,
                    "The same for the second base, which lies on the first",
                );
            }
        }
        let mut all = base.under.is_none();
        if ui
            .checkbox(&mut all, "Under every screen")
            .on_hover_text("Or choose the screens that it goes under")
            .changed()
        {
            base.under = if all { None } else { Some(names.clone()) };
        }
        if let Some(under) = &mut base.under {
            for name in &names {
                let mut on = under.contains(name);
                if check(ui, &mut on, format!("Base under {name}")).changed() {
                    under.retain(|n| n != name);
                    if on {
                        under.push(name.clone());
                    }
                }
            }
        }
    });
}

fn highlight_ui(ui: &mut Ui, job: &mut Job) {
    let ramp = &mut job.separation.highlight;
    card(ui, "Highlight white", |ui| {
        slider(
            ui,
            "Starts at",
            &mut ramp.starts_at_l,
            0.0..=100.0,
            0,
            1.0,
            " L*",
            "Lightness of the artwork where it begins",
        );
        slider(ui, "Full at", &mut ramp.full_at_l, 0.0..=100.0, 0, 1.0, " L*", "Lightness from which it may be solid");
        slider(
            ui,
            "Colour up to",
            &mut ramp.max_chroma,
            0.0..=150.0,
            0,
            1.0,
            " C*",
            "How coloured a tone may be: chroma at which it has faded out",
        );
        share(ui, "Hold", &mut ramp.hold, "Share of the ramp that prints even where it is not needed, to hold pastels");
    });
}

fn length(ui: &mut Ui, name: &str, mm: &mut Mm, hint: &str) {
    let mut value = mm.get();
    if slider(ui, name, &mut value, 0.0..=1.5, 2, 0.01, " mm", hint) {
        *mm = Mm::new(value).unwrap_or(*mm);
    }
}
