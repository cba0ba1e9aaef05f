//! The press order: a card a screen, first down at the left, with flashes between and empty
//! heads at the end. Cards are dragged to another place, or onto another card to merge.

use egui::{
    Align2, Color32, CornerRadius, CursorIcon, FontId, Id, Key, Pos2, Rect, Role, ScrollArea, Sense, Shape, Stroke,
    StrokeKind, Ui, WidgetInfo, pos2, vec2,
};
use strikeoff_core::press::Stop;
use strikeoff_core::screens::ScreenName;

use crate::Command;
use crate::commands::Commands;
use crate::render::View;
use crate::state::State;
use crate::ui::format::{ordinal, percent};
use crate::ui::theme::{CORNER, Palette, palette};
use crate::ui::widgets::{bar, color32, disc, focus_ring, paint_button, quiet, strong, text_in};
use crate::view_state::Scratch;

const CARD: egui::Vec2 = vec2(184.0, 100.0);
const GAP: f32 = 26.0;
const FLASH_WIDTH: f32 = 74.0;

/// What a card shows.
struct Card {
    name: ScreenName,
    ink: String,
    color: Color32,
    coverage: f64,
    detail: String,
    hits: u8,
    stop: Option<Stop>,
}

/// Height of the row with its heading: the table takes more for more screens, within bounds.
pub fn height(state: &State, scratch: &Scratch) -> f32 {
    let rows = if scratch.costs.table { state.screen_names().len() + 1 } else { 0 };
    (48.0 + super::screen_table::ROW * rows as f32).clamp(154.0, 330.0)
}

/// Where a dragged card would land.
#[derive(Clone, PartialEq)]
enum Landing {
    Place(usize),
    Onto(ScreenName),
}

/// Draws the row.
pub fn press_order_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.horizontal(|ui| {
        ui.label(strong("Press order", p));
        let table = &mut scratch.costs.table;
        ui.label(quiet(if *table { "first down at the top" } else { "first down at the left" }, p));
        for (on, text, name) in
            [(false, "cards", "Screens as cards"), (true, "table", "Screens as a table with their costs")]
        {
            if crate::ui::widgets::text_button(ui, text, name, *table == on).clicked() {
                *table = on;
            }
        }
        if !scratch.hidden.is_empty() {
            let text = format!("{} hidden, show all", scratch.hidden.len());
            if crate::ui::widgets::text_button(ui, &text, "Show all screens", false).clicked() {
                commands.push(Command::ShowAll);
            }
        }
    });
    ui.add_space(4.0);
    if scratch.costs.table {
        return super::screen_table::screen_table_ui(ui, state, scratch, commands);
    }
    let cards = cards(state, scratch);
    let heads = state.doc().map_or(0, |d| usize::from(d.job.run.heads));
    let used = super::rail::heads_used(state);
    ScrollArea::horizontal().auto_shrink([false, true]).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            let mut places = Vec::new();
            for (at, card) in cards.iter().enumerate() {
                places.push(card_ui(ui, state, scratch, commands, card, at, cards.len()));
                if at + 1 < cards.len() {
                    stop_ui(ui, commands, card);
                }
            }
            for empty in used..heads {
                ui.add_space(if empty == used { GAP } else { 10.0 });
                empty_ui(ui, p);
            }
            land_ui(ui, commands, &cards, &places);
        });
    });
}

fn cards(state: &State, scratch: &Scratch) -> Vec<Card> {
    let (Some(doc), Some(pyramid)) = (state.doc(), state.pyramid()) else { return Vec::new() };
    let seen_on = state.look(scratch, View::Print);
    let Some(level) = pyramid.levels.last() else { return Vec::new() };
    let of = |(s, tones): (&strikeoff_core::screens::Screen, &crate::render::Tones)| {
        let (ruling, ..) = doc.job.film.of_screen(&s.name);
        let threads = doc.job.run.mesh_of(&s.name).threads_per_inch;
        let without = seen_on.as_ref().filter(|look| look.left_out.contains(&s.name));
        Card {
            name: s.name.clone(),
            ink: s.ink.name.clone(),
            color: color32(s.ink.over_white),
            coverage: tones.mean,
            detail: match without {
                Some(look) => format!("not on {}", look.garment.name),
                None => format!("{threads:.0} mesh, {ruling} lpi"),
            },
            hits: s.hits,
            stop: doc.job.press.stops.get(&s.name).copied(),
        }
    };
    level.screens.list.iter().zip(&pyramid.tones).map(of).collect()
}

