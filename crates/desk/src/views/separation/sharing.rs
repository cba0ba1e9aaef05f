//! How the inks share the work.

use egui::Ui;
use strikeoff_core::ink::InkRole;
use strikeoff_core::job::Job;
use strikeoff_core::separate::{BlackPlace, Method, SpotInks};

use super::{choice, share, slider};
use crate::ui::widgets::{card, row};

/// Draws the card; what has no meaning for the method is left out.
pub fn sharing_ui(ui: &mut Ui, job: &mut Job) {
    let separation = &mut job.separation;
    let solved = separation.method == Method::SimulatedProcess
        || (separation.method == Method::SpotArt && separation.spot.inks == SpotInks::Layers);
    let has_black = separation.screens.iter().any(|s| s.ink.role == InkRole::Black);
    if !solved && separation.method != Method::Index && !has_black {
        return;
    }
    card(ui, "Sharing", |ui| {
        if solved {
            share(
                ui,
                "Black",
                &mut separation.black_strength,
                "0: little black, for detail in the shadows; 100: every grey from black",
            );
            share(ui, "Cleanliness", &mut separation.cleanliness, "How few inks may share a spot");
            let mut limit = separation.total_ink_limit * 100.0;
            if slider(
                ui,
                "Total ink limit",
                &mut limit,
                50.0..=600.0,
                0,
                5.0,
                " %",
                "Sum of coverages on a spot, hits counted",
            ) {
                separation.total_ink_limit = limit / 100.0;
            }
        }
        if solved || separation.method == Method::Index {
            share(ui, "Hue keeping", &mut separation.hue_keeping, "How much more an error of hue counts");
        }
        if has_black {
            row(ui, "Black prints", |ui| {
                let now = separation.black_place();
                let mut place = now;
                choice(
                    ui,
                    &mut place,
                    &[
                        (
                            Some(BlackPlace::First),
                            "first",
                            "Before the colours, after the underbase; colours mix over it",
                        ),
                        (Some(BlackPlace::Last), "last", "After the colours; outlines stay crisp"),
                    ],
                );
                if let Some(place) = place.filter(|_| place != now) {
                    separation.place_black(place);
                }
            });
        }
        if solved {
            for screen in &mut separation.screens {
                let mut percent = screen.willingness * 100.0;
                let name = format!("Use {}", screen.name);
                if slider(ui, &name, &mut percent, -100.0..=100.0, 0, 1.0, "", "Less than 0 sparingly, more eagerly") {
                    screen.willingness = percent / 100.0;
                }
            }
        }
    });
    ui.add_space(8.0);
}
