//! The cost that is promised before an act is the figure after it: drops, merges and mixed inks on photographs
//! and on the demo's kind of art, with edits, on several garments. The figure after the act is that of
//! `print_quality` at full size, which `inspect` reports; CIEDE2000 itself is held to Sharma's table elsewhere.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use std::fs;
use std::sync::Arc;

use strikeoff_core::Progress;
use strikeoff_core::job::{Act, Job, costs, evaluate};
use strikeoff_core::raster::{Art, Detail};
use strikeoff_core::separate::{SeparationSettings, print_quality};
use strikeoff_core::tune::{Edit, EditEntry};
use strikeoff_core::units::{Coverage, Mm, Ppi};
use strikeoff_files::art::decode_art;
use strikeoff_files::shelf::{house_garment, house_shelf};

fn photo(name: &str) -> Art {
    let bytes = fs::read(strikeoff_tests::fixture("photos").join(name)).unwrap();
    decode_art(name, &bytes).unwrap()
}

fn job(garment: &str, inks: &[&str]) -> Job {
    let mut job = Job::new(house_garment(garment).unwrap().clone());
    let inks = inks.iter().map(|name| house_shelf().find(name).unwrap().clone());
    job.separation = SeparationSettings::for_inks(inks);
    job.prep.max_width_mm = Mm::new(250.0).ok();
    job.prep.ppi = Ppi::new(130.0).unwrap();
    job
}

fn mean(job: &Job, art: &Art) -> f64 {
    let done = evaluate(job, art, Detail::Full, &Progress::none()).unwrap();
    print_quality(&done.screens, &done.prepared.picture, &job.ground()).mean
}

/// Most that a promise may be off.
const WITHIN: f64 = 0.1;

#[test]
fn what_an_act_will_cost_is_what_it_costs() {
    let black = ["Base white", "Brick red", "Golden yellow", "Marsh teal", "Bright white"];
    let white = ["Ink black", "Brick red", "Golden yellow", "Marsh teal"];
    let mut tried = 0;
    for (photo_name, garment, inks) in
        [("coffee.jpg", "Black", &black[..]), ("coffee.jpg", "White", &white[..]), ("cat.jpg", "Navy", &black[..])]
    {
        let art = Arc::new(photo(photo_name));
        let mut job = job(garment, inks);
        let trim = Edit::trim(job.separation.screens[1].name.clone(), Coverage::new(0.04).unwrap(), false);
        job.edits.push(EditEntry::on(trim));
        let print = evaluate(&job, &art, Detail::Full, &Progress::none()).unwrap();
        let found = costs(&job, &art, house_shelf(), &print, &Progress::none()).unwrap();
        assert!((found.now - mean(&job, &art)).abs() < 1e-9);
        let mut promises = Vec::new();
        for screen in &found.screens {
            let drop = screen.drop.as_ref().unwrap();
            promises.push((Act::Drop { screen: screen.name.clone(), again: false }, drop.as_is));
            promises.push((Act::Drop { screen: screen.name.clone(), again: true }, drop.again.unwrap()));
        }
        for merge in &found.merges {
            promises.push((Act::Merge { from: merge.from.clone(), into: merge.into.clone() }, merge.cost.as_is));
        }
        for (act, promised) in promises {
            let after = mean(&act.done(&job), &art);
            assert!(
                (after - promised).abs() <= WITHIN,
                "{photo_name} on {garment}, {act:?}: {promised:.3}, then {after:.3}"
            );
            tried += 1;
        }
    }
    assert!(tried > 60, "{tried}");
}