fn drag_id() -> Id {
    Id::unique("dragged screen")
}

fn card_ui(
    ui: &mut Ui,
    state: &State,
    scratch: &Scratch,
    commands: &mut Commands,
    card: &Card,
    at: usize,
    count: usize,
) -> Rect {
    let p = palette(ui.ctx());
    let (rect, _) = ui.allocate_exact_size(CARD, Sense::hover());
    let id = Id::unique("screen card").with(&card.name);
    let response = ui.interact(rect, id, Sense::click_and_drag());
    let chosen = scratch.selected.as_deref() == Some(&card.name);
    let shown = !scratch.hidden.contains(&card.name);
    let how = if shown { "visible" } else { "hidden" };
    response.widget_info(|| {
        let covers = percent(card.coverage);
        let text = format!("Screen {}, {} of {count}, covers {covers}, {}, {how}", card.name, at + 1, card.detail);
        WidgetInfo::selected(Role::ListBoxOption, true, chosen, text)
    });
    let fill = if response.hovered() { p.card_hover } else { p.card };
    let (width, edge) = if chosen { (2.0, p.accent) } else { (1.0, p.line) };
    ui.painter().rect(rect, CornerRadius::same(CORNER + 2), fill, Stroke::new(width, edge), StrokeKind::Inside);
    focus_ring(ui.painter(), rect, &response, p);
    paint_card(ui, rect, card, at, shown, p);
    buttons_ui(ui, state, scratch, commands, rect, card, shown);
    if ui.ctx().dragged_id() == Some(id) {
        ui.data_mut(|d| d.insert_temp(drag_id(), card.name.clone()));
        ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
    }
    let by_space = ui.input(|i| i.key_pressed(Key::Space));
    if response.clicked() {
        let name = card.name.clone();
        commands.push(if by_space { Command::ToggleShown(name) } else { Command::Select(Some(name)) });
    }
    if response.has_focus() {
        let filter = egui::EventFilter { horizontal_arrows: true, ..Default::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
        let left = ui.input(|i| i.key_pressed(Key::ArrowLeft));
        let right = ui.input(|i| i.key_pressed(Key::ArrowRight));
        let to = if left { at.checked_sub(1) } else { (right && at + 1 < count).then_some(at + 1) };
        if let Some(to) = to {
            commands.push(Command::Move { screen: card.name.clone(), to });
        }
    }
    menu_ui(state, commands, &response, card, at, count);
    rect
}

fn paint_card(ui: &Ui, rect: Rect, card: &Card, at: usize, shown: bool, p: &Palette) {
    let painter = ui.painter();
    let text = if shown { p.text } else { p.weak };
    let centre = rect.min + vec2(32.0, 34.0);
    disc(painter, centre, 18.0, if shown { card.color } else { card.color.gamma_multiply(0.35) }, p.weak);
    let x = rect.left() + 62.0;
    text_in(ui, pos2(x, rect.top() + 15.0), rect.right() - x - 26.0, &card.name, FontId::proportional(13.5), text);
    let detail = if card.name == card.ink { card.detail.clone() } else { format!("{}, {}", card.ink, card.detail) };
    text_in(ui, pos2(x, rect.top() + 34.0), rect.right() - x - 10.0, &detail, FontId::proportional(11.5), p.weak);
    if card.hits > 1 {
        let place = pos2(rect.right() - 12.0, rect.bottom() - 16.0);
        let text = format!("{} hits", card.hits);
        painter.text(place, Align2::RIGHT_CENTER, text, FontId::proportional(11.5), p.weak);
    }
    let number = pos2(rect.right() - 12.0, rect.top() + 9.0);
    painter.text(number, Align2::RIGHT_TOP, at + 1, FontId::proportional(11.5), p.weak);
    let track = Rect::from_min_size(rect.min + vec2(14.0, 64.0), vec2(rect.width() - 72.0, 6.0));
    bar(painter, track, card.coverage as f32, p);
    let end = pos2(rect.right() - 12.0, track.center().y);
    painter.text(end, Align2::RIGHT_CENTER, percent(card.coverage), FontId::proportional(12.0), text);
}

fn buttons_ui(
    ui: &Ui,
    state: &State,
    scratch: &Scratch,
    commands: &mut Commands,
    rect: Rect,
    card: &Card,
    shown: bool,
) {
    let p = palette(ui.ctx());
    let row = rect.bottom() - 26.0;
    let only = scratch.hidden.len() + 1 == state.screen_names().len() && shown;
    let word = if shown { "visible" } else { "hidden" };
    let specs = [
        (10.0, 52.0, word, format!("Show {}", card.name), shown, Command::ToggleShown(card.name.clone())),
        (66.0, 62.0, "alone", format!("Show only {}", card.name), only, Command::OnlyThis(card.name.clone())),
    ];
    for (x, width, text, name, on, command) in specs {
        let place = Rect::from_min_size(pos2(rect.left() + x, row), vec2(width, 20.0));
        let response = ui.interact(place, Id::unique(&name), Sense::click());
        response.widget_info(|| WidgetInfo::selected(Role::Switch, true, on, &name));
        paint_button(ui, place, &response, text, on, p);
        if response.clicked() {
            commands.push(command);
        }
    }
}

fn menu_ui(state: &State, commands: &mut Commands, response: &egui::Response, card: &Card, at: usize, count: usize) {
    let others: Vec<ScreenName> = state.screen_names().into_iter().filter(|n| *n != card.name).collect();
    response.context_menu(|ui| {
        let mut send = |ui: &mut Ui, enabled: bool, text: &str, command: Command| {
            if ui.add_enabled(enabled, egui::Button::new(text)).clicked() {
                commands.push(command);
                ui.close();
            }
        };
        let name = card.name.clone();
        send(ui, at > 0, "Print earlier", Command::Move { screen: name.clone(), to: at.saturating_sub(1) });
        send(ui, at + 1 < count, "Print later", Command::Move { screen: name.clone(), to: at + 1 });
        send(ui, at + 1 < count, "Flash, cool-down or none after it", Command::CycleStop(name.clone()));
        ui.menu_button("Merge into", |ui| {
            for into in others {
                send(ui, true, &into.clone(), Command::Merge { from: name.clone(), into });
            }
        });
        send(ui, count > 1, "Drop", Command::Drop(name.clone()));
    });
}

/// The place between two screens: nothing, a flash, or a flash with cool-down.
fn stop_ui(ui: &mut Ui, commands: &mut Commands, card: &Card) {
    let p = palette(ui.ctx());
    let width = if card.stop.is_some() { FLASH_WIDTH + 20.0 } else { GAP };
    let (rect, response) = ui.allocate_exact_size(vec2(width, CARD.y), Sense::click());
    let (word, below) = match card.stop {
        None => ("nothing", ""),
        Some(Stop::Flash) => ("flash", ""),
        Some(Stop::FlashAndCoolDown) => ("flash", "cool-down"),
    };
    let name = format!("After {}: {word} {below}", card.name);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name.trim()));
    if card.stop.is_some() {
        let inner = rect.shrink2(vec2(10.0, 0.0));
        let edge = Stroke::new(1.0, p.accent);
        ui.painter().rect(inner, CornerRadius::same(CORNER), p.accent_soft, edge, StrokeKind::Inside);
        let y = if below.is_empty() { 0.0 } else { -9.0 };
        ui.painter().text(
            inner.center() + vec2(0.0, y),
            Align2::CENTER_CENTER,
            word,
            FontId::proportional(13.0),
            p.text,
        );
        ui.painter().text(
            inner.center() + vec2(0.0, 9.0),
            Align2::CENTER_CENTER,
            below,
            FontId::proportional(11.0),
            p.text,
        );
    } else if response.hovered() || response.has_focus() {
        ui.painter().text(rect.center(), Align2::CENTER_CENTER, "+", FontId::proportional(18.0), p.text);
    } else {
        ui.painter().circle_filled(rect.center(), 1.8, p.weak);
    }
    focus_ring(ui.painter(), rect.shrink(4.0), &response, p);
    let hint = "Click: a flash, a flash with cool-down, or nothing between these two";
    if response.on_hover_text(hint).clicked() {
        commands.push(Command::CycleStop(card.name.clone()));
    }
}

