//! Facts, orders and garments beside the findings, on constructed jobs.

use strikeoff_core::Progress;
use strikeoff_core::facts::head_plan;
use strikeoff_core::findings::outlook;
use strikeoff_core::ink::Garment;
use strikeoff_core::press::Stop;
use strikeoff_core::preview::{search_orders, swap_garments};
use strikeoff_core::units::Mm;

use crate::made::*;

/// One job's findings are the same for any number of threads.
#[test]
fn findings_do_not_depend_on_threads() {
    let made = make(BLACK, vec![("Base", disc(60.0, 80.0, 40.0)), ("Red", blob(60.0, 80.0, 40.0))]);
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| made.findings());
    assert_eq!(alone, made.findings());
}

#[test]
fn heads_are_laid_out_with_flashes_between() {
    let made = make(BLACK, vec![("Base", disc(60.0, 80.0, 39.0)), ("Red", disc(60.0, 80.0, 40.0))]).change(|job| {
        job.run.heads = 6;
        job.press.stops.insert("Base".into(), Stop::FlashAndCoolDown);
        job.press.stops.insert("Red".into(), Stop::Flash);
    });
    let plan = serde_json::to_value(head_plan(&made.job, &made.screens)).unwrap();
    let holds: Vec<&str> = plan.as_array().unwrap().iter().map(|h| h["holds"].as_str().unwrap()).collect();
    assert_eq!(holds, ["screen", "flash", "cool-down", "screen", "empty", "empty"]);
}

/// Black and yellow the wrong way round: the search puts the light ink before the dark one, and keeps
/// the base first.
#[test]
fn order_search_keeps_pins_and_prefers_light_before_dark() {
    let made = make(
        BLACK,
        vec![
            ("Base", rect(20.4, 20.4, 99.6, 139.6)),
            ("Black", rect(20.0, 20.0, 100.0, 80.0)),
            ("Yellow", rect(20.0, 50.0, 100.0, 140.0)),
        ],
    )
    .flash("Base");
    // The art shows black over yellow.
    let best_made = make(
        BLACK,
        vec![
            ("Base", rect(20.4, 20.4, 99.6, 139.6)),
            ("Yellow", rect(20.0, 50.0, 100.0, 140.0)),
            ("Black", rect(20.0, 20.0, 100.0, 80.0)),
        ],
    )
    .flash("Base");
    let (present, best) = search_orders(&made.job, &best_made.prepared, &made.screens, 3, &Progress::none()).unwrap();
    assert_eq!(best.len(), 2);
    assert_eq!(best[0].order, ["Base", "Yellow", "Black"]);
    assert!(best[0].pick_up < present.pick_up && best[0].delta_e < present.delta_e);
    assert_eq!(present.flashes, 1);
}

#[test]
fn facts_state_ink_mesh_and_resolution() {
    let mut made = make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.3, 0.9))]);
    made.prepared.true_ppi = 96.0 * 16.0 / 18.0;
    let facts = outlook(&made.job, &made.prepared, &made.screens, &Progress::none()).unwrap().facts;
    assert!(facts.resolution.starts_with("85 ppi at print size, 1.9x the 45 lpi ruling"), "{}", facts.resolution);
    assert!((facts.screens[0].mesh_to_ruling - 5.1).abs() < 0.05);
    assert_eq!(facts.grey_levels, 257);
    assert_eq!(facts.shirts, 155);
    let ink = &facts.ink[0];
    assert!(ink.run_g.low < ink.run_g.likely && ink.run_g.likely < ink.run_g.high);
    assert!(ink.check_every_shirts > 20);
    // An untouched job keeps its register assumption.
    assert_eq!(made.job.run.register_mm, Mm::new(0.2).unwrap());
}

#[test]
fn a_white_job_on_black_asks_for_a_base_and_a_near_white_serves() {
    let made = make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.2, 0.8)), ("Yellow", blob(60.0, 80.0, 30.0))]);
    let garments = ["#FCFCFA", BLACK].map(|hex| Garment::of_color(hex.parse().unwrap()));
    let marks = swap_garments(&made.job, &made.prepared, &made.screens, &garments, &Progress::none()).unwrap();
    assert!(marks[0].changes.is_empty() && marks[0].mean_shift < 2.0, "{:?}", marks[0]);
    assert!(marks[1].mean_shift > 20.0 && marks[1].changes[0].contains("underbase"), "{:?}", marks[1]);
    let based = make(BLACK, vec![("Base", disc(60.0, 80.0, 39.0)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base");
    let marks = swap_garments(&based.job, &based.prepared, &based.screens, &garments, &Progress::none()).unwrap();
    assert!(marks[0].changes[0].contains("Leave Base out"), "{:?}", marks[0]);
    assert!(marks[1].mean_shift < 0.5);
}
