//! Every command run by its words through the sheet that finds them (Ctrl+K), each with what it must
//! change, or with the sentence that says why it changes nothing. The table is a `match` without a
//! catch-all: a new command does not compile here until it is said what it does.

use std::collections::{BTreeMap, HashSet};
use std::mem::discriminant;

use crate::common::{Bench, bench, open, open_bench, press, says, send, settle, wait};
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use strikeoff_core::moire::AngleSet;
use strikeoff_desk::{Command, Opening, Sheet, Side, Workbench};

type Standing = BTreeMap<&'static str, String>;

/// What a command must do.
enum Must {
    /// Make these of the window's state what they are not.
    Change(&'static [&'static str]),
    /// Make one of them this.
    Become(&'static str, String),
    /// Say something with these words.
    Say(&'static str),
    /// It is not on the sheet, or must not be run here; it is tested where this says.
    Elsewhere(&'static str),
}

fn must(command: &Command) -> Must {
    use Must::{Become, Change, Elsewhere, Say};
    let sheet = |sheet: Sheet| Become("sheet", format!("{sheet:?}"));
    match command {
        Command::Open | Command::ChooseGrey | Command::ChooseFolder | Command::ChooseSheet(_) | Command::ChooseSave => {
            Elsewhere("shows a dialog of the system; every sheet takes a typed path as well")
        }
        Command::OpenPath(_) | Command::SaveTo(_) | Command::MakeFilms(_) | Command::MakeSheet(..) => {
            Elsewhere("words_with_a_path_do_what_they_say, and bench.rs")
        }
        Command::OpenDemo => Change(&["stops"]),
        Command::Undo => Say("Undone"),
        Command::Redo => Say("nothing to do again"),
        Command::Look(view) => Become("view", view.label().into()),
        Command::Compare(Some(view)) => Become("against", view.label().into()),
        Command::Compare(None) => Become("against", "nothing".into()),
        Command::ToggleShown(_) | Command::OnlyThis(_) | Command::ToggleChosen | Command::OnlyChosen => {
            Change(&["hidden"])
        }
        Command::ShowAll => Become("hidden", String::new()),
        Command::Select(name) => Become("chosen", name.clone().unwrap().to_string()),
        Command::SelectStep(_) => Change(&["chosen"]),
        Command::Move { .. } | Command::MoveStep(_) => Change(&["order", "edits"]),
        Command::CycleStop(_) => Change(&["stops"]),
        Command::TrimBackground(_) => Change(&["edits"]),
        Command::Drop(_) | Command::Merge { .. } => Change(&["order", "edits"]),
        Command::ReInk { .. } => Change(&["edits"]),
        Command::SuggestInks => Change(&["ink sets"]),
        Command::Do(_) => Change(&["order"]),
        Command::LookOn(_) => Change(&["looked at on"]),
        Command::AddGarment(_) => Change(&["looked at on"]),
        Command::AddGarmentColor(_) => Elsewhere("the rail's menu of garments; a colour has no words"),
        // The first one is that which the job is separated for.
        Command::RemoveGarment(_) => Say("separated for this garment"),
        Command::SeparateForThis => Say("already"),
        Command::PrintOnToo(_) => Say("prints on"),
        Command::MakeFirst(_) => Say("already"),
        Command::PrintNoMoreOn(_) => Say("one garment at least"),
        Command::Change { .. } => Elsewhere("every control of the panels sends it: art_cards.rs, tuning.rs"),
        Command::SetAngles(_) => Change(&["angles"]),
        Command::Crop(on) => Become("cropping", if *on { "on" } else { "off" }.into()),
        Command::ZoomIn | Command::ZoomOut | Command::ZoomFit | Command::ZoomPrint | Command::ActualSize => {
            Change(&["zoom"])
        }
        Command::ToggleFabric => Change(&["folds"]),
        Command::ToggleLoupe => Change(&["loupe"]),
        Command::ToggleTheme => Change(&["theme"]),
        Command::ToggleTimes => Change(&["times"]),
        Command::ToggleFindings => Change(&["findings"]),
        Command::ShowFinding(_) => Change(&["finding shown"]),
        Command::Cancel => Elsewhere("cancel_forgets_what_waits_and_stops_what_runs in lane.rs; Escape in bench.rs"),
        Command::Save => sheet(Sheet::Save),
        Command::KeepVersion { .. } | Command::GoToVersion(_) | Command::DropVersion(_) => {
            Elsewhere("versions_are_kept_with_their_screens_and_gone_back_to in tuning.rs")
        }
        Command::KeepRun(_) | Command::PrintAgain(_) => Elsewhere("runs.rs"),
        Command::OpenRecovered(_) | Command::DiscardRecovered(_) => {
            Elsewhere("what_was_not_saved_is_offered_after_a_kill in tuning.rs")
        }
        Command::ImportGrey(_) => Elsewhere("a_grey_picture_becomes_a_screen_and_stays_in_the_job in tuning.rs"),
        Command::ReadPress { .. } | Command::MeasureInk { .. } => {
            Elsewhere("they read files, as typed on the drawer and in the ink room")
        }
        Command::Prefer(_) | Command::ChangeShop(_) | Command::ExportShop(_) | Command::ImportShop(_) => {
            Elsewhere("sheets.rs")
        }
        Command::Tour(Some(at)) => Become("tour", format!("Some({at})")),
        Command::Tour(None) => Elsewhere("sheets.rs"),
        Command::Panel(side) => Become("panel", format!("{side:?}")),
        Command::Sheet(Some(Sheet::Find)) => Elsewhere("this test opens it by its keys for every command"),
        Command::Sheet(Some(Sheet::Recovered | Sheet::Lost)) => Elsewhere("they come by themselves: tuning.rs"),
        Command::Sheet(Some(open)) => sheet(*open),
        Command::Sheet(None) => Elsewhere("Escape closes every sheet here"),
    }
}

/// A bench with a job that is evaluated in a moment, or without any.
fn small(job: bool) -> Bench {
    let mut harness = open_bench(vec2(1280.0, 800.0), move |ctx| {
        let demo = job.then(crate::lantern::document);
        let opening = demo.clone().map_or(Opening::Start, |doc| Opening::Document(Box::new(doc)));
        Workbench::new(ctx, crate::lantern::shop(), demo, opening)
    });
    settle(&mut harness);
    harness
}

/// Runs a command by its words.
fn by_name(harness: &mut Bench, words: &str) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::K);
    settle(harness);
    let field = harness.get_by_role_and_label(Role::TextInput, "What to do");
    field.type_text(words);
    harness.step();
    harness.key_press(Key::Enter);
    settle(harness);
}

