//! Spot art, index and the suggestion of a method, with the built program on drawn art and on
//! photographs, checked by general imaging libraries.

use std::path::Path;
use std::process::Command;

use serde_json::Value;
use strikeoff_tests::{fixture, run_json, run_refused};

fn text(path: &Path) -> String {
    path.to_str().expect("temporary folders have plain names").to_owned()
}

fn python(script: &str, args: &[&str]) -> String {
    let install = "apt-get install python3-numpy python3-scipy python3-pil";
    let done = Command::new("/usr/bin/python3").arg("-c").arg(script).args(args).output();
    let done = done.unwrap_or_else(|e| panic!("cannot run python3 ({e}); {install}"));
    assert!(done.status.success(), "{}; {install}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).expect("text")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

const INKS: &str = "Golden yellow,Soft white,Brick red,River blue,Ink black";

fn lantern(job: &str, garment: &str, inks: &str, more: &[&str]) -> Value {
    let art = text(&fixture("art").join("lantern.svg"));
    let mut args = vec!["separate", &art, "--garment", garment, "--inks", inks, "--max-width", "2in", "--ppi", "254"];
    args.extend_from_slice(&["--method", "spot", "-o", job]);
    args.extend_from_slice(more);
    run_json(args)
}

/// The trap is SciPy's dilation of the light ink's screen by a disk, where a darker ink that is
/// printed later covers it: 0.3 mm at 254 ppi is 3 pixels.
#[test]
fn the_trap_is_scipys_dilation_under_darker_inks() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| text(&dir.path().join(name));
    for (name, trap) in [("without", "0mm"), ("with", "0.3mm")] {
        let job = at(&format!("{name}.strikeoff"));
        lantern(&job, "#FFFFFF", INKS, &["--trap", trap]);
        run_json(["screens", &job, "--out", &at(name)]);
    }
    let script = r"
import sys, glob, numpy as np
from PIL import Image
from scipy import ndimage
def load(folder):
    return [65535 - np.array(Image.open(f)).astype(np.int64) for f in sorted(glob.glob(folder + '/*.png'))]
before, after = load(sys.argv[1]), load(sys.argv[2])
assert len(before) == len(after) == 5, len(before)
# White is lighter than golden yellow, which prints first: by lightness of the ink over white.
light = [82, 97, 41, 46, 8]
y, x = np.mgrid[-3:4, -3:4]
disk = x * x + y * y <= 9
moved = 0
for i in range(5):
    later = [before[j] for j in range(5) if j > i and light[j] < light[i]]
    want = before[i]
    if later:
        wide = ndimage.grey_dilation(before[i], footprint=disk, mode='constant', cval=0)
        want = np.maximum(before[i], np.minimum(wide, np.maximum.reduce(later)))
    assert np.array_equal(want, after[i]), (i, np.abs(want - after[i]).max())
    moved += int((want != before[i]).sum())
print(moved)
";
    let moved: usize = python(script, &[&at("without"), &at("with")]).trim().parse().unwrap();
    assert!(moved > 2000, "the trap changes the screens: {moved} pixels");
}

/// A drawn logo prints as drawn, on white and on a dark garment, each flat colour with its own ink.
#[test]
fn a_drawn_logo_prints_as_drawn() {
    let dir = tempfile::tempdir().unwrap();
    let job = text(&dir.path().join("job.strikeoff"));
    let report = lantern(&job, "#FFFFFF", INKS, &[]);
    assert!(number(&report["delta_e2000"]["mean"]) < 3.0, "{report}");
    let base = format!("Base white,{INKS}");
    let report = lantern(&job, "black", &base, &["--flash-after", "Base white"]);
    assert!(number(&report["delta_e2000"]["mean"]) < 5.0, "{report}");
    assert!(number(&report["screens"][0]["mean_coverage"]) > 0.1, "a base lies under the colours: {report}");
    let said = run_refused([
        "separate",
        &text(&fixture("photos").join("coffee.jpg")),
        "--garment",
        "white",
        "--inks",
        "Ink black",
        "--trap",
        "1mm",
        "-o",
        &job,
    ]);
    assert!(said.contains("--method spot"), "{said}");
}

/// Index dots of a photograph: PIL sees whole squares of none or solid on every screen, and no spot
/// with two inks. No white among the inks: the bare garment is the white.
#[test]
fn index_screens_are_whole_squares() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| text(&dir.path().join(name));
    let art = text(&fixture("photos").join("astronaut.jpg"));
    let job = at("job.strikeoff");
    let inks = "Golden yellow,Brick red,River blue,Ink black";
    let args = ["separate", &art, "--garment", "#FFFFFF", "--inks", inks, "--max-width", "2in", "--ppi", "300"];
    let how = ["--method", "index", "--dots", "100dpi", "-o", &job];
    let report = run_json(args.into_iter().chain(how));
    assert_eq!(number(&report["ppi"]), 300.0);
    run_json(["screens", &job, "--out", &at("screens")]);
    let script = r"
import sys, glob, numpy as np
from PIL import Image
inks = [65535 - np.array(Image.open(f)).astype(np.int64) for f in sorted(glob.glob(sys.argv[1] + '/*.png'))]
for a in inks:
    assert set(np.unique(a)) <= {0, 65535}
    h, w = a.shape[0] // 3 * 3, a.shape[1] // 3 * 3
    blocks = a[:h, :w].reshape(h // 3, 3, w // 3, 3)
    assert (blocks == blocks[:, :1, :, :1]).all()
both = sum((a > 0).astype(int) for a in inks)
assert both.max() == 1, both.max()
print(float((both == 0).mean()))
";
    let bare: f64 = python(script, &[&at("screens")]).trim().parse().unwrap();
    assert!(bare > 0.05 && bare < 0.95, "{bare} of the garment is bare");
}

/// Drawn art is spot art, photographs want tones.
#[test]
fn the_method_follows_the_art() {
    let art = |name: &str| text(&fixture("photos").join(name));
    let ask = |path: &str| run_json(["suggest", path, "--garment", "white", "--screens", "2"])["method"].clone();
    let logo = ask(&text(&fixture("art").join("lantern.svg")));
    assert_eq!(logo["method"], "spot-art", "{logo}");
    assert_eq!(logo["flat_colors"].as_array().unwrap().len(), 5, "{logo}");
    assert!(logo["reason"].as_str().unwrap().contains("5 flat colours"), "{logo}");
    for photo in ["astronaut.jpg", "cat.jpg", "coffee.jpg", "galaxies.jpg", "rocket.jpg"] {
        let advice = ask(&art(photo));
        assert_eq!(advice["method"], "simulated-process", "{photo}: {advice}");
    }
}
