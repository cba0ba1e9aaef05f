//! Jobs with every field of the schema, and their files with a changed manifest.

use std::io::{Cursor, Read, Write};
use std::path::Path;

use serde_json::Value;
use strikeoff_core::color::{BANDS, Spectrum};
use strikeoff_core::fingerprint::{AssumedInk, Fingerprint, Patch, Tint};
use strikeoff_core::halftone::{DotShape, Linearisation, ScreenFilm};
use strikeoff_core::ink::{Garment, Ink, InkSpectra, Knit};
use strikeoff_core::job::{Job, RunRecord, ScreenRun};
use strikeoff_core::prep::{BackgroundSettings, CropBox, PrintArea, SpeckSettings};
use strikeoff_core::press::{DotGain, Stop, WetPair};
use strikeoff_core::quote::{ASSUMED_PACES, Pricing, RATES};
use strikeoff_core::raster::{FULL, Picture, Plane};
use strikeoff_core::screens::ScreenName;
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::tune::{Edit, EditEntry};
use strikeoff_core::units::{Coverage, Degrees, Dpi, Lpi, Mm, Ppi};
use strikeoff_files::job::{JobFile, JobFileError, open_job, save_job};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::house_shelf;
use strikeoff_tests::edits::{Material, every_edit as every_kind, glow};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

fn c(v: f64) -> Coverage {
    Coverage::new(v).unwrap()
}

fn mm(v: f64) -> Mm {
    Mm::new(v).unwrap()
}

fn ink(name: &str) -> Ink {
    house_shelf().find(name).unwrap().clone()
}

/// A press of one ink, started from another of its kind.
fn fingerprint() -> Fingerprint {
    let ink = AssumedInk { name: "Signal red".into(), over_white: [50.0, 60.0, 40.0], over_black: [30.0, 40.0, 20.0] };
    let patch = |tone: f64, lab| Patch { tint: Tint::wet(vec![tone]), lab };
    let patches = vec![patch(0.0, [92.0, 0.0, 2.0]), patch(0.5, [65.0, 40.0, 25.0]), patch(1.0, [48.0, 62.0, 41.0])];
    let of =
        |others: &[Fingerprint]| Fingerprint::fit("press", vec![ink.clone()], patches.clone(), 0.3, others).unwrap();
    of(&[of(&[])])
}

/// A print of 20 x 13 mm with every optional part set, so that every field of the schema that is not an
/// edit's own stands in its JSON.
pub(super) fn small_job() -> JobFile {
    let mut job = Job::new(Garment::of_color("#17171A".parse().unwrap()));
    job.garment.fabric = Some("cotton".into());
    job.garment.knit = Some(Knit::default());
    let mut run = RunRecord::new("2026-11-02".parse().unwrap(), 40);
    run.screens = vec![ScreenRun::read("Signal red: 450 in, 390 out, refill 20").unwrap()];
    run.changed.squeegee = "softer".into();
    job.info.runs = vec![run];
    let pair = WetPair { below: "Golden yellow".into(), above: "Signal red".into(), keeps: c(0.7) };
    job.press.wet_pairs = vec![pair];
    job.film.limits.smallest = Some(c(0.04));
    job.info.due = Some("2026-12-04".parse().unwrap());
    job.info.set_sizes("M 30; Navy: L 10").unwrap();
    let area = PrintArea { width_mm: mm(20.0), height_mm: mm(20.0) };
    job.prep.crop = Some(CropBox { left: 0.0, top: 0.0, width: 1.0, height: 1.0 });
    job.prep.content_margin_mm = Some(mm(0.5));
    job.prep.background = Some(BackgroundSettings::default());
    job.prep.specks = Some(SpeckSettings::default());
    job.prep.redraw_colours = Some(6);
    (job.prep.max_width_mm, job.prep.max_height_mm) = (Some(mm(20.0)), Some(mm(20.0)));
    (job.prep.platen, job.prep.smallest_garment) = (Some(area), Some(area));
    job.prep.ppi = Ppi::new(60.0).unwrap();
    let mut teal = ink("Turquoise");
    let flat = |r: f32| Spectrum([r; BANDS]);
    teal.spectra = Some(Box::new(InkSpectra {
        over_white: flat(0.4),
        over_black: flat(0.3),
        white: flat(0.85),
        black: flat(0.05),
    }));
    job.separation = SeparationSettings::for_inks([ink("Base white"), teal, ink("Signal red")]);
    let screens: Vec<ScreenName> = job.separation.screens.iter().map(|s| s.name.clone()).collect();
    job.separation.underbase.under = Some(vec![screens[1].clone()]);
    job.press.stops.insert(screens[0].clone(), Stop::Flash);
    job.run.meshes.insert(screens[0].clone(), job.run.mesh.clone());
    job.run.ink.price_per_kg.insert(screens[0].clone(), 20.0);
    job.run.ink.weighed_g_per_shirt = Some(2.0);
    job.run.meshes_at_hand = vec![job.run.mesh.clone()];
    job.film.angles_at_hand = [22.5, 52.5, 82.5].map(|angle| Degrees::new(angle).unwrap()).to_vec();
    job.give_angles();
    let navy = Garment { name: "Navy".into(), ..Garment::of_color("#1B2240".parse().unwrap()) };
    job.add_garment(navy).unwrap();
    job.left_out_on_mut(1).insert(screens[2].clone());
    job.run.fingerprint = Some(Box::new(fingerprint()));
    job.film.dpi_down = Some(Dpi::new(720.0).unwrap());
    job.film.printer_width = Some(mm(400.0));
    job.film.linearisation = Some(Linearisation { name: "wedge".into(), points: vec![(c(0.5), c(0.55))] });
    let own = ScreenFilm {
        ruling: Some(Lpi::new(55.0).unwrap()),
        angle: Some(Degrees::new(15.0).unwrap()),
        dot: Some(DotShape::usual_ellipse()),
    };
    job.film.screens.insert(screens[1].clone(), own);
    let art = Plane::from_fn(60, 40, |x, y| {
        let inside = (10..50).contains(&x) && (8..32).contains(&y);
        if inside { [(x * 900) as u16, 30_000, (y * 1500) as u16, FULL] } else { [FULL; 4] }
    });
    let png = strikeoff_files::picture::png_bytes(&Picture::new(art), Ppi::new(76.2).unwrap());
    JobFile::new(job, "heron.png", png)
}

