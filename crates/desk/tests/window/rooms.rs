//! Views have nothing of the bench that they could change, and the bench stays small. That rooms import one
//! way is held by core's test of rooms, for all crates.

use std::fs;
use std::path::Path;

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
    let (_, text) = sources().into_iter().find(|(_, text)| text.contains("pub struct Workbench {")).unwrap();
    let body = text.split("pub struct Workbench {").nth(1).unwrap().split("\n}").next().unwrap();
    let fields = body.lines().filter(|line| line.trim_start().starts_with("pub")).count();
    assert!((1..=10).contains(&fields), "{fields} fields");
}
