//! Sheets from the window and from the verb are the same files, byte for byte: the window is driven here without a
//! display, the verb is the program as a process.

use std::time::{Duration, Instant};

use crate::shop::Shop;
use eframe::egui;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use strikeoff_desk::{Command, Document, Opening, Sheet, Workbench};
use strikeoff_files::job::open_job;
use strikeoff_files::sheet::SheetKind;
use strikeoff_files::shelf::{house_garments, house_shelf};

type Bench = Harness<'static, Option<Workbench>>;

fn window(shop: &Shop) -> Bench {
    let file = open_job(&shop.at("fair.strikeoff")).unwrap();
    let mut doc = Some(Document::of_file(file.clone(), file.art().unwrap()));
    let builder = Harness::builder().with_size(egui::vec2(1280.0, 800.0));
    let mut harness = builder.build_ui_state(
        move |ui, bench: &mut Option<Workbench>| match doc.take() {
            Some(doc) => {
                let house = strikeoff_desk::Shop { shelf: house_shelf().clone(), garments: house_garments().to_vec() };
                *bench = Some(Workbench::new(ui.ctx(), house, None, Opening::Document(Box::new(doc))));
            }
            None => bench.as_mut().unwrap().ui(ui),
        },
        None,
    );
    until(&mut harness, "the job is checked", Workbench::findings_ready);
    harness
}

fn until(harness: &mut Bench, what: &str, so: impl Fn(&Workbench) -> bool) {
    let started = Instant::now();
    harness.step();
    harness.step();
    while !so(harness.state().as_ref().unwrap()) {
        assert!(started.elapsed() < Duration::from_secs(60), "{what}: {:?}", harness.state().as_ref().unwrap().note());
        std::thread::sleep(Duration::from_millis(4));
        harness.step();
    }
}

fn send(harness: &mut Bench, command: Command) {
    harness.state_mut().as_mut().unwrap().send(command);
    until(harness, "it settles", Workbench::is_settled);
}

#[test]
fn window_and_verb_write_the_same_bytes() {
    let shop = Shop::new();
    let words =
        ["--client", "Heron & Sons", "--due", "2026-12-04", "--sizes", "S 20, M 60", "--placement", "left chest"];
    shop.done(&[&["ticket", "fair.strikeoff"], &words[..]].concat());
    let mut harness = window(&shop);
    for (kind, name, ending) in [
        (SheetKind::Press, "press", "pdf"),
        (SheetKind::Press, "press", "html"),
        (SheetKind::Client, "client", "pdf"),
        (SheetKind::Proof, "proof", "png"),
        (SheetKind::Proof, "proof", "tif"),
        (SheetKind::Inks, "inks", "pdf"),
        (SheetKind::Screens, "screens", "pdf"),
    ] {
        let verb = shop.at(&format!("verb-{name}.{ending}"));
        shop.done(&["sheet", "--kind", name, "fair.strikeoff", "-o", verb.to_str().unwrap()]);
        let path = shop.at(&format!("window-{name}.{ending}"));
        send(&mut harness, Command::Sheet(Some(Sheet::Paper(kind))));
        send(&mut harness, Command::MakeSheet(kind, path.clone()));
        until(&mut harness, "the sheet is written", |_| path.exists());
        assert_eq!(std::fs::read(&path).unwrap(), std::fs::read(&verb).unwrap(), "{name}.{ending}");
    }
    // The verbs of their own names give the same too.
    shop.done(&["client-proof", "fair.strikeoff", "-o", "own.pdf"]);
    assert_eq!(std::fs::read(shop.at("own.pdf")).unwrap(), std::fs::read(shop.at("window-client.pdf")).unwrap());
    let (own, window) = (shop.at("own.png"), shop.at("window-proof.png"));
    shop.done(&["proof", "fair.strikeoff", "-o", "own.png"]);
    assert_eq!(std::fs::read(own).unwrap(), std::fs::read(window).unwrap());
}

#[test]
fn a_sheet_that_cannot_be_written_stays_open_with_the_reason() {
    let shop = Shop::new();
    let mut harness = window(&shop);
    for (sheet, command, says) in [
        (
            Sheet::Paper(SheetKind::Client),
            Command::MakeSheet(SheetKind::Client, shop.at("proof.html")),
            "a client proof is a PDF",
        ),
        (
            Sheet::Paper(SheetKind::Inks),
            Command::MakeSheet(SheetKind::Inks, shop.at("no/such/folder/inks.pdf")),
            "cannot",
        ),
        (Sheet::Export, Command::MakeFilms(shop.at("art.png")), "art.png"),
    ] {
        send(&mut harness, Command::Sheet(Some(sheet)));
        send(&mut harness, command);
        until(&mut harness, says, |bench| bench.note().is_some_and(|note| note.contains(says)));
        harness.step();
        let bench = harness.state().as_ref().unwrap();
        assert_eq!(bench.standing()["sheet"], format!("{sheet:?}"), "{says}");
        let reason = bench.note().unwrap().to_owned();
        // Once in the status line, once where its cure is.
        assert_eq!(harness.query_all_by_label(&reason).count(), 2, "{reason}");
    }
}