/// The small job, printed by a shop that states all its times and prices.
fn printed(pricing: Pricing) -> JobFile {
    let mut file = small_job();
    let mut profile = ShopProfile::default();
    for rate in RATES {
        (rate.state)(&mut profile.rates, Some(rate.assumed));
    }
    (profile.rates.paces, profile.rates.pricing) = (ASSUMED_PACES.to_vec(), Some(pricing));
    let shop = profile.state_for(&file.job);
    file.keep_run(RunRecord::new("2026-12-04".parse().unwrap(), 40), shop).unwrap();
    file
}

/// One edit of every kind, on the small job's screens; a grey picture needs a file of its own.
fn every_edit() -> Vec<Edit> {
    let (ink, picture) = (ink("Lemon"), glow());
    let of = Material { screens: ["Turquoise", "Signal red"], ink: &ink, picture: &picture };
    every_kind(&of).into_iter().filter(|edit| edit.grey().is_none()).collect()
}

fn every_dot() -> [DotShape; 9] {
    DotShape::kinds()
}

/// A job file as saved, to change its manifest.
pub(super) struct Packed {
    members: Vec<(String, Vec<u8>)>,
    pub(super) manifest: Value,
}

impl Packed {
    pub(super) fn of(file: &JobFile) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.strikeoff");
        save_job(&path, file).unwrap();
        let mut zip = ZipArchive::new(std::fs::File::open(&path).unwrap()).unwrap();
        let mut members = Vec::new();
        for at in 0..zip.len() {
            let mut member = zip.by_index(at).unwrap();
            let mut bytes = Vec::new();
            member.read_to_end(&mut bytes).unwrap();
            members.push((member.name().unwrap().into_owned(), bytes));
        }
        let at = members.iter().position(|(name, _)| name == "job.json").unwrap();
        let manifest = serde_json::from_slice(&members.remove(at).1).unwrap();
        Self { members, manifest }
    }

    fn write(&self, path: &Path, manifest: &Value) {
        self.write_bytes(path, &serde_json::to_vec(manifest).unwrap());
    }

    pub(super) fn write_bytes(&self, path: &Path, manifest: &[u8]) {
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        zip.start_file("job.json", SimpleFileOptions::default()).unwrap();
        zip.write_all(manifest).unwrap();
        for (name, bytes) in &self.members {
            zip.start_file(name, SimpleFileOptions::default()).unwrap();
            zip.write_all(bytes).unwrap();
        }
        std::fs::write(path, zip.finish().unwrap().into_inner()).unwrap();
    }
}

/// Jobs that have every field of the schema between them.
pub(super) fn all_jobs() -> Vec<JobFile> {
    let mut jobs = Vec::new();
    let with = |change: &dyn Fn(&mut Job)| {
        let mut file = small_job();
        change(&mut file.job);
        file
    };
    jobs.push(with(&|_| {}));
    jobs.extend([Pricing::Margin(0.4), Pricing::MarkUp(0.6)].map(printed));
    for edit in every_edit() {
        jobs.push(with(&|job| job.edits = vec![EditEntry::on(edit.clone())]));
    }
    for dot in every_dot() {
        jobs.push(with(&|job| job.film.dot = dot));
    }
    for gain in
        [DotGain::Edge { growth_um: 40.0 }, DotGain::Measured { name: "wedge".into(), points: vec![(c(0.5), c(0.7))] }]
    {
        jobs.push(with(&|job| job.press.gain = gain.clone()));
    }
    jobs
}

/// What a file with this manifest gives when it is opened.
pub(super) fn opened(packed: &Packed, manifest: &Value, dir: &Path) -> Result<JobFile, JobFileError> {
    let path = dir.join("changed.strikeoff");
    packed.write(&path, manifest);
    open_job(&path)
}
