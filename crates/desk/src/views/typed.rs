//! A field for a text that counts when it is left: what is half typed is no change of the job, and what cannot
//! be read stays there with the reason.

use egui::{Id, RichText, TextEdit, Ui};

use crate::ui::theme::palette;
use crate::ui::widgets::row;

/// What is typed and not taken yet.
#[derive(Clone, Default)]
struct Draft {
    text: String,
    fault: Option<String>,
}

/// A field for one text of the job in a row of its own. `take` reads what was typed when the field is left; an
/// error is one sentence. Whether something was taken.
pub fn typed_row(
    ui: &mut Ui,
    name: &str,
    hint: &str,
    now: &str,
    width: f32,
    mut take: impl FnMut(&str) -> Result<(), String>,
) -> bool {
    let id = Id::unique("typed").with(name);
    let draft = ui.data(|data| data.get_temp::<Draft>(id));
    let mut text = draft.as_ref().map_or_else(|| now.to_owned(), |draft| draft.text.clone());
    let fault = draft.and_then(|draft| draft.fault);
    let field = row(ui, name, |ui| {
        let field = TextEdit::singleline(&mut text).hint_text(hint).desired_width(width);
        ui.add(field).accessible_name(name).on_hover_text(hint)
    });
    if let Some(fault) = &fault {
        ui.label(RichText::new(fault).color(palette(ui.ctx()).stop));
    }
    let mut taken = false;
    if field.lost_focus() {
        match if text == now { Ok(()) } else { take(&text) } {
            Ok(()) => {
                taken = text != now;
                ui.data_mut(|data| {
                    data.remove::<Draft>(id);
                });
            }
            Err(fault) => {
                ui.data_mut(|data| data.insert_temp(id, Draft { text, fault: Some(fault) }));
            }
        }
    } else if field.changed() {
        ui.data_mut(|data| {
            data.insert_temp(id, Draft { text, fault });
        });
    }
    taken
}
