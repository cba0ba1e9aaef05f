//! The real program, killed while it writes a set of films over another: after the next look the
//! folder is the old set or the new one.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Child, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::shop::{Shop, copy_folder};

/// All files of a folder but hidden ones.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).expect("a folder").flatten();
    let shown = entries.filter(|entry| !entry.file_name().to_string_lossy().starts_with('.'));
    shown.map(|e| (e.file_name().to_string_lossy().into_owned(), fs::read(e.path()).expect("a file"))).collect()
}

/// Whether a set is being put in place there.
fn is_going(folder: &Path) -> bool {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.into_iter().any(|entry| entry.path().extension().is_some_and(|e| e == "going"))
}

/// Numbers that look random and are the same each time.
struct Random(u64);

impl Random {
    fn below(&mut self, most: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % most.max(1)
    }
}

#[test]
fn films_that_are_killed_are_the_old_or_the_new_set_after_the_next_look() {
    let shop = Shop::new();
    shop.separate("two.strikeoff", "Ink black,Brick red");
    let old = ["films", "fair.strikeoff", "--out", "films", "--dpi", "720"];
    // Fewer films of another ruling, and no TIFF in every other run: old files go.
    let new = |tiff: bool| {
        let mut args = vec!["films", "two.strikeoff", "--out", "films", "--dpi", "720", "--ruling", "55lpi"];
        args.extend((!tiff).then_some("--no-tiff"));
        args
    };
    let films = shop.at("films");
    shop.done(&old);
    copy_folder(&films, &shop.at("before"));
    let began = Instant::now();
    shop.done(&new(true));
    let takes_us = began.elapsed().as_micros() as u64;
    let of_new = [contents(&films), {
        shop.done(&new(false));
        contents(&films)
    }];
    let of_old = contents(&shop.at("before"));
    assert_eq!([of_old.len(), of_new[0].len(), of_new[1].len()], [5, 4, 2]);

    let mut random = Random(0x2545_f491_4f6c_dd1d);
    let (mut seen, mut halves) = ([0, 0], 0);
    for round in 0..200 {
        fs::remove_dir_all(&films).expect("taken away");
        copy_folder(&shop.at("before"), &films);
        let with_tiff = round % 4 < 2;
        let mut command = shop.program(&new(with_tiff));
        let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("it starts");
        // Every other kill comes while files are being put in place, which is a short time of the whole.
        if round % 2 == 0 {
            sleep(Duration::from_micros(random.below(takes_us)));
        } else {
            wait_until_going(&films, &mut child);
            sleep(Duration::from_micros(random.below(4000)));
        }
        child.kill().expect("SIGKILL on Unix");
        child.wait().expect("it ends");
        halves += usize::from(is_going(&films));
        let looked = shop.done(&["inspect", "films"]);
        let said = String::from_utf8_lossy(&looked.stdout);
        assert!(said.contains("files are as they were written"), "{said}");
        let now = contents(&films);
        let of_new = &of_new[usize::from(!with_tiff)];
        assert!(now == of_old || now == *of_new, "round {round}: {:?}", now.keys());
        seen[usize::from(now != of_old)] += 1;
    }
    assert!(seen[0] > 20 && seen[1] > 20 && halves > 5, "{seen:?}, {halves} half way");
}

fn wait_until_going(films: &Path, child: &mut Child) {
    while !is_going(films) && child.try_wait().expect("a child").is_none() {
        sleep(Duration::from_micros(100));
    }
}

#[test]
fn an_unfinished_set_is_said_by_the_next_run() {
    let shop = Shop::new();
    let films = shop.at("films");
    let line = ["films", "fair.strikeoff", "--out", "films", "--dpi", "720"];
    for _ in 0..60 {
        let mut child = shop.program(&line).stdout(Stdio::null()).spawn().expect("it starts");
        wait_until_going(&films, &mut child);
        child.kill().expect("SIGKILL on Unix");
        child.wait().expect("it ends");
        if is_going(&films) {
            let report = crate::shop::report(&shop.done(&[&line[..], &["--json"]].concat()));
            let notes = report["notes"].to_string();
            assert!(notes.contains("had been stopped half way and was finished"), "{report}");
            shop.done(&["inspect", "films"]);
            return;
        }
    }
    panic!("it was never killed half way");
}

#[test]
fn the_demo_is_whole_or_not_there() {
    let shop = Shop::new();
    let folder = shop.at("fair");
    let mut child = shop.program(&["demo", "--out", "fair"]).stdout(Stdio::null()).spawn().expect("it starts");
    let began = Instant::now();
    while !folder.join("on-white").exists() && child.try_wait().expect("a child").is_none() {
        sleep(Duration::from_millis(1));
        assert!(began.elapsed() < Duration::from_secs(300));
    }
    child.kill().expect("SIGKILL on Unix");
    child.wait().expect("it ends");
    let shown: Vec<_> = ["on-white", "on-white/films", "on-white/screens"]
        .iter()
        .filter_map(|inside| fs::read_dir(folder.join(inside)).ok())
        .flat_map(|entries| entries.flatten())
        .filter(|entry| entry.path().is_file() && !entry.file_name().to_string_lossy().starts_with('.'))
        .collect();
    assert!(shown.is_empty(), "{shown:?}");
    shop.done(&["demo", "--out", "fair"]);
    for inside in ["fair", "fair/on-white/films", "fair/on-black/screens"] {
        let said = shop.done(&["inspect", inside]);
        assert!(String::from_utf8_lossy(&said.stdout).contains("files are as they were written"));
    }
    fs::write(folder.join("on-white/films/films.pdf"), "cut").expect("written");
    let said = shop.refused(&["inspect", "fair/on-white/films"]);
    assert!(said.contains("films.pdf is not as it was written"), "{said}");
}
