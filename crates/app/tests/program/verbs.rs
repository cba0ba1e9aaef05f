//! The program as a process: every verb is listed and explains itself, and wrong use is distinct from a
//! job that cannot be done. Being an integration test of this package, it also makes
//! `cargo test --workspace` build the program that the whole-job tests run.

use std::process::{Command, Output};

const VERBS: [&str; 30] = [
    "demo",
    "separate",
    "proof",
    "inspect",
    "edit",
    "compare",
    "costs",
    "films",
    "film-sets",
    "screens",
    "prepare",
    "redraw",
    "suggest",
    "check",
    "sheet",
    "client-proof",
    "garments",
    "measure",
    "calibrate",
    "wedge",
    "fingerprint",
    "recipe",
    "profile",
    "ticket",
    "quote",
    "run",
    "reorder",
    "jobs",
    "make",
    "extras",
];

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_strikeoff")).args(args).output().expect("the program starts")
}

#[test]
fn every_verb_is_listed_and_has_help() {
    let help = run(&["--help"]);
    assert!(help.status.success());
    let listed = String::from_utf8(help.stdout).unwrap();
    for verb in VERBS {
        assert!(listed.contains(&format!("  {verb} ")), "{verb} not in {listed}");
        let own = run(&[verb, "--help"]);
        assert!(own.status.success() && !own.stdout.is_empty(), "{verb}");
    }
}

#[test]
fn wrong_use_ends_with_2_and_a_job_that_cannot_be_done_with_1() {
    assert_eq!(run(&["separate"]).status.code(), Some(2), "what it needs is missing");
    assert_eq!(run(&["proof", "job", "--sideways"]).status.code(), Some(2), "no such option");
    let refused = run(&["inspect", "no-such-job.strikeoff"]);
    assert_eq!(refused.status.code(), Some(1), "no such file");
    assert!(String::from_utf8_lossy(&refused.stderr).contains("no-such-job.strikeoff"));
}

#[test]
fn vectors_named_in_the_environment_are_used_or_refused() {
    let inspect = |vectors: &str| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_strikeoff"));
        command.env("STRIKEOFF_VECTORS", vectors).args(["inspect", "no-such-job.strikeoff"]);
        command.output().expect("the program starts")
    };
    assert_eq!(inspect("baseline").status.code(), Some(1), "no such file, as without it");
    let refused = inspect("abacus");
    assert_eq!(refused.status.code(), Some(2));
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(said.contains("abacus") && said.contains("baseline"), "{said}");
}
