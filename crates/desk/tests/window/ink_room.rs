//! The ink room, and what the window says where nothing of the press was measured.

use crate::common::{Bench, open_bench, press, says, send, settle, shows};
use egui::{Vec2, vec2};
use egui_kittest::kittest::Queryable;
use strikeoff_desk::{Command, Opening, Sheet, View, Workbench};

const WINDOW: Vec2 = vec2(1280.0, 800.0);

fn lantern_bench() -> Bench {
    let mut harness = open_bench(WINDOW, |ctx| {
        Workbench::new(ctx, crate::lantern::shop(), None, Opening::Document(Box::new(crate::lantern::document())))
    });
    settle(&mut harness);
    harness
}

/// An ink is added and taken out again; its fields stand below each other, within the window.
#[test]
fn an_ink_is_added_and_its_fields_can_be_seen() {
    let mut harness = lantern_bench();
    send(&mut harness, Command::Sheet(Some(Sheet::InkRoom)));
    press(&mut harness, "Add an ink");
    assert!(shows(&harness, "New ink"));
    let mut above = 0.0;
    for name in ["Name", "Colour over white", "Opacity", "In stock", "Price per kg", "Mesh", "Delete this ink"] {
        let rects: Vec<_> = harness.get_all_by_label(name).map(|node| node.rect()).collect();
        assert!(!rects.is_empty(), "{name}");
        for rect in &rects {
            let within = rect.min.x >= 0.0 && rect.max.x <= WINDOW.x && rect.min.y >= 0.0 && rect.max.y <= WINDOW.y;
            assert!(within, "{name} stands at {rect:?}");
        }
        let top = rects.iter().map(|rect| rect.min.y).fold(f32::INFINITY, f32::min);
        assert!(top > above, "{name} stands beside what is before it");
        above = top;
    }
    press(&mut harness, "Delete this ink");
    assert!(!shows(&harness, "New ink"));
}

/// A job without a fingerprint has no view of how sure its colours are, and says so.
#[test]
fn without_a_fingerprint_nothing_is_shown_as_sure() {
    let mut harness = lantern_bench();
    for command in [Command::Look(View::Sure), Command::Compare(Some(View::Sure))] {
        send(&mut harness, command);
        says(&mut harness, "has no fingerprint");
    }
}
