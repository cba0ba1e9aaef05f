//! Shared helpers of the whole-job tests: the program as a real binary, readers from outside the
//! project, and the reference tables. A missing tool fails with the line that installs it.

pub mod edits;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use strikeoff_files::art::drawing::Artist;

/// The built program. `cargo test --workspace` builds it beside the tests, because the program's own
/// package has integration tests; `cargo test -p strikeoff-tests` alone does not.
///
/// # Panics
/// If it is not there.
pub fn program() -> PathBuf {
    let test = std::env::current_exe().expect("a test knows its own path");
    let folder = test.ancestors().nth(2).expect("tests lie in target/<profile>/deps");
    let path = folder.join(format!("strikeoff{}", std::env::consts::EXE_SUFFIX));
    assert!(path.is_file(), "{} is not built: run `cargo test --workspace`", path.display());
    path
}

/// Runs the program with arguments and waits for it.
///
/// # Panics
/// If it cannot be started.
pub fn run<S: AsRef<std::ffi::OsStr>>(args: impl IntoIterator<Item = S>) -> Output {
    Command::new(program()).args(args).output().expect("the program starts")
}

/// Runs the program, which must succeed, and gives its JSON report.
///
/// # Panics
/// If it fails or prints no JSON; with what it said.
pub fn run_json<S: AsRef<std::ffi::OsStr>>(args: impl IntoIterator<Item = S>) -> serde_json::Value {
    let mut command = Command::new(program());
    let output = command.arg("--json").args(args).output().expect("the program starts");
    assert!(output.status.success(), "{command:?} failed: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("a JSON report on standard output")
}

/// Runs the program, which must refuse with exit code 1 and one clear line; gives that line.
///
/// # Panics
/// If it succeeds, panics or says more or less than a line.
pub fn run_refused<S: AsRef<std::ffi::OsStr>>(args: impl IntoIterator<Item = S>) -> String {
    let output = run(args);
    let said = String::from_utf8_lossy(&output.stderr).trim().to_owned();
    assert_eq!(output.status.code(), Some(1), "exit code; it said: {said}");
    assert_eq!(said.lines().count(), 1, "one line expected: {said}");
    assert!(!said.contains("panicked"), "{said}");
    said
}

/// Runs a tool from outside the project, which must succeed; gives its standard output.
///
/// # Panics
/// If the tool is missing (with the Debian package that brings it) or fails.
pub fn tool<S: AsRef<std::ffi::OsStr>>(name: &str, package: &str, args: impl IntoIterator<Item = S>) -> Vec<u8> {
    let mut command = Command::new(name);
    let output = match command.args(args).output() {
        Ok(output) => output,
        Err(error) => panic!("{name}: {error}; install it with: apt-get install {package}"),
    };
    assert!(output.status.success(), "{command:?} failed: {}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

/// A file under `tests/fixtures`.
pub fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name)
}

/// The rows of a reference table under `tests/fixtures/reference`: `#` lines and the heading are
/// left out, cells are plain or quoted.
///
/// # Panics
/// If the file is missing or empty.
pub fn reference_rows(name: &str) -> Vec<Vec<String>> {
    let path = fixture("reference").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let rows: Vec<_> =
        text.lines().filter(|l| !l.starts_with('#') && !l.trim().is_empty()).skip(1).map(cells).collect();
    assert!(!rows.is_empty(), "{} has no rows", path.display());
    rows
}

fn cells(line: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(String::new()),
            c => out.last_mut().expect("never empty").push(c),
        }
    }
    out
}

/// The built program as the artist that draws SVG and PDF, as it draws for itself.
pub fn artist() -> Artist {
    Artist::program(program(), ["draw-art"])
}
