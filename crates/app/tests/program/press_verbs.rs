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
pub fn cgats() -> String {
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

/// A press of three inks on white: its print is made, read as a table that an instrument could write, taken into a job, and
/// read again when it prints heavier.
#[test]
fn a_press_is_read_and_its_jobs_say_how_sure_they_are() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path();
    let made = report(
        folder,
        &["calibrate", "--fingerprint", "--inks", "Golden yellow,Brick red,Ink black", "-o", "print.strikeoff"],
    );
    let patches = made["patches"].as_array().expect("patches").clone();
    let list = |key: &str| -> Vec<usize> {
        made[key].as_array().expect("numbers").iter().filter_map(|n| n.as_str()?.parse().ok()).collect()
    };
    let (wet, flashed) = (list("wet"), list("flashed"));
    assert_eq!(wet.len() + flashed.len(), 70);
    // Multiplied layers in L* a* b*, roughly: light goes down with every ink, by the dots that it prints.
    let table = |gain: f64| {
        let lab = |at: usize, kept: f64| {
            let film: Vec<f64> = patches[at].as_array().expect("coverages").iter().filter_map(|v| v.as_f64()).collect();
            let printed: Vec<f64> = film.iter().map(|a| a + 4.0 * gain * a * (1.0 - a)).collect();
            let (mut l, mut a, mut b) = (93.0, 0.0, -2.0);
            for (ink, solid) in [[82.0, 8.0, 80.0], [42.0, 55.0, 35.0], [18.0, 0.0, 0.0]].iter().enumerate() {
                let cover = printed[ink] * if ink > 0 && printed[..ink].iter().any(|p| *p > 0.0) { kept } else { 1.0 };
                l += cover * (solid[0] * l / 93.0 - l);
                a += cover * (solid[1] - a);
                b += cover * (solid[2] - b);
            }
            format!("{l:.2} {a:.2} {b:.2}")
        };
        let rows: Vec<String> = wet.iter().map(|at| format!("{at} {}", lab(*at, 0.85))).collect();
        let more: Vec<String> = flashed.iter().map(|at| format!("{at}f {}", lab(*at, 1.0))).collect();
        format!(
            "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n{}\n{}\nEND_DATA\n",
            rows.join("\n"),
            more.join("\n")
        )
    };
    std::fs::write(folder.join("spring.txt"), table(0.20)).expect("written");
    std::fs::write(folder.join("autumn.txt"), table(0.24)).expect("written");
    let read = |table: &str, date: &str| {
        let args = ["fingerprint", "print.strikeoff", "--read", table, "--name", "Auto 1", "--date", date];
        report(folder, &args)
    };
    let spring = read("spring.txt", "2026-04-01");
    assert_eq!(spring["patches"], 70);
    let points = spring["inks"][2]["gain_points"].as_f64().expect("points");
    assert!((10.0..32.0).contains(&points), "{spring}");
    assert!(spring["band"].as_f64().is_some_and(|band| band > 0.1 && band < 8.0), "{spring}");
    let autumn = read("autumn.txt", "2026-10-01");
    let heavier: Vec<f64> =
        autumn["since"]["points"].as_array().expect("points").iter().filter_map(|v| v.as_f64()).collect();
    let mean = heavier.iter().sum::<f64>() / 3.0;
    assert!((2.0..6.5).contains(&mean), "4 points heavier: {heavier:?}");

    report(folder, &["fingerprint", "print.strikeoff", "--take", "auto 1", "-o", "job.strikeoff"]);
    let inspected = report(folder, &["inspect", "job.strikeoff"]);
    assert!(inspected["sureness"]["band"].as_f64().is_some_and(|band| band > 0.05 && band < 10.0), "{inspected}");
    report(folder, &["sheet", "job.strikeoff", "-o", "sheet.html"]);
    let html = std::fs::read_to_string(folder.join("sheet.html")).expect("text");
    assert!(html.contains("19 times of 20") && html.contains("Auto 1 of 2026-10-01 (measured)"));
    for (words, part) in [
        ("fingerprint job.strikeoff --take Auto_9", "no fingerprint \"Auto_9\""),
        ("fingerprint print.strikeoff --read none.txt", "cannot read none.txt"),
        ("fingerprint print.strikeoff --read sheet.html", "CxF"),
        ("fingerprint print.strikeoff --read spring.txt --from Auto_9", "no fingerprint"),
        ("calibrate --fingerprint --inks Brick_red --readings 3 -o x.strikeoff", "5 readings or more"),
    ] {
        let said = refusal(folder, &words.split(' ').collect::<Vec<_>>());
        assert!(said.contains(part), "{said}");
    }
}

