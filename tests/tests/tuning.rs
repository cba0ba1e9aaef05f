//! Edits on screens against published formulas and values.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use std::fs;
use std::path::Path;
use std::process::Command;
use strikeoff_core::screens::ScreenName;

use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::{FULL, Picture, Plane, choke, spread};
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::tune::{Edit, EditEntry, apply_edits, edits, multiply_film};
use strikeoff_core::units::{Coverage, Mm, Ppi};
use strikeoff_files::job::{JobFile, ScreensFrom, open_job, save_job};
use strikeoff_files::picture::film_png;
use strikeoff_files::shelf::{house_garment, house_shelf};
use strikeoff_tests::{run_json, run_refused};

fn run(program: &str, args: &[&str], install: &str) {
    let done = Command::new(program).args(args).output();
    let done = done.unwrap_or_else(|e| panic!("cannot run {program} ({e}); apt-get install {install}"));
    assert!(done.status.success(), "{program}: {}; apt-get install {install}", String::from_utf8_lossy(&done.stderr));
}

/// W3C Compositing and Blending Level 1, "multiply": `B(cb, cs) = cb x cs`; the table holds 64
/// pairs of 8-bit values, the exact product and what Pillow's `ImageChops.multiply` gives.
#[test]
fn multiply_agrees_with_the_blend_table() {
    let table = include_str!("../fixtures/blend_8x8.csv");
    let mut rows = 0;
    for line in table.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (backdrop, source): (u16, u16) = (cells[0].parse().unwrap(), cells[1].parse().unwrap());
        let exact: f64 = cells[2].parse().unwrap();
        let pillow: f64 = cells[4].parse().unwrap();
        let ours = f64::from(multiply_film(backdrop * 257, source * 257)) / 257.0;
        // The table has four decimals of 255; 16 bits resolve 1/514 of a level.
        assert!((ours - exact).abs() <= 0.5 / 257.0 + 5e-5, "{backdrop} x {source}: {ours} for {exact}");
        assert!((ours - pillow).abs() <= 1.0, "{backdrop} x {source}: {ours}, Pillow {pillow}");
        rows += 1;
    }
    assert_eq!(rows, 64);
}

/// Every pair of 8-bit values, multiplied by Pillow (`ImageChops.multiply`) and by ImageMagick
/// (`-compose multiply`): within 1 level of 255. Any natural picture holds only such pairs.
#[test]
fn multiply_agrees_with_pillow_and_imagemagick_on_every_pair() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let pgm = |name: &str, f: fn(u32, u32) -> u8| {
        let mut bytes = b"P5 256 256 255\n".to_vec();
        bytes.extend((0..65_536).map(|i| f(i % 256, i / 256)));
        fs::write(at(name), bytes).unwrap();
    };
    pgm("a.pgm", |x, _| x as u8);
    pgm("b.pgm", |_, y| y as u8);
    let (a, b) = (at("a.pgm"), at("b.pgm"));
    let script = "import sys; from PIL import Image, ImageChops; \
                  a, b = (Image.open(n) for n in sys.argv[1:3]); ImageChops.multiply(a, b).save(sys.argv[3])";
    run("/usr/bin/python3", &["-c", script, &a, &b, &at("pillow.pgm")], "python3-pil");
    let magick = ["-depth", "8", &a, &b, "-compose", "multiply", "-composite", &at("magick.pgm")];
    run("convert", &magick, "imagemagick");
    for tool in ["pillow.pgm", "magick.pgm"] {
        let theirs = fs::read(at(tool)).unwrap();
        let pixels = &theirs[theirs.len() - 65_536..];
        for (i, &theirs) in pixels.iter().enumerate() {
            let (x, y) = ((i % 256) as u16, (i / 256) as u16);
            let ours = f64::from(multiply_film(x * 257, y * 257)) / 257.0;
            assert!((ours - f64::from(theirs)).abs() <= 1.0, "{tool}: {x} x {y} is {theirs}, ours {ours}");
        }
    }
}

