//! The table: the shirt with the print on it, or one of the other views; divider, zoom, pan and
//! the loupe.

use egui::{
    Align2, Color32, CornerRadius, CursorIcon, FontId, Key, PointerButton, Pos2, Rect, Response, Role, Sense, Stroke,
    StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

use crate::Command;
use crate::commands::Commands;
use crate::render::View;
use crate::render::shirt;
use crate::render::{BAND_STEPS, BUILD_UP_STEPS, DIFFERENCE_STEPS, Step};
use crate::state::State;
use crate::ui::theme::{Palette, palette};
use crate::ui::widgets::{color32, focus_ring};
use crate::view_state::Scratch;
use crate::view_state::Zoom;

/// Draws the table.
pub fn table_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let canvas = ui.max_rect();
    if scratch.art.cropping && state.doc().is_some() {
        super::art::crop_table_ui(ui, state, commands, canvas);
        return;
    }
    let response = ui.interact(canvas, ui.scope_id().with("table"), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, "Table"));
    let Some(print_mm) = state.print_rect_mm() else {
        waiting_ui(ui, state, canvas, p);
        return;
    };
    move_camera(ui, state, scratch, canvas, &response, print_mm);
    if let Some(mm) = scratch.ahead.bring.take() {
        scratch.camera.bring(canvas, mm);
    }
    let camera = scratch.camera;
    let print = camera.rect(canvas, print_mm);
    let views = scratch.views();
    let split_x = print.left() + print.width() * scratch.divider;
    scratch.seen.canvas_px = print.width() * ui.ctx().pixels_per_point();
    let fabric = scratch.fabric;
    let painter = ui.painter_at(canvas);
    let full = state.current_full();
    let panes = state.derived.panes();
    for (at, view) in views.into_iter().enumerate() {
        let Some(view) = view else { continue };
        let Some(look) = state.look(scratch, view) else { continue };
        let clip = match (views[1], at) {
            (None, _) => canvas,
            (Some(_), 0) => Rect::from_min_max(canvas.min, pos2(split_x, canvas.bottom())),
            (Some(_), _) => Rect::from_min_max(pos2(split_x, canvas.top()), canvas.max),
        };
        let side = painter.with_clip_rect(clip.intersect(canvas));
        let place = |mm: Pos2| camera.to_canvas(canvas, mm);
        let color = color32(look.garment.color);
        if view.on_shirt() {
            shirt::cloth(&side, place, color);
        }
        scratch.seen.missing[at] = panes[at].paint(&side, print, clip, full);
        if view.on_shirt() {
            shirt::folds_and_seams(&side, place, color, fabric);
        } else {
            side.rect_stroke(
                print,
                CornerRadius::ZERO,
                Stroke::new(1.0, Color32::from_black_alpha(120)),
                StrokeKind::Outside,
            );
        }
    }
    super::art::overlays_ui(&painter, state, scratch, canvas, print);
    let before_after = super::art::split_labels(state, scratch);
    let against = scratch.against.map(|against| [scratch.view.label(), against.label()]);
    if let Some(labels) = against.or(before_after) {
        divider_ui(ui, scratch, canvas, print, labels);
    }
    super::findings::place_ui(&painter, state, scratch, canvas, print);
    legend_ui(&painter, scratch, canvas);
    far_dots_ui(&painter, state, scratch, canvas);
    bar_ui(ui, state, scratch, commands, canvas);
    super::lasso::lasso_ui(ui, state, scratch, commands, canvas, print, &response);
    super::loupe::loupe_ui(ui, state, scratch, canvas, print, &response);
    focus_ring(&painter, canvas.shrink(5.0), &response, p);
}

fn waiting_ui(ui: &Ui, state: &State, canvas: Rect, p: &Palette) {
    let text = match (state.doc(), state.problem()) {
        (None, _) => "Drop a picture here, or open one",
        (_, Some(_)) => "No proof: see the line below",
        _ => "Making the proof",
    };
    ui.painter().text(canvas.center(), Align2::CENTER_CENTER, text, FontId::proportional(16.0), p.on_surround);
}

