//! The plan of the house, held to the code: what each room may import, for core, files and desk.
//! Imports are read from the source, comments and literals aside; tests inside of a room count.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail")]

mod house;
mod source;

use std::fmt::Write as _;
use std::path::Path;

use house::{Arrows, Files, Plan, arrows, faults, files, inner_arrows};

const CORE: Plan = Plan {
    name: "core",
    rooms: &[
        "names",
        "bounds",
        "units",
        "color",
        "progress",
        "simd",
        "raster",
        "ink",
        "recipe",
        "fingerprint",
        "screens",
        "press",
        "halftone",
        "usage",
        "prep",
        "separate",
        "tune",
        "job",
        "sureness",
        "moire",
        "facts",
        "quote",
        "reorder",
        "preview",
        "findings",
    ],
    inner: &[("separate", &["process", "spot", "index", "separation", "choice", "checks"])],
};

const FILES: Plan = Plan {
    name: "files",
    rooms: &[
        "date",
        "limits",
        "disk",
        "picture",
        "text",
        "shelf",
        "art",
        "job",
        "job_shelf",
        "film",
        "sheet",
        "profile",
        "reorder",
        "begin",
        "photo",
        "calibration",
        "measured",
        "ink_room",
        "press_print",
        "demo",
    ],
    inner: &[],
};

const DESK: Plan = Plan {
    name: "desk",
    rooms: &[
        "background",
        "letters",
        "ui",
        "telemetry",
        "render",
        "session",
        "view_state",
        "derived",
        "state",
        "commands",
        "views",
        "workbench",
        "inquiry",
    ],
    inner: &[],
};

#[test]
fn rooms_import_only_what_lies_below_them() {
    let found: Vec<String> =
        [&CORE, &FILES, &DESK].into_iter().flat_map(|plan| faults(plan, &files(plan.name))).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

fn source(files: &[(&str, &str)]) -> Files {
    files.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
}

#[test]
fn upward_arrows_and_cycles_are_found() {
    let plan = Plan { name: "toy", rooms: &["low", "mid", "high"], inner: &[] };
    let lib = ("lib.rs", "mod low; mod mid; mod high; pub use low::Thing; pub use high::{Tower, Roof as Top};");
    let good = source(&[
        lib,
        ("low.rs", "// use crate::high;\nconst A: &str = \"crate::high\";"),
        ("mid/mod.rs", "mod part; pub use part::Part;"),
        ("mid/part.rs", "use crate::Thing; use super::super::low;"),
        ("high.rs", "use crate::{mid::Part, low::{self, Thing}};"),
    ]);
    assert!(faults(&plan, &good).is_empty(), "{:?}", faults(&plan, &good));
    // Upward in every way of writing it; each but the first closes a cycle with `high`.
    for import in [
        "use crate::high::Tower;",
        "use crate::{low, high::Tower};",
        "use crate::Top;",
        "use super::super::high;",
        "fn f(x: crate::high::Tower) {}",
        "mod tests { use super::super::super::high; }",
    ] {
        let mut bad = good.clone();
        bad.insert("mid/part.rs".into(), import.into());
        let found = faults(&plan, &bad);
        assert!(
            found.iter().any(|f| f.contains("mid imports high") && f.contains("mid/part.rs")),
            "{import}: {found:?}"
        );
        assert!(found.iter().any(|f| f.contains("a cycle of high, mid")), "{import}: {found:?}");
    }
    let mut new = good.clone();
    new.insert("cellar.rs".into(), String::new());
    assert!(faults(&plan, &new)[0].contains("cellar has no place"));
    new.remove("cellar.rs");
    new.remove("mid/mod.rs");
    new.remove("mid/part.rs");
    assert!(faults(&plan, &new)[0].contains("mid that is not there"));
}

#[test]
fn arrows_inside_of_a_room_are_followed_through_its_contents() {
    let plan = Plan { name: "toy", rooms: &["flat"], inner: &[("flat", &["one", "two", "entry"])] };
    let contents =
        "mod shared; mod one; mod two; mod entry; pub use shared::Base; pub use entry::enter; pub use two::Two;";
    let good = source(&[
        ("lib.rs", "mod flat;"),
        ("flat/mod.rs", contents),
        ("flat/shared.rs", ""),
        ("flat/one/mod.rs", "mod part;"),
        ("flat/one/part.rs", "use crate::flat::{Base, shared}; use super::super::Base as B;"),
        ("flat/two.rs", "use super::{Base, one};"),
        ("flat/entry.rs", "use super::{Two, one::part};"),
    ]);
    assert!(faults(&plan, &good).is_empty(), "{:?}", faults(&plan, &good));
    for (file, import, says) in [
        ("flat/shared.rs", "use super::one::part;", "flat imports one"),
        ("flat/shared.rs", "use super::enter;", "flat imports entry"),
        ("flat/one/part.rs", "use crate::flat::Two;", "one imports two"),
        ("flat/two.rs", "use super::{enter, Base};", "two imports entry"),
    ] {
        let mut bad = good.clone();
        bad.insert(file.into(), import.into());
        assert!(faults(&plan, &bad).iter().any(|f| f.contains(says)), "{import}: {:?}", faults(&plan, &bad));
    }
}

/// The list of rooms in DEVELOPERS.md is drawn from the code: `REPLACE=1` renews it, and still fails
/// that run.
#[test]
fn the_list_of_rooms_is_that_of_the_code() {
    const FROM: &str = "<!-- rooms: drawn by `REPLACE=1 cargo test -p strikeoff-core --test rooms` -->\n";
    const TO: &str = "<!-- end of rooms -->";
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../DEVELOPERS.md");
    let text = std::fs::read_to_string(&path).unwrap();
    let (before, rest) = text.split_once(FROM).expect("DEVELOPERS.md has the mark where the list of rooms begins");
    let (list, after) = rest.split_once(TO).expect("DEVELOPERS.md has the mark where the list of rooms ends");
    let drawn = [&CORE, &FILES, &DESK].map(|plan| drawn(plan, &files(plan.name))).join("\n");
    let same = list == drawn;
    if !same && std::env::var_os("REPLACE").is_some() {
        std::fs::write(&path, format!("{before}{FROM}{drawn}{TO}{after}")).unwrap();
    }
    assert!(same, "the list of rooms in DEVELOPERS.md is not that of the code; it should be:\n{drawn}");
}

fn drawn(plan: &Plan, files: &Files) -> String {
    let mut out = format!("\n| room of {} | imports |\n|---|---|\n", plan.name);
    let mut line = |name: &str, room: &str, order: &[&str], arrows: &Arrows| {
        let there = |other: &&&str| arrows.contains_key(&(room.to_owned(), (**other).to_string()));
        let imports: Vec<&str> = order.iter().filter(there).copied().collect();
        let _ = writeln!(out, "| `{name}` | {} |", if imports.is_empty() { "-".into() } else { imports.join(", ") });
    };
    let outer = arrows(files);
    for room in plan.rooms {
        line(room, room, plan.rooms, &outer);
        if let Some((_, inner)) = plan.inner.iter().find(|(name, _)| name == room) {
            let order: Vec<&str> = std::iter::once(*room).chain(inner.iter().copied()).collect();
            let inside = inner_arrows(files, room, inner);
            for name in *inner {
                line(&format!("{room}/{name}"), name, &order, &inside);
            }
        }
    }
    out
}
