//! Films of 13.5 x 18 inches at 1440 dpi against peers in the same run: dots against a plain
//! exact-angle loop and OpenCV's comparison with a tiled strip, Group 4 against libtiff's `tiffcp`,
//! and six whole films with the time and memory they take. Needs python3-opencv and libtiff-tools.
//!
//! Printed are medians in megapixels a second and ratios; a shared machine changes the first much
//! more than the second.

use std::hint::black_box;
use std::process::Command;
use std::time::Instant;

use rayon::prelude::*;
use strikeoff_core::Progress;
use strikeoff_core::halftone::{Cell, DotShape, Dots, Field, FieldCursor, ToneTable};
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::units::{Degrees, Dpi, Lpi, Ppi};
use strikeoff_files::film::{FilmOptions, G4Bits, G4Encoder, TiffCompression, write_films};

const DPI: f64 = 1440.0;
const BAND: usize = 256;
const RUNS: usize = 5;

/// Soft shapes with flat parts and gradients, as screens have them.
fn picture(seed: usize) -> Plane<u16> {
    Plane::from_fn(4050, 5400, |x, y| {
        let (u, v) = (x as f64 / 4050.0, y as f64 / 5400.0);
        let wave = (9.0 * u + seed as f64).sin() * (7.0 * v + 0.5 * seed as f64).cos() + 0.3 * (40.0 * u * v).sin();
        (((wave + 0.4) * 0.8).clamp(0.0, 1.0) * 65_535.0) as u16
    })
}

fn median(mut work: impl FnMut()) -> f64 {
    let mut times: Vec<f64> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[RUNS / 2]
}

/// The loop that everybody writes first: phases stepped in fixed point, a table, a comparison, bits
/// packed. Coverage is given at device resolution, so it has less to do than ours.
fn plain_loop(coverage: &[u16], table: &[u16], step: [u32; 2], mut at: [u32; 2], out: &mut [u8]) {
    for (byte, coverage) in out.iter_mut().zip(coverage.chunks_exact(8)) {
        let mut bits = 0u8;
        for &c in coverage {
            let threshold = table[((at[1] >> 24) << 8 | at[0] >> 24) as usize];
            bits = bits << 1 | u8::from(c > threshold);
            at[0] = at[0].wrapping_add(step[0]);
            at[1] = at[1].wrapping_add(step[1]);
        }
        *byte = bits;
    }
}

/// What OpenCV reaches on one thread, in megapixels a second, with a strip of the threshold table tiled
/// over the film. It has no dots of an exact angle; a tile repeats every 64 pixels.
#[derive(Debug)]
struct OpenCv {
    /// What [`Field::row`] does: 16-bit coverage brought from the separation's resolution to the film's,
    /// compared, and packed to bits (by numpy), each step with the strip in the nearest caches.
    same_work: f64,
    /// Coverage is there at the film's resolution: compared and packed.
    packed: f64,
    /// Nothing but the comparison: a byte a pixel out.
    compared: f64,
    /// The same of 8-bit coverage.
    compared_8: f64,
}

fn open_cv(width: usize) -> OpenCv {
    let script = format!(
        "import cv2, numpy as np, time\ncv2.setNumThreads(1)\n\
         w, h, source_w, source_h = {width}, {BAND}, 4050, {BAND} * 5 // 24\n\
         tile = np.random.RandomState(1).randint(0, 65535, (64, 64)).astype(np.uint16)\n\
         strip = np.tile(tile, (h // 64, w // 64 + 1))[:, :w].copy()\n\
         small = np.tile(np.linspace(0, 65535, source_w).astype(np.uint16), (source_h, 1))\n\
         large = cv2.resize(small, (w, h), interpolation=cv2.INTER_LINEAR)\n\
         large_8, strip_8 = (large >> 8).astype(np.uint8), (strip >> 8).astype(np.uint8)\n\
         scratch, out = np.empty_like(large), np.empty_like(large_8)\n\
         def same():\n\
         \x20   for y in range(0, h, 32):\n\
         \x20       part = small[y * source_h // h : (y + 32) * source_h // h]\n\
         \x20       cv2.resize(part, (w, 32), scratch[:32], interpolation=cv2.INTER_LINEAR)\n\
         \x20       cv2.compare(scratch[:32], strip[:32], cv2.CMP_GT, out[:32])\n\
         \x20       np.packbits(out[:32], axis=1)\n\
         def packed(): cv2.compare(large, strip, cv2.CMP_GT, out); np.packbits(out, axis=1)\n\
         def compared(): cv2.compare(large, strip, cv2.CMP_GT, out)\n\
         def compared_8(): cv2.compare(large_8, strip_8, cv2.CMP_GT, out)\n\
         def median(work):\n\
         \x20   t = []\n\
         \x20   for _ in range(9):\n\
         \x20       s = time.perf_counter()\n\
         \x20       for _ in range(8): work()\n\
         \x20       t.append((time.perf_counter() - s) / 8)\n\
         \x20   return w * h / sorted(t)[4] / 1e6\n\
         print(*map(median, [same, packed, compared, compared_8]))"
    );
    let done = Command::new("/usr/bin/python3").args(["-c", &script]).output().expect("install python3");
    let text = String::from_utf8_lossy(&done.stdout);
    let speeds: Vec<f64> = text.split_whitespace().filter_map(|v| v.parse().ok()).collect();
    let [same_work, packed, compared, compared_8] = speeds.try_into().unwrap_or_else(|_| {
        panic!("OpenCV did not run; apt-get install python3-opencv: {}", String::from_utf8_lossy(&done.stderr))
    });
    OpenCv { same_work, packed, compared, compared_8 }
}