/// Recipes from colours, and the correction after a drawdown.
#[test]
fn a_color_is_mixed_and_corrected() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path();
    let room = r##"{"components": [
        {"name": "White", "price_per_kg": 12, "drawdowns": [{"over_white": "#F4F4F0", "over_black": "#E8E8E6"}]},
        {"name": "Red", "price_per_kg": 20, "drawdowns": [{"over_white": "#C8202A", "over_black": "#8A1018"}]},
        {"name": "Black", "price_per_kg": 15, "drawdowns": [{"over_white": "#141414", "over_black": "#121212"}]}]}"##;
    std::fs::write(folder.join("room.json"), room).expect("written");
    let mixed = report(folder, &["recipe", "#B5332B", "--components", "room.json", "--grams", "800", "--spare", "5"]);
    let grams: Vec<f64> =
        mixed["amounts"].as_array().expect("amounts").iter().filter_map(|a| a["grams"].as_f64()).collect();
    assert!((grams.iter().sum::<f64>() - 840.0).abs() < 1e-9 && grams.iter().all(|g| g.fract() == 0.0), "{mixed}");
    assert!(mixed["cost"].as_f64().is_some_and(|cost| cost > 10.0 && cost < 17.0), "{mixed}");
    let pink = ["recipe", "65,40,20", "--components", "room.json", "--grams", "200", "--scale", "0.1g"];
    let first = report(folder, &pink);
    assert!(first["correction"].is_null());
    let too_dark = report(folder, &[&pink[..], &["--measured", "60,42,21"]].concat());
    let add = too_dark["correction"]["add"].as_array().expect("additions");
    assert!(add.iter().any(|a| a["component"] == "White"), "white lightens it: {too_dark}");
    assert!(too_dark["correction"]["after"].as_f64() < too_dark["correction"]["before"].as_f64(), "{too_dark}");
    let blue = report(folder, &["recipe", "#1030C0", "--components", "room.json", "--grams", "100"]);
    assert_eq!(blue["mixed"], false);
    for (words, part) in [
        ("recipe beige --components room.json --grams 5", "no colour"),
        ("recipe #808080 --components room.json", "how much to mix"),
        ("recipe #808080 --components none.json --grams 5", "cannot read the ink room none.json"),
        ("recipe #808080 --components room.json --grams 5 --scale lots", "no step of a scale"),
        ("recipe #808080 --components room.json --grams 5 --only Mauve", "no component \"Mauve\""),
        ("recipe #808080 --components room.json --grams 5 --most 9", "1 to 5 components"),
    ] {
        let said = refusal(folder, &words.split(' ').collect::<Vec<_>>());
        assert!(said.contains(part), "{said}");
    }
}

/// One set of films for three garments: what each prints, what it costs, and what the films and sheets say.
#[test]
fn a_job_prints_on_several_garments() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path();
    std::fs::write(folder.join("art.png"), strikeoff_files::demo::demo_art_png()).expect("written");
    let inks = "Base white,Ink black,Golden yellow,Brick red,River blue";
    let job = "--max-width 1in --ppi 100 --flash-after".split(' ').collect::<Vec<_>>();
    let made =
        [&["separate", "art.png", "--garment", "#141416", "--also", "#FFFFFF", "--inks", inks], &job[..]].concat();
    let made = report(folder, &[&made[..], &["Base white", "-o", "fair.strikeoff"]].concat());
    assert_eq!(made["also_on"][0]["garment"], "#FFFFFF", "{made}");
    let uses = report(folder, &["garments", "fair.strikeoff"]);
    let screens = |at: usize| uses["garments"][at]["screens"].as_array().map(Vec::len);
    assert_eq!((&uses["screens"], screens(0), screens(1)), (&serde_json::json!(5), Some(5), Some(4)), "{uses}");
    // The figures are those of `inspect` on each garment.
    for (at, garment) in ["#141416", "#FFFFFF"].into_iter().enumerate() {
        let seen = report(folder, &["inspect", "fair.strikeoff", "--on", garment]);
        assert_eq!(seen["delta_e2000"]["mean"], uses["garments"][at]["quality"]["mean"], "{garment}");
        assert_eq!(seen["screens"].as_array().map(Vec::len), screens(at));
    }
    report(folder, &["films", "fair.strikeoff", "--out", "films", "--dpi", "360"]);
    let films = std::fs::read_to_string(folder.join("films/films.json")).expect("a list");
    let films: serde_json::Value = serde_json::from_str(&films).expect("JSON");
    assert_eq!(films["films"][0]["garments"], serde_json::json!(["#141416"]), "{films}");
    assert_eq!(films["films"][1]["garments"], serde_json::json!(["#141416", "#FFFFFF"]));

    let changed = report(
        folder,
        &["garments", "fair.strikeoff", "--add", "#9E1B24", "--on", "#141416", "--leave-out", "Ink black"],
    );
    assert_eq!(changed["garments"].as_array().map(Vec::len), Some(3), "{changed}");
    assert_eq!(changed["garments"][0]["screens"].as_array().map(Vec::len), Some(4));
    report(folder, &["garments", "fair.strikeoff", "--remove", "#ffffff"]);
    for (words, part) in [
        ("garments fair.strikeoff --on #FFFFFF --print Ink_black", "it prints on \"#141416\", \"#9E1B24\""),
        ("garments fair.strikeoff --leave-out Mauve", "no screen \"Mauve\""),
        ("garments fair.strikeoff --add #9E1B24", "prints on \"#9E1B24\" already"),
        ("inspect fair.strikeoff --on Sand", "no garment \"Sand\""),
        (
            "separate art.png --garment black --also white --inks Brick_red --method index -o x.strikeoff",
            "index separation",
        ),
    ] {
        let words: Vec<String> = words.split(' ').map(|word| word.replace('_', " ")).collect();
        let said = refusal(folder, &words.iter().map(String::as_str).collect::<Vec<_>>());
        assert!(said.contains(part), "{said}");
    }
}
