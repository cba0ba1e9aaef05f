//! Numbers and names beyond their range, given to the program as a process: each is refused in one line
//! that says what, its range and its unit, and nothing is written.

use std::path::Path;
use std::process::{Command, Output};

use strikeoff_core::raster::{FULL, Picture, Plane};
use strikeoff_core::units::Ppi;
use strikeoff_files::picture::png_bytes;

fn run(folder: &Path, args: &[&str]) -> Output {
    let home = folder.join("home");
    let mut command = Command::new(env!("CARGO_BIN_EXE_strikeoff"));
    for key in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"] {
        command.env(key, &home);
    }
    command.current_dir(folder).args(args).output().expect("the program starts")
}

fn refused(folder: &Path, args: &[&str], says: &str) {
    let out = run(folder, args);
    let said = String::from_utf8(out.stderr).expect("text");
    let first: Vec<&str> = args.iter().map(|a| a.get(..40).unwrap_or(a)).collect();
    assert!(!out.status.success(), "{first:?} was taken");
    assert!(said.contains(says), "{first:?}: {said}");
    if out.status.code() == Some(1) {
        let line = said.trim_end();
        assert!(!line.chars().any(char::is_control) && line.chars().count() < 1300, "{first:?}: {said:?}");
    }
}

/// A picture of 60 x 40 pixels in a folder, and a job of it.
fn job(folder: &Path) {
    let art = Plane::from_fn(60, 40, |x, y| {
        let inside = (10..50).contains(&x) && (8..32).contains(&y);
        if inside { [50_000, (y * 1500) as u16, 9000, FULL] } else { [FULL; 4] }
    });
    let ppi = Ppi::new(100.0).expect("a resolution");
    std::fs::write(folder.join("heron.png"), png_bytes(&Picture::new(art), ppi)).expect("it is written");
    let args = ["--garment", "black", "--inks", "base white,signal red", "--max-width", "20mm", "--ppi", "100"];
    let made = run(folder, &[&["separate", "heron.png", "-o", "heron.strikeoff"], &args[..]].concat());
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
}

