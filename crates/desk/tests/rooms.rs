//! The rooms of the crate import one way: what is derived knows the session and the view, no room knows
//! the views, and views have nothing of the bench that they could change.

#![allow(clippy::unwrap_used, reason = "a test")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Rooms from the lowest up, each with the rooms that it may import.
const ROOMS: [(&str, &[&str]); 10] = [
    ("background", &[]),
    ("ui", &[]),
    ("telemetry", &[]),
    ("render", &[]),
    ("session", &["background"]),
    ("view_state", &["render"]),
    ("derived", &["background", "render", "session", "view_state"]),
    ("state", &["background", "derived", "render", "session", "telemetry", "view_state"]),
    ("commands", &["derived", "render", "session", "state", "ui", "view_state"]),
    ("views", &["commands", "derived", "render", "session", "state", "telemetry", "ui", "view_state"]),
];

/// Each source file of the crate, by the room it is in.
fn sources() -> Vec<(String, String)> {
    fn walk(folder: &Path, room: Option<&str>, found: &mut Vec<(String, String)>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            let room = room.unwrap_or(&name);
            if path.is_dir() {
                walk(&path, Some(room), found);
            } else {
                found.push((room.to_owned(), fs::read_to_string(&path).unwrap()));
            }
        }
    }
    let mut found = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), None, &mut found);
    found
}

/// The code of a file without comments, up to its tests.
fn code(text: &str) -> String {
    let body = text.split("#[cfg(test)]").next().unwrap();
    body.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

#[test]
fn rooms_import_one_way() {
    let rooms: BTreeSet<&str> = ROOMS.iter().map(|(room, _)| *room).collect();
    let mut imports: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (room, text) in sources() {
        for part in code(&text).split("crate::").skip(1) {
            let to: String = part.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            if to != room && rooms.contains(to.as_str()) {
                imports.entry(room.clone()).or_default().insert(to);
            }
        }
    }
    assert!(imports.len() > 4, "the sources were read: {imports:?}");
    for (at, (room, allowed)) in ROOMS.iter().enumerate() {
        // The table itself has no arrow that goes up.
        let below: Vec<&str> = ROOMS[..at].iter().map(|(room, _)| *room).collect();
        assert!(allowed.iter().all(|to| below.contains(to)), "{room} may import what is above it");
        for to in imports.get(*room).into_iter().flatten() {
            assert!(allowed.contains(&to.as_str()), "{room} imports {to}");
        }
    }
}

#[test]
fn views_cannot_change_the_bench() {
    for (_, text) in sources().iter().filter(|(room, _)| room == "views") {
        let code = code(text);
        for owner in ["Workbench", "State", "Session", "OnTable", "Document", "Derived", "Errands"] {
            assert!(!code.contains(&format!("&mut {owner}")), "a view takes &mut {owner}");
        }
    }
}

#[test]
fn the_bench_has_few_fields() {
    let (_, text) = sources().into_iter().find(|(room, _)| room == "workbench").unwrap();
    let body = text.split("pub struct Workbench {").nth(1).unwrap().split("\n}").next().unwrap();
    let fields = body.lines().filter(|line| line.trim_start().starts_with("pub")).count();
    assert!((1..=10).contains(&fields), "{fields} fields");
}
