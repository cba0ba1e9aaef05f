//! Films for a printer of a known width: turned to fit, or several on a roll with cut marks.

use strikeoff_core::Progress;
use strikeoff_core::halftone::DotShape;
use strikeoff_core::job::Job;
use strikeoff_core::screens::Screens;
use strikeoff_core::units::{Degrees, Dpi, Mm};
use strikeoff_files::film::{FilmOptions, FilmSet, plan_films, write_films};

use super::{bits_by_libtiff, films, path, run, small_job};

fn ganged(job: &Job, screens: &Screens, folder: &std::path::Path) -> FilmSet {
    let options = FilmOptions { gang: true, ..FilmOptions::default() };
    write_films(job, screens, folder, &options, &Progress::none()).unwrap()
}

/// The films are 85.4 x 105.4 mm.
#[test]
fn films_on_a_roll_are_the_single_films_at_their_places() {
    let (mut job, screens) = small_job();
    // The same dots at any place need dots without a phase: index squares.
    job.film.dot = DotShape::Index { size_mm: Mm::new(0.3).unwrap() };
    let dir = tempfile::tempdir().unwrap();
    let single = films(&job, &screens, &dir.path().join("single"));
    for (width, lies) in [(200.0, [[0.0, 5.0], [90.3, 5.0]]), (110.0, [[0.0, 5.0], [0.0, 95.3]])] {
        job.film.printer_width = Some(Mm::new(width).unwrap());
        let set = ganged(&job, &screens, &dir.path().join(format!("roll {width}")));
        let roll = set.roll.as_ref().unwrap();
        // Two upright beside each other, or two turned one below the other: shorter than upright.
        let length = if width > 150.0 { 115.4 } else { 185.7 };
        assert!((roll.size_mm[1] - length).abs() < 0.2 && roll.size_mm[0] <= width, "{roll:?}");
        let (roll_width, _, bits) = bits_by_libtiff(roll.tiff.as_ref().unwrap(), dir.path());
        let stride = roll_width.div_ceil(8);
        let ink = |x: usize, y: usize| bits[y * stride + x / 8] >> (7 - x % 8) & 1;
        for ((film, alone), lies) in set.films.iter().zip(&single.films).zip(lies) {
            let at = film.on_roll_mm.unwrap();
            assert!((at[0] - lies[0]).abs() < 0.3 && (at[1] - lies[1]).abs() < 0.3, "{width}: {at:?}");
            assert_eq!(film.turned, width < 150.0);
            let (w, h, own) = bits_by_libtiff(alone.tiff.as_ref().unwrap(), dir.path());
            let own_stride = w.div_ceil(8);
            let px = at.map(|mm| (mm / 25.4 * 720.0).round() as usize);
            let mut differ = 0;
            for y in (0..h).step_by(3) {
                for x in (0..w).step_by(3) {
                    let want = own[y * own_stride + x / 8] >> (7 - x % 8) & 1;
                    let (rx, ry) = if film.turned { (h - 1 - y, x) } else { (x, y) };
                    differ += usize::from(ink(px[0] + rx, px[1] + ry) != want);
                }
            }
            // The step wedge keeps its squares; letters and circles may round by a pixel when turned.
            let share = differ as f64 / (w * h / 9) as f64;
            assert!(share <= if film.turned { 0.002 } else { 0.0005 }, "{width}: {share} of the pixels differ");
        }
        // Cut marks run on from the corners into the gap.
        let corner = set.films[1].on_roll_mm.unwrap().map(|mm| (mm / 25.4 * 720.0).round() as usize);
        let above = (corner[1] - 80..corner[1]).filter(|&y| (corner[0]..corner[0] + 3).any(|x| ink(x, y) == 1)).count();
        assert!(above > 60, "{width}: {above} rows of a cut mark");
        run("qpdf", "qpdf", &["--check", path(set.pdf.as_ref().unwrap())]);
        let report = run("pdfinfo", "poppler-utils", &[path(set.pdf.as_ref().unwrap())]);
        assert!(report.contains("Pages:           1"), "{report}");
    }
}

