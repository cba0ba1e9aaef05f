//! The ticket in the window: what is typed is in the job, one step of undo a field, and what cannot be read says
//! why and changes nothing.

use crate::common::{Bench, job, open_bench, press, send, settle, shows};
use egui::accesskit::Role;
use egui::{Key, vec2};
use egui_kittest::kittest::Queryable;
use strikeoff_desk::{Command, Opening, Workbench};

fn ticket() -> Bench {
    let mut harness = open_bench(vec2(1280.0, 800.0), |ctx| {
        Workbench::new(ctx, crate::lantern::shop(), None, Opening::Document(Box::new(crate::lantern::document())))
    });
    settle(&mut harness);
    press(&mut harness, "Ticket");
    harness
}

fn fill(harness: &mut Bench, name: &str, text: &str) {
    let field = harness.get_by_role_and_label(Role::TextInput, name);
    field.focus();
    harness.step();
    harness.get_by_role_and_label(Role::TextInput, name).type_text(text);
    harness.step();
    harness.key_press(Key::Tab);
    settle(harness);
}

#[test]
fn the_ticket_is_typed_in_the_window() {
    let mut harness = ticket();
    for (name, text) in [
        ("Client", "Heron & Sons"),
        ("Order number", "H-2231"),
        ("Due", "2026-12-04"),
        ("Placement", "left chest"),
        ("Sizes", "S 20, M 60"),
        ("Notes", "Fold and bag"),
    ] {
        fill(&mut harness, name, text);
    }
    let info = job(&harness).info;
    assert_eq!(
        [&info.client, &info.order, &info.placement, &info.note],
        ["Heron & Sons", "H-2231", "left chest", "Fold and bag"]
    );
    assert_eq!(info.due.map(|due| due.words()).as_deref(), Some("4 Dec 2026"));
    assert_eq!((info.sizes_text().as_str(), info.quantity), ("S 20, M 60", 80));
    send(&mut harness, Command::Undo);
    assert_eq!(job(&harness).info.note, "", "a field is one step");
    assert_eq!(job(&harness).info.quantity, 80);
    press(&mut harness, "Done");
    assert!(shows(&harness, "Ticket, due 4 Dec 2026"));
}

#[test]
fn what_cannot_be_read_says_why_and_changes_nothing() {
    let mut harness = ticket();
    let before = job(&harness);
    fill(&mut harness, "Due", "2026-02-29");
    assert!(shows(&harness, "\"2026-02-29\" is no day of the calendar"));
    fill(&mut harness, "Sizes", "S twenty");
    assert!(shows(&harness, "\"S twenty\" is not a size with a number of shirts"));
    assert_eq!(job(&harness), before);
    // Put right, it is taken.
    fill(&mut harness, "Sizes", " 4");
    assert_eq!(job(&harness).info.quantity, 4);
    assert!(!shows(&harness, "is not a size"));
}