fn empty_ui(ui: &mut Ui, p: &Palette) {
    let (rect, response) = ui.allocate_exact_size(vec2(132.0, CARD.y), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, "empty head"));
    let c = rect.shrink(1.0);
    let corners = [c.left_top(), c.right_top(), c.right_bottom(), c.left_bottom(), c.left_top()];
    ui.painter().extend(Shape::dashed_line(&corners, Stroke::new(1.2, p.line), 6.0, 5.0));
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, "empty head", FontId::proportional(12.0), p.weak);
}

/// A card on its way: where it would land, and the landing.
fn land_ui(ui: &Ui, commands: &mut Commands, cards: &[Card], places: &[Rect]) {
    let p = palette(ui.ctx());
    let Some(name) = ui.data(|d| d.get_temp::<ScreenName>(drag_id())) else { return };
    let released = ui.input(|i| i.pointer.any_released());
    let Some(pointer) = ui.input(|i| i.pointer.interact_pos()) else { return };
    let from = cards.iter().position(|c| c.name == name);
    let landing = landing(pointer, places, from, cards);
    if let (Some(landing), Some(from)) = (&landing, from) {
        match landing {
            Landing::Onto(into) => {
                let at = cards.iter().position(|c| c.name == *into).unwrap_or(0);
                let stroke = Stroke::new(3.0, p.accent);
                ui.painter().rect_stroke(places[at], CornerRadius::same(CORNER + 2), stroke, StrokeKind::Outside);
            }
            Landing::Place(to) => {
                let x = if *to > from { places[*to].right() + 5.0 } else { places[*to].left() - 5.0 };
                ui.painter().vline(x, places[0].y_range(), Stroke::new(3.0, p.accent));
            }
        }
        ghost(ui, pointer, &cards[from], landing, p);
    }
    if released {
        ui.data_mut(|d| d.remove::<ScreenName>(drag_id()));
        match landing {
            Some(Landing::Place(to)) => commands.push(Command::Move { screen: name, to }),
            Some(Landing::Onto(into)) => commands.push(Command::Merge { from: name, into }),
            None => {}
        }
    }
}

