//! The findings' drawer: what will go wrong on press, each with its number, what it is based on, where
//! it is and what would fix it. Shut until it is opened; the line below says how many there are.

use egui::{
    CollapsingHeader, Color32, CornerRadius, Frame, Margin, Painter, Panel, Rect, RichText, Role, ScrollArea, Stroke,
    StrokeKind, Ui, WidgetInfo, pos2, vec2,
};
use strikeoff_core::findings::{Finding, Fix, Severity};
use strikeoff_core::job::Job;

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::ui::format::trim;
use crate::ui::theme::{CORNER, palette};
use crate::ui::widgets::{quiet, strong, text_button};
use crate::view_state::Scratch;

/// How many findings there are; opens and shuts the drawer.
pub fn chip_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    if state.doc().is_none() {
        return;
    }
    let (text, color) = match state.outlook() {
        None => ("checking".to_owned(), p.weak),
        Some(look) if look.findings.is_empty() => ("no findings".to_owned(), p.weak),
        Some(look) => {
            let faults = look.findings.iter().filter(|f| f.severity == Severity::Fault).count();
            let all = look.findings.len();
            let noun = if all == 1 { "finding" } else { "findings" };
            let text = if faults > 0 { format!("{all} {noun}, {faults} to fix") } else { format!("{all} {noun}") };
            let own = state.doc().map(|doc| &doc.job.garment).filter(|own| {
                state.doc().and_then(|doc| doc.garments.get(scratch.garment)).is_some_and(|seen| seen != *own)
            });
            let text = own.map_or(text.clone(), |own| format!("{text} on {}", own.name));
            (text, if faults > 0 { p.stop } else { p.text })
        }
    };
    let button = ui.add(egui::Button::new(RichText::new(&text).color(color).small()).fill(p.card));
    button.widget_info(|| WidgetInfo::selected(Role::Button, true, scratch.ahead.open, format!("Findings: {text}")));
    if button.on_hover_text(super::rail::hint(ui, &Command::ToggleFindings)).clicked() {
        commands.push(Command::ToggleFindings);
    }
}

/// The drawer, if it is open.
pub fn drawer_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    if !scratch.ahead.open || state.doc().is_none() {
        return;
    }
    let p = palette(ui.ctx());
    let frame = Frame::NONE.fill(p.panel).inner_margin(Margin::symmetric(12, 8)).stroke(Stroke::new(1.0, p.line));
    // What a section holds never makes the drawer wider: it would stand over the window's edge.
    let panel = Panel::right("findings").exact_size(316.0).resizable(false).show_separator_line(false).frame(frame);
    panel.show(ui, |ui| super::contained(ui, |ui| content_ui(ui, state, scratch, commands)));
}

fn content_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        ui.label(strong("What will happen on press", p));
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if text_button(ui, "close", "Close findings", false).clicked() {
                commands.push(Command::ToggleFindings);
            }
        });
    });
    if let Some(doc) = state.doc()
        && let Some(looked_at) = doc.garments.get(scratch.garment).filter(|g| **g != doc.job.garment)
    {
        let (own, other) = (&doc.job.garment.name, &looked_at.name);
        let text = format!("These are for {own}, which the screens are made for. The table shows {other}.");
        ui.label(RichText::new(text).color(p.text));
    }
    ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
        list_ui(ui, state, scratch, commands);
        super::foresee::sections_ui(ui, state, scratch, commands);
    });
}

fn list_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let Some(look) = state.outlook() else {
        ui.horizontal(|ui| {
            ui.spinner();
            ui.label(quiet("checking the full size", p));
        });
        return;
    };
    if look.findings.is_empty() {
        ui.label(RichText::new("Nothing that matters was found.").color(p.weak));
        return;
    }
    let shown = scratch.ahead.shown;
    let Some(job) = state.doc().map(|d| d.job.clone()) else { return };
    for (at, finding) in look.findings.iter().enumerate() {
        if let Some(command) = finding_ui(ui, finding, at, shown == Some(at), &job) {
            commands.push(command);
        }
    }
}