/// A film too wide for the printer is turned: width and height change places, and the dots turn with
/// it, so that ruling and angle on the film stay.
#[test]
fn a_wide_film_is_turned_and_one_too_wide_is_refused() {
    let (mut job, screens) = small_job();
    job.film.angle = Degrees::new(15.0).unwrap();
    job.film.dot = DotShape::Line;
    let dir = tempfile::tempdir().unwrap();
    job.film.printer_width = Some(Mm::new(90.0).unwrap());
    let upright = films(&job, &screens, &dir.path().join("upright"));
    assert!(!upright.films[0].turned);
    // Wider than high: 105.4 mm does not fit into 90, 85.4 mm does.
    let wide = Screens {
        width: screens.height,
        height: screens.width,
        ppi: screens.ppi,
        list: screens
            .list
            .iter()
            .cloned()
            .map(|mut s| {
                s.coverage = strikeoff_core::raster::Plane::filled(screens.height, screens.width, 20_000);
                s
            })
            .collect(),
    };
    let turned = films(&job, &wide, &dir.path().join("turned"));
    let film = &turned.films[0];
    assert!(film.turned && film.width_px < film.height_px && film.size_mm[0] > film.size_mm[1], "{film:?}");
    // Lines at 15 degrees on the film lie at 15 - 90 = -75 degrees on the printer: going down the
    // sheet they move sideways by 1 / tan 75 a row.
    let (width, _, bits) = bits_by_libtiff(film.tiff.as_ref().unwrap(), dir.path());
    let stride = width.div_ceil(8);
    let row = |y: usize| -> Vec<f64> {
        (600..1500).map(|x| f64::from(bits[y * stride + x / 8] >> (7 - x % 8) & 1)).collect()
    };
    let shift_of = |down: usize| {
        let (a, b) = (row(1000), row(1000 + down));
        (-8i64..=8)
            .max_by(|p, q| {
                let agree = |s: i64| -> f64 { (20..880).map(|x| a[x] * b[(x as i64 + s) as usize]).sum() };
                agree(*p).total_cmp(&agree(*q))
            })
            .unwrap()
    };
    let moved = shift_of(20) as f64;
    let want = 20.0 * (15.0f64).to_radians().tan();
    assert!((moved.abs() - want).abs() <= 1.0, "moved by {moved}, expected {want}");
    assert!(moved > 0.0, "turned clockwise: the lines lean to the right going down");
    job.film.printer_width = Some(Mm::new(80.0).unwrap());
    let error = plan_films(&job, &wide, &FilmOptions::default()).unwrap_err().to_string();
    assert!(error.contains("do not fit a film printer of 80 mm either way"), "{error}");
    job.film.printer_width = None;
    let error = plan_films(&job, &wide, &FilmOptions { gang: true, ..FilmOptions::default() }).unwrap_err();
    assert!(error.to_string().contains("width is known"), "{error}");
}

/// What is planned is what is written: names, pages, and sizes within a factor of two.
#[test]
fn the_plan_is_what_is_written() {
    let (mut job, screens) = small_job();
    let dir = tempfile::tempdir().unwrap();
    for dpi in [720.0, 1440.0] {
        for gang in [false, true] {
            job.film.dpi = Dpi::new(dpi).unwrap();
            job.film.printer_width = Some(Mm::new(300.0).unwrap());
            let options =
                FilmOptions { gang, composite: true, spots: Some(Default::default()), ..FilmOptions::default() };
            let plan = plan_films(&job, &screens, &options).unwrap();
            let folder = dir.path().join(format!("{dpi} {gang}"));
            write_films(&job, &screens, &folder, &options, &Progress::none()).unwrap();
            let mut planned: Vec<_> = plan.files.iter().map(|f| f.name.clone()).collect();
            planned.sort();
            let mut written: Vec<_> =
                std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
            written.sort();
            assert_eq!(planned, written);
            for file in plan.files.iter().filter(|f| f.name.ends_with(".tif") && f.name != "spots.tif") {
                let real = std::fs::metadata(folder.join(&file.name)).unwrap().len() as f64;
                let ratio = file.about_bytes as f64 / real;
                assert!((0.5..2.0).contains(&ratio), "{} at {dpi}: {ratio}", file.name);
            }
            assert!(
                plan.least_bytes() < written.iter().map(|n| std::fs::metadata(folder.join(n)).unwrap().len()).sum()
            );
        }
    }
}

/// Not a test of its own: makes films on a small file system that the test below has mounted.
#[test]
#[ignore = "run by a_disk_too_small_is_known_before_anything_is_written"]
fn child_makes_films_on_a_small_disk() {
    let folder = std::path::PathBuf::from(std::env::var_os("STRIKEOFF_TEST_FOLDER").unwrap()).join("films");
    let (job, screens) = small_job();
    let reports = std::sync::Arc::new(std::sync::atomic::AtomicUsize::new(0));
    let seen = reports.clone();
    let progress = Progress::new(move |_, _| {
        seen.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    });
    let options = FilmOptions { compression: strikeoff_files::film::TiffCompression::None, ..FilmOptions::default() };
    let error = write_films(&job, &screens, &folder, &options, &progress).unwrap_err().to_string();
    assert!(error.contains("MB free; make room"), "{error}");
    assert_eq!(reports.load(std::sync::atomic::Ordering::Relaxed), 0, "work was begun");
    assert!(!folder.exists());
}

/// A file system of 1 MB, mounted in a name space of the test's own (`unshare` of util-linux); the
/// films need more than that without compression.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_too_small_is_known_before_anything_is_written() {
    let dir = tempfile::tempdir().unwrap();
    let script = "mount -t tmpfs -o size=1m none \"$STRIKEOFF_TEST_FOLDER\" || exit 77; \
                  exec \"$0\" --ignored --exact roll::child_makes_films_on_a_small_disk";
    let done = std::process::Command::new("unshare")
        .args(["--map-root-user", "--mount", "sh", "-c", script])
        .arg(std::env::current_exe().unwrap())
        .env("STRIKEOFF_TEST_FOLDER", dir.path())
        .output()
        .expect("this test needs unshare: apt-get install util-linux");
    assert_ne!(done.status.code(), Some(77), "this test must be allowed to mount a tmpfs in a user name space");
    let text = String::from_utf8_lossy(&done.stdout);
    assert!(done.status.success() && text.contains("1 passed"), "{text}{}", String::from_utf8_lossy(&done.stderr));
}
