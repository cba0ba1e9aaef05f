//! The print that the films really make: films of whole jobs, laid over each other by a script that shares no
//! code with the program (numpy, Pillow; CIEDE2000 after Sharma, Wu and Dalal 2005), in register and in nine
//! set-ups out of it, against the proof.

use std::fs;

use serde_json::{Value, json};
use strikeoff_core::Progress;
use strikeoff_core::job::{Evaluated, Job, evaluate};
use strikeoff_core::moire::film_set_now;
use strikeoff_core::prep::CropBox;
use strikeoff_core::press::{DotGain, proof_from_screens};
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::{Dpi, Mm, Ppi};
use strikeoff_files::art::decode_art;
use strikeoff_files::demo::demo_art;
use strikeoff_files::film::{FilmOptions, write_films};
use strikeoff_files::shelf::{house_garment, house_shelf};

use super::{path, run};

const ON_COLOUR: [&str; 6] = ["Base white", "Brick red", "Golden yellow", "Dusk violet", "Marsh teal", "Bright white"];
const ON_WHITE: [&str; 6] = ["Ink black", "Brick red", "Golden yellow", "Dusk violet", "Marsh teal", "Soft white"];

/// A photograph, or the demo's drawing.
fn art(name: &str) -> Art {
    if name == "lantern" {
        return demo_art();
    }
    decode_art(name, &fs::read(strikeoff_tests::fixture("photos").join(name)).unwrap()).unwrap()
}

/// A job whose films are the print and nothing else, without gain: their dots are the printed dots.
fn job(photo: &str, garment: &str, inks: &[&str], width_mm: f64) -> (Job, Evaluated) {
    let art = art(photo);
    let mut job = Job::new(house_garment(garment).unwrap().clone());
    let inks = inks.iter().map(|name| house_shelf().find(name).unwrap().clone());
    job.separation = SeparationSettings::for_inks(inks);
    // A third of the picture each way: its detail is as large as on a full front.
    job.prep.crop = Some(CropBox { left: 0.3, top: 0.3, width: 0.34, height: 0.34 });
    job.prep.max_width_mm = Mm::new(width_mm).ok();
    job.prep.ppi = Ppi::new(150.0).unwrap();
    job.press.gain = DotGain::AtHalf { points: 0.0 };
    job.film.margin = Mm::new(0.0).unwrap();
    (job.film.marks, job.film.label, job.film.wedge) = (false, false, false);
    job.give_angles();
    let done = evaluate(&job, &art, Detail::Full, &Progress::none()).unwrap();
    (job, done)
}

/// What the script says of a job's films.
fn laid(job: &Job, done: &Evaluated) -> Value {
    let dir = tempfile::tempdir().unwrap();
    let set = write_films(job, &done.screens, dir.path(), &FilmOptions::default(), &Progress::none()).unwrap();
    let inks: Vec<Value> = (done.screens.list.iter())
        .map(|s| {
            let flashed = job.press.stops.contains_key(&s.name);
            json!({ "over_white": s.ink.reflectance_over_white(), "opacity": s.ink.opacity.get(), "flashed": flashed })
        })
        .collect();
    assert!(done.screens.list.iter().all(|s| s.hits == 1), "the script lays every screen once");
    let garment = job.garment.reflectance();
    let (job_json, proof_ppm) = (dir.path().join("job.json"), dir.path().join("proof.ppm"));
    let said = json!({ "garment": garment, "inks": inks, "wet_on_wet": job.press.wet_on_wet.get() });
    fs::write(&job_json, said.to_string()).unwrap();
    let proof = proof_from_screens(&done.screens, &job.ground(), |_| true);
    let mut ppm = format!("P6 {} {} 255\n", proof.width(), proof.height()).into_bytes();
    ppm.extend(proof.to_rgba8().chunks_exact(4).flat_map(|p| p[..3].to_vec()));
    fs::write(&proof_ppm, ppm).unwrap();
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/films/laid.py");
    let register = job.run.usual_register_mm().to_string();
    let mut args = vec![script, path(&job_json), path(&proof_ppm), &register];
    args.extend(set.films.iter().map(|film| path(film.tiff.as_ref().unwrap())));
    serde_json::from_str(&run("/usr/bin/python3", "python3-numpy python3-pil", &args)).unwrap()
}

fn figure(report: &Value, name: &str, at: usize) -> f64 {
    report[name][at].as_f64().unwrap()
}

/// Films as a new job has them: the proof is what they print, in register and out of it.
fn films_print_the_proof(photo: &str, garment: &str, inks: &[&str], dpi: f64) {
    let (mut job, done) = job(photo, garment, inks, 110.0);
    job.film.dpi = Dpi::new(dpi).unwrap();
    let report = laid(&job, &done);
    println!("{photo} on {garment} at {dpi} dpi: {report}");
    for set_up in ["in_register", "set_ups"] {
        let (mean, p95) = (figure(&report, set_up, 0), figure(&report, set_up, 1));
        assert!(mean < 0.6 && p95 < 2.0, "{photo} on {garment}, {set_up}: {mean} {p95}");
    }
    let (mean, worst) = (figure(&report, "tenth", 0), figure(&report, "tenth", 1));
    assert!(
        mean < 0.25 && worst < 0.4,
        "{photo} on {garment}: a screen a tenth out moves colour by {mean}, {worst} at worst"
    );
}

#[test]
fn films_of_a_new_job_print_its_proof() {
    films_print_the_proof("coffee.jpg", "Black", &ON_COLOUR, 720.0);
}

#[test]
#[ignore = "seven more jobs"]
fn films_of_more_jobs_print_their_proofs() {
    for (photo, garment, inks, dpi) in [
        ("coffee.jpg", "White", &ON_WHITE, 720.0),
        ("astronaut.jpg", "White", &ON_WHITE, 1440.0),
        ("cat.jpg", "Red", &ON_COLOUR, 720.0),
        ("rocket.jpg", "Black", &ON_COLOUR, 1440.0),
        ("lantern", "Black", &ON_COLOUR, 720.0),
        ("lantern", "White", &ON_WHITE, 720.0),
        ("astronaut.jpg", "Red", &ON_COLOUR, 720.0),
    ] {
        films_print_the_proof(photo, garment, inks, dpi);
    }
}

/// All screens at one angle: the proof is the mean of the set-ups, and the steadiness that is stated is that of
/// the films.
#[test]
fn one_angle_is_as_unsteady_as_is_said() {
    let (mut job, _) = job("coffee.jpg", "Black", &ON_COLOUR, 110.0);
    job.film.share_one_angle();
    let done = evaluate(&job, &art("coffee.jpg"), Detail::Full, &Progress::none()).unwrap();
    let report = laid(&job, &done);
    let said = film_set_now(&job, &done.screens, &Progress::none()).unwrap().trial;
    println!("one angle: {report} said {said:?}");
    let (mean, moves) = (figure(&report, "set_ups", 0), figure(&report, "moves", 0));
    assert!(mean < 1.2, "the proof is {mean} from the mean of the set-ups");
    assert!((said.moves / moves - 1.0).abs() < 0.15, "said {}, films {moves}", said.moves);
}
