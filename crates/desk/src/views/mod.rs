//! The areas of the window, a file each. They draw the state and send commands.

mod add_edit;
mod art;
mod costs;
mod curve;
mod dropped;
mod edit_values;
mod edits;
mod export;
mod film_card;
mod film_sets;
mod find;
mod findings;
mod foresee;
mod ink_list;
mod ink_room;
mod inks;
mod jobs;
mod kept_sheets;
mod keys;
mod lasso;
mod loupe;
mod make;
mod paper;
mod preferences;
mod press_order;
mod quote;
mod rail;
mod rates;
mod reorder;
mod run;
mod screen;
mod screen_table;
mod separation;
mod sheets;
mod side;
mod status;
mod sure;
mod table;
mod ticket;
mod tour;
mod typed;
mod versions;

pub use find::everything;
pub use keys::keys;

use egui::{CentralPanel, Frame, Margin, Panel, Ui, UiBuilder};

use strikeoff_core::job::Job;

use crate::Command;
use crate::commands::Commands;
use crate::state::State;
use crate::telemetry::Stopwatch;
use crate::ui::theme::palette;
use crate::ui::widgets::{GUTTER, dragging};
use crate::view_state::Scratch;

/// The whole window.
pub fn window_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, watch: &mut Stopwatch) {
    let p = palette(ui.ctx());
    // On a small window the panels give way to the table, and the drawer takes the screen's place.
    let width = ui.available_width();
    let [art, side] = if width < 1100.0 { [226.0, 288.0] } else { [264.0, 320.0] };
    let drawer_instead = scratch.ahead.open && state.doc().is_some() && width < 1500.0;
    let frame = |x: i8, y: i8| Frame::NONE.fill(p.panel).inner_margin(Margin::symmetric(x, y));
    // Columns that scroll bring the rest of their margin themselves.
    let column =
        |x: i8| Frame::NONE.fill(p.panel).inner_margin(Margin { right: x - GUTTER, ..Margin::symmetric(x, 8) });
    Panel::top("rail").exact_size(50.0).resizable(false).show_separator_line(false).frame(frame(16, 0)).show(
        ui,
        |ui| {
            rail::rail_ui(ui, state, scratch, commands);
        },
    );
    watch.lap("rail");
    Panel::bottom("status").exact_size(32.0).resizable(false).show_separator_line(false).frame(frame(16, 0)).show(
        ui,
        |ui| {
            status::status_ui(ui, state, scratch, commands);
        },
    );
    watch.lap("status");
    Panel::bottom("press order")
        .exact_size(press_order::height(state, scratch))
        .resizable(false)
        .show_separator_line(false)
        .frame(frame(16, 8))
        .show(ui, |ui| press_order::press_order_ui(ui, state, scratch, commands));
    watch.lap("press order");
    Panel::left("artwork").exact_size(art).resizable(false).show_separator_line(false).frame(column(12)).show(
        ui,
        |ui| {
            contained(ui, |ui| art::art_ui(ui, state, scratch, commands));
        },
    );
    watch.lap("art");
    if !drawer_instead {
        let panel = Panel::right("screen").exact_size(side).resizable(false).show_separator_line(false);
        panel.frame(column(14)).show(ui, |ui| contained(ui, |ui| side::side_ui(ui, state, scratch, commands)));
    }
    watch.lap("side");
    findings::drawer_ui(ui, state, scratch, commands);
    watch.lap("findings");
    CentralPanel::no_frame()
        .frame(Frame::NONE.fill(p.surround))
        .show(ui, |ui| table::table_ui(ui, state, scratch, commands));
    watch.lap("table");
    sheets::sheets_ui(ui.ctx(), state, scratch, commands);
    tour::tour_ui(ui.ctx(), scratch, commands);
    watch.lap("sheets");
}

/// Keeps what a panel holds from making it wider: the table would take its place as if it had moved.
fn contained(ui: &mut Ui, add: impl FnOnce(&mut Ui)) {
    let place = ui.max_rect();
    add(&mut ui.new_child(UiBuilder::new().max_rect(place)));
    ui.advance_cursor_after_rect(place);
}

/// A change of the job by a control: what belongs to one drag of the pointer is one step of undo.
fn change(ui: &Ui, job: Job, what: impl Into<String>) -> Command {
    Command::Change { job: Box::new(job), what: what.into(), drag: dragging(ui) }
}
