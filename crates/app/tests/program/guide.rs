//! The guide for the bench: every command in it runs, in the order of its chapters, and every page that it links to is
//! there.

use std::path::{Path, PathBuf};
use std::process::Command;

/// A badge of two inks with type.
const BADGE: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" width="3in" height="2in" viewBox="0 0 300 200">
<rect x="10" y="10" width="280" height="180" rx="30" fill="#B5332B"/><circle cx="90" cy="100" r="55" fill="#17171A"/>
<path d="M170 60h90v20h-90zM170 100h70v20h-70z" fill="#17171A"/></svg>"##;

fn guide() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/guide/src")
}

/// Chapters in the order of the summary.
fn chapters() -> Vec<PathBuf> {
    let summary = std::fs::read_to_string(guide().join("SUMMARY.md")).expect("a summary");
    let names = summary.lines().filter_map(|line| line.split_once("](")).filter_map(|(_, rest)| rest.strip_suffix(')'));
    names.map(|name| guide().join(name)).collect()
}

/// The words of a command as a shell takes them; the guide quotes with double quotes alone.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (at, part) in line.split('"').enumerate() {
        if at % 2 == 1 {
            words.push(part.to_owned());
        } else {
            words.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    words
}

#[test]
fn every_command_of_the_guide_runs() {
    let dir = tempfile::tempdir().expect("a folder");
    let run = |args: &[String]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_strikeoff"));
        for key in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"] {
            command.env(key, dir.path().join("home"));
        }
        let out = command.current_dir(dir.path()).args(args).output().expect("the program starts");
        assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    };
    std::fs::write(dir.path().join("lantern.png"), strikeoff_files::demo::demo_art_png()).expect("written");
    std::fs::write(dir.path().join("drawdowns.txt"), crate::press_verbs::cgats()).expect("written");
    std::fs::write(dir.path().join("badge.svg"), BADGE).expect("written");
    run(&words("prepare badge.svg -o badge.png --max-width 3in --ppi 100"));
    let (mut ran, mut chapters_with) = (0, 0);
    for chapter in chapters() {
        let text = std::fs::read_to_string(&chapter).expect("a chapter");
        let before = ran;
        for line in text.lines().filter_map(|line| line.strip_prefix("$ strikeoff ")) {
            let words = words(line);
            // As in the guide, on fewer pixels.
            run(&words
                .iter()
                .map(|word| if word == "150" { "50".to_owned() } else { word.clone() })
                .collect::<Vec<_>>());
            ran += 1;
        }
        chapters_with += usize::from(ran > before);
    }
    assert!(ran > 25 && chapters_with > 9, "{ran} commands in {chapters_with} chapters");
}

#[test]
fn the_guide_links_to_pages_that_are_there() {
    let mut links = 0;
    for chapter in chapters() {
        let text = std::fs::read_to_string(&chapter).unwrap_or_else(|error| panic!("{}: {error}", chapter.display()));
        for target in text.split("](").skip(1).filter_map(|rest| rest.split_once(')')).map(|(target, _)| target) {
            assert!(chapter.with_file_name(target).exists(), "{}: {target}", chapter.display());
            links += 1;
        }
    }
    assert!(links > 5, "{links}");
}
