//! A crate as rooms and the arrows between them.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::source::{Route, passed_on, routes};

/// What a crate's rooms are meant to be, bottom up: a room imports only rooms named before it.
pub struct Plan {
    /// The crate's folder under `crates`.
    pub name: &'static str,
    /// Its rooms, the lowest first. A room is a folder or a file of `src`.
    pub rooms: &'static [&'static str],
    /// Rooms with rooms inside: the inner ones, the lowest first. What is not named belongs to the
    /// room itself, which is the lowest.
    pub inner: &'static [(&'static str, &'static [&'static str])],
}

/// Source files by their path under `src`.
pub type Files = BTreeMap<String, String>;

/// Arrows from room to room, with the places that draw them.
pub type Arrows = BTreeMap<(String, String), Vec<String>>;

/// Reads the files of a crate.
pub fn files(name: &str) -> Files {
    fn read(folder: &Path, under: &str, out: &mut Files) {
        for entry in std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display())) {
            let entry = entry.expect("a folder that can be read");
            let name = format!("{under}{}", entry.file_name().to_string_lossy());
            if entry.path().is_dir() {
                read(&entry.path(), &format!("{name}/"), out);
            } else if name.ends_with(".rs") {
                out.insert(name, std::fs::read_to_string(entry.path()).expect("source is text"));
            }
        }
    }
    let mut out = Files::new();
    read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(name).join("src"), "", &mut out);
    assert!(out.contains_key("lib.rs"), "no source of {name}");
    out
}

/// The module that a file is: `["press", "stack"]`, nothing for the crate's root.
fn module(file: &str) -> Vec<String> {
    let path = file.trim_end_matches(".rs").trim_end_matches("/mod");
    if path == "lib" || path == "main" { Vec::new() } else { path.split('/').map(str::to_owned).collect() }
}

/// The rooms that there are.
pub fn rooms(files: &Files) -> BTreeSet<String> {
    files.keys().filter_map(|file| module(file).first().cloned()).collect()
}

/// The arrows between the rooms of a crate.
pub fn arrows(files: &Files) -> Arrows {
    let root: BTreeMap<String, Route> = passed_on(&files["lib.rs"]).into_iter().collect();
    let rooms = rooms(files);
    let mut out = Arrows::new();
    for (file, text) in files {
        let own = module(file);
        let Some(from) = own.first() else { continue };
        for route in routes(text, &own) {
            let Some(first) = route.first() else { continue };
            let to = if rooms.contains(first) { Some(first) } else { root.get(first).and_then(|route| route.first()) };
            let Some(to) = to else { continue };
            if to != from {
                let place = format!("{file} (crate::{})", route.join("::"));
                out.entry((from.clone(), to.clone())).or_default().push(place);
            }
        }
    }
    out
}

/// The arrows between rooms inside of `room`; what belongs to none of `inner` belongs to the room
/// itself. The room's own table of contents draws none.
pub fn inner_arrows(files: &Files, room: &str, inner: &[&str]) -> Arrows {
    let contents = files.get(&format!("{room}/mod.rs")).map(String::as_str).unwrap_or_default();
    let named: BTreeMap<String, Route> = passed_on(contents).into_iter().collect();
    // `["separate", "Method"]` is what the table of contents has under that name.
    let place = |route: &[String]| {
        let below = route.get(1)?;
        let module = match named.get(below) {
            Some(passed) if !inner.contains(&below.as_str()) => &passed[0],
            _ => below,
        };
        Some(if inner.contains(&module.as_str()) { module.clone() } else { room.to_owned() })
    };
    let mut out = Arrows::new();
    for (file, text) in files.iter().filter(|(file, _)| file.starts_with(&format!("{room}/"))) {
        let own = module(file);
        let Some(from) = place(&own) else { continue };
        for route in routes(text, &own).iter().filter(|route| route.first().is_some_and(|first| first == room)) {
            let Some(to) = place(route) else { continue };
            if to != from {
                let place = format!("{file} (crate::{})", route.join("::"));
                out.entry((from.clone(), to)).or_default().push(place);
            }
        }
    }
    out
}

/// All that is wrong: rooms that are not in the plan, and arrows that do not point down.
pub fn faults(plan: &Plan, files: &Files) -> Vec<String> {
    let mut out = Vec::new();
    let there = rooms(files);
    for room in there.iter().filter(|room| !plan.rooms.contains(&room.as_str())) {
        out.push(format!("{}: the room {room} has no place in the plan; name it above all that it imports", plan.name));
    }
    for room in plan.rooms.iter().filter(|room| !there.contains(**room)) {
        out.push(format!("{}: the plan names a room {room} that is not there", plan.name));
    }
    out.extend(upward(plan.name, plan.rooms, &arrows(files)));
    for (room, inner) in plan.inner {
        let order: Vec<&str> = std::iter::once(*room).chain(inner.iter().copied()).collect();
        let inside = inner_arrows(files, room, inner);
        for name in inner.iter().filter(|name| !files.keys().any(|f| module(f).get(1).is_some_and(|m| m == *name))) {
            out.push(format!("{}: the plan names a room {room}/{name} that is not there", plan.name));
        }
        out.extend(upward(&format!("{}/{room}", plan.name), &order, &inside));
    }
    out
}

fn upward(name: &str, order: &[&str], arrows: &Arrows) -> Vec<String> {
    let place = |room: &String| order.iter().position(|other| other == room);
    let mut out = Vec::new();
    for ((from, to), places) in arrows {
        if let (Some(low), Some(high)) = (place(from), place(to))
            && high >= low
        {
            out.push(format!("{name}: {from} imports {to}, which lies above it, in {}", places.join(", ")));
        }
    }
    out.extend(cycles(arrows).into_iter().map(|cycle| format!("{name}: a cycle of {}", cycle.join(", "))));
    out
}

/// Rooms that reach themselves, together with those that they do it through.
pub fn cycles(arrows: &Arrows) -> Vec<Vec<String>> {
    let rooms: BTreeSet<&String> = arrows.keys().flat_map(|(from, to)| [from, to]).collect();
    let reach = |start: &String| {
        let (mut seen, mut next) = (BTreeSet::new(), vec![start]);
        while let Some(room) = next.pop() {
            for (_, to) in arrows.keys().filter(|(from, _)| from == room) {
                if seen.insert(to) {
                    next.push(to);
                }
            }
        }
        seen
    };
    let reached: BTreeMap<&String, BTreeSet<&String>> = rooms.iter().map(|&room| (room, reach(room))).collect();
    let mut out: BTreeSet<Vec<String>> = BTreeSet::new();
    for (room, seen) in reached.iter().filter(|(room, seen)| seen.contains(**room)) {
        out.insert(seen.iter().filter(|other| reached[**other].contains(*room)).map(|r| (*r).clone()).collect());
    }
    out.into_iter().collect()
}
