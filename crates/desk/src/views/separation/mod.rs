//! How the art is separated: the method, how inks share the work, the whites, and new screens.
//! Every control changes the job at once; the proof follows.

mod add;
mod method;
mod sharing;
mod whites;

use egui::{Ui, WidgetInfo};

use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::{GROUP, palette};
use crate::ui::widgets::{quiet, row, scrolled};
use crate::view_state::Scratch;
use crate::views::change;

/// Draws the panel.
pub fn separation_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let Some(before) = state.doc().map(|d| d.job.clone()) else {
        ui.label(quiet("No artwork yet.", p));
        return;
    };
    ui.add_space(4.0);
    scrolled(ui, |ui| {
        let mut job = before.clone();
        method::method_ui(ui, state, &mut job);
        ui.add_space(GROUP - 4.0);
        sharing::sharing_ui(ui, &mut job);
        whites::whites_ui(ui, &mut job);
        add::add_ui(ui, state, scratch, &mut job);
        ui.add_space(8.0);
        if job != before {
            commands.push(change(ui, job, "Change the separation"));
        }
    });
}

/// A named number with a slider.
#[expect(clippy::too_many_arguments, reason = "all of a slider")]
fn slider(
    ui: &mut Ui,
    name: &str,
    value: &mut f64,
    range: std::ops::RangeInclusive<f64>,
    decimals: usize,
    step: f64,
    unit: &str,
    hint: &str,
) -> bool {
    row(ui, name, |ui| {
        ui.spacing_mut().slider_width = (ui.available_width() - 72.0).max(50.0);
        let slider = egui::Slider::new(value, range)
            .clamping(egui::SliderClamping::Edits)
            .fixed_decimals(decimals)
            .step_by(step)
            .suffix(unit);
        let response = ui.add(slider).on_hover_text(hint);
        let now = *value;
        response.widget_info(|| WidgetInfo::slider(true, now, name));
        response.changed()
    })
}

/// A fraction shown in percent.
fn share(ui: &mut Ui, name: &str, value: &mut f64, hint: &str) {
    let mut percent = *value * 100.0;
    if slider(ui, name, &mut percent, 0.0..=100.0, 0, 1.0, " %", hint) {
        *value = percent / 100.0;
    }
}

/// A choice of a few; the names are the choices' own labels.
fn choice<T: Copy + PartialEq>(ui: &mut Ui, now: &mut T, all: &[(T, &str, &str)]) {
    ui.horizontal_wrapped(|ui| {
        for (value, label, hint) in all {
            if ui.selectable_label(*now == *value, *label).on_hover_text(*hint).clicked() {
                *now = *value;
            }
        }
    });
}
