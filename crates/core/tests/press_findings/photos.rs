//! Photographs in six inks on white, black and red, set up as a good shop does: nothing that matters
//! may be reported of them. Wet on wet on white is worth watching, and no more.

use std::path::Path;

use strikeoff_core::Progress;
use strikeoff_core::findings::{Finding, Kind, Severity, check_job};
use strikeoff_core::halftone::SmallDots;
use strikeoff_core::ink::{Garment, Shelf};
use strikeoff_core::job::{Job, evaluate};
use strikeoff_core::press::Stop;
use strikeoff_core::raster::{Art, Detail, Picture};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_core::usage::Mesh;

/// A garment and the inks on it in print order: light to dark after the base, the highlight white last.
struct Set {
    garment: &'static str,
    inks: &'static [&'static str],
}

const WHITE: &str = "#F4F3EF";
const BLACK: &str = "#17171A";
const RED: &str = "#B3202C";

/// Photographs with inks that suit them: what a picture has no use for is left out.
const JOBS: [(&str, [Set; 3]); 6] = [
    (
        "astronaut.jpg",
        [
            Set { garment: WHITE, inks: &["Golden yellow", "Brick red", "River blue", "Ink black"] },
            Set {
                garment: BLACK,
                inks: &["Base white", "Golden yellow", "Brick red", "River blue", "Skin tone", "Bright white"],
            },
            Set {
                garment: RED,
                inks: &["Base white", "Golden yellow", "Marsh teal", "River blue", "Ink black", "Bright white"],
            },
        ],
    ),
    (
        "cat.jpg",
        [
            Set { garment: WHITE, inks: &["Golden yellow", "Brick red", "Marsh teal", "Ink black"] },
            Set { garment: BLACK, inks: &["Base white", "Golden yellow", "Brick red", "Bright white"] },
            Set {
                garment: RED,
                inks: &["Base white", "Golden yellow", "Marsh teal", "River blue", "Ink black", "Bright white"],
            },
        ],
    ),
    (
        "coffee.jpg",
        [
            Set { garment: WHITE, inks: &["Golden yellow", "Brick red", "Ink black"] },
            Set { garment: BLACK, inks: &["Base white", "Golden yellow", "Brick red", "Skin tone", "Bright white"] },
            Set { garment: RED, inks: &["Base white", "Golden yellow", "Ink black", "Bright white"] },
        ],
    ),
    (
        "rocket.jpg",
        [
            Set { garment: WHITE, inks: &["Golden yellow", "Brick red", "Marsh teal", "River blue", "Ink black"] },
            Set { garment: BLACK, inks: &["Base white", "Golden yellow", "Brick red", "River blue", "Bright white"] },
            Set {
                garment: RED,
                inks: &["Base white", "Golden yellow", "Marsh teal", "River blue", "Ink black", "Bright white"],
            },
        ],
    ),
    (
        "galaxies.jpg",
        [
            Set { garment: WHITE, inks: &["Golden yellow", "Brick red", "Marsh teal", "River blue", "Ink black"] },
            Set { garment: BLACK, inks: &["Base white", "Golden yellow", "Brick red", "River blue", "Bright white"] },
            Set {
                garment: RED,
                inks: &["Base white", "Golden yellow", "Marsh teal", "River blue", "Ink black", "Bright white"],
            },
        ],
    ),
    (
        "horse-alpha.png",
        [
            Set { garment: WHITE, inks: &["Ink black"] },
            Set { garment: BLACK, inks: &["Base white"] },
            // The ground of this picture is white, not clear: on red it needs a base.
            Set { garment: RED, inks: &["Base white", "Ink black"] },
        ],
    ),
];

fn repository(path: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(path)
}

fn art(photo: &str) -> Art {
    let path = repository("tests/fixtures/photos").join(photo);
    let picture = image::open(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display())).to_rgba8();
    let (w, h) = (picture.width() as usize, picture.height() as usize);
    Art { picture: Picture::from_rgba8(w, h, picture.as_raw()), ppi: Ppi::new(150.0).unwrap() }
}

/// 45 lpi and films without dots under 3 %; a base of 230 mesh and colours of 305 on it, flashed after the
/// base and before the highlight white; 230 on white.
fn job(set: &Set) -> Job {
    let shelf: Shelf =
        serde_json::from_str(&std::fs::read_to_string(repository("assets/shelf.json")).unwrap()).unwrap();
    let garment = Garment { fabric: Some("cotton".into()), ..Garment::of_color(set.garment.parse().unwrap()) };
    let mut job = Job::new(garment);
    job.separation = SeparationSettings::for_inks(set.inks.iter().map(|name| shelf.find(name).unwrap().clone()));
    job.prep.ppi = Ppi::new(150.0).unwrap();
    job.prep.max_width_mm = Some(Mm::new(130.0).unwrap());
    job.film.limits.below = SmallDots::Clip;
    job.run.heads = 10;
    if set.inks.contains(&"Base white") {
        job.run.mesh = Mesh::named("305/34").unwrap();
        for white in ["Base white", "Bright white"] {
            job.run.meshes.insert(white.into(), Mesh::named("230/48").unwrap());
        }
        job.press.stops.insert("Base white".into(), Stop::Flash);
        if let [.., before, "Bright white"] = set.inks {
            job.press.stops.insert((*before).into(), Stop::Flash);
        }
    }
    job.give_angles();
    job
}

fn findings(photo: &str, set: &Set) -> Vec<Finding> {
    let (job, quiet) = (job(set), Progress::none());
    let done = evaluate(&job, &art(photo), Detail::Full, &quiet).unwrap();
    check_job(&job, &done.prepared, &done.screens, &quiet).unwrap()
}

#[test]
fn photographs_on_three_garments_raise_no_false_alarm() {
    let mut loud = Vec::new();
    for (photo, sets) in &JOBS {
        for set in sets {
            for f in findings(photo, set) {
                let watch = f.severity == Severity::Caution && may_be_watched(photo, set, f.kind);
                if !watch {
                    loud.push(format!("{photo} on {}: {} {}", set.garment, f.severity.label(), f.what));
                }
            }
        }
    }
    assert!(loud.is_empty(), "{loud:#?}");
}

/// Inks wet on wet on white, and the hard edges of a white rocket on a night sky of two dark inks, are
/// worth watching on press.
fn may_be_watched(photo: &str, set: &Set, kind: Kind) -> bool {
    set.garment == WHITE && (kind == Kind::WetOnWet || (photo == "rocket.jpg" && kind == Kind::Registration))
}

/// Dark ink first, then everything wet on it: still a picture, and no more than a caution.
#[test]
fn a_photograph_printed_wet_on_wet_on_white_is_no_fault() {
    let set = Set { garment: WHITE, inks: &["Ink black", "River blue", "Marsh teal", "Brick red", "Golden yellow"] };
    for (photo, _) in JOBS.iter().take(5) {
        for f in findings(photo, &set).iter().filter(|f| f.kind == Kind::WetOnWet) {
            assert_eq!(f.severity, Severity::Caution, "{photo}: {}", f.what);
        }
    }
}