fn move_camera(ui: &Ui, state: &State, looking: &mut Scratch, canvas: Rect, response: &Response, print_mm: Rect) {
    let true_points_per_mm = state.session.machine.preferences().true_points_per_mm(ui.ctx());
    match looking.goal.take() {
        Some(Zoom::Print) => {
            looking.camera.show(canvas, print_mm.expand(6.0));
            looking.camera.fit = false;
        }
        Some(Zoom::ActualSize) => {
            looking.camera.points_per_mm = true_points_per_mm;
            looking.camera.centre_mm = print_mm.center();
            looking.camera.fit = false;
        }
        _ => {}
    }
    if looking.camera.fit {
        let below = if canvas.width() < NARROW { 36.0 } else { 0.0 };
        let below_bar = Rect::from_min_max(canvas.min + vec2(0.0, 40.0), canvas.max - vec2(0.0, below));
        looking.camera.show(below_bar, shirt::bounds_mm());
        let up = (below_bar.center() - canvas.center()) / looking.camera.points_per_mm;
        looking.camera.centre_mm -= up;
    }
    let drawing = looking.lasso.is_some();
    if (response.dragged_by(PointerButton::Primary) && !drawing) || response.dragged_by(PointerButton::Middle) {
        looking.camera.pan(response.drag_delta());
        ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
    }
    if let Some(pointer) = response.hover_pos() {
        let (pinch, scroll) = ui.input(|i| (i.zoom_delta(), i.smooth_scroll_delta()));
        let factor = pinch * (scroll.y / 240.0).exp();
        if (factor - 1.0).abs() > 1e-4 {
            looking.camera.zoom_at(canvas, pointer, factor);
        }
        if scroll.x != 0.0 {
            looking.camera.pan(vec2(scroll.x, 0.0));
        }
    }
    if response.double_clicked() && !drawing {
        looking.camera.fit = true;
    }
    if response.has_focus() {
        let filter = egui::EventFilter { horizontal_arrows: true, vertical_arrows: true, ..Default::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, filter));
        let step = if drawing { 0.0 } else { 40.0 };
        for (key, by) in [
            (Key::ArrowLeft, vec2(step, 0.0)),
            (Key::ArrowRight, vec2(-step, 0.0)),
            (Key::ArrowUp, vec2(0.0, step)),
            (Key::ArrowDown, vec2(0.0, -step)),
        ] {
            if ui.input(|i| i.key_pressed(key)) {
                looking.camera.pan(by);
            }
        }
    }
}

/// Room for the buttons right of the views, and a table's width under which those of the zoom go below
/// the shirt.
const COMPARE_WIDTH: f32 = 120.0;
const ZOOM_WIDTH: f32 = 300.0;
const NARROW: f32 = 800.0;

/// The bar of views with the zoom at its right, or below the shirt where the table is narrow.
fn bar_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands, canvas: Rect) {
    let p = palette(ui.ctx());
    let height = 30.0;
    let font = FontId::proportional(13.0);
    let words: Vec<f32> = View::ALL
        .iter()
        .map(|v| ui.painter().layout_no_wrap(v.label().into(), font.clone(), p.text).size().x)
        .collect();
    let room = canvas.width() - 34.0 - words.iter().sum::<f32>();
    let beside = (room / words.len() as f32).clamp(4.0, 26.0);
    let widths: Vec<f32> = words.into_iter().map(|width| width + beside).collect();
    let total: f32 = widths.iter().sum::<f32>() + 6.0;
    let bar = Rect::from_min_size(canvas.min + vec2(14.0, 10.0), vec2(total, height));
    ui.painter().rect_filled(bar, CornerRadius::same(15), p.panel);
    let mut x = bar.left() + 3.0;
    for (view, width) in View::ALL.into_iter().zip(widths) {
        let rect = Rect::from_min_size(pos2(x, bar.top() + 3.0), vec2(width, height - 6.0));
        x += width;
        let on = scratch.view == view;
        let response = ui.interact(rect, ui.scope_id().with(("view", view)), Sense::click());
        response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, on, view.label()));
        let (fill, text) = if on { (p.accent, p.on_accent) } else { (Color32::TRANSPARENT, p.text) };
        let fill = if response.hovered() && !on { p.card_hover } else { fill };
        ui.painter().rect_filled(rect, CornerRadius::same(12), fill);
        ui.painter().text(rect.center(), Align2::CENTER_CENTER, view.label(), font.clone(), text);
        focus_ring(ui.painter(), rect, &response, p);
        let hint = super::rail::hint(ui, &Command::Look(view)).replace(view.label(), view.hint());
        if response.on_hover_text(hint).clicked() {
            commands.push(Command::Look(view));
        }
    }
    let beside = canvas.right() - 14.0 - bar.right();
    let row = |left: f32, top: f32| Rect::from_min_size(pos2(left, top), vec2(canvas.right() - 14.0 - left, height));
    let compare =
        if beside > COMPARE_WIDTH { row(bar.right() + 12.0, bar.top()) } else { row(bar.left(), bar.bottom() + 6.0) };
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    ui.scope_builder(egui::UiBuilder::new().max_rect(compare).layout(layout), |ui| compare_ui(ui, scratch, commands));
    let top = if canvas.width() < NARROW { canvas.bottom() - height - 8.0 } else { bar.top() };
    let layout = egui::Layout::right_to_left(egui::Align::Center);
    let place = row((canvas.right() - 14.0 - ZOOM_WIDTH).max(canvas.left() + 4.0), top);
    ui.scope_builder(egui::UiBuilder::new().max_rect(place).layout(layout), |ui| zoom_ui(ui, state, scratch, commands));
}

