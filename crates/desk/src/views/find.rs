//! Everything the bench can do, found by typing a few letters of its words: the keyboard's way to
//! commands that otherwise take the mouse, and the way of scripts. Besides the commands of the
//! keyboard map it knows each screen, each pair to merge, each ink of the shelf and each garment of
//! the shop by name, and takes a few words with a value: a path, a print size.

use egui::{Key, RichText, ScrollArea, Ui};
use strikeoff_core::moire::AngleSet;
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::sheet::SheetKind;

use crate::Command;
use crate::commands as tuning;
use crate::commands::Commands;
use crate::render::View;
use crate::state::State;
use crate::ui::theme::palette;
use crate::ui::widgets::quiet;
use crate::view_state::Scratch;
use crate::view_state::{Sheet, Side, Typed};

/// Lines shown at once.
const SHOWN: usize = 60;

/// Draws the sheet.
pub fn find_ui(ui: &mut Ui, state: &State, scratch: &mut Scratch, commands: &mut Commands) {
    let p = palette(ui.ctx());
    ui.set_width(520.0);
    ui.label(RichText::new("Find a command").heading());
    ui.label(quiet(
        "Type a few letters of what you want: merge, drop, an ink, a garment, \"height 18in\", \"trim Soft white below 5\", \"open\" and a path.",
        p,
    ));
    ui.add_space(6.0);
    // Taken before the field sees them, or it would move its cursor or give up the focus.
    let (down, up, enter) = ui.input_mut(|i| {
        let none = egui::Modifiers::NONE;
        (
            i.count_and_consume_key(none, Key::ArrowDown),
            i.count_and_consume_key(none, Key::ArrowUp),
            i.consume_key(none, Key::Enter),
        )
    });
    let mut finding = std::mem::take(&mut scratch.palette);
    let field = egui::TextEdit::singleline(&mut finding.words).desired_width(f32::INFINITY);
    let field = ui.name_inputs("What to do", |ui| ui.add(field));
    field.request_focus();
    if field.changed() {
        finding.at = 0;
    }
    let found = matching(&finding.words, state, scratch);
    finding.at = (finding.at + down).saturating_sub(up).min(found.len().saturating_sub(1));
    let mut run = enter.then_some(finding.at);
    ui.add_space(6.0);
    let height = 360.0_f32.min(ui.ctx().content_rect().height() - 240.0);
    let list = ScrollArea::vertical().max_height(height).min_scrolled_height(height).auto_shrink([false, true]);
    list.show(ui, |ui| {
        for (at, (words, command)) in found.iter().enumerate().take(SHOWN) {
            let keys = command.keys().map(|k| ui.ctx().format_shortcut(&k)).unwrap_or_default();
            let line = ui.add(
                egui::Button::selectable(at == finding.at, words.as_str())
                    .shortcut_text(keys)
                    .min_size(egui::vec2(ui.available_width(), 24.0)),
            );
            if at == finding.at && (down > 0 || up > 0) {
                line.scroll_to_me(None);
            }
            if line.clicked() {
                run = Some(at);
            }
        }
    });
    if found.is_empty() {
        ui.label(quiet("No command by that name.", p));
    }
    scratch.palette = finding;
    if let Some((_, command)) = run.and_then(|at| found.into_iter().nth(at)) {
        scratch.palette = Typed::default();
        commands.extend([Command::Sheet(None), command]);
    }
}

/// Commands that hold every typed word, best first: those whose words begin with what is typed.
fn matching(typed: &str, state: &State, scratch: &Scratch) -> Vec<(String, Command)> {
    let typed = typed.trim();
    if let Some(with_value) = with_value(typed, state) {
        return vec![with_value];
    }
    let wanted = typed.to_lowercase();
    let mut found: Vec<_> = everything(state, scratch)
        .into_iter()
        .filter(|(words, _)| {
            let words = words.to_lowercase();
            wanted.split_whitespace().all(|part| words.contains(part))
        })
        .collect();
    found.sort_by_key(|(words, _)| {
        let words = words.to_lowercase();
        (words != wanted, !words.starts_with(&wanted))
    });
    found
}

/// Words that take a value.
fn with_value(typed: &str, state: &State) -> Option<(String, Command)> {
    let lower = typed.to_lowercase();
    let rest =
        |start: &str| lower.starts_with(start).then(|| typed[start.len()..].trim()).filter(|rest| !rest.is_empty());
    // A path has a slash somewhere; words of a command do not.
    if let Some(path) = rest("open ").filter(|path| path.contains(['/', '\\'])) {
        return Some((format!("Open {path}"), Command::OpenPath(path.into())));
    }
    if let Some(path) = rest("save as ") {
        return Some((format!("Save as {path}"), Command::SaveTo(path.into())));
    }
    if let Some(path) = rest("make films into ") {
        return Some((format!("Make films into {path}"), Command::MakeFilms(path.into())));
    }
    for kind in SheetKind::ALL {
        if let Some(path) = rest(&format!("write the {} to ", kind.title())) {
            return Some((format!("Write the {} to {path}", kind.title()), Command::MakeSheet(kind, path.into())));
        }
    }
    if let Some((name, percent)) = rest("trim ").and_then(|words| words.rsplit_once(" below ")) {
        let name = state.screen_names().into_iter().find(|n| *n == *name.trim())?;
        let below = percent.trim().trim_end_matches('%').trim_end().parse::<f64>().ok().filter(|v| *v <= 100.0)?;
        let mut job = state.doc()?.job.clone();
        let (_, background) = tuning::trim(&job, &name);
        tuning::set_trim(&mut job, &name, below / 100.0, background);
        let what = format!("Trim {name} below {below} %");
        return Some((what.clone(), Command::change(job, what)));
    }
    if let Some(ppi) = rest("resolution ").and_then(|ppi| ppi.parse::<Ppi>().ok()) {
        let mut job = state.doc()?.job.clone();
        job.prep.ppi = ppi;
        let what = format!("Work at {ppi} ppi");
        return Some((what.clone(), Command::change(job, what)));
    }
    for (start, high) in [("height ", true), ("width ", false)] {
        if let Some(mm) = rest(start).and_then(|size| size.parse::<Mm>().ok()) {
            let mut job = state.doc()?.job.clone();
            // The other side follows from the artwork.
            (job.prep.max_height_mm, job.prep.max_width_mm) = if high { (Some(mm), None) } else { (None, Some(mm)) };
            let what = format!("Print {start}{mm} mm");
            return Some((what.clone(), Command::change(job, what)));
        }
    }
    None
}

