//! A whole job, from a photograph to the dots of six films of 21 megapixels: seconds of wall and of all cores,
//! and page faults. It answers what a change of the allocator brings, for example large pages, which the C
//! library asks for itself when switched on:
//!
//!     GLIBC_TUNABLES=glibc.malloc.hugetlb=1 cargo bench -p strikeoff-core --bench whole_job
//!
//! A shared machine changes the wall much more than the cores. Linux only, as it reads `/proc`.

use std::path::Path;
use std::time::Instant;

use rayon::prelude::*;
use strikeoff_core::Progress;
use strikeoff_core::color::Rgb8;
use strikeoff_core::halftone::{Dots, Field, FieldCursor, ToneTable, count_ink};
use strikeoff_core::ink::{Garment, Shelf};
use strikeoff_core::job::{Job, evaluate};
use strikeoff_core::raster::{Art, Detail, Picture, Plane};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::{Dpi, Mm, Ppi};

/// Seconds of all cores that this process took, and its page faults (proc_pid_stat(5), fields 10, 14 and 15
/// at 100 ticks a second).
fn spent() -> (f64, f64) {
    let stat = std::fs::read_to_string("/proc/self/stat").expect("Linux");
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
    let fields: Vec<f64> = fields.map(|field| field.parse().unwrap_or(0.0)).collect();
    ((fields[11] + fields[12]) / 100.0, fields[7])
}

fn art() -> Art {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fixtures/photos/astronaut.jpg");
    let photo = image::open(path).expect("the photograph is there").to_rgb8();
    let picture = Picture::new(Plane::from_fn(photo.width() as usize, photo.height() as usize, |x, y| {
        let [r, g, b] = photo.get_pixel(x as u32, y as u32).0.map(|v| u16::from(v) * 257);
        [r, g, b, u16::MAX]
    }));
    Art { picture, ppi: Ppi::new(72.0).expect("a resolution") }
}

fn job() -> Job {
    let shelf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/shelf.json");
    let shelf: Shelf = serde_json::from_slice(&std::fs::read(shelf).expect("the shelf is there")).expect("a shelf");
    let inks = ["Base white", "Golden yellow", "Signal red", "Royal blue", "Ink black", "Bright white"];
    let mut job = Job::new(Garment::of_color(Rgb8([0x17, 0x17, 0x1A])));
    job.separation = SeparationSettings::for_inks(inks.map(|name| shelf.find(name).expect("on the shelf").clone()));
    job.prep.max_height_mm = Some(Mm::new(15.4 * 25.4).expect("a height"));
    job.film.dpi = Dpi::new(1440.0).expect("a resolution");
    job.give_angles();
    job
}

fn main() {
    let (art, job) = (art(), job());
    let ((cores, faults), start) = (spent(), Instant::now());
    let made = evaluate(&job, &art, Detail::Full, &Progress::none()).expect("it separates");
    let ((cores_made, faults_made), wall_made) = (spent(), start.elapsed().as_secs_f64());
    let [width, height] = [made.screens.width, made.screens.height];
    let [across, down] = [width, height].map(|px| px * 1440 / 300);
    let tone = ToneTable::identity();
    let mut ink = 0;
    for screen in &made.screens.list {
        let dots = Dots::of_screen(&job.film, &screen.name, false);
        let field = Field::new(&screen.coverage, &tone, &dots, across, down);
        let band = |top: usize| {
            let (mut cursor, mut row) = (FieldCursor::default(), vec![0; field.words()]);
            let rows = top..(top + 256).min(down);
            rows.map(|y| {
                field.row(y, &mut cursor, &mut row);
                count_ink(&row)
            })
            .sum::<u64>()
        };
        ink += (0..down.div_ceil(256)).into_par_iter().map(|at| band(at * 256)).sum::<u64>();
    }
    let (cores_all, faults_all) = spent();
    println!(
        "{:.1} Mpx, six screens: {wall_made:.2} s, {:.2} s of cores, {:.0} page faults; with the dots of six films {:.2} s, \
         {:.2} s of cores, {:.0} page faults ({ink} pixels of ink)",
        (width * height) as f64 / 1e6,
        cores_made - cores,
        faults_made - faults,
        start.elapsed().as_secs_f64(),
        cores_all - cores,
        faults_all - faults
    );
}