fn compare_ui(ui: &mut Ui, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let label = match scratch.against {
        Some(view) => format!("against {}", view.label()),
        None => "compare".to_owned(),
    };
    let button = ui.add(egui::Button::new(label).fill(p.panel).corner_radius(15).min_size(vec2(0.0, 30.0)));
    let button = button.on_hover_text("Put a divider on the table and a second view at its right");
    egui::Popup::menu(&button).show(|ui| {
        for view in View::ALL {
            if ui.selectable_label(scratch.against == Some(view), view.label()).clicked() {
                commands.push(Command::Compare(Some(view)));
            }
        }
        if scratch.against.is_some() && ui.button("Stop comparing").clicked() {
            commands.push(Command::Compare(None));
        }
    });
}

fn zoom_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    let percent =
        scratch.camera.points_per_mm / state.session.machine.preferences().true_points_per_mm(ui.ctx()) * 100.0;
    for (command, text) in
        [(Command::ZoomFit, "garment"), (Command::ZoomPrint, "print"), (Command::ActualSize, "actual size")]
    {
        let button = egui::Button::new(egui::RichText::new(text).color(p.text)).fill(p.panel).corner_radius(13);
        if ui.add(button).on_hover_text(super::rail::hint(ui, &command)).clicked() {
            commands.push(command);
        }
    }
    // On a ground of its own: the shirt may be white here, or black.
    let frame = egui::Frame::NONE.fill(p.panel).corner_radius(13).inner_margin(egui::Margin::symmetric(10, 4));
    frame.show(ui, |ui| ui.label(egui::RichText::new(format!("{percent:.0} %")).color(p.weak)));
}

