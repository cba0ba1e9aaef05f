//! The verbs of press and measuring as processes, in a temporary folder: a calibration print is made,
//! its wedge typed in, its spectra read, and the jobs looked at. What goes wrong is said in one
//! sentence.

use std::path::Path;
use std::process::{Command, Output};

fn run(folder: &Path, args: &[&str]) -> Output {
    let program = env!("CARGO_BIN_EXE_strikeoff");
    let home = folder.join("home");
    let mut command = Command::new(program);
    for key in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"] {
        command.env(key, &home);
    }
    command.current_dir(folder).args(args).output().expect("the program starts")
}

/// What a verb reports with `--json`.
fn report(folder: &Path, args: &[&str]) -> serde_json::Value {
    let out = run(folder, &[args, &["--json"]].concat());
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).expect("JSON")
}

/// The one line that a refused verb says.
fn refusal(folder: &Path, args: &[&str]) -> String {
    let out = run(folder, args);
    assert_eq!(out.status.code(), Some(1), "{args:?}");
    let said = String::from_utf8(out.stderr).expect("text");
    assert_eq!(said.trim_end().lines().count(), 1, "{said}");
    said
}

/// Solids of two inks over white and over black, and both cards, flat spectra but for one step.
fn cgats() -> String {
    let bands: Vec<String> = (0..36).map(|i| format!("SPECTRAL_NM{}", 380 + 10 * i)).collect();
    let mut text =
        format!("CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME BACKING {}\nEND_DATA_FORMAT\nBEGIN_DATA\n", bands.join(" "));
    let rows = [
        ("card", "white", 0.9, 0.9),
        ("card", "black", 0.04, 0.04),
        ("Kite red", "white", 0.05, 0.7),
        ("Kite red", "black", 0.04, 0.5),
        ("Pier blue", "white", 0.5, 0.06),
        ("Pier blue", "black", 0.3, 0.05),
    ];
    for (name, backing, short, long) in rows {
        let value = |i: usize| if i < 20 { short } else { long };
        let values: Vec<String> = (0..36).map(|i| format!("{}", value(i))).collect();
        text += &format!("\"{name}\" {backing} {}\n", values.join(" "));
    }
    text + "END_DATA\n"
}

#[test]
fn a_press_is_calibrated_and_its_jobs_are_looked_at() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path();
    std::fs::write(folder.join("inks.txt"), cgats()).expect("written");
    let measured = report(folder, &["measure", "inks.txt", "-o", "inks.json"]);
    assert_eq!(measured["inks"].as_array().map(Vec::len), Some(2), "{measured}");

    let made =
        report(folder, &["calibrate", "--inks", "Kite red,Pier blue", "--shelf", "inks.json", "-o", "print.strikeoff"]);
    assert_eq!(made["wedge_pct"].as_array().map(Vec::len), Some(15));
    // The print is meant as it is: nothing is wrong with it, and its colours come from spectra.
    let check = report(folder, &["check", "print.strikeoff"]);
    assert_eq!(check["findings"], serde_json::json!([]), "{}", check["findings"]);
    assert!(check["facts"]["optics"].as_str().is_some_and(|said| said.contains("36 spectral bands")), "{check}");
    let read = "5:14,10:25,30:55,50:74,70:90";
    let wedge = report(folder, &["wedge", "print.strikeoff", "--read", read, "--name", "June", "-o", "june.strikeoff"]);
    assert_eq!(wedge["points_at_half_by_ink"], serde_json::json!([24.0]));

    let garments = report(folder, &["garments", "june.strikeoff", "#FFFFFF", "black"]);
    let shift = |at: usize| garments["garments"][at]["mean_shift"].as_f64().expect("a number");
    assert!(shift(0) < 0.01 && shift(1) > 5.0, "{} {}", shift(0), shift(1));

    for (name, day) in [("good.png", ""), ("bad.png", "--bad-day --stand-off 0.5mm")] {
        let day: Vec<&str> = day.split_whitespace().collect();
        report(folder, &[&["proof", "june.strikeoff", "-o", name, "--width", "400"], &day[..]].concat());
    }
    let bytes = |name: &str| std::fs::read(folder.join(name)).expect("a picture");
    assert_ne!(bytes("good.png"), bytes("bad.png"));

    report(folder, &["sheet", "june.strikeoff", "-o", "sheet.pdf"]);
    report(folder, &["sheet", "june.strikeoff", "-o", "sheet.html"]);
    report(folder, &["client-proof", "june.strikeoff", "-o", "proof.pdf", "--paper", "letter"]);
    assert!(bytes("sheet.pdf").starts_with(b"%PDF-") && bytes("proof.pdf").starts_with(b"%PDF-"));
    let html = String::from_utf8(bytes("sheet.html")).expect("text");
    assert!(html.contains("June (measured)") && html.contains("36 spectral bands"));

    for (words, part) in [
        ("wedge june.strikeoff --read 10:50,30:40", "check the reading"),
        ("wedge june.strikeoff --read 50:70 --ink 3", "no ink 3"),
        ("wedge june.strikeoff --scan none.png", "cannot read none.png"),
        ("garments june.strikeoff glass", "no garment colour"),
        ("measure sheet.html -o x.json", "CxF"),
        ("measure none.txt -o x.json", "cannot read none.txt"),
        ("calibrate --inks Nothing -o x.strikeoff", "no ink \"Nothing\""),
        ("check none.strikeoff", "cannot read the job none.strikeoff"),
        ("sheet june.strikeoff -o sheet.doc", "in .pdf or .html"),
        ("proof june.strikeoff -o x.png --bad-day --gain-points 40", "0 to 25"),
    ] {
        let said = refusal(folder, &words.split(' ').collect::<Vec<_>>());
        assert!(said.contains(part), "{said}");
        assert!(said.matches("os error").count() < 2, "said twice: {said}");
    }
    assert!(!folder.join("x.json").exists() && !folder.join("x.strikeoff").exists());
}
