//! A job on several garments in the window: a garment of the row is printed on too, screens are left out on it, and it
//! is made the first.

use crate::common::{Bench, bench, job, open_bench, order, press, says, send, settle, shows};
use egui::vec2;
use egui_kittest::kittest::Queryable;
use strikeoff_core::screens::ScreenName;
use strikeoff_desk::{Command, Opening, Workbench};
use strikeoff_files::shelf::house_garment;

fn lantern_bench() -> Bench {
    let mut harness = open_bench(vec2(1440.0, 1000.0), |ctx| {
        Workbench::new(ctx, crate::lantern::shop(), None, Opening::Document(Box::new(crate::lantern::document())))
    });
    settle(&mut harness);
    harness
}

#[test]
fn a_second_garment_shares_the_films() {
    let mut harness = lantern_bench();
    let first = job(&harness).garment;
    // The row has a second garment already.
    let navy = house_garment("Navy").unwrap().clone();
    send(&mut harness, Command::LookOn(1));
    settle(&mut harness);
    press(&mut harness, "Print on this too");
    settle(&mut harness);
    let now = job(&harness);
    assert_eq!(now.garments().collect::<Vec<_>>(), [&first, &navy]);
    assert!(!shows(&harness, "Separate for this") && !shows(&harness, "Print on this too"), "it is one of the job's");

    // The panel of a screen says where it prints, and lets it print elsewhere.
    let screen = ScreenName::from(order(&harness)[0].as_str());
    assert_eq!(now.serves_words(&screen), None);
    send(&mut harness, Command::Select(Some(screen.clone())));
    settle(&mut harness);
    let shared = bench(&harness).pixels_shown();
    harness.get_by_label_and_click("Navy");
    settle(&mut harness);
    assert_eq!(job(&harness).serves_words(&screen).as_deref(), Some(first.name.as_str()));
    assert_ne!(bench(&harness).pixels_shown(), shared, "the table shows the navy shirt without it");
    assert!(harness.query_by_label_contains("not on Navy").is_some(), "its card says so");
    send(&mut harness, Command::Undo);
    settle(&mut harness);
    assert_eq!(job(&harness), now);

    send(&mut harness, Command::RemoveGarment(1));
    says(&mut harness, "print no more on it");
    send(&mut harness, Command::MakeFirst(1));
    settle(&mut harness);
    assert_eq!(job(&harness).garments().collect::<Vec<_>>(), [&navy, &first]);
    send(&mut harness, Command::PrintNoMoreOn(0));
    settle(&mut harness);
    assert_eq!(job(&harness).garments().collect::<Vec<_>>(), [&navy]);
}

/// Finds by role, since the row's disc has the same words in its name.
trait Click {
    fn get_by_label_and_click(&mut self, label: &str);
}

impl Click for Bench {
    fn get_by_label_and_click(&mut self, label: &str) {
        self.get_by_role_and_label(egui::accesskit::Role::CheckBox, label).click_accesskit();
    }
}