fn main() {
    if std::env::var_os(CHILD).is_some() {
        return six_films_here();
    }
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    let two = rayon::ThreadPoolBuilder::new().num_threads(2).build().expect("two threads");
    let plane = picture(0);
    let (width, height) = ((13.5 * DPI) as usize, (18.0 * DPI) as usize);
    let tone = ToneTable::identity();
    let job = job();
    let dots = Dots::of_screen(&job.film, &"Black".into(), false);

    // Dots, one thread, rows spread over the whole film.
    let rows: Vec<usize> = (0..height).step_by(29).collect();
    let mpx = |seconds: f64| rows.len() as f64 * width as f64 / seconds / 1e6;
    let field = Field::new(&plane, &tone, &dots, width, height);
    let ours = mpx(median(|| {
        let mut cursor = FieldCursor::default();
        let mut row = vec![0u64; field.words()];
        // Runs of neighbouring rows, as a film is made.
        for band in 0..rows.len() / 64 {
            for k in 0..64 {
                field.row(band * 64 * 29 + k, &mut cursor, &mut row);
                black_box(&row);
            }
        }
        for y in rows.len() / 64 * 64..rows.len() {
            field.row(y, &mut cursor, &mut row);
        }
    }));
    let cell = Cell::new(&DotShape::Round);
    let table: Vec<u16> = (0..65_536u32).map(|at| cell.at(at << 24, at >> 8 << 24)).collect();
    let angle = Degrees::new(22.5).expect("in range").get().to_radians();
    let ruling = Lpi::new(45.0).expect("in range").get();
    let step = [angle.cos(), angle.sin()].map(|c| (ruling / DPI * c * 4_294_967_296.0) as u32);
    let coverage: Vec<u16> = (0..width / 8 * 8).map(|x| plane.row(2700)[x * 4050 / width]).collect();
    let plain = mpx(median(|| {
        let mut out = vec![0u8; width / 8];
        for &y in &rows {
            plain_loop(
                &coverage,
                &table,
                step,
                [step[1].wrapping_mul(y as u32), step[0].wrapping_mul(y as u32)],
                &mut out,
            );
            black_box(&out);
        }
    }));
    let cv = open_cv(width);
    println!("dots, one thread          {ours:8.0} Mpx/s");
    println!("  plain exact-angle loop  {plain:8.0} Mpx/s   ours {:.1}x (target 3)", ours / plain);
    for (what, theirs) in [
        ("OpenCV, the same work", cv.same_work),
        ("  without enlarging", cv.packed),
        ("  comparison alone", cv.compared),
        ("  the same of 8 bits", cv.compared_8),
    ] {
        println!("  {what:23} {theirs:8.0} Mpx/s   ours {:.1}x", ours / theirs);
    }

    // Group 4 on the bits of one film; `tiffcp` reads an uncompressed TIFF and writes Group 4.
    let dir = tempfile::tempdir().expect("a folder");
    let single = screens(1);
    let options = FilmOptions { compression: TiffCompression::None, pdf: false, ..FilmOptions::default() };
    let set = write_films(&job, &single, &dir.path().join("plain"), &options, &Progress::none()).expect("a film");
    let film = set.films[0].tiff.clone().expect("a TIFF");
    let (film_width, film_height) = (set.films[0].width_px, set.films[0].height_px);
    let film_mpx = |seconds: f64| (film_width * film_height) as f64 / seconds / 1e6;
    let out = dir.path().join("theirs.tif");
    let tiffcp = film_mpx(median(|| {
        let done = Command::new("tiffcp").args(["-c", "g4", "-r", "256"]).arg(&film).arg(&out).status();
        assert!(done.expect("apt-get install libtiff-tools").success());
    }));
    // The same bits, from the strips of that TIFF: rows of whole bytes, leftmost pixel first.
    let bytes = std::fs::read(&film).expect("the film");
    let stride = film_width.div_ceil(8);
    let words = film_width.div_ceil(64);
    let bits: Vec<u64> = (0..film_height)
        .flat_map(|y| {
            let row = &bytes[8 + y * stride..8 + (y + 1) * stride];
            (0..words).map(move |w| {
                let mut eight = [0u8; 8];
                let part = &row[w * 8..(w * 8 + 8).min(row.len())];
                eight[..part.len()].copy_from_slice(part);
                u64::from_be_bytes(eight).reverse_bits()
            })
        })
        .collect();
    let encode = || {
        bits.par_chunks(words * BAND)
            .map(|band| {
                let mut encoder = G4Encoder::new(film_width);
                let mut out = G4Bits::default();
                for row in band.chunks_exact(words) {
                    encoder.encode(row, &mut out);
                }
                out.finish_block().len()
            })
            .sum::<usize>()
    };
    let size = one.install(encode);
    let g4 = film_mpx(median(|| {
        black_box(one.install(encode));
    }));
    let g4_two = film_mpx(median(|| {
        black_box(two.install(encode));
    }));
    let theirs = std::fs::metadata(&out).expect("their film").len();
    println!("Group 4, one thread       {g4:8.0} Mpx/s   ours {:.1}x tiffcp -r 256 (target 2)", g4 / tiffcp);
    println!("Group 4, two threads      {g4_two:8.0} Mpx/s   ours {:.1}x tiffcp (target 3.5)", g4_two / tiffcp);
    println!("  tiffcp -c g4 -r 256     {tiffcp:8.0} Mpx/s   sizes {size} and {theirs}");
    drop((bits, bytes, single));

    six_films();
}