/// SciPy's `ndimage.grey_erosion` and `grey_dilation` with a disk of pixels whose centres lie
/// within the radius: equal, on binary shapes and on 16-bit noise.
#[test]
fn choke_and_spread_equal_scipys_morphology() {
    let dir = tempfile::tempdir().unwrap();
    let (width, height) = (173, 121);
    let noise = |x: usize, y: usize| ((x * 40_503) ^ (y * 30_011)).wrapping_mul(2_654_435_761) >> 7;
    let shapes = Plane::from_fn(width, height, |x, y| {
        let disk = (x as f64 - 60.0).hypot(y as f64 - 50.0) < 33.0 && (x as f64 - 66.0).hypot(y as f64 - 48.0) > 9.5;
        if disk || (x > 110 && (x + 2 * y) % 37 < 19) { FULL } else { 0 }
    });
    let grey = Plane::from_fn(width, height, |x, y| noise(x / 3, y / 2) as u16);
    let script = r"
import sys, numpy as np
from scipy import ndimage as n
d = sys.argv[1]
for name in ('shapes', 'grey'):
    a = np.fromfile(f'{d}/{name}', '<u2').reshape(121, 173)
    for r in (1, 2, 3, 7, 12):
        y, x = np.mgrid[-r:r+1, -r:r+1]
        k = x*x + y*y <= r*r
        n.grey_erosion(a, footprint=k, mode='constant', cval=65535).tofile(f'{d}/{name}-choke-{r}')
        n.grey_dilation(a, footprint=k, mode='constant', cval=0).tofile(f'{d}/{name}-spread-{r}')
";
    let bytes = |plane: &Plane<u16>| plane.data().iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<u8>>();
    for (name, plane) in [("shapes", &shapes), ("grey", &grey)] {
        fs::write(dir.path().join(name), bytes(plane)).unwrap();
    }
    run("/usr/bin/python3", &["-c", script, dir.path().to_str().unwrap()], "python3-numpy python3-scipy");
    let read = |path: &Path| fs::read(path).unwrap();
    for (name, plane) in [("shapes", &shapes), ("grey", &grey)] {
        for radius in [1, 2, 3, 7, 12] {
            let none = Progress::none();
            let choked = choke(plane, f64::from(radius), &none).unwrap();
            let spreaded = spread(plane, f64::from(radius), &none).unwrap();
            assert!(bytes(&choked) == read(&dir.path().join(format!("{name}-choke-{radius}"))), "{name} {radius}");
            assert!(bytes(&spreaded) == read(&dir.path().join(format!("{name}-spread-{radius}"))), "{name} {radius}");
            assert_ne!(choked, *plane);
        }
    }
}

/// Grey photographs of one size, as 8-bit values.
fn photographs() -> (usize, usize, [Vec<u8>; 2]) {
    let (width, height) = (400, 300);
    let grey = |name: &str| {
        let picture = image::open(strikeoff_tests::fixture("photos").join(name)).unwrap();
        picture.resize_exact(width, height, image::imageops::FilterType::Triangle).to_luma8().into_raw()
    };
    (width as usize, height as usize, [grey("coffee.jpg"), grey("astronaut.jpg")])
}

