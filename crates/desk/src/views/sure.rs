//! How sure the colours are: by the fingerprint that the job was made with; the fingerprints of the shop, what each
//! would change, and a print read into a new one.

use std::sync::Arc;

use egui::{TextEdit, Ui};
use strikeoff_core::fingerprint::Fingerprint;
use strikeoff_core::job::Job;
use strikeoff_core::sureness::{Sureness, dated, with_fingerprint};
use strikeoff_files::press_print::ReadPrint;

use crate::commands::Commands;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::{one_of, plain_button, plain_button_if, quiet, strong};
use crate::view_state::Scratch;
use crate::{Command, View};

/// The section of the drawer.
pub fn sure_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let Some(job) = state.job() else { return };
    own_ui(ui, state, scratch, commands, job);
    prints_ui(ui, state, scratch, commands, job);
    if job.run.calibration {
        read_ui(ui, state, scratch, commands);
    }
}

/// The job's own fingerprint.
fn own_ui(ui: &mut Ui, state: &State, scratch: &Scratch, commands: &mut Commands, job: &Job) {
    let p = palette(ui.ctx());
    if job.run.fingerprint.is_none() {
        let text = "Every colour is predicted from assumed inks and an assumed press. A fingerprint of the press says how \
                    sure each is.";
        ui.label(quiet(text, p));
        return;
    }
    let text = match state.sure().and_then(|sure| sure.says.as_ref()) {
        None => "working out how sure".to_owned(),
        Some(Ok(sure)) => sentence(sure.describe()),
        Some(Err(why)) => sentence(why.clone()),
    };
    ui.label(text);
    if state.sure().is_some_and(|sure| sure.map.is_some()) {
        let on = scratch.view == View::Sure;
        if plain_button(ui, if on { "Back to the print" } else { "Show how sure each colour is" }).clicked() {
            commands.push(Command::Look(if on { View::Print } else { View::Sure }));
        }
    }
}

/// The fingerprints of the shop.
fn prints_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands, job: &Job) {
    let p = palette(ui.ctx());
    ui.add_space(6.0);
    let prints = &state.session.machine.profile.fingerprints;
    ui.label(strong("Fingerprints of the shop", p));
    if prints.is_empty() {
        let text = "None yet. Make a calibration print (strikeoff calibrate --fingerprint), print and measure or photograph \
                    it, open its job here and read it.";
        ui.label(quiet(text, p));
    }
    for print in prints {
        let on = scratch.press.print.as_deref() == Some(print);
        if one_of(ui, on, dated(print)).clicked() {
            scratch.press.print = (!on).then(|| Arc::new(print.clone()));
        }
        let inks: Vec<&str> = print.inks.iter().map(|ink| ink.name.as_str()).collect();
        let from = if print.origin.is_empty() { String::new() } else { format!(", from {}", print.origin) };
        ui.label(quiet(format!("{} patches{from}: {}", print.patches.len(), inks.join(", ")), p));
    }
    // One that was read again or deleted is not looked at any more.
    if scratch.press.print.as_deref().is_some_and(|print| !prints.contains(print)) {
        scratch.press.print = None;
    }
    if let Some(print) = scratch.press.print.clone() {
        chosen_ui(ui, state, commands, job, &print);
    }
}

/// What the chosen fingerprint would change.
fn chosen_ui(ui: &mut Ui, state: &State, commands: &mut Commands, job: &Job, print: &Arc<Fingerprint>) {
    let p = palette(ui.ctx());
    let figures = |found: &Result<Sureness, String>| match found {
        Ok(sure) => format!(
            "the job's print model lies {:.1} from the press, colour within {:.1}, 19 times of 20",
            sure.off_model, sure.band
        ),
        Err(why) => why.clone(),
    };
    let uptake = match state.uptake(print) {
        None => {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label(quiet("trying it on the job", p));
            });
            return;
        }
        Some(Err(why)) => {
            ui.label(sentence(why.to_owned()));
            return;
        }
        Some(Ok(uptake)) => uptake,
    };
    ui.label(format!("As it stands: {}.", figures(&uptake.before)));
    ui.label(format!("With what was measured: {}.", figures(&uptake.after)));
    let taken = *uptake.job == *job;
    if taken {
        ui.label(quiet("The job uses all that its print model can hold of it.", p));
    } else if plain_button(ui, "Use what was measured").clicked() {
        let what = format!("Use what was measured: {}", dated(print));
        commands.push(Command::change((*uptake.job).clone(), what));
    }
    let own = job.run.fingerprint.as_deref() == Some(&**print);
    if !own && plain_button(ui, "Take its gain curve only").clicked() {
        match with_fingerprint(job, print) {
            Ok(job) => commands.push(Command::change(job, format!("Take the fingerprint {}", dated(print)))),
            Err(why) => {
                ui.label(sentence(why));
            }
        }
    }
}

/// The print on the table read into a new fingerprint.
fn read_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.add_space(6.0);
    ui.label(strong("Read this print", p));
    let look = &mut scratch.press;
    let fields = [
        ("Readings or photograph", "a table, or a photograph of the wet print", &mut look.read),
        ("Photograph of the flashed print", "if the readings are a photograph", &mut look.flashed),
        ("Strip values", "measured; as drawn if left out", &mut look.strip),
        ("Name of the fingerprint", "press, mesh, fabric, ink line", &mut look.name),
    ];
    for (name, hint, text) in fields {
        ui.label(quiet(name, p));
        ui.add(TextEdit::singleline(text).hint_text(hint).desired_width(f32::INFINITY)).accessible_name(name);
    }
    let path = |text: &str| (!text.trim().is_empty()).then(|| text.trim().into());
    let print = path(&look.read).map(|wet| ReadPrint { wet, flashed: path(&look.flashed), strip: path(&look.strip) });
    let name = if look.name.trim().is_empty() { "press".to_owned() } else { look.name.trim().to_owned() };
    let busy = !state.errands.press.is_idle();
    if plain_button_if(ui, print.is_some() && !busy, "Read into the shop profile").clicked()
        && let Some(print) = print
    {
        commands.push(Command::ReadPress { print, name });
    }
    if busy {
        ui.spinner();
    }
}

/// As a sentence of its own.
fn sentence(text: String) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).chain(['.']).collect())
}
