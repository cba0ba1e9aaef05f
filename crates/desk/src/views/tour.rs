//! Five hints for the first run, one after the other, each beside what it speaks of. They go with
//! Esc or "No more hints" and come back from the start sheet.

use egui::{Align2, Area, Context, Frame, Id, Order, RichText, Stroke, pos2};

use crate::Command;
use crate::commands::Commands;
use crate::ui::theme::{CORNER, palette};
use crate::ui::widgets::{main_button, plain_button, quiet};
use crate::view_state::Scratch;

/// Where a hint hangs and what it says.
const HINTS: [(Align2, [f32; 2], &str, &str); 5] = [
    (
        Align2::CENTER_CENTER,
        [0.0, -60.0],
        "The shirt as it will print",
        "Drop a picture on the window to start a job. Scroll to zoom, drag to move, hold the pointer still to read the inks at a spot.",
    ),
    (
        Align2::LEFT_CENTER,
        [290.0, -40.0],
        "The client's artwork",
        "Crop, size, clean-up and background. The card says what resolution is truly there at print size.",
    ),
    (
        Align2::CENTER_BOTTOM,
        [0.0, -210.0],
        "The press, first down at the left",
        "Drag a card to another place to change the print order, or onto another card to merge. Click between two for a flash.",
    ),
    (
        Align2::RIGHT_CENTER,
        [-330.0, -40.0],
        "The chosen screen",
        "Its ink, curve, trim and film. What the shirt loses without it is shown before you drop it.",
    ),
    (
        Align2::RIGHT_TOP,
        [-16.0, 62.0],
        "Films",
        "When the shirt looks right: films or spot-colour files at true size. Ctrl+K finds any command by name.",
    ),
];

/// Draws the hint that is due.
pub fn tour_ui(ctx: &Context, scratch: &Scratch, commands: &mut Commands) {
    let Some(at) = scratch.tour else { return };
    let Some((align, offset, title, text)) = HINTS.get(at) else { return };
    let p = palette(ctx);
    let window = ctx.content_rect();
    let anchor = align.pos_in_rect(&window) + egui::Vec2::from(*offset);
    Area::new(Id::unique("tour")).order(Order::Foreground).pivot(*align).fixed_pos(pos2(anchor.x, anchor.y)).show(
        ctx,
        |ui| {
            let frame =
                Frame::popup(ui.style()).fill(p.card).stroke(Stroke::new(2.0, p.accent)).corner_radius(CORNER + 2);
            frame.inner_margin(14).show(ui, |ui| {
                ui.set_width(300.0);
                ui.label(RichText::new(*title).heading());
                ui.add(egui::Label::new(*text).wrap());
                ui.add_space(6.0);
                ui.horizontal(|ui| {
                    let last = at + 1 == HINTS.len();
                    if main_button(ui, if last { "Done" } else { "Next hint" }, true).clicked() {
                        commands.push(Command::Tour((!last).then_some(at + 1)));
                    }
                    if !last && plain_button(ui, "No more hints").clicked() {
                        commands.push(Command::Tour(None));
                    }
                    ui.label(quiet(format!("{} of {}", at + 1, HINTS.len()), p));
                });
            });
        },
    );
}
