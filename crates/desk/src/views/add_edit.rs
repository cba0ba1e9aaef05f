//! What else can be done to the chosen screen: a menu whose entries put an edit at the end of the
//! list, with values that do little until they are changed, and open it.

use egui::{Popup, Ui};
use strikeoff_core::ink::Ink;
use strikeoff_core::tune::{Edit, Region, Source};
use strikeoff_core::units::{Coverage, Mm};

use crate::Command;
use crate::commands::Commands;
use crate::commands::free_name;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{plain_button_if, quiet};
use crate::view_state::Scratch;
use crate::view_state::Sheet;

/// Draws the menus.
pub fn add_edit_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, screen: &str) {
    let p = palette(ui.ctx());
    let Some(ink) = state.chosen_ink(scratch) else { return };
    let names = state.screen_names();
    let others: Vec<String> = names.iter().filter(|n| *n != screen).cloned().collect();
    let mut add = None;
    ui.horizontal_wrapped(|ui| {
        for (menu, hint, groups) in [
            ("Change", "More edits of this screen", on_screen(screen)),
            ("With another", "Edits of this screen by another one", with_another(screen, others.first())),
            (
                "New screen",
                "A screen from this one, from the artwork or from a picture",
                new_screen(screen, &ink, &names),
            ),
        ] {
            let button = plain_button_if(ui, !groups.is_empty(), menu).on_hover_text(hint);
            Popup::menu(&button).width(190.0).show(|ui| {
                for (name, edit) in groups {
                    if ui.button(name).clicked() {
                        add = Some(edit);
                        ui.close();
                    }
                }
                if menu == "New screen" && ui.button("From a grey picture").clicked() {
                    scratch.typed.clear();
                    commands.push(Command::Sheet(Some(Sheet::Grey)));
                    ui.close();
                }
            });
        }
    });
    ui.label(quiet("Each is added to the list of edits and can be changed there.", p));
    let Some(edit) = add else { return };
    let Some(doc) = state.doc() else { return };
    let mut job = doc.job.clone();
    scratch.open_edit = Some(job.edits.len());
    let what = format!("{} {}", edit.label(), edit.in_words());
    job.edits.push(strikeoff_core::tune::EditEntry::on(edit));
    commands.push(Command::change(job, what));
}

fn part(value: f64) -> Coverage {
    Coverage::new(value).unwrap_or_else(|_| unreachable!("a fraction"))
}

fn mm(value: f64) -> Mm {
    Mm::new(value).unwrap_or_else(|_| unreachable!("a length"))
}

type Entry = (&'static str, Edit);

fn on_screen(name: &str) -> Vec<Entry> {
    let screen = || name.to_owned();
    let region = |region| Edit::MaskRegion { screen: screen(), region, outside: false, feather_mm: mm(0.0) };
    let (left, top, width, height) = (0.1, 0.1, 0.8, 0.8);
    vec![
        ("Tone range", Edit::Levels { screen: screen(), none: part(0.0), solid: part(1.0), middle: part(0.5) }),
        ("Gain", Edit::Gain { screen: screen(), points: 5.0 }),
        ("Clear the background", Edit::ClearBackground { screen: screen(), tolerance: 0.045, feather_mm: mm(0.3) }),
        ("Invert", Edit::Invert { screen: screen() }),
        ("Clean specks", Edit::Specks { screen: screen(), under_mm2: 0.1, at: part(0.05) }),
        ("Fill pinholes", Edit::Pinholes { screen: screen(), under_mm2: 0.1, at: part(0.5) }),
        ("Soften", Edit::Blur { screen: screen(), radius_mm: mm(0.2) }),
        ("Sharpen", Edit::Sharpen { screen: screen(), radius_mm: mm(0.2), amount: 1.0 }),
        ("Keep a rectangle", region(Region::Rectangle { left, top, width, height })),
        ("Keep an ellipse", region(Region::Ellipse { left, top, width, height })),
    ]
}

fn with_another(name: &str, other: Option<&String>) -> Vec<Entry> {
    let Some(other) = other else { return Vec::new() };
    let (screen, by) = (|| name.to_owned(), || other.clone());
    vec![
        ("Keep only under it", Edit::MaskByScreen { screen: screen(), by: by() }),
        ("Knock it out", Edit::KnockOut { screen: screen(), by: by(), overlap_mm: mm(0.1) }),
        ("Subtract it", Edit::Subtract { screen: screen(), by: by(), amount: part(1.0) }),
        ("Swap with it", Edit::Swap { a: screen(), b: by() }),
        ("Merge it in", Edit::merge(by(), screen())),
    ]
}

fn new_screen(name: &str, ink: &Ink, names: &[String]) -> Vec<Entry> {
    let free = |wanted: &str| free_name(wanted, names);
    let art = |wanted: &str, source| Edit::FromArt { name: free(wanted), ink: ink.clone(), source };
    let deep = Edit::Split {
        screen: name.to_owned(),
        name: free(&format!("{name} deep")),
        ink: ink.clone(),
        from: part(0.6),
        to: part(1.0),
        soft: part(0.1),
    };
    let range = Source::ColorRange { color: ink.over_white, reach: 0.06, soft: 0.08 };
    vec![
        ("Copy", Edit::Copy { screen: name.to_owned(), name: free(&format!("{name} copy")), ink: None }),
        ("Split off tones", deep),
        ("From the art's dark tones", art("Dark tones", Source::Lightness { light: false })),
        ("From the art's light tones", art("Light tones", Source::Lightness { light: true })),
        ("From a colour of the art", art("Colour range", range)),
        ("From the art's shadows and edges", art("Shadows", Source::shadows())),
        ("From the art's edges", art("Edges", Source::Edges { width_mm: mm(0.5), strength: 2.0 })),
    ]
}
