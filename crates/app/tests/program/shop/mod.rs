//! A shop's folder for tests of the program as a process: the program with a home of its own, and
//! a small job.

#![allow(dead_code, reason = "each test file uses its part")]

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder that goes with the test.
pub struct Shop {
    dir: tempfile::TempDir,
}

impl Shop {
    /// With the demo's picture as `art.png` and a job of three screens on a print of 0.4 in as
    /// `fair.strikeoff`.
    pub fn new() -> Self {
        let shop = Self { dir: tempfile::tempdir().expect("a folder") };
        fs::write(shop.at("art.png"), strikeoff_files::demo::demo_art_png()).expect("a picture");
        shop.separate("fair.strikeoff", "Ink black,Brick red,Golden yellow");
        shop
    }

    pub fn separate(&self, job: &str, inks: &str) {
        let small = ["--garment", "white", "--max-width", "0.4in", "--ppi", "100", "--inks", inks, "-o", job];
        self.done(&[&["separate", "art.png"], &small[..]].concat());
    }

    pub fn at(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// The program, in the folder.
    pub fn program<S: AsRef<OsStr>>(&self, args: &[S]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_strikeoff"));
        self.home(&mut command);
        command.args(args);
        command
    }

    /// Gives a command the folder to work in and a home there.
    pub fn home(&self, command: &mut Command) {
        for key in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"] {
            command.env(key, self.at("home"));
        }
        command.current_dir(self.dir.path());
    }

    /// Runs it, and it must succeed.
    pub fn done<S: AsRef<OsStr>>(&self, args: &[S]) -> Output {
        let out = self.program(args).output().expect("the program starts");
        let given: Vec<_> = args.iter().map(|a| a.as_ref().display().to_string()).collect();
        assert!(out.status.success(), "{given:?}: {}", String::from_utf8_lossy(&out.stderr));
        out
    }

    /// Runs it, and it must refuse in one line, which is given.
    pub fn refused<S: AsRef<OsStr>>(&self, args: &[S]) -> String {
        refusal(&self.program(args).output().expect("the program starts"))
    }

    /// Hidden files of the program in a folder.
    pub fn hidden(&self, folder: &str) -> Vec<String> {
        let entries = fs::read_dir(self.at(folder)).expect("a folder").flatten();
        let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
        names.filter(|name| name.starts_with(".strikeoff")).collect()
    }
}

/// The one line that a refused verb says.
pub fn refusal(out: &Output) -> String {
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(1), "{said}");
    assert_eq!(said.trim_end().lines().count(), 1, "{said}");
    said
}

/// All edits of a job, as the program lists them.
pub fn report(out: &Output) -> serde_json::Value {
    serde_json::from_slice(&out.stdout).expect("JSON")
}

/// Copies a folder with what is in it.
pub fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder").flatten() {
        let to = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy_folder(&entry.path(), &to);
        } else {
            fs::copy(entry.path(), to).expect("a copy");
        }
    }
}