fn has_ink_sets(bench: &Workbench) -> bool {
    bench.standing()["ink sets"] != "0"
}

/// Brings the window to where the command changes something.
fn prepare(harness: &mut Bench, command: &Command, standing: &Standing) {
    match command {
        Command::Look(view) if standing["view"] == view.label() => {
            let other = strikeoff_desk::View::ALL.into_iter().find(|v| v != view).unwrap();
            send(harness, Command::Look(other));
        }
        Command::ShowAll => send(harness, Command::ToggleChosen),
        Command::Compare(None) => send(harness, Command::Compare(Some(strikeoff_desk::View::Art))),
        Command::Select(name) if name.as_ref().is_some_and(|name| *name == standing["chosen"]) => {
            send(harness, Command::SelectStep(1))
        }
        Command::MoveStep(by) => {
            let names = crate::common::order(harness);
            let end = if *by < 0 { names.last() } else { names.first() };
            send(harness, Command::Select(end.map(Into::into)));
        }
        Command::Crop(false) => send(harness, Command::Crop(true)),
        Command::Panel(side) if standing["panel"] == format!("{side:?}") => {
            send(harness, Command::Panel(if *side == Side::Screen { Side::Edits } else { Side::Screen }));
        }
        Command::ZoomFit => send(harness, Command::ZoomIn),
        Command::SetAngles(set) => {
            let other = if *set == AngleSet::Spread { AngleSet::One } else { AngleSet::Spread };
            send(harness, Command::SetAngles(other));
        }
        // Something to undo; after an undo there would be something to do again.
        Command::Undo | Command::Redo | Command::OpenDemo => {
            send(harness, Command::CycleStop(crate::common::order(harness)[0].as_str().into()))
        }
        Command::ShowFinding(_) => wait(harness, "the job is checked", Workbench::findings_ready),
        Command::LookOn(_) | Command::AddGarment(_) => send(harness, Command::LookOn(1)),
        Command::Do(_) => {
            send(harness, Command::SuggestInks);
            wait(harness, "there are ink sets", has_ink_sets);
        }
        // As if the job had just come: no sets yet.
        Command::SuggestInks => send(harness, Command::OpenDemo),
        _ => {}
    }
}

