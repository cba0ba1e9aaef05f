//! A verb does not replace what it reads, by whatever name, unless `--overwrite` says so; and it writes
//! through links.

#![cfg(unix)]

use std::fs;
use std::os::unix::fs::symlink;

use crate::shop::Shop;

#[test]
fn no_verb_replaces_its_own_input_unless_it_is_told_to() {
    let shop = Shop::new();
    let at = |name: &str| shop.at(name);
    fs::copy(at("fair.strikeoff"), at("fair.pdf")).expect("a copy");
    fs::copy(at("fair.strikeoff"), at("fair.png")).expect("a copy");
    fs::hard_link(at("art.png"), at("hard.png")).expect("a link");
    symlink("art.png", at("soft.png")).expect("a link");
    fs::write(at("shelf.json"), r##"{"inks":[{"name":"Kite red","over_white":"#B5332B","opacity":0.78}]}"##)
        .expect("written");
    let here = shop.at("").file_name().map(|n| n.to_string_lossy().into_owned()).expect("a name");
    for (line, input) in [
        ("prepare art.png -o art.png", "art.png"),
        ("prepare art.png -o ./art.png", "art.png"),
        (&format!("prepare art.png -o ../{here}/art.png"), "art.png"),
        ("prepare art.png -o hard.png", "art.png"),
        ("prepare art.png -o soft.png", "art.png"),
        ("prepare soft.png -o art.png", "art.png"),
        ("separate art.png --garment white --inks Brick_red -o art.png", "art.png"),
        ("separate art.png --garment white --inks Kite_red --shelf shelf.json -o shelf.json", "shelf.json"),
        ("proof fair.png -o fair.png", "fair.png"),
        ("sheet fair.pdf -o fair.pdf", "fair.pdf"),
        ("client-proof fair.pdf -o ./fair.pdf", "fair.pdf"),
        ("recover fair.strikeoff -o ./fair.strikeoff", "fair.strikeoff"),
        ("recover fair.strikeoff --art art.png -o art.png", "art.png"),
        ("calibrate --inks Brick_red --like fair.strikeoff -o fair.strikeoff", "fair.strikeoff"),
        ("edit fair.strikeoff import grey art.png Brick_red -o soft.png", "art.png"),
        ("edit fair.strikeoff re-ink Brick_red Kite_red --shelf shelf.json -o shelf.json", "shelf.json"),
        ("wedge fair.strikeoff --scan art.png -o art.png", "art.png"),
        ("measure shelf.json -o shelf.json", "shelf.json"),
    ] {
        let before = fs::read(at(input)).expect("the input");
        let words: Vec<String> =
            line.split(' ').map(|w| if w.contains("_red") { w.replace('_', " ") } else { w.into() }).collect();
        let said = shop.refused(&words);
        assert!(said.contains("what this verb reads") && said.contains("--overwrite"), "{line}: {said}");
        assert_eq!(fs::read(at(input)).expect("the input"), before, "{line}");
    }
    // A set of films does not run over the job that it is made from.
    fs::create_dir(at("films")).expect("a folder");
    symlink("../fair.strikeoff", at("films/films.pdf")).expect("a link");
    let job = fs::read(at("fair.strikeoff")).expect("a job");
    let said = shop.refused(&["films", "fair.strikeoff", "--out", "films"]);
    assert!(said.contains("which the set is made from"), "{said}");
    assert_eq!(fs::read(at("fair.strikeoff")).expect("a job"), job);

    // Told to, it does; and verbs that are for changing a job change it.
    shop.done(&["prepare", "art.png", "-o", "soft.png", "--overwrite", "--max-width", "1in"]);
    assert!(fs::symlink_metadata(at("soft.png")).expect("a link").is_symlink());
    shop.done(&["edit", "fair.strikeoff", "density", "Brick red", "0.9"]);
    shop.done(&["edit", "fair.strikeoff", "density", "Brick red", "0.9", "-o", "./fair.strikeoff"]);
    let list = crate::shop::report(&shop.done(&["edit", "fair.strikeoff", "list", "--json"]));
    assert_eq!(list["edits"].as_array().map(Vec::len), Some(2));
}

#[test]
fn a_link_stays_a_link_and_the_shops_server_has_the_file() {
    let shop = Shop::new();
    let at = |name: &str| shop.at(name);
    for folder in ["server", "desk", "server/films"] {
        fs::create_dir(at(folder)).expect("a folder");
    }
    fs::rename(at("fair.strikeoff"), at("server/fair.strikeoff")).expect("moved");
    symlink("../server/fair.strikeoff", at("desk/one.strikeoff")).expect("a link");
    symlink("one.strikeoff", at("desk/fair.strikeoff")).expect("a link");
    for name in ["proof.png", "sheet.pdf", "client.pdf", "ready.png"] {
        fs::write(at("server").join(name), "old").expect("written");
        symlink(format!("../server/{name}"), at("desk").join(name)).expect("a link");
    }
    symlink("../server/films", at("desk/films")).expect("a link");
    fs::write(at("server/first.tif"), "old").expect("written");
    symlink(at("server/first.tif"), at("server/films/01-ink-black.tif")).expect("a link");

    shop.done(&["edit", "desk/fair.strikeoff", "density", "Brick red", "0.9"]);
    shop.done(&["proof", "desk/fair.strikeoff", "-o", "desk/proof.png"]);
    shop.done(&["sheet", "desk/fair.strikeoff", "-o", "desk/sheet.pdf"]);
    shop.done(&["client-proof", "desk/fair.strikeoff", "-o", "desk/client.pdf"]);
    shop.done(&["prepare", "art.png", "-o", "desk/ready.png", "--max-width", "1in"]);
    shop.done(&["films", "desk/fair.strikeoff", "--out", "desk/films", "--dpi", "720"]);
    for link in
        ["desk/one.strikeoff", "desk/fair.strikeoff", "desk/proof.png", "desk/films", "server/films/01-ink-black.tif"]
    {
        assert!(fs::symlink_metadata(at(link)).expect(link).is_symlink(), "{link}");
    }
    let edits = crate::shop::report(&shop.done(&["edit", "server/fair.strikeoff", "list", "--json"]));
    assert_eq!(edits["edits"].as_array().map(Vec::len), Some(1));
    assert!(at("server/fair.previous.strikeoff").exists(), "the version before lies beside the job itself");
    for name in ["proof.png", "sheet.pdf", "client.pdf", "ready.png", "first.tif"] {
        assert!(fs::read(at("server").join(name)).expect(name).len() > 100, "{name}");
    }
    let checked = shop.done(&["inspect", "desk/films"]);
    assert!(String::from_utf8_lossy(&checked.stdout).contains("4 files are as they were written"));
    for folder in ["server", "desk", "server/films"] {
        assert_eq!(shop.hidden(folder), Vec::<String>::new(), "{folder}");
    }

    // Links that lead nowhere.
    symlink("round.png", at("about.png")).expect("a link");
    symlink("about.png", at("round.png")).expect("a link");
    symlink("gone/a.png", at("lost.png")).expect("a link");
    symlink("server/to-be.png", at("new.png")).expect("a link");
    let refused = |out: &str| shop.refused(&["proof", "server/fair.strikeoff", "-o", out]);
    assert!(refused("round.png").contains("leads in a circle"));
    assert!(refused("lost.png").contains("whose folder does not exist"));
    assert!(refused("server").contains("is a folder"));
    assert!(refused("/dev/null").contains("is a device"));
    shop.done(&["proof", "server/fair.strikeoff", "-o", "new.png"]);
    assert!(fs::symlink_metadata(at("server/to-be.png")).expect("the file").is_file());
}