/// Over the middle half of another card a drop merges; anywhere else it moves.
fn landing(pointer: Pos2, places: &[Rect], from: Option<usize>, cards: &[Card]) -> Option<Landing> {
    let from = from?;
    if places.is_empty() || !places[0].y_range().expand(60.0).contains(pointer.y) {
        return None;
    }
    for (at, place) in places.iter().enumerate() {
        let middle = place.shrink2(vec2(place.width() * 0.25, 0.0));
        if at != from && middle.contains(pointer) {
            return Some(Landing::Onto(cards[at].name.clone()));
        }
    }
    let before = places.iter().filter(|r| r.center().x < pointer.x).count();
    let to = if before > from { before - 1 } else { before };
    (to != from).then_some(Landing::Place(to.min(places.len() - 1)))
}

fn ghost(ui: &Ui, pointer: Pos2, card: &Card, landing: &Landing, p: &Palette) {
    let text = match landing {
        Landing::Place(to) => format!("{}: print {}", card.name, ordinal(to + 1)),
        Landing::Onto(into) => format!("merge {} into {into}", card.name),
    };
    let painter = ui.ctx().layer_painter(egui::LayerId::new(egui::Order::Tooltip, drag_id()));
    let galley = painter.layout_no_wrap(text, FontId::proportional(12.5), p.text);
    let rect = Rect::from_min_size(pointer + vec2(14.0, -34.0), galley.size() + vec2(40.0, 14.0));
    painter.rect(rect, CornerRadius::same(CORNER), p.card, Stroke::new(1.0, p.accent), StrokeKind::Inside);
    disc(&painter, rect.left_center() + vec2(16.0, 0.0), 8.0, card.color, p.weak);
    painter.galley(rect.min + vec2(30.0, 7.0), galley, p.text);
}
