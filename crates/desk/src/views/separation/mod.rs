//! How the art is separated: the method, how inks share the work, the whites, and new screens.
//! Every control changes the job at once; the proof follows.

mod add;
mod method;
mod sharing;
mod whites;

use egui::{Ui, WidgetInfo};

use crate::theme::{GROUP, palette};
use crate::widgets::{quiet, row, scrolled};
use crate::{Command, Workbench};

/// Draws the panel.
pub fn separation_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    let Some(before) = bench.doc.as_ref().map(|d| d.job.clone()) else {
        ui.label(quiet("No artwork yet.", p));
        return;
    };
    if let Some(proxy) = bench.proxy.as_ref().filter(|e| e.stamp == bench.stamp) {
        let prepared = proxy.pyramid.levels[0].prepared.clone();
        bench.method_desk.keep_up(&before, &prepared, bench.stamp);
    }
    ui.add_space(4.0);
    scrolled(ui, |ui| {
        let mut job = before.clone();
        method::method_ui(ui, bench, &mut job);
        ui.add_space(GROUP - 4.0);
        sharing::sharing_ui(ui, &mut job);
        whites::whites_ui(ui, bench, &mut job);
        add::add_ui(ui, bench, &mut job);
        ui.add_space(8.0);
        if job != before {
            let gesture = ui.input(|i| i.pointer.any_down()).then(|| "separation".to_owned());
            let what = "Change the separation".to_owned();
            bench.commands.push(Command::Change { job: Box::new(job), what, gesture });
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