/// Screens of two photographs merged as an edit of a job: Pillow's `ImageChops.multiply` on the
/// 8-bit films, and ImageMagick's `-compose multiply` on 16-bit ones, within 1 level of 255.
#[test]
fn a_merge_of_photographs_equals_pillow_and_imagemagick() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let (width, height, [a, b]) = photographs();
    // What is merged has 16 bits; the second photograph gets some below the 8 of the first.
    let film = |bytes: &[u8], fine: u16| -> Plane<u16> {
        let value = |i: usize| u16::from(bytes[i]).saturating_mul(257).saturating_sub(fine * (i % 7) as u16);
        Plane::from_fn(width, height, |x, y| FULL - value(y * width + x))
    };
    let merged = |planes: [Plane<u16>; 2]| -> Plane<u16> {
        let list = (planes.into_iter().zip(["Teal", "Rose"]))
            .map(|(coverage, name)| Screen { name: name.into(), ink: ink(name), hits: 1, coverage })
            .collect();
        let ppi = Ppi::new(100.0).unwrap();
        let mut screens = Screens { width, height, ppi, list };
        let picture = Picture::new(Plane::filled(width, height, [FULL; 4]));
        let prepared = Prepared { picture, ppi, print_size_mm: [101.6, 76.2], true_ppi: 100.0 };
        let edits = [EditEntry::on(Edit::merge("Rose", "Teal"))];
        let job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        apply_edits(&mut screens, &prepared, &edits, &job.ground(), &Progress::none()).unwrap();
        assert_eq!(screens.list.len(), 1);
        screens.list.remove(0).coverage
    };
    let compare = |ours: &Plane<u16>, theirs: &[f64], what: &str| {
        assert_eq!(ours.data().len(), theirs.len());
        let off = |(&ours, &theirs): (&u16, &f64)| (f64::from(FULL - ours) / 257.0 - theirs).abs();
        let worst = ours.data().iter().zip(theirs).map(off).fold(0.0, f64::max);
        assert!(worst <= 1.0, "{what}: {worst} levels");
    };

    let pgm = |name: &str, bytes: &[u8]| {
        let mut file = format!("P5 {width} {height} 255\n").into_bytes();
        file.extend_from_slice(bytes);
        fs::write(at(name), file).unwrap();
    };
    pgm("a.pgm", &a);
    pgm("b.pgm", &b);
    let script = "import sys; from PIL import Image, ImageChops; \
                  a, b = (Image.open(n) for n in sys.argv[1:3]); ImageChops.multiply(a, b).save(sys.argv[3])";
    run("/usr/bin/python3", &["-c", script, &at("a.pgm"), &at("b.pgm"), &at("pillow.pgm")], "python3-pil");
    let pillow = fs::read(at("pillow.pgm")).unwrap();
    let pillow: Vec<f64> = pillow[pillow.len() - width * height..].iter().map(|&v| f64::from(v)).collect();
    compare(&merged([film(&a, 0), film(&b, 0)]), &pillow, "Pillow");

    let (one, other) = (film(&a, 0), film(&b, 11));
    let ppi = Ppi::new(100.0).unwrap();
    fs::write(at("a.png"), film_png(&one, ppi)).unwrap();
    fs::write(at("b.png"), film_png(&other, ppi)).unwrap();
    let args = [&at("a.png"), &at("b.png"), "-compose", "multiply", "-composite", "-depth", "16", &at("magick.pgm")];
    run("convert", &args.map(|a: &str| a), "imagemagick");
    let magick = fs::read(at("magick.pgm")).unwrap();
    let pixels = magick[magick.len() - 2 * width * height..].chunks_exact(2);
    let magick: Vec<f64> = pixels.map(|v| f64::from(u16::from_be_bytes([v[0], v[1]])) / 257.0).collect();
    compare(&merged([one, other]), &magick, "ImageMagick");
}

fn ink(name: &str) -> Ink {
    house_shelf().find("Marsh teal").map(|ink| Ink { name: name.into(), ..ink.clone() }).unwrap()
}

