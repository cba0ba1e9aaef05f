//! Whatever becomes of the process that draws, the program that waits for it goes on, soon, and knows why.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::atomic::Ordering;
use std::thread;
use std::time::{Duration, Instant};

use strikeoff_core::Progress;
use strikeoff_files::art::drawing::Artist;
use strikeoff_files::art::{ArtError, ReadOptions, receive_bytes, receive_bytes_by};
use strikeoff_tests::program;

use super::{endless, svg};

/// What is said of a good drawing when `artist` draws it.
fn drawn_by(artist: &Artist) -> String {
    let art = svg("<rect width='9' height='9'/>");
    let read = receive_bytes_by(artist, "heron.svg", &art, ReadOptions::default(), &Progress::none());
    read.expect_err("this is no artist").to_string()
}

fn shell(script: &str) -> Artist {
    Artist::program("/bin/sh", ["-c", script])
}

#[test]
fn an_artist_that_is_none_is_a_sentence() {
    assert!(drawn_by(&Artist::Nobody).contains("has not said how it draws"));
    let error = receive_bytes("heron.svg", &svg(""), ReadOptions::default()).unwrap_err();
    assert!(matches!(error, ArtError::NotDrawn { .. }), "nobody was chosen in this program: {error}");
    let missing = drawn_by(&Artist::program("/no/such/program", ["draw-art"]));
    assert!(missing.contains("does not start"), "{missing}");
    // Programs that end at once, say nothing of use, or never stop talking.
    for script in
        ["true", "exit 3", "kill -SEGV $$", "cat", "echo DRAW; exec cat /dev/zero", "exec yes", "exec yes >&2"]
    {
        let said = drawn_by(&shell(script));
        assert!(said.contains("broke off the drawing"), "{script}: {said}");
    }
    let said = drawn_by(&shell("echo 'memory allocation of 9 bytes failed' >&2; kill -ABRT $$"));
    assert!(said.contains("of memory"), "{said}");
    let said = drawn_by(&shell("echo \"thread 'draw' has overflowed its stack\" >&2; kill -ABRT $$"));
    assert!(said.contains("nested too deep"), "{said}");
    assert!(drawn_by(&shell("kill -KILL $$")).contains("want of memory"));
    assert!(drawn_by(&shell("kill -XCPU $$")).contains("seconds"));
}

#[test]
fn a_file_that_nobody_reads_does_not_end_the_program() {
    // Larger than any pipe, and the child is gone before it is handed over.
    let large = svg(&"<rect width='9' height='9'/>".repeat(200_000));
    let read = receive_bytes_by(&shell("exit 0"), "large.svg", &large, ReadOptions::default(), &Progress::none());
    assert!(matches!(read, Err(ArtError::Damaged { .. })));
}

#[test]
fn cancelling_ends_the_drawing_at_once() {
    let dir = tempfile::tempdir().unwrap();
    for (number, command) in [format!("'{}' draw-art", program().display()), "sleep 300".into()].iter().enumerate() {
        let note = dir.path().join(number.to_string());
        let artist = shell(&format!("echo $$ >'{}'; exec {command}", note.display()));
        let progress = Progress::none();
        let cancel = progress.canceller();
        let art = endless();
        let started = Instant::now();
        let read = thread::scope(|scope| {
            let drawing =
                scope.spawn(|| receive_bytes_by(&artist, "endless.svg", &art, ReadOptions::default(), &progress));
            thread::sleep(Duration::from_millis(700));
            assert!(!drawing.is_finished(), "it must take longer than that");
            cancel.store(true, Ordering::Relaxed);
            drawing.join().unwrap()
        });
        assert!(matches!(read, Err(ArtError::Cancelled)), "{:?}", read.map(|r| r.facts));
        assert!(started.elapsed() < Duration::from_secs(10), "{:?}", started.elapsed());
        let pid = fs::read_to_string(&note).expect("the child was started");
        assert!(!Path::new("/proc").join(pid.trim()).exists(), "{command}: the child is left");
    }
}

/// Processes that a process has started and that are still there.
fn children(pid: u32) -> Vec<u32> {
    let Ok(tasks) = fs::read_dir(format!("/proc/{pid}/task")) else { return Vec::new() };
    tasks
        .flatten()
        .filter_map(|task| fs::read_to_string(task.path().join("children")).ok())
        .flat_map(|list| list.split_whitespace().filter_map(|pid| pid.parse().ok()).collect::<Vec<u32>>())
        .collect()
}

#[test]
#[cfg(target_os = "linux")]
fn the_child_ends_with_its_parent() {
    let dir = tempfile::tempdir().unwrap();
    let art = dir.path().join("endless.svg");
    fs::write(&art, endless()).unwrap();
    let mut parent = Command::new(program())
        .arg("prepare")
        .arg(&art)
        .args(["-o", "out.png"])
        .current_dir(dir.path())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let started = Instant::now();
    let drawing = |pid: &u32| {
        let said = fs::read(format!("/proc/{pid}/cmdline")).unwrap_or_default();
        String::from_utf8_lossy(&said).contains("draw-art")
    };
    let child = loop {
        if let Some(child) = children(parent.id()).into_iter().find(drawing) {
            break child;
        }
        assert!(started.elapsed() < Duration::from_secs(20), "no child was started");
        thread::sleep(Duration::from_millis(5));
    };
    // It is at work, beyond its first steps.
    thread::sleep(Duration::from_millis(500));
    assert!(drawing(&child));
    parent.kill().unwrap();
    parent.wait().unwrap();
    let killed = Instant::now();
    while drawing(&child) {
        assert!(killed.elapsed() < Duration::from_secs(5), "the child goes on without its parent");
        thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn the_verb_is_not_for_people() {
    let run = |args: &[&str]| Command::new(program()).args(args).stdin(Stdio::null()).output().unwrap();
    let help = String::from_utf8(run(&["--help"]).stdout).unwrap();
    assert!(help.contains("prepare") && !help.contains("draw-art"), "{help}");
    let nothing = run(&["draw-art"]);
    assert_eq!((nothing.status.code(), nothing.stdout.len()), (Some(1), 0), "no request, no answer");
}
