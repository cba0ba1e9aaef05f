//! Two programs on one job, and a disk that is full: no edit is lost unseen.

use std::fs;
use std::process::Stdio;

use crate::shop::{Shop, refusal, report};

#[test]
fn of_two_edits_at_once_none_is_lost_unseen() {
    let shop = Shop::new();
    fs::copy(shop.at("fair.strikeoff"), shop.at("fresh.strikeoff")).expect("a copy");
    let mut both = 0;
    for pair in 0..20 {
        fs::copy(shop.at("fresh.strikeoff"), shop.at("fair.strikeoff")).expect("a copy");
        let start = |screen: &str| {
            let mut command = shop.program(&["edit", "fair.strikeoff", "density", screen, "0.9"]);
            command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the program starts")
        };
        let running = [start("Ink black"), start("Brick red")];
        let ended = running.map(|child| child.wait_with_output().expect("it ends"));
        let mut done = 0;
        for out in &ended {
            if out.status.success() {
                done += 1;
            } else {
                let said = refusal(out);
                assert!(said.contains("another program") || said.contains("changed on disk"), "{said}");
            }
        }
        let list = report(&shop.done(&["edit", "fair.strikeoff", "list", "--json"]));
        assert_eq!(list["edits"].as_array().map(Vec::len), Some(done), "pair {pair}: {list}");
        both += usize::from(done == 2);
    }
    assert!(both > 0, "one waits for the other where it can");
    assert_eq!(shop.hidden("").len(), 0);
}

#[test]
fn different_verbs_on_one_job_keep_each_others_changes() {
    let shop = Shop::new();
    let lines: [&[&str]; 3] = [
        &["edit", "fair.strikeoff", "density", "Brick red", "0.9"],
        &["versions", "./fair.strikeoff", "keep", "first"],
        &["wedge", "fair.strikeoff", "--read", "5:14,10:25,30:55,50:74,70:90", "--name", "June"],
    ];
    let running =
        lines.map(|line| shop.program(line).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().expect("it starts"));
    let done = running.map(|child| child.wait_with_output().expect("it ends")).map(|out| {
        if !out.status.success() {
            refusal(&out);
        }
        out.status.success()
    });
    let edits = report(&shop.done(&["edit", "fair.strikeoff", "list", "--json"]));
    let versions = report(&shop.done(&["versions", "fair.strikeoff", "list", "--json"]));
    let job = strikeoff_files::job::open_job(&shop.at("fair.strikeoff")).expect("a job");
    let there = [
        edits["edits"].as_array().map(Vec::len) == Some(1),
        versions["versions"].as_array().map(Vec::len) == Some(1),
        job.job.press.gain.describe().contains("June"),
    ];
    assert_eq!(there, done);
}

/// A limit on the size of files, as a full disk would be; without its signal a write just fails.
#[cfg(unix)]
#[test]
fn a_full_disk_is_one_sentence_and_the_job_stays() {
    let shop = Shop::new();
    let before = fs::read(shop.at("fair.strikeoff")).expect("a job");
    let most = before.len() / 512 / 4;
    let script = format!("trap '' XFSZ; ulimit -f {most}; exec \"$0\" \"$@\"");
    let mut command = std::process::Command::new("bash");
    command.args(["-c", &format!("set -o posix; {script}"), env!("CARGO_BIN_EXE_strikeoff")]);
    command.args(["edit", "fair.strikeoff", "density", "Brick red", "0.9"]);
    shop.home(&mut command);
    let said = refusal(&command.output().expect("bash starts"));
    assert!(said.contains("cannot write") && said.contains("fair.strikeoff"), "{said}");
    assert!(!said.contains("ZipWriter"), "{said}");
    assert_eq!(fs::read(shop.at("fair.strikeoff")).expect("a job"), before);
    assert_eq!(shop.hidden(""), Vec::<String>::new());
}
