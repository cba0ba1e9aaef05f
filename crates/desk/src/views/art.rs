//! The artwork: the client's picture, what its resolution is worth at print size, and how it is
//! prepared.

use egui::{
    CornerRadius, DragValue, Rect, Role, ScrollArea, Sense, TextureHandle, TextureOptions, Ui, WidgetInfo, pos2, vec2,
};
use strikeoff_core::job::Job;
use strikeoff_core::prep::CropBox;
use strikeoff_core::units::{Mm, Ppi};

use crate::format::trim;
use crate::theme::{GROUP, palette};
use crate::widgets::{card, quiet, row, strong};
use crate::{Command, View, Workbench};

/// Draws the panel.
pub fn art_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        ui.add_space(2.0);
        ui.label(strong("Artwork", p));
        if let Some(doc) = &bench.doc {
            ui.add(egui::Label::new(quiet(&doc.art_name, p)).truncate());
        }
    });
    if bench.doc.is_none() {
        ui.label(quiet("No artwork yet.", p));
        return;
    }
    ScrollArea::vertical().auto_shrink([false, true]).show(ui, |ui| {
        thumbnail_ui(ui, bench);
        ui.add_space(4.0);
        resolution_ui(ui, bench);
        ui.add_space(GROUP - 4.0);
        let Some(doc) = &bench.doc else { return };
        let mut job = doc.job.clone();
        size_ui(ui, &mut job);
        let doc_job = &doc.job;
        if job != *doc_job {
            let gesture = ui.input(|i| i.pointer.any_down()).then(|| "prepare".to_owned());
            bench.commands.push(Command::Change { job: Box::new(job), what: "Prepare artwork".into(), gesture });
        }
    });
}

fn thumbnail_ui(ui: &mut Ui, bench: &mut Workbench) {
    let p = palette(ui.ctx());
    let Some(texture) = thumbnail(ui, bench) else { return };
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 168.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Look at the artwork"));
    ui.painter().rect_filled(rect, CornerRadius::same(6), p.well);
    let size = texture.size_vec2();
    let fit = size * ((rect.size() - vec2(16.0, 16.0)) / size).min_elem();
    let place = Rect::from_center_size(rect.center(), fit);
    let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    ui.painter().image(texture.id(), place, uv, egui::Color32::WHITE);
    crate::widgets::focus_ring(ui.painter(), rect, &response, p);
    let response = response.on_hover_text("Hold to see the artwork on the table");
    // Held down: before and after, on the spot.
    if response.is_pointer_button_down_on() {
        bench.looking.peek = true;
    }
    if response.clicked_by(egui::PointerButton::Primary) && ui.input(|i| i.key_pressed(egui::Key::Enter)) {
        bench.commands.push(Command::Look(View::Art));
    }
}

/// The prepared picture, small, made anew when the proxy is.
fn thumbnail(ui: &Ui, bench: &mut Workbench) -> Option<TextureHandle> {
    let proxy = bench.proxy.as_ref()?;
    let stamp = proxy.stamp;
    if bench.thumbnail.as_ref().is_none_or(|(old, _)| *old != stamp) {
        let picture = &proxy.pyramid.levels.last()?.prepared.picture;
        let rgba = picture.to_rgba8();
        let image = egui::ColorImage::from_rgba_unmultiplied([picture.width(), picture.height()], &rgba);
        let texture = ui.ctx().load_texture("artwork", image, TextureOptions::LINEAR);
        bench.thumbnail = Some((stamp, texture));
    }
    bench.thumbnail.as_ref().map(|(_, texture)| texture.clone())
}

fn resolution_ui(ui: &mut Ui, bench: &Workbench) {
    let p = palette(ui.ctx());
    let (Some(doc), Some(proxy)) = (&bench.doc, &bench.proxy) else { return };
    let Some(level) = proxy.pyramid.levels.first() else { return };
    let true_ppi = level.prepared.true_ppi;
    let ratio = true_ppi / doc.job.film.ruling.get();
    ui.label(strong(format!("True {true_ppi:.0} ppi at print size"), p));
    // Common practice, no source: two pixels a dot is plenty, one and a half holds tones.
    let meaning = match ratio {
        r if r >= 2.0 => "fine edges hold.",
        r if r >= 1.5 => "tones hold, fine edges will be soft.",
        r if r >= 1.0 => "tones hold, edges will be soft.",
        _ => "soft all over; ask for larger artwork or print smaller.",
    };
    ui.label(quiet(format!("{ratio:.1}x the {} lpi ruling: {meaning}", doc.job.film.ruling), p));
}

