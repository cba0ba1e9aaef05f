//! `strikeoff films` and `strikeoff proof` as a user types them.

use strikeoff_tests::{run_json, run_refused};

use super::{path, python};

/// A job of the demo's artwork, small; made once for all tests here.
fn job() -> &'static std::path::Path {
    static JOB: std::sync::OnceLock<(tempfile::TempDir, std::path::PathBuf)> = std::sync::OnceLock::new();
    &JOB.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let art = strikeoff_tests::fixture("photos").join("coffee.jpg");
        let job = dir.path().join("fair.strikeoff");
        let inks = "Cool grey,Brick red,Ink black";
        run_json([
            "separate",
            path(&art),
            "--garment",
            "White",
            "--inks",
            inks,
            "--max-height",
            "80mm",
            "--ppi",
            "150",
            "--out",
            path(&job),
        ]);
        (dir, job)
    })
    .1
}

fn screens(report: &serde_json::Value) -> Vec<(String, f64, f64, String, String)> {
    let text = |v: &serde_json::Value| v.as_str().unwrap().to_owned();
    let list = report["screens"].as_array().unwrap();
    let of = |s: &serde_json::Value| {
        let number = |v: &serde_json::Value| v.as_f64().unwrap();
        (text(&s["screen"]), number(&s["ruling_lpi"]), number(&s["angle_degrees"]), text(&s["dot"]), text(&s["mesh"]))
    };
    list.iter().map(of).collect()
}

#[test]
fn one_screen_can_differ_and_its_film_says_so() {
    let dir = tempfile::tempdir().unwrap();
    let first =
        screens(&run_json(["films", path(job()), "--out", path(&dir.path().join("a")), "--no-pdf"]))[0].0.clone();
    let words = format!("{first}: 55lpi 52.5deg ellipse:35,65 305/34");
    let out = dir.path().join("b");
    let report = run_json(["films", path(job()), "--out", path(&out), "--screen", &words, "--no-pdf"]);
    let list = screens(&report);
    assert_eq!(list[0], (first, 55.0, 52.5, "ellipse:35,65".into(), "305/34".into()));
    // A new job's screens have angles of their own.
    assert_eq!((list[1].1, list[1].3.as_str()), (45.0, "round"));
    assert!([7.5, 22.5, 37.5, 52.5, 67.5, 82.5].contains(&list[1].2), "{}", list[1].2);
    let tiff = report["films"][0]["tiff"].as_str().unwrap();
    let info = super::run("tiffinfo", "libtiff-tools", &[tiff]);
    for words in ["55 lpi, 52.5 deg, ellipse dot", "mesh 305/34"] {
        assert!(info.contains(words), "{words} is not in\n{info}");
    }
    for (words, says) in [
        ("Nobody: 55lpi", "begins with no screen of this job"),
        (&format!("{}: 55lpx", list[0].0), "write it like 22.5"),
        (&format!("{}: oval", list[0].0), "there is no dot \"oval\""),
    ] {
        let said = run_refused(["films", path(job()), "--out", path(&out), "--screen", words]);
        assert!(said.contains(says), "{words}: {said}");
    }
}

#[test]
fn angle_sets_dots_and_rolls_from_the_line() {
    let dir = tempfile::tempdir().unwrap();
    let out = dir.path().join("out");
    let spread = run_json(["films", path(job()), "--out", path(&out), "--angles", "spread", "--no-pdf"]);
    let mut angles: Vec<f64> = screens(&spread).iter().map(|s| s.2).collect();
    angles.sort_by(f64::total_cmp);
    assert_eq!(angles, [22.5, 52.5, 82.5]);
    let first = spread["films"][0]["tiff"].as_str().unwrap();
    let roll = run_json([
        "films",
        path(job()),
        "--out",
        path(&out),
        "--printer-width",
        "24in",
        "--gang",
        "--dot",
        "blue-noise:90um",
        "--smallest",
        "3%:lift",
        "--largest",
        "97%:clip",
    ]);
    assert!(roll["roll"]["tiff"].as_str().unwrap().ends_with("roll.tif"));
    assert!(!std::path::Path::new(first).exists(), "films of the set before are gone");
    assert_eq!(screens(&roll)[0].3, "blue-noise:90um");
    for (option, value, says) in
        [("--angles", "random", "one, spread, suggested"), ("--smallest", "3%:drop", "keep, clip or lift")]
    {
        let said = run_refused(["films", path(job()), "--out", path(&out), option, value]);
        assert!(said.contains(says), "{said}");
    }
    let shops = run_json(["films", path(job()), "--out", path(&out), "--gang", "--no-pdf"]);
    assert!(shops["roll"]["size_mm"][0].as_f64().unwrap() > 100.0, "the shop's film printer gives the width");
}

/// The proof has its resolution and an sRGB profile in the file, as Pillow reads it.
#[test]
fn proofs_carry_profile_and_resolution() {
    let dir = tempfile::tempdir().unwrap();
    let script = "import sys, io; from PIL import Image, ImageCms\n\
                  i = Image.open(sys.argv[1])\n\
                  p = ImageCms.ImageCmsProfile(io.BytesIO(i.info['icc_profile']))\n\
                  print(i.size, i.mode, round(float(i.info['dpi'][0])), ImageCms.getProfileDescription(p).strip())";
    let mut seen = Vec::new();
    for name in ["proof.png", "proof.tif"] {
        let out = dir.path().join(name);
        run_json(["proof", path(job()), "-o", path(&out)]);
        seen.push(python("python3-pil", script, &[path(&out)]));
    }
    assert!(seen[0].contains("RGB 150") && seen[0].contains("sRGB"), "{seen:?}");
    assert_eq!(seen[0], seen[1]);
    let said = run_refused(["proof", path(job()), "-o", path(&dir.path().join("proof.xyz"))]);
    assert!(said.contains(".png or .tif"), "{said}");
}