/// A job on a photograph with every kind of edit that works on neighbours, evaluated on one thread
/// and on several: bit for bit the same, and so is what a job file gives back.
#[test]
fn a_job_is_the_same_on_any_number_of_threads() {
    let path = strikeoff_tests::fixture("photos").join("coffee.jpg");
    let bytes = fs::read(&path).unwrap();
    let inks = ["Ink black", "Brick red", "Golden yellow", "Soft white"];
    let mut job = Job::new(house_garment("Navy").unwrap().clone());
    job.separation = SeparationSettings::for_inks(inks.map(|name| house_shelf().find(name).unwrap().clone()));
    job.prep.max_width_mm = Mm::new(150.0).ok();
    job.prep.ppi = Ppi::new(150.0).unwrap();
    let mm = |v| Mm::new(v).unwrap();
    let c = |v| Coverage::new(v).unwrap();
    let (black, red) = (ScreenName::from("Ink black"), ScreenName::from("Brick red"));
    job.edits = [
        Edit::Choke(edits::Choke { screen: black.clone(), by_mm: mm(0.3) }),
        Edit::Spread(edits::Spread { screen: red.clone(), by_mm: mm(0.25) }),
        Edit::Specks(edits::Specks { screen: black.clone(), under_mm2: 0.3, counts_from: c(0.05) }),
        Edit::Pinholes(edits::Pinholes { screen: red.clone(), under_mm2: 0.3, open_below: c(0.5) }),
        Edit::Soften(edits::Soften { screen: red.clone(), by_mm: mm(0.4) }),
        Edit::Sharpen(edits::Sharpen { screen: black.clone(), by_mm: mm(0.3), strength: 1.5 }),
        Edit::KnockOut(edits::KnockOut { screen: red, by: black, overlap_mm: mm(0.1) }),
        Edit::merge("Soft white", "Golden yellow"),
    ]
    .map(EditEntry::on)
    .to_vec();
    let mut file = JobFile::new(job, "coffee.jpg", bytes);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| file.evaluated(&Progress::none()).unwrap())
    };
    let one = on(1);
    for threads in [2, 3, 7] {
        assert!(on(threads) == one, "{threads} threads give something else");
    }
    file.keep_screens(one.screens.clone());
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("coffee.strikeoff");
    save_job(&path, &file).unwrap();
    let back = open_job(&path).unwrap();
    assert_eq!(back.screens_from(), ScreensFrom::Stored);
    assert!(back.evaluated(&Progress::none()).unwrap().screens == one.screens);
    // Made again from the file's settings and art, they are the same too.
    let bare = JobFile { screens: None, ..back };
    assert!(bare.evaluated(&Progress::none()).unwrap().screens == one.screens);
}