fn divider_ui(ui: &Ui, scratch: &mut Scratch, canvas: Rect, print: Rect, labels: [&str; 2]) {
    let p = palette(ui.ctx());
    let x = print.left() + print.width() * scratch.divider;
    let (top, bottom) = (print.top().max(canvas.top() + 50.0), print.bottom().min(canvas.bottom() - 10.0));
    let line = Rect::from_center_size(pos2(x, (top + bottom) / 2.0), vec2(14.0, (bottom - top).max(20.0)));
    let response = ui.interact(line, ui.scope_id().with("divider"), Sense::click_and_drag());
    let value = f64::from(scratch.divider) * 100.0;
    response.widget_info(|| WidgetInfo::slider(true, value, "Divider"));
    if response.dragged()
        && let Some(pointer) = response.interact_pointer_pos()
    {
        scratch.divider = ((pointer.x - print.left()) / print.width()).clamp(0.0, 1.0);
    }
    if response.has_focus() {
        let filter = egui::EventFilter { horizontal_arrows: true, ..Default::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, filter));
        let by = ui.input(|i| i.num_presses(Key::ArrowRight) as f32 - i.num_presses(Key::ArrowLeft) as f32);
        scratch.divider = (scratch.divider + by * 0.02).clamp(0.0, 1.0);
    }
    let painter = ui.painter_at(canvas);
    painter.vline(x, top..=bottom, Stroke::new(3.0, Color32::from_black_alpha(90)));
    painter.vline(x, top..=bottom, Stroke::new(1.5, Color32::WHITE));
    let knob = pos2(x, line.center().y);
    painter.circle(knob, 9.0, Color32::WHITE, Stroke::new(1.0, Color32::from_black_alpha(120)));
    if response.has_focus() {
        painter.circle_stroke(knob, 12.0, Stroke::new(2.0, p.accent));
    }
    response.on_hover_cursor(CursorIcon::ResizeHorizontal);
    let font = FontId::proportional(12.0);
    for (text, at, anchor) in [
        (labels[0], pos2(x - 10.0, bottom - 4.0), Align2::RIGHT_BOTTOM),
        (labels[1], pos2(x + 10.0, bottom - 4.0), Align2::LEFT_BOTTOM),
    ] {
        let galley = painter.layout_no_wrap(text.to_owned(), font.clone(), p.text);
        let rect = anchor.anchor_size(at, galley.size());
        painter.rect_filled(rect.expand2(vec2(6.0, 3.0)), CornerRadius::same(4), p.panel);
        painter.galley(rect.min, galley, p.text);
    }
}

/// Says why no dots are seen.
fn far_dots_ui(painter: &egui::Painter, state: &State, scratch: &Scratch, canvas: Rect) {
    let Some(doc) = state.doc() else { return };
    let canvas_ppi = f64::from(scratch.camera.points_per_mm * painter.pixels_per_point()) * 25.4;
    let text = if canvas_ppi < doc.job.film.ruling.get() * 3.0 {
        "Zoom in to see the dots"
    } else if state.current_full().is_none() {
        "Dots come when the full size is ready"
    } else {
        return;
    };
    if scratch.view == View::Dots || scratch.against == Some(View::Dots) {
        let p = palette(painter.ctx());
        // Above the print: below it stand the divider's words.
        let at = canvas.center_top() + vec2(0.0, 62.0);
        let galley = painter.layout_no_wrap(text.to_owned(), FontId::proportional(13.0), p.text);
        let rect = Rect::from_center_size(at, galley.size());
        painter.rect_filled(rect.expand2(vec2(12.0, 6.0)), CornerRadius::same(12), p.panel);
        painter.galley(rect.min, galley, p.text);
    }
}

/// The numbers of a scale, where a view uses one.
fn legend_ui(painter: &egui::Painter, scratch: &Scratch, canvas: Rect) {
    let p = palette(painter.ctx());
    let views = [Some(scratch.view), scratch.against];
    let (title, steps, unit): (_, &[Step], _) = if views.contains(&Some(View::Difference)) {
        ("dE, CIEDE2000", &DIFFERENCE_STEPS, "")
    } else if views.contains(&Some(View::Sure)) {
        ("colour within, 19 times of 20", &BAND_STEPS, "")
    } else if views.contains(&Some(View::BuildUp)) {
        ("build-up", &BUILD_UP_STEPS, " %")
    } else {
        return;
    };
    let cell = vec2(54.0, 12.0);
    let size = vec2(cell.x * steps.len() as f32 + 20.0, 54.0);
    let frame = Rect::from_min_size(pos2(canvas.left() + 14.0, canvas.bottom() - size.y - 12.0), size);
    painter.rect_filled(frame, CornerRadius::same(8), p.panel);
    let font = FontId::proportional(11.5);
    painter.text(frame.min + vec2(10.0, 6.0), Align2::LEFT_TOP, title, font.clone(), p.text);
    for (at, step) in steps.iter().enumerate() {
        let rect = Rect::from_min_size(frame.min + vec2(10.0 + at as f32 * cell.x, 24.0), cell);
        painter.rect_filled(rect, CornerRadius::ZERO, step.color);
        let text = format!("{:.0}{unit}", step.value);
        painter.text(rect.left_bottom() + vec2(0.0, 2.0), Align2::LEFT_TOP, text, font.clone(), p.weak);
    }
}
