//! What enlarging is worth on the films: art that was reduced and compressed, as clients send it, is enlarged
//! and separated, and its screens are held to those of the art before. Pillow reduces and compresses.

use std::fs;
use std::path::Path;

use strikeoff_core::Progress;
use strikeoff_core::job::{Job, evaluate};
use strikeoff_core::prep::Enlarging;
use strikeoff_core::raster::{Art, Detail, Plane};
use strikeoff_core::screens::Screens;
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::art::decode_art;
use strikeoff_files::demo::{demo_art, demo_art_png};
use strikeoff_files::shelf::{house_garment, house_shelf};

const INKS: [&str; 5] = ["Ink black", "Brick red", "Golden yellow", "Marsh teal", "Soft white"];

fn screens(art: &Art, enlarging: Enlarging) -> Screens {
    let mut job = Job::new(house_garment("White").unwrap().clone());
    job.separation = SeparationSettings::for_inks(INKS.map(|name| house_shelf().find(name).unwrap().clone()));
    job.prep.max_width_mm = Mm::new(160.0).ok();
    job.prep.ppi = Ppi::new(180.0).unwrap();
    job.prep.enlarging = enlarging;
    job.give_angles();
    evaluate(&job, art, Detail::Full, &Progress::none()).unwrap().screens
}

/// The art reduced by a factor, as a JPEG of quality 75.
fn sent(png: &Path, factor: usize) -> Art {
    let jpeg = png.with_extension("jpg");
    let script = "import sys; from PIL import Image; a = Image.open(sys.argv[1]).convert('RGBA'); \
                  w = Image.new('RGBA', a.size, 'white'); w.alpha_composite(a); k = int(sys.argv[3]); \
                  w.convert('RGB').reduce(k).save(sys.argv[2], quality=75)";
    let factor = factor.to_string();
    let args: [&std::ffi::OsStr; 5] =
        ["-c".as_ref(), script.as_ref(), png.as_os_str(), jpeg.as_os_str(), factor.as_ref()];
    strikeoff_tests::tool("/usr/bin/python3", "python3-pil", args);
    decode_art("sent.jpg", &fs::read(jpeg).unwrap()).unwrap()
}

/// Mean difference of coverage from pixel to pixel, and of its steps to the right and down.
fn off(screens: &Screens, wanted: &Screens) -> [f64; 2] {
    let mut sums = [0.0f64; 2];
    let mut count = 0.0f64;
    for (got, want) in screens.list.iter().zip(&wanted.list) {
        let (got, want) = (&got.coverage, &want.coverage);
        let (width, height) = (got.width().min(want.width()), got.height().min(want.height()));
        let step = |plane: &Plane<u16>, x: usize, y: usize| {
            let at = |x, y| f64::from(plane.get(x, y)) / 65_535.0;
            [at(x + 1, y) - at(x, y), at(x, y + 1) - at(x, y)]
        };
        for y in (0..height - 1).step_by(2) {
            for x in (0..width - 1).step_by(2) {
                sums[0] += f64::from(got.get(x, y).abs_diff(want.get(x, y))) / 65_535.0;
                let (a, b) = (step(got, x, y), step(want, x, y));
                sums[1] += (a[0] - b[0]).abs() + (a[1] - b[1]).abs();
                count += 1.0;
            }
        }
    }
    sums.map(|sum| sum / count)
}

/// The learned way brings the films at least a quarter nearer to those of the art before it was reduced and
/// compressed than the way along edges, on a drawing; on a photograph it is nearer too.
#[test]
fn repaired_art_gives_films_nearer_to_those_of_the_whole_art() {
    let dir = tempfile::tempdir().unwrap();
    let drawing = dir.path().join("lantern.png");
    fs::write(&drawing, demo_art_png()).unwrap();
    let photo = dir.path().join("coffee.png");
    let script = "import sys; from PIL import Image; Image.open(sys.argv[1]).save(sys.argv[2])";
    let coffee = strikeoff_tests::fixture("photos").join("coffee.jpg");
    let args: [&std::ffi::OsStr; 4] = ["-c".as_ref(), script.as_ref(), coffee.as_os_str(), photo.as_os_str()];
    strikeoff_tests::tool("/usr/bin/python3", "python3-pil", args);
    let whole_photo = decode_art("coffee.png", &fs::read(&photo).unwrap()).unwrap();
    for (what, png, whole, factor, least) in
        [("drawing", &drawing, demo_art(), 3, [0.75, 0.75]), ("photograph", &photo, whole_photo, 2, [0.95, 1.0])]
    {
        let wanted = screens(&whole, Enlarging::Plain);
        let sent = sent(png, factor);
        let [edges, repair] = [Enlarging::Edges, Enlarging::Repair].map(|way| off(&screens(&sent, way), &wanted));
        println!("{what}: along edges {edges:?}, repaired {repair:?}");
        assert!(repair[0] < least[0] * edges[0], "{what}: coverage {} against {}", repair[0], edges[0]);
        assert!(repair[1] < least[1] * edges[1], "{what}: edges {} against {}", repair[1], edges[1]);
    }
}