fn finding_ui(ui: &mut Ui, finding: &Finding, at: usize, shown: bool, job: &Job) -> Option<Command> {
    let p = palette(ui.ctx());
    let mut send = None;
    let edge = if shown { p.accent } else { p.line };
    let frame = Frame::NONE
        .fill(p.card)
        .corner_radius(CornerRadius::same(CORNER))
        .stroke(Stroke::new(1.0, edge))
        .inner_margin(Margin::symmetric(10, 8));
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.horizontal(|ui| {
            // A word as well as a colour.
            let (word, color) = match finding.severity {
                Severity::Fault => ("fix", p.stop),
                Severity::Caution => ("watch", p.weak),
            };
            ui.label(strong(finding.kind.label(), p));
            ui.label(RichText::new(word).small().strong().color(color));
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if finding.place.is_some() {
                    let name = format!("Show where: {} {}", finding.kind.label(), at + 1);
                    if text_button(ui, if shown { "shown" } else { "where" }, &name, shown).clicked() {
                        send = Some(Command::ShowFinding((!shown).then_some(at)));
                    }
                }
            });
        });
        ui.label(RichText::new(&finding.what).color(p.text));
        ui.label(quiet(finding.number.to_string(), p));
        for fix in &finding.fixes {
            if let Some(command) = fix_ui(ui, fix, job) {
                send = Some(command);
            }
        }
        CollapsingHeader::new(quiet("based on", p)).id_salt(("rests on", at)).show(ui, |ui| {
            for input in &finding.inputs {
                ui.label(quiet(input.to_string(), p));
            }
        });
    });
    send
}

/// A button that applies a fix as one step that undo takes back.
fn fix_ui(ui: &mut Ui, fix: &Fix, job: &Job) -> Option<Command> {
    let p = palette(ui.ctx());
    let text = RichText::new(&fix.label).color(p.text).small();
    let button = egui::Button::new(text).fill(p.well).wrap().min_size(vec2(ui.available_width(), 26.0));
    let response = ui.add(button);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("Fix: {}", fix.label)));
    response.on_hover_text("Apply this to the job; undo reverses it").clicked().then(|| {
        let mut job = job.clone();
        fix.apply(&mut job);
        Command::Change { job: Box::new(job), what: fix.label.clone(), drag: false }
    })
}

/// The shown finding's map over the print, with a box around it.
pub fn place_ui(painter: &Painter, state: &State, scratch: &Scratch, canvas: Rect, print: Rect) {
    let p = palette(painter.ctx());
    if let Some(moved) = scratch.ahead.moved.as_ref().filter(|m| m.mm != [0.0, 0.0]) {
        let text = format!(
            "{} is {} mm to the right and {} mm down",
            moved.screen,
            trim(moved.mm[0], 2),
            trim(moved.mm[1], 2)
        );
        let galley = painter.layout_no_wrap(text, egui::FontId::proportional(12.5), p.text);
        let rect = Rect::from_center_size(pos2(canvas.center().x, canvas.top() + 58.0), galley.size());
        painter.rect_filled(rect.expand2(vec2(10.0, 5.0)), CornerRadius::same(10), p.panel);
        painter.galley(rect.min, galley, p.text);
    }
    let Some(at) = scratch.ahead.shown else { return };
    let Some(look) = state.outlook() else { return };
    let Some(place) = look.findings.get(at).and_then(|f| f.place.as_ref()) else { return };
    if let Some(texture) = state.place_of(at) {
        painter.image(texture.id(), print, Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0)), Color32::WHITE);
    }
    let Some([w, h]) = state.print_size_mm() else { return };
    let [x, y, across, down] = place.region_mm;
    let corner = |x: f64, y: f64| print.min + vec2((x / w) as f32, (y / h) as f32) * print.size();
    let rect = Rect::from_min_max(corner(x, y), corner(x + across, y + down)).expand(3.0);
    painter.rect_stroke(
        rect,
        CornerRadius::same(3),
        Stroke::new(3.0, Color32::from_black_alpha(110)),
        StrokeKind::Outside,
    );
    painter.rect_stroke(rect, CornerRadius::same(3), Stroke::new(1.5, Color32::WHITE), StrokeKind::Outside);
}
