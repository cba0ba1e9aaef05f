//! In the smallest window nothing stands over the edges of its panel.

use crate::common::{Bench, open, send, wait};
use egui::Vec2;
use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT, Queryable};
use strikeoff_desk::{Command, LEAST_POINTS, Side};

/// What stands over the right edge of its panel, its panel being that which it begins in.
fn crossing(harness: &Bench, size: Vec2) -> Vec<String> {
    // The harness leaves a margin about the window.
    let table = harness.get_by_role_and_label(Role::Canvas, "Table").rect();
    let edges = [table.left(), table.right(), size.x - 8.0];
    let shown = |role: Role| {
        let roles = [
            Role::Label,
            Role::Button,
            Role::CheckBox,
            Role::RadioButton,
            Role::Slider,
            Role::SpinButton,
            Role::ComboBox,
            Role::TextInput,
        ];
        roles.contains(&role)
    };
    let mut found = Vec::new();
    for node in harness.root().children_recursive() {
        let role = node.accesskit_node().role();
        if !shown(role) || node.accesskit_node().raw_bounds().is_none() {
            continue;
        }
        let rect = node.rect();
        // Between the rail and the press order.
        if rect.top() < 50.0 || rect.bottom() > size.y - 186.0 || !rect.is_positive() {
            continue;
        }
        let crosses = |x: f32| rect.left() < x - 0.5 && rect.right() > x + 0.5;
        if edges.into_iter().any(crosses) {
            let name = node.accesskit_node().label().or_else(|| node.accesskit_node().value());
            found.push(format!("{role:?} {name:?} at {:.0} to {:.0}", rect.left(), rect.right()));
        }
    }
    found
}

#[test]
fn nothing_stands_over_the_edge_of_its_panel() {
    for (size, art, side) in [(LEAST_POINTS, 226.0, 288.0), (egui::vec2(1280.0, 800.0), 264.0, 320.0)] {
        let mut harness = open(size);
        send(&mut harness, Command::Tour(None));
        // The demo has six screens: once round.
        let chosen = (0..6).map(|_| vec![Command::Panel(Side::Screen), Command::SelectStep(1)]);
        let panels = [Side::Separation, Side::Edits, Side::Versions].map(|side| vec![Command::Panel(side)]);
        for commands in chosen.chain(panels) {
            let what = commands.iter().map(Command::label).collect::<Vec<_>>();
            for command in commands {
                send(&mut harness, command);
            }
            wait(&mut harness, "all is known of the screens", |bench| bench.is_at_rest());
            harness.step();
            let table = harness.get_by_role_and_label(Role::Canvas, "Table").rect();
            assert_eq!([table.left(), table.right()], [8.0 + art, size.x - 8.0 - side], "{what:?}");
            let found = crossing(&harness, size);
            assert!(found.is_empty(), "{what:?} at {size:?}: {found:#?}");
        }
    }
}