/// Every kind of edit by its verb, on one small job; then the list of them.
#[test]
fn every_edit_has_a_verb_and_the_list_is_worked_on() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let art = image::RgbImage::from_fn(96, 72, |x, y| {
        let inside = (12..84).contains(&x) && (10..62).contains(&y);
        if inside { image::Rgb([(x * 2) as u8, (y * 3) as u8, 90]) } else { image::Rgb([255, 255, 255]) }
    });
    art.save(at("art.png")).unwrap();
    image::GrayImage::from_fn(30, 20, |x, _| image::Luma([(x * 8) as u8])).save(at("glow.png")).unwrap();
    let job = at("job.strikeoff");
    let inks = "Ink black,Brick red,Golden yellow,Marsh teal,Soft white";
    let made = ["separate", &at("art.png"), "--garment", "#FFFFFF", "--inks", inks, "--ppi", "72", "-o", &job];
    run_json(made);
    let edit = |what: &[&str]| {
        let mut args = vec!["edit", job.as_str()];
        args.extend_from_slice(what);
        run_json(args)
    };
    let glow = at("glow.png");
    let kinds: [(&str, Vec<&str>); 28] = [
        ("trim", vec!["trim", "ink black", "--below", "5%", "--solid-from", "95%", "--soft-over", "3%"]),
        ("curve", vec!["curve", "brick-red", "0:0", "50:42", "100:100"]),
        ("tone-range", vec!["tone-range", "Brick red", "--none-at", "2%", "--solid-at", "98%", "--middle", "45%"]),
        ("gain", vec!["gain", "Brick red", "-4"]),
        ("density", vec!["density", "Brick red", "1.1"]),
        ("invert", vec!["invert", "Soft white"]),
        ("invert", vec!["invert", "Soft white"]),
        ("choke", vec!["choke", "Ink black", "0.4mm"]),
        ("spread", vec!["spread", "Ink black", "0.4mm"]),
        ("specks", vec!["specks", "Ink black", "0.5"]),
        ("pinholes", vec!["pinholes", "Ink black", "0.5", "--open-below", "40%"]),
        ("soften", vec!["soften", "Marsh teal", "0.4mm"]),
        ("sharpen", vec!["sharpen", "Marsh teal", "0.4mm", "--strength", "0.5"]),
        ("mask-region", vec!["mask-region", "Marsh teal", "--ellipse", "-2mm,10,80%,1in", "--soft-edge", "1mm"]),
        ("mask-region", vec!["mask-region", "Marsh teal", "--outline", "1mm:1mm", "40mm:0", "50%:1in"]),
        ("mask", vec!["mask", "Marsh teal", "Brick red"]),
        ("knock-out", vec!["knock-out", "Brick red", "Ink black", "--overlap", "0.2mm"]),
        ("subtract", vec!["subtract", "Brick red", "Golden yellow", "--share", "30%"]),
        ("swap", vec!["swap", "Brick red", "Golden yellow"]),
        ("copy", vec!["copy", "Brick red", "Red again"]),
        ("hits", vec!["hits", "Ink black", "2"]),
        ("split", vec!["split", "Ink black", "Deep black", "60%"]),
        ("from-art", vec!["from-art", "Lines", "Ink black", "--edges", "1mm:3"]),
        ("from-art", vec!["from-art", "Bluish", "Marsh teal", "--color", "#60905A:0.1:0.1"]),
        ("import", vec!["import", "Glow", &glow, "Soft white"]),
        ("re-ink", vec!["re-ink", "Glow", "Golden yellow"]),
        ("merge", vec!["merge", "Lines", "Ink black", "--balance", "40%"]),
        ("order", vec!["order", "Soft white,Golden yellow"]),
    ];
    for (at, (kind, what)) in kinds.iter().enumerate() {
        let report = edit(what);
        let list = report["list"].as_array().unwrap();
        assert_eq!((list.len(), &list[at]["edit"]["kind"]), (at + 1, &serde_json::json!(kind)), "{what:?}");
        assert_eq!(list[at]["cannot"], serde_json::Value::Null, "{what:?}");
        // The print is 25.4 x 19.05 mm.
        let near = |value: &serde_json::Value, want: f64| (value.as_f64().unwrap() - want).abs() < 1e-5;
        let region = &list[at]["edit"]["region"];
        if what[2..].contains(&"50%:1in") {
            let points = &region["points"];
            assert!(near(&points[0][0], 1.0 / 25.4) && near(&points[0][1], 1.0 / 19.05), "{points}");
            assert!(near(&points[1][0], 40.0 / 25.4) && near(&points[1][1], 0.0), "{points}");
            assert!(near(&points[2][0], 0.5) && near(&points[2][1], 25.4 / 19.05), "{points}");
        } else if what.contains(&"--ellipse") {
            assert!(near(&region["left"], -2.0 / 25.4) && near(&region["top"], 0.1), "{region}");
            assert!(near(&region["width"], 0.8) && near(&region["height"], 25.4 / 19.05), "{region}");
        }
        for screen in report["screens"].as_array().unwrap() {
            assert!((0.0..=1.0).contains(&screen["mean_coverage"].as_f64().unwrap()), "{what:?}: {screen}");
        }
    }
    // The words of every kind are there, of those too that are tried elsewhere.
    for kind in Edit::kinds() {
        let help = strikeoff_tests::run(["edit", &job, &kind.name, "--help"]);
        let text = String::from_utf8(help.stdout).unwrap();
        let options: Vec<String> = kind.fields.iter().map(|field| field.hint.chars().take(20).collect()).collect();
        let known = |hint: &String| {
            text.contains(hint.as_str()) || hint.starts_with("The region") || hint.starts_with("What of")
        };
        assert!(help.status.success() && options.iter().all(known), "{}: {text}", kind.name);
    }
    run_json(["edit", &job, "clear-background", "Marsh teal", "--soft-edge", "0.5mm", "-o", &at("cleared.strikeoff")]);
    run_json([
        "edit",
        &job,
        "add",
        "Plum",
        "Brick red",
        "--place",
        "first",
        "--keep-others",
        "-o",
        &at("more.strikeoff"),
    ]);
    // A new edit that cannot be applied is refused, and the job stays as it was.
    let before = fs::read(&job).unwrap();
    let said = run_refused(["edit", &job, "drop", "Golden yellow", "--separate-again"]);
    assert!(said.contains("Golden yellow"), "{said}");
    assert!(run_refused(["edit", &job, "choke", "Rose", "1mm"]).contains("no screen \"Rose\""));
    assert!(run_refused(["edit", &job, "off", "99"]).contains("edits 1 to 28"));
    assert!(fs::read(&job).unwrap() == before);

    // The list: off, on, earlier, deleted; a conflict is named with its fixes and fixed.
    let edits = || run_json(["edit", &job, "list"])["edits"].as_array().unwrap().clone();
    assert_eq!(edits().len(), 28);
    assert_eq!(edit(&["off", "6"])["list"][5]["on"], false);
    assert_eq!(edit(&["on", "6"])["list"][5]["on"], true);
    assert_eq!(edit(&["move", "4", "2"])["list"][1]["edit"]["kind"], "gain");
    edit(&["delete", "26"]);
    assert_eq!(edits().len(), 27);
    let stuck = edit(&["move", "25", "27"]);
    assert_eq!(stuck["screens"].as_array().unwrap().len(), 6 + 3, "{stuck:#}");
    let cut = edit(&["delete", "20"]);
    let list = cut["list"].as_array().unwrap();
    let bad: Vec<_> = list.iter().filter(|e| e["cannot"].is_string()).collect();
    assert!(bad.is_empty(), "nothing else names the copy: {bad:?}");
    let split = list.iter().position(|e| e["edit"]["kind"] == "from-art" && e["edit"]["name"] == "Lines").unwrap();
    let stuck = edit(&["off", &(split + 1).to_string()]);
    let merge = stuck["list"].as_array().unwrap().iter().find(|e| e["cannot"].is_string()).unwrap().clone();
    assert_eq!(merge["edit"]["kind"], "merge");
    assert!(stuck["screens"].as_array().unwrap().is_empty());
    let number = merge["number"].to_string();
    let off = merge["fixes"].as_array().unwrap().iter().position(|m| m == "Switch off").unwrap() + 1;
    let fixed = edit(&["fix", &number, &off.to_string()]);
    assert!(fixed["list"].as_array().unwrap().iter().all(|e| e["cannot"].is_null()));
    assert!(!fixed["screens"].as_array().unwrap().is_empty());
    // The grey picture is in the job: the file it came from is not needed any more.
    fs::remove_file(at("glow.png")).unwrap();
    run_json(["edit", &job, "density", "Glow", "0.9"]);

    // Versions, and a job that lost its end.
    run_json(["versions", &job, "keep", "client proof 1", "--note", "red too strong"]);
    edit(&["drop", "Glow"]);
    assert!(run_refused(["versions", &job, "keep", "Client Proof 1"]).contains("already has a version"));
    let kept = run_json(["versions", &job, "list"]);
    assert_eq!(
        (&kept["versions"][0]["name"], &kept["versions"][0]["note"]),
        (&"client proof 1".into(), &"red too strong".into())
    );
    let back = at("back.strikeoff");
    run_json(["versions", &job, "restore", "client proof 1", "-o", &back]);
    let found = run_json(["compare", &job, &back, "--a-version", "client proof 1"]);
    assert_eq!(found["same"], true, "{found:#}");
    let bytes = fs::read(&job).unwrap();
    fs::write(at("torn.strikeoff"), &bytes[..bytes.len() - 600]).unwrap();
    let recovered = run_json(["recover", &at("torn.strikeoff"), "-o", &at("whole.strikeoff")]);
    assert!(!recovered["lost"].as_array().unwrap().is_empty());
    let same = run_json(["compare", &job, &at("whole.strikeoff")]);
    assert_eq!(same["remake"].as_array().unwrap().len(), 0, "{same:#}");
    assert!(run_refused(["recover", &at("torn.strikeoff"), "-o", &at("torn.strikeoff")]).contains("another name"));
}
