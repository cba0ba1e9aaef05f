//! Standard output that cannot be written: a pipe that is closed early and a full disk, for every
//! verb, text, JSON and help. The work is done all the same, and nothing panics.

#![cfg(unix)]

use std::fs::File;
use std::process::{Command, Output, Stdio};

use crate::shop::{Shop, refusal};

/// A command line of every verb. The measured file is made by the test.
const LINES: [&str; 32] = [
    "prepare art.png -o ready.png --max-width 0.4in --ppi 100",
    "redraw flag.svg -o flag-again.svg",
    "suggest art.png --garment white --screens 2 --max-width 0.4in --ppi 100",
    "separate art.png --garment white --inks Ink_black --max-width 0.4in --ppi 100 -o new.strikeoff",
    "edit fair.strikeoff density Ink_black 0.9",
    "versions fair.strikeoff keep NAME",
    "recover fair.strikeoff -o again.strikeoff",
    "inspect fair.strikeoff",
    "compare fair.strikeoff fair.strikeoff",
    "costs fair.strikeoff",
    "proof fair.strikeoff -o proof.png",
    "check fair.strikeoff",
    "screens fair.strikeoff --out screens",
    "film-sets fair.strikeoff",
    "films fair.strikeoff --out films --dpi 720",
    "sheet fair.strikeoff -o sheet.pdf",
    "client-proof fair.strikeoff -o client.pdf",
    "garments fair.strikeoff black",
    "measure inks.txt -o inks.json",
    "calibrate --inks Ink_black -o wedge.strikeoff",
    "wedge fair.strikeoff --read 5:14,10:25,30:55,50:74,70:90",
    "fingerprint patches.strikeoff --read patches.txt -o shop.json",
    "recipe #808080 --components inks.txt --grams 50",
    "ticket fair.strikeoff --client NAME",
    "quote fair.strikeoff --quantity 50,150",
    "run fair.strikeoff add --shirts 150 --date 2026-12-04",
    "reorder fair.strikeoff",
    "jobs . black",
    "make fair.strikeoff --out made",
    "profile show",
    "extras --out extras",
    "demo --out demo",
];

/// What is there when the work is done.
const MADE: [&str; 17] = [
    "ready.png",
    "flag-again.svg",
    "new.strikeoff",
    "fair.previous.strikeoff",
    "again.strikeoff",
    "proof.png",
    "screens/screens.json",
    "films/films.json",
    "sheet.pdf",
    "client.pdf",
    "inks.json",
    "wedge.strikeoff",
    "shop.json",
    "demo/demo.json",
    "made/films/films.json",
    "extras/man/strikeoff-film-sets.1",
    "extras/completions/strikeoff.bash",
];

fn words(line: &str) -> Vec<String> {
    let word = |word: &str| if word.starts_with("Ink_") { word.replace('_', " ") } else { word.to_owned() };
    line.split(' ').map(word).collect()
}

/// The line as text and as JSON; a version is kept under a name once. The demo is long and has one way
/// to report for both.
fn both(line: &str) -> Vec<Vec<String>> {
    let text = words(&line.replace("NAME", "text"));
    let json = words(&format!("{} --json", line.replace("NAME", "json")));
    if line.starts_with("demo") { vec![json] } else { vec![text, json] }
}

/// Standard output whose reader has gone.
fn closed() -> Stdio {
    let (_, writer) = std::io::pipe().expect("a pipe");
    writer.into()
}

fn full() -> Stdio {
    File::options().write(true).open("/dev/full").expect("/dev/full (Linux)").into()
}

fn run(mut command: Command, out: Stdio) -> Output {
    command.stdout(out).stderr(Stdio::piped()).spawn().and_then(|c| c.wait_with_output()).expect("the program runs")
}

fn ends_quietly(out: &Output, what: &str) {
    // A shell says the same of a child that SIGPIPE ended.
    assert_eq!(out.status.code(), Some(141), "{what}");
    assert_eq!(String::from_utf8_lossy(&out.stderr), "", "{what}");
}

fn says_why(out: &Output, what: &str) {
    let said = refusal(out);
    assert!(said.contains("cannot write to standard output"), "{what}: {said}");
}

fn with_spectra() -> Shop {
    let shop = Shop::new();
    let bands: Vec<String> = (0..36).map(|i| format!("SPECTRAL_NM{}", 380 + 10 * i)).collect();
    let row = |name: &str, value: &str| format!("\"{name}\" {}\n", vec![value; 36].join(" "));
    let head =
        format!("CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME BACKING {}\nEND_DATA_FORMAT\nBEGIN_DATA\n", bands.join(" "));
    let rows = ["card\" \"white", "card\" \"black", "Kite red\" \"white", "Kite red\" \"black"];
    let rows: String = rows.iter().zip(["0.9", "0.04", "0.3", "0.2"]).map(|(name, value)| row(name, value)).collect();
    let flag = r##"<svg xmlns="http://www.w3.org/2000/svg" width="60" height="40"><path fill="#205080" d="M0 0h60v40H0z"/>
        <circle cx="30" cy="20" r="11.5" fill="#F2E8D0"/></svg>"##;
    std::fs::write(shop.at("flag.svg"), flag).expect("written");
    std::fs::write(shop.at("inks.txt"), format!("{head}{rows}END_DATA\n")).expect("written");
    // One ink: the bare garment, its solid and three steps.
    std::fs::write(shop.at("patches.txt"), "0 95 0 -2\n1 16 0 0\n2 70 0 -1\n3 45 0 0\n4 28 0 0\n").expect("written");
    shop.done(&["calibrate", "--fingerprint", "--inks", "Ink black", "-o", "patches.strikeoff"]);
    shop
}

#[test]
fn a_verb_whose_reader_has_gone_ends_quietly_when_its_work_is_done() {
    let shop = with_spectra();
    for line in LINES {
        // Text here and JSON below: both go out by one way, and every verb is run twice as it is.
        let args = both(line).remove(0);
        ends_quietly(&run(shop.program(&args), closed()), line);
    }
    for made in MADE {
        assert!(shop.at(made).exists(), "{made}");
    }
}

#[test]
fn a_verb_whose_output_cannot_be_written_says_so_when_its_work_is_done() {
    let shop = with_spectra();
    for line in LINES {
        let args = both(line).pop().expect("a line");
        says_why(&run(shop.program(&args), full()), line);
    }
    for made in MADE {
        assert!(shop.at(made).exists(), "{made}");
    }
}

#[test]
fn help_and_refusals_without_output_do_not_panic() {
    let shop = Shop::new();
    let help = String::from_utf8(shop.done(&["--help"]).stdout).expect("text");
    let mut lines = vec![vec!["--help".to_owned()], vec!["--version".to_owned()]];
    for line in LINES {
        let verb = words(line)[0].clone();
        assert!(help.contains(&format!("  {verb} ")), "{verb}");
        lines.push(vec![verb, "--help".to_owned()]);
    }
    let listed = help.split("Commands:").nth(1).and_then(|rest| rest.split("\n\n").next()).expect("a list of verbs");
    let verbs = listed.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   ")).count();
    assert_eq!(verbs, LINES.len() + 1, "every verb but help has its line here: {listed}");
    for line in lines {
        let what = line.join(" ");
        ends_quietly(&run(shop.program(&line), closed()), &what);
        says_why(&run(shop.program(&line), full()), &what);
    }
    for (line, code) in [("inspect none.strikeoff", 1), ("inspect", 2), ("nonsense", 2)] {
        let mut command = shop.program(&words(line));
        let status = command.stderr(full()).status().expect("the program runs");
        assert_eq!(status.code(), Some(code), "{line}");
    }
}