/// Six films in a process of their own, so that nothing else counts in its memory.
fn six_films() {
    let child = std::env::current_exe().and_then(|exe| Command::new(exe).env(CHILD, "1").output()).expect("this bench");
    assert!(child.status.success(), "{}", String::from_utf8_lossy(&child.stderr));
    print!("{}", String::from_utf8_lossy(&child.stdout));
}

/// Set for the process that only makes six films.
const CHILD: &str = "STRIKEOFF_BENCH_SIX_FILMS";

fn six_films_here() {
    let dir = tempfile::tempdir().expect("a folder");
    let (job, six) = (job(), screens(6));
    for (what, pdf) in [("TIFF and PDF", true), ("TIFF alone", false)] {
        let start = Instant::now();
        let options = FilmOptions { pdf, ..FilmOptions::default() };
        write_films(&job, &six, &dir.path().join(what), &options, &Progress::none()).expect("films");
        let seconds = start.elapsed().as_secs_f64();
        println!("six films, {what:14} {seconds:8.2} s (target under 4) on {} threads", rayon::current_num_threads());
    }
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap_or(" not known on this system");
    println!("  peak memory {} (target under 400 MB; the screens themselves are 262 MB of it)", peak.trim());
}

fn job() -> Job {
    let mut job = Job::new(Garment::of_color("#FFFFFF".parse().expect("a colour")));
    job.film.dpi = Dpi::new(DPI).expect("in range");
    job
}

fn screens(count: usize) -> Screens {
    let screen = |at: usize| Screen {
        name: format!("Ink {at}").into(),
        ink: Ink {
            name: format!("Ink {at}"),
            over_white: "#202020".parse().expect("a colour"),
            opacity: serde_json::from_str("0.8").expect("in range"),
            role: Default::default(),
            measured: false,
            spectra: None,
        },
        hits: 1,
        coverage: picture(at),
    };
    let ppi = Ppi::new(300.0).expect("in range");
    Screens { width: 4050, height: 5400, ppi, list: (0..count).map(screen).collect() }
}