#[test]
fn what_is_beyond_its_range_is_refused_in_one_line_and_nothing_is_written() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path();
    job(folder);
    let before = std::fs::read(folder.join("heron.strikeoff")).expect("the job");
    let long = "n".repeat(100_000);
    let separate = ["separate", "heron.png", "--garment", "black", "-o", "new.strikeoff"];
    let prepare = ["prepare", "heron.png", "-o", "new.png"];
    let films = ["films", "heron.strikeoff", "--out", "new"];
    let edit = ["edit", "heron.strikeoff"];
    let with = |first: &[&'static str], rest: &[&'static str]| [first, rest].concat();
    for (args, says) in [
        (with(&prepare, &["--radius", "100000mm"]), "the sharpening radius must be 0 to 2 mm, not 100000"),
        (with(&prepare, &["--sharpen", "NaN"]), "the sharpening amount must be 0 to 10"),
        (with(&prepare, &["--feather", "1e308mm"]), "not a length"),
        (
            with(&prepare, &["--background", "flood", "--feather", "90mm"]),
            "the background's feather must be 0 to 10 mm",
        ),
        (with(&prepare, &["--max-width", "99m"]), "18in or 457mm"),
        (with(&prepare, &["--ppi", "6000"]), "the working resolution must be 10 to 2400 ppi, not 6000"),
        (with(&prepare, &["--quarter-turns", "9"]), "quarter turns must be 0 to 3, not 9"),
        (with(&prepare, &["--ruling", "900"]), "5 to 300 lpi"),
        (with(&prepare, &["--platen", "14x18"]), "14x18in"),
        (
            with(&separate, &["--inks", "base white", "--base-choke", "90mm"]),
            "the choke of the underbase must be 0 to 5 mm",
        ),
        (
            with(&separate, &["--inks", "base white", "--quantity", "4000000000"]),
            "the number of shirts must be 0 to 10000000",
        ),
        (with(&separate, &["--inks", "base white", "--ruling", "900lpi"]), "5 to 300 lpi"),
        (with(&films, &["--margin", "5000mm"]), "the film's margin must be 0 to 200 mm, not 5000"),
        (with(&films, &["--margin", "12"]), "18in or 457mm"),
        (with(&films, &["--printer-width", "90m"]), "18in or 457mm"),
        (with(&films, &["--compensate", "80"]), "the gain at 50 % must be 0 to 45 points, not 80"),
        (with(&films, &["--compensate", "9000um"]), "the growth of dot edges must be 0 to 500 um, not 9000"),
        (with(&films, &["--dot", "index:9mm"]), "the side of a dot must be 0.02 to 5 mm, not 9"),
        (with(&edit, &["sharpen", "signal red", "100000mm"]), "the radius must be 0 to 25 mm, not 100000"),
        (with(&edit, &["choke", "signal red", "26mm"]), "the reach must be 0 to 25 mm, not 26"),
        (with(&edit, &["hits", "signal red", "200"]), "hits must be 1 to 4, not 200"),
        (with(&edit, &["gain", "signal red", "inf"]), "gain must be -25 to 25 points"),
        (
            with(&["proof", "heron.strikeoff", "-o", "new.png"], &["--bad-day", "--stand-off", "9000mm"]),
            "the register must be 0 to 5 mm",
        ),
        (
            with(&["wedge", "heron.strikeoff"], &["--read", "5:NaN,50:-1"]),
            "the print of the step 5:NaN must be 0 to 100 %",
        ),
        (with(&["wedge", "heron.strikeoff"], &["--read", "50:60,50:61"]), "two steps of 50 %"),
        (with(&["suggest", "heron.png", "--garment", "black"], &["--ruling", "1e9"]), "45lpi"),
    ] {
        refused(folder, &args, says);
    }
    let name_of_screen = "the name of a screen can have at most 120 letters, not 100000";
    for (args, says) in [
        (vec!["edit", "heron.strikeoff", "copy", "signal red", &long], name_of_screen),
        (vec!["edit", "heron.strikeoff", "copy", "signal red", "a\nb"], "control code"),
        (vec!["versions", "heron.strikeoff", "keep", &long], "the name of a version can have at most 120 letters"),
        (vec!["versions", "heron.strikeoff", "keep", "a", "--note", "\u{1b}[31m"], "the note holds a line break"),
        (vec!["wedge", "heron.strikeoff", "--read", "50:60", "--name", &long], "the name of a curve"),
        (vec!["edit", "heron.strikeoff", "drop", &long], "the job has no screen"),
        (vec!["inspect", "no\n\u{1b}[31msuch.strikeoff"], "cannot read the job no [31msuch.strikeoff"),
    ] {
        refused(folder, &args, says);
    }
    refused(
        folder,
        &[&separate[..], &["--inks", "base white", "--title", &long]].concat(),
        "the job's title can have at most 120 letters, not 100000",
    );
    assert_eq!(std::fs::read(folder.join("heron.strikeoff")).expect("the job"), before, "the job is as it was");
    for new in ["new.strikeoff", "new.png", "new/films.json"] {
        assert!(!folder.join(new).exists(), "{new} was written");
    }
}

/// A file whose names or numbers are beyond their range is not opened, and a shelf or profile is not taken.
#[test]
fn shelves_and_profiles_are_held_to_the_same_ranges() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path();
    job(folder);
    let shelf = |name: &str| {
        let ink = serde_json::json!({"name": name, "over_white": "#C03020", "opacity": 0.7});
        std::fs::write(folder.join("shelf.json"), serde_json::json!({"inks": [ink]}).to_string()).expect("written");
    };
    let args =
        ["separate", "heron.png", "--garment", "black", "--inks", "a", "--shelf", "shelf.json", "-o", "new.strikeoff"];
    for (name, says) in [("n".repeat(100_000), "at most 120 letters"), ("a\nb".into(), "control code")] {
        shelf(&name);
        refused(folder, &args, says);
    }
    for (profile, says) in [
        (serde_json::json!({"shop": "n".repeat(100_000)}), "the shop's name can have at most 120 letters"),
        (serde_json::json!({"shop": "a\u{7}b"}), "control code"),
        (serde_json::json!({"heads": 0}), "the heads of the press must be 1 to 64, not 0"),
        (serde_json::json!({"film_printer": {"width_mm": 90_000.0}}), "the film printer's width must be 20 to 5000 mm"),
    ] {
        std::fs::write(folder.join("shop.json"), profile.to_string()).expect("written");
        refused(folder, &["profile", "import", "shop.json"], says);
    }
}
