//! The day's verbs as a process: a run written down, the reorder done and its figures kept, jobs found, all made at once;
//! and two benches that never write one job at once.

use std::fs;
use std::process::Command;

use crate::shop::{Shop, report};

#[test]
fn a_run_is_written_down_and_the_job_printed_again() {
    let shop = Shop::new();
    let line = [
        "run",
        "fair.strikeoff",
        "add",
        "--shirts",
        "150",
        "--date",
        "2026-12-04",
        "--misprints",
        "2",
        "--screen",
        "brick red: 850 in, 610 out, refill 140",
        "--squeegee",
        "softer",
    ];
    let said = String::from_utf8(shop.done(&line).stdout).expect("text");
    assert!(said.contains("4 Dec 2026: 150 shirts, 2 misprints; Brick red 240 g (1.58 g a shirt)"), "{said}");
    let refused = shop.refused(&["run", "fair.strikeoff", "add", "--shirts", "1", "--screen", "Teal: 3 in"]);
    assert!(refused.contains("no screen \"Teal\""), "{refused}");
    // The shop's red changes, and the job is turned another way.
    shop.done(&["profile", "export", "shop.json"]);
    let text = fs::read_to_string(shop.at("shop.json")).expect("a profile");
    let mut profile: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let inks = profile["shelf"]["inks"].as_array_mut().expect("inks");
    let red = inks.iter_mut().find(|ink| ink["name"] == "Brick red").expect("the red");
    red["over_white"] = "#D63C28".into();
    fs::write(shop.at("shop.json"), profile.to_string()).expect("written");
    shop.done(&["profile", "import", "shop.json"]);
    let before = report(&shop.done(&["reorder", "fair.strikeoff", "--json", "--picture", "both.png"]));
    assert!(before["changed_in_shop"][0].as_str().expect("a line").starts_with("Brick red: colour was"), "{before}");
    assert!(shop.at("both.png").exists());
    assert_eq!(before["now"]["delta_e2000"]["worst"]["ink"], "Brick red");
    shop.done(&["reorder", "fair.strikeoff", "--updated", "-o", "again.strikeoff"]);
    let after = report(&shop.done(&["reorder", "again.strikeoff", "--json"]));
    assert_eq!(after["now"], before["updated"], "figures shown before the act are those after it");
    assert!(shop.refused(&["reorder", "none.strikeoff"]).contains("none.strikeoff"));
    shop.separate("new.strikeoff", "Ink black");
    assert!(shop.refused(&["reorder", "new.strikeoff"]).contains("no run of this job was written down"));
}

#[test]
fn jobs_are_found_and_all_is_made_at_once() {
    let shop = Shop::new();
    shop.done(&["ticket", "fair.strikeoff", "--client", "Heron & Sons", "--due", "2026-12-04"]);
    let found = report(&shop.done(&["jobs", ".", "heron", "red", "4", "dec", "--json"]));
    assert_eq!((&found["found"], &found["list"][0]["client"]), (&1.into(), &"Heron & Sons".into()), "{found}");
    assert_eq!(report(&shop.done(&["jobs", ".", "teal", "--json"]))["found"], 0);
    let made = report(&shop.done(&["make", "fair.strikeoff", "--out", "made", "--json"]));
    let wrote = made["wrote"].as_array().expect("a list");
    // Three films and their PDF, and five sheets.
    assert_eq!(wrote.len(), 9, "{made}");
    for one in wrote {
        assert!(shop.at(one["file"].as_str().expect("a path")).is_file(), "{one}");
    }
}

#[test]
fn inks_are_chosen_for_so_many_screens_and_a_part_of_the_picture_is_kept() {
    let shop = Shop::new();
    let line = [
        "separate",
        "art.png",
        "--garment",
        "white",
        "--screens",
        "2",
        "--crop",
        "0,0,0.5,1",
        "--max-width",
        "0.4in",
        "--ppi",
        "100",
        "-o",
        "chosen.strikeoff",
        "--json",
    ];
    let made = report(&shop.done(&line));
    assert_eq!(made["screens"].as_array().map(Vec::len), Some(2), "{made}");
    let whole = report(&shop.done(&["inspect", "fair.strikeoff", "--json"]));
    let ratio = |report: &serde_json::Value| {
        let [w, h] = [0, 1].map(|at| report["print_size_mm"][at].as_f64().expect("a length"));
        w / h
    };
    assert!((ratio(&made) / ratio(&whole) - 0.5).abs() < 0.03, "{made}");
    let both =
        ["separate", "art.png", "--garment", "white", "--screens", "2", "--inks", "Ink black", "-o", "x.strikeoff"];
    assert_eq!(shop.program(&both).output().expect("the program").status.code(), Some(2));
}

/// Two benches with homes of their own on one folder, as on a share: neither sees the other's own locks. Every run that a
/// process says it has written down is in the job at the end.
#[test]
fn two_benches_never_write_one_job_at_once() {
    let shop = Shop::new();
    let done: usize = std::thread::scope(|scope| {
        let benches = ["north", "south"].map(|name| {
            let shop = &shop;
            scope.spawn(move || {
                let runs = (1..=4).filter(|at| {
                    let mut program = Command::new(env!("CARGO_BIN_EXE_strikeoff"));
                    for key in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"] {
                        program.env(key, shop.at(name));
                    }
                    program.current_dir(shop.at("."));
                    program.args(["run", "fair.strikeoff", "add", "--date", "2026-12-04", "--shirts", &at.to_string()]);
                    let out = program.args(["--note", name]).output().expect("the program starts");
                    let said = String::from_utf8_lossy(&out.stderr).into_owned();
                    assert!(out.status.success() || said.contains("another"), "{said}");
                    out.status.success()
                });
                runs.count()
            })
        });
        benches.into_iter().map(|bench| bench.join().expect("a bench")).sum()
    });
    let runs = report(&shop.done(&["run", "fair.strikeoff", "list", "--json"]));
    assert_eq!(runs["runs"].as_array().map(Vec::len), Some(done), "{runs}");
    assert!(done >= 6, "they wait for each other: {done} of 8");
    assert_eq!(shop.hidden("."), Vec::<String>::new(), "no lock is left");
}
