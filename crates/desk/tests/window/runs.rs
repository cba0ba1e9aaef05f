//! The working day's end in the window: a run typed in and kept with the job as printed, the reorder with its figures
//! before and after, jobs found.

use crate::common::{Bench, bench, job, open_bench, press, says, send, settle, shows, wait};
use egui::accesskit::Role;
use egui::vec2;
use egui_kittest::kittest::Queryable;
use strikeoff_desk::{Command, Opening, Sheet, Workbench};
use strikeoff_files::profile::ShopProfile;

fn lantern_bench() -> Bench {
    let mut harness = open_bench(vec2(1280.0, 800.0), |ctx| {
        let mut doc = crate::lantern::document();
        // Four prints of it are made and compared.
        doc.job.prep.ppi = strikeoff_core::units::Ppi::new(10.0).unwrap();
        Workbench::new(ctx, crate::lantern::shop(), None, Opening::Document(Box::new(doc)))
    });
    settle(&mut harness);
    harness
}

fn fill(harness: &mut Bench, name: &str, text: &str) {
    harness.get_by_role_and_label(Role::TextInput, name).focus();
    harness.step();
    harness.get_by_role_and_label(Role::TextInput, name).type_text(text);
    harness.step();
    settle(harness);
}

/// A run of 150 shirts, as the lane gives it.
fn written_down(harness: &mut Bench) {
    let run = strikeoff_core::job::RunRecord::new("2026-12-04".parse().unwrap(), 150);
    send(harness, Command::KeepRun(Box::new(run)));
    says(harness, "Written down: 4 Dec 2026: 150 shirts");
}

#[test]
fn a_run_is_typed_and_kept_with_the_job_as_it_was_printed() {
    let mut harness = lantern_bench();
    send(&mut harness, Command::Sheet(Some(Sheet::Run)));
    for (name, text) in [("Brick red in", "850"), ("Brick red out", "610"), ("Brick red refills", "140")] {
        fill(&mut harness, name, text);
    }
    fill(&mut harness, "Squeegee", "softer edge");
    harness
        .get_by(|n| n.role() == Role::SpinButton && n.label().is_some_and(|l| l == "Good shirts"))
        .set_value_accesskit(150.0);
    settle(&mut harness);
    press(&mut harness, "Write the run down");
    says(&mut harness, "Written down");
    let info = job(&harness).info;
    let run = &info.runs[0];
    assert_eq!((run.shirts, run.screens.len(), run.screens[0].used_g()), (150, 1, Some(240.0)), "{run:?}");
    assert_eq!(run.changed.squeegee, "softer edge");
    assert!(bench(&harness).standing()["versions"].starts_with("Printed "));
    // What was printed cannot go before its run.
    let version = run.version.clone();
    send(&mut harness, Command::DropVersion(version));
    says(&mut harness, "delete the run first");
    // One step of undo.
    send(&mut harness, Command::Undo);
    assert!(job(&harness).info.runs.is_empty());
}

#[test]
fn figures_before_printing_again_are_those_after_it() {
    let mut harness = lantern_bench();
    written_down(&mut harness);
    let mut profile = ShopProfile::default();
    profile.shelf.inks.iter_mut().find(|ink| ink.name == "Brick red").unwrap().over_white = "#D63C28".parse().unwrap();
    send(&mut harness, Command::ChangeShop(Box::new(profile)));
    let edit = strikeoff_core::tune::Edit::drop("Marsh teal");
    let mut changed = job(&harness);
    changed.edits.push(strikeoff_core::tune::EditEntry::on(edit));
    send(&mut harness, Command::change(changed, "Drop"));
    send(&mut harness, Command::Sheet(Some(Sheet::Reorder)));
    wait(&mut harness, "the prints are compared", |bench| bench.reorder_figures().is_some());
    settle(&mut harness);
    for words in ["Changed in the job since", "Changed in the shop since", "Brick red: colour was", "Printed then"] {
        assert!(shows(&harness, words), "{words}");
    }
    let before = bench(&harness).reorder_figures().unwrap();
    assert!(before[0][0] > 0.0 && before[1][0] > 0.0, "{before:?}");
    for (button, shown) in [("Print it updated", before[2]), ("Print the same", before[1])] {
        press(&mut harness, button);
        wait(&mut harness, "the prints are compared again", |bench| {
            bench.is_settled() && bench.reorder_figures().is_some()
        });
        // A button that was greyed in the frame before takes no click.
        settle(&mut harness);
        assert_eq!(bench(&harness).reorder_figures().unwrap()[0], shown, "{button}: {before:?}");
        assert_eq!(bench(&harness).screens().len(), 4, "as many screens as were printed: {button}");
    }
    assert_eq!(job(&harness).info.runs.len(), 1);
    assert_eq!(job(&harness).separation.screens[1].ink.over_white, "#B5332B".parse().unwrap());
}

#[test]
fn jobs_of_a_folder_are_found_as_one_types() {
    let dir = tempfile::tempdir().unwrap();
    let mut harness = lantern_bench();
    for name in ["one", "two"] {
        let mut changed = job(&harness);
        changed.info.client = format!("Client {name}");
        send(&mut harness, Command::change(changed, "Ticket"));
        send(&mut harness, Command::SaveTo(dir.path().join(format!("{name}.strikeoff"))));
        says(&mut harness, &format!("{name}.strikeoff"));
    }
    send(&mut harness, Command::Sheet(Some(Sheet::Jobs)));
    // The folder is that of the job saved last until one is chosen.
    let there = |harness: &mut Bench, words: &str| {
        let started = std::time::Instant::now();
        while !shows(harness, words) {
            assert!(started.elapsed().as_secs() < 60, "waited in vain for {words}");
            std::thread::sleep(std::time::Duration::from_millis(5));
            harness.step();
        }
    };
    there(&mut harness, "2 of 2 jobs");
    fill(&mut harness, "Find jobs", "client tw");
    there(&mut harness, "1 of 2 jobs");
    assert!(shows(&harness, "Client two") && !shows(&harness, "Client one"));
    press(&mut harness, "Open Marsh lantern");
    wait(&mut harness, "the job is open", |bench| {
        bench.is_settled() && bench.job().is_some_and(|job| job.info.client == "Client two")
    });
}