fn size_ui(ui: &mut Ui, job: &mut Job) {
    card(ui, "Size", |ui| {
        limit_ui(ui, "Height up to", &mut job.prep.max_height_mm);
        limit_ui(ui, "Width up to", &mut job.prep.max_width_mm);
        row(ui, "Working", |ui| {
            let mut ppi = job.prep.ppi.get();
            let field = DragValue::new(&mut ppi)
                .clamp_existing_to_range(false)
                .range(72.0..=600.0)
                .speed(1.0)
                .suffix(" ppi")
                .update_while_editing(false);
            ui.add(field).on_hover_text("Resolution that screens are computed at, at print size");
            if let Ok(ppi) = Ppi::new(ppi) {
                job.prep.ppi = ppi;
            }
        });
    });
    ui.add_space(8.0);
    card(ui, "Sharpen", |ui| {
        row(ui, "Radius", |ui| {
            let mut mm = job.prep.sharpen_radius_mm.get();
            ui.add(
                DragValue::new(&mut mm)
                    .clamp_existing_to_range(false)
                    .range(0.0..=2.0)
                    .speed(0.005)
                    .fixed_decimals(2)
                    .suffix(" mm"),
            )
            .on_hover_text("Radius on the print");
            job.prep.sharpen_radius_mm = Mm::new(mm).unwrap_or(job.prep.sharpen_radius_mm);
        });
        row(ui, "Strength", |ui| {
            ui.add(
                DragValue::new(&mut job.prep.sharpen_amount)
                    .clamp_existing_to_range(false)
                    .range(0.0..=3.0)
                    .speed(0.01)
                    .fixed_decimals(2),
            );
        });
    });
    ui.add_space(8.0);
    card(ui, "Crop", |ui| crop_ui(ui, job));
    ui.add_space(8.0);
}

/// What is cut off each side, in percent of the artwork.
fn crop_ui(ui: &mut Ui, job: &mut Job) {
    let whole = CropBox { left: 0.0, top: 0.0, width: 1.0, height: 1.0 };
    let now = job.prep.crop.unwrap_or(whole);
    let mut cut = [now.left, 1.0 - now.left - now.width, now.top, 1.0 - now.top - now.height].map(|v| v * 100.0);
    let before = cut;
    for (at, name) in ["Left", "Right", "Top", "Bottom"].into_iter().enumerate() {
        row(ui, name, |ui| {
            let field = DragValue::new(&mut cut[at])
                .clamp_existing_to_range(false)
                .range(0.0..=90.0)
                .speed(0.2)
                .fixed_decimals(1)
                .suffix(" %");
            ui.add(field).on_hover_text(format!("Cut off at the {}", name.to_lowercase()));
        });
    }
    if cut != before {
        let [left, right, top, bottom] = cut.map(|v| v / 100.0);
        let crop = CropBox { left, top, width: (1.0 - left - right).max(0.05), height: (1.0 - top - bottom).max(0.05) };
        job.prep.crop = (crop != whole).then_some(crop);
    }
}

/// A limit in inches that may be absent.
fn limit_ui(ui: &mut Ui, name: &str, limit: &mut Option<Mm>) {
    row(ui, name, |ui| {
        let mut on = limit.is_some();
        let tick = ui.checkbox(&mut on, "").on_hover_text(format!("{name}: limit it or not"));
        tick.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, on, format!("Limit {}", name.to_lowercase())));
        let mut inches = limit.map_or(18.0, Mm::inches);
        let field = DragValue::new(&mut inches)
            .clamp_existing_to_range(false)
            .range(0.5..=40.0)
            .speed(0.05)
            .suffix(" in")
            .update_while_editing(false)
            .custom_formatter(|v, _| trim(v, 2));
        ui.add_enabled(on, field).on_hover_text(format!("{name}, inches"));
        *limit = if on { Mm::from_inches(inches).ok() } else { None };
    });
}