/// Everything that can be done now, by its words.
pub fn everything(state: &State, scratch: &Scratch) -> Vec<(String, Command)> {
    let mut all: Vec<(String, Command)> = Vec::new();
    let mut add = |command: Command| all.push((command.label(), command));
    for command in Command::with_keys() {
        if command != Command::Sheet(Some(Sheet::Find)) {
            add(command);
        }
    }
    [AngleSet::One, AngleSet::Spread, AngleSet::Suggested].into_iter().map(Command::SetAngles).for_each(&mut add);
    [Command::OpenDemo, Command::SuggestInks, Command::SeparateForThis, Command::Crop(true), Command::Crop(false)]
        .into_iter()
        .for_each(&mut add);
    add(Command::Compare(None));
    let has_bands = state.job().is_some_and(|job| job.run.fingerprint.is_some());
    let sure = has_bands.then_some(View::Sure);
    View::ALL.into_iter().chain([View::BadDay]).chain(sure).for_each(|view| add(Command::Compare(Some(view))));
    Side::ALL.into_iter().for_each(|side| add(Command::Panel(side)));
    [Sheet::Start, Sheet::About, Sheet::Grey, Sheet::Quote, Sheet::Jobs, Sheet::Run, Sheet::Reorder, Sheet::InkRoom]
        .into_iter()
        .for_each(|sheet| add(Command::Sheet(Some(sheet))));
    SheetKind::ALL.into_iter().for_each(|kind| add(Command::Sheet(Some(Sheet::Paper(kind)))));
    sure.map(Command::Look).into_iter().for_each(&mut add);
    add(Command::Tour(Some(0)));
    let findings = state.outlook().map_or(0, |look| look.findings.len());
    let names = state.screen_names();
    for (at, name) in names.iter().enumerate() {
        add(Command::Select(Some(name.clone())));
        add(Command::ToggleShown(name.clone()));
        add(Command::OnlyThis(name.clone()));
        add(Command::CycleStop(name.clone()));
        add(Command::TrimBackground(name.clone()));
        if names.len() > 1 {
            add(Command::Drop(name.clone()));
        }
        for into in names.iter().filter(|into| *into != name) {
            add(Command::Merge { from: name.clone(), into: into.clone() });
        }
        for to in (0..names.len()).filter(|&to| to != at) {
            add(Command::Move { screen: name.clone(), to });
        }
        for ink in &state.session.shop.shelf.inks {
            add(Command::ReInk { screen: name.clone(), ink: ink.clone() });
        }
    }
    for garment in &state.session.shop.garments {
        add(Command::AddGarment(garment.clone()));
    }
    for offer in state.offers(scratch).iter().filter(|(_, current)| *current).flat_map(|(offers, _)| &offers.sets) {
        add(Command::Do(Box::new(offer.set.act())));
    }
    for version in state.doc().into_iter().flat_map(|doc| doc.versions.iter()) {
        add(Command::GoToVersion(version.name.clone()));
        add(Command::DropVersion(version.name.clone()));
    }
    let shown = scratch.ahead.shown.is_some().then_some((None, "Stop showing where a finding is".to_owned()));
    let places = (0..findings).map(|at| (Some(at), format!("Show where finding {} is", at + 1)));
    all.extend(places.chain(shown).map(|(at, words)| (words, Command::ShowFinding(at))));
    let garments = state.doc().into_iter().flat_map(|doc| &doc.garments).enumerate();
    for (at, garment) in garments {
        all.push((format!("Look on {}", garment.name), Command::LookOn(at)));
        all.push((format!("Remove garment {}", garment.name), Command::RemoveGarment(at)));
        all.push((format!("Print on {} too", garment.name), Command::PrintOnToo(at)));
        all.push((format!("Findings and sheets for {}", garment.name), Command::MakeFirst(at)));
        all.push((format!("Print no more on {}", garment.name), Command::PrintNoMoreOn(at)));
    }
    for (at, job) in state.session.found.iter().enumerate() {
        let title = super::kept_sheets::title_of(job);
        all.push((format!("Open the recovered job {title}"), Command::OpenRecovered(at)));
        all.push((format!("Discard the recovered job {title}"), Command::DiscardRecovered(at)));
    }
    all
}