#[test]
fn every_command_does_what_its_words_say() {
    let mut harness = small(true);
    wait(&mut harness, "the job is checked", Workbench::findings_ready);
    send(&mut harness, Command::SuggestInks);
    wait(&mut harness, "there are ink sets", has_ink_sets);
    // Each with keys or of its own kind once; of those that differ by a screen or an ink, one.
    let with_keys = Command::with_keys();
    let each = |c: &Command| {
        let many = matches!(
            c,
            Command::Look(_) | Command::Compare(_) | Command::Panel(_) | Command::Sheet(_) | Command::Crop(_)
        );
        many || with_keys.contains(c)
    };
    let mut kinds = HashSet::new();
    let all = bench(&harness).commands_by_name();
    let names: HashSet<&str> = all.iter().map(|(words, _)| words.as_str()).collect();
    assert_eq!(names.len(), all.len(), "two commands have the same words");
    let chosen: Vec<_> = all.into_iter().filter(|(_, c)| each(c) || kinds.insert(discriminant(c))).collect();
    assert!(chosen.len() > 60, "only {} commands", chosen.len());
    let mut run = 0;
    for (words, command) in chosen {
        if let Must::Elsewhere(place) = must(&command) {
            println!("\"{words}\": {place}");
            continue;
        }
        let standing = bench(&harness).standing();
        prepare(&mut harness, &command, &standing);
        let before = bench(&harness).standing();
        by_name(&mut harness, &words);
        if matches!(command, Command::SuggestInks) {
            wait(&mut harness, "there are ink sets", has_ink_sets);
        }
        let after = bench(&harness).standing();
        match must(&command) {
            Must::Change(list) => {
                for what in list {
                    assert_ne!(before[what], after[what], "\"{words}\" leaves {what} as it was");
                }
            }
            Must::Become(what, value) => assert_eq!(after[what], value, "\"{words}\" on {what}"),
            Must::Say(part) => assert!(after["said"].contains(part), "\"{words}\" says \"{}\"", after["said"]),
            Must::Elsewhere(_) => unreachable!("passed over above"),
        }
        assert_eq!(bench(&harness).problem(), None, "after \"{words}\"");
        run += 1;
        if after["sheet"] != "none" {
            harness.key_press(Key::Escape);
            settle(&mut harness);
            assert_eq!(bench(&harness).standing()["sheet"], "none", "Escape closes what \"{words}\" opened");
        }
        if after["tour"] != "None" {
            send(&mut harness, Command::Tour(None));
        }
        // The words that are left name the demo's own screens.
        if before["order"] != after["order"] {
            send(&mut harness, Command::OpenDemo);
        }
    }
    assert!(run > 55, "only {run} commands were run");
}

#[test]
fn a_command_without_its_object_says_so() {
    let mut harness = small(false);
    for (words, command) in bench(&harness).commands_by_name() {
        if command == Command::Open || matches!(must(&command), Must::Elsewhere(_)) {
            continue;
        }
        send(&mut harness, Command::Sheet(None));
        let before = bench(&harness).standing();
        by_name(&mut harness, &words);
        let after = bench(&harness).standing();
        if command.needs_job() {
            assert!(after["said"].contains("no job on the table"), "\"{words}\" says \"{}\"", after["said"]);
            assert_eq!(after["sheet"], "none", "\"{words}\"");
        } else if command == Command::OpenDemo {
            assert!(after["said"].contains("demo job is not there"), "{}", after["said"]);
        } else {
            assert_ne!(before, after, "\"{words}\" changes nothing");
        }
        send(&mut harness, Command::Tour(None));
        harness.state_mut().as_mut().unwrap().dismiss();
    }
}

#[test]
fn words_with_a_path_do_what_they_say() {
    let dir = tempfile::tempdir().unwrap();
    let mut harness = open(vec2(1280.0, 800.0));
    let job = dir.path().join("fair.strikeoff");
    by_name(&mut harness, &format!("save as {}", job.display()));
    says(&mut harness, "Saved");
    assert!(job.is_file());
    by_name(&mut harness, "width 5in");
    let [width, _] = bench(&harness).print_size_mm().unwrap();
    assert!((width - 127.0).abs() < 1.5, "{width}");
    by_name(&mut harness, &format!("open {}", job.display()));
    wait(&mut harness, "the job is back", |b| {
        b.is_settled() && b.print_size_mm().is_some_and(|[width, _]| (width - 127.0).abs() > 20.0)
    });
    let films = dir.path().join("films");
    by_name(&mut harness, &format!("make films into {}", films.display()));
    says(&mut harness, "films are in");
    assert!(films.join("01-ink-black.tif").is_file());
}

/// The panels of the right side and the cards of the left are reached by the Tab key alone, in their
/// order, and what has the focus is pressed by Enter or Space.
#[test]
fn tab_reaches_every_area() {
    let mut harness = open(vec2(1280.0, 800.0));
    let mut met: Vec<String> = Vec::new();
    for _ in 0..260 {
        harness.key_press(Key::Tab);
        harness.step();
        harness.step();
        let mut nodes = harness.root().children_recursive();
        let Some(label) = nodes.find(|n| n.is_focused()).map(|n| n.accesskit_node().label().unwrap_or_default()) else {
            continue;
        };
        drop(nodes);
        if met.first() == Some(&label) && met.len() > 20 {
            break;
        }
        met.push(label);
    }
    let reached = |start: &str| met.iter().any(|label| label.starts_with(start));
    for start in [
        "Make",
        "Garment Black",
        "Look at the artwork",
        "Turn and crop",
        "Table",
        "Print",
        "Build-up",
        "Screen Ink black",
        "After Ink black",
        "Show only Marsh teal",
        "Separation",
        "Curve of",
        "Strength",
        "Findings",
    ] {
        assert!(reached(start), "Tab does not reach \"{start}\": {met:?}");
    }
    press(&mut harness, "Separation");
    assert_eq!(bench(&harness).standing()["panel"], "Separation");
}
