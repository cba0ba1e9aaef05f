//! Random sequences of edits, undo and redo: what comes back is equal, in the job and on the
//! screens; conflicts are found before pixels are touched, and their fixes fix them.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use proptest::prelude::*;
use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::{FULL, Picture, Plane};
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::separate::PlannedScreen;
use strikeoff_core::tune::{
    Curve, Edit, EditEntry, GreyPicture, History, Place, Region, Source, TuneError, apply_edits, conflicts,
    fix_conflict, planned,
};
use strikeoff_core::units::{Coverage, Mm, Opacity, Ppi};

const NAMES: [&str; 6] = ["Black", "Teal", "Rose", "White", "Teal 2", "Deep"];

fn ink(name: &str) -> Ink {
    Ink {
        name: name.into(),
        over_white: "#8A5A2B".parse().unwrap(),
        opacity: Opacity::new(0.7).unwrap(),
        role: InkRole::Color,
        measured: false,
        spectra: None,
    }
}

fn job() -> Job {
    let mut job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
    job.separation.screens = NAMES[..4].iter().map(|n| PlannedScreen::of_ink(ink(n))).collect();
    job
}

fn prepared() -> Prepared {
    let pixels = Plane::from_fn(24, 18, |x, y| {
        let inside = (6..18).contains(&x) && (4..14).contains(&y);
        if inside { [(x * 2500) as u16, (y * 3000) as u16, 20_000, FULL] } else { [FULL; 4] }
    });
    Prepared {
        picture: Picture::new(pixels),
        ppi: Ppi::new(50.0).unwrap(),
        print_size_mm: [12.192, 9.144],
        true_ppi: 50.0,
    }
}

/// Stands for the separation: a plane that hangs on nothing but the screen's name and ink.
fn screens(job: &Job) -> Result<Screens, TuneError> {
    let plan = planned(&job.separation, &job.edits)?;
    let list = (plan.screens.iter())
        .map(|s| {
            let seed = s.name.bytes().chain(s.ink.name.bytes()).fold(7usize, |h, b| h.wrapping_mul(31) + b as usize);
            let coverage = Plane::from_fn(24, 18, |x, y| (x * 2_731 + y * 3_641 + seed % 65_536) as u16);
            Screen { name: s.name.clone(), ink: s.ink.clone(), hits: s.hits, coverage }
        })
        .collect();
    let mut screens = Screens { width: 24, height: 18, ppi: Ppi::new(50.0).unwrap(), list };
    apply_edits(&mut screens, &prepared(), &job.edits, &job.ground(), &Progress::none())?;
    Ok(screens)
}

fn any_edit() -> impl Strategy<Value = Edit> {
    let name = || prop::sample::select(NAMES.to_vec()).prop_map(str::to_owned);
    let part = || (0.0..=1.0f64).prop_map(|v| Coverage::new(v).unwrap());
    let mm = || (0.0..3.0f64).prop_map(|v| Mm::new(v).unwrap());
    let one = prop_oneof![
        (name(), part(), part(), part(), any::<bool>()).prop_map(|(screen, below, above, soft, background)| {
            Edit::Trim { screen, below, above, soft, background }
        }),
        (name(), prop::collection::vec(0.0..=100.0f64, 2..6)).prop_map(|(screen, ys)| {
            let last = ys.len() - 1;
            let points = ys.iter().enumerate().map(|(i, y)| [100.0 * i as f64 / last as f64, *y]).collect();
            Edit::Curve { screen, curve: Curve::new(points).unwrap() }
        }),
        (name(), 0.0..0.5f64, 0.51..=1.0f64, 0.05..0.95f64).prop_map(|(screen, none, solid, middle)| {
            let [none, solid, middle] = [none, solid, middle].map(|v| Coverage::new(v).unwrap());
            Edit::Levels { screen, none, solid, middle }
        }),
        (name(), -25.0..25.0f64).prop_map(|(screen, points)| Edit::Gain { screen, points }),
        (name(), 0.0..10.0f64).prop_map(|(screen, factor)| Edit::Density { screen, factor }),
        name().prop_map(|screen| Edit::Invert { screen }),
        (name(), mm()).prop_map(|(screen, by_mm)| Edit::Choke { screen, by_mm }),
        (name(), mm()).prop_map(|(screen, by_mm)| Edit::Spread { screen, by_mm }),
        (name(), 0.0..5.0f64, part()).prop_map(|(screen, under_mm2, at)| Edit::Specks { screen, under_mm2, at }),
        (name(), 0.0..5.0f64, part()).prop_map(|(screen, under_mm2, at)| Edit::Pinholes { screen, under_mm2, at }),
        (name(), mm()).prop_map(|(screen, radius_mm)| Edit::Blur { screen, radius_mm }),
        (name(), mm(), 0.0..5.0f64).prop_map(|(screen, radius_mm, amount)| Edit::Sharpen { screen, radius_mm, amount }),
        (name(), -0.5..1.0f64, 0.0..1.5f64, any::<bool>(), mm()).prop_map(
            |(screen, left, width, outside, feather_mm)| {
                let region = Region::Ellipse { left, top: 0.2, width, height: 0.5 };
                Edit::MaskRegion { screen, region, outside, feather_mm }
            }
        ),
        (name(), 1u8..5).prop_map(|(screen, hits)| Edit::Hits { screen, hits }),
    ];
    let more = prop_oneof![
        (name(), name(), part()).prop_map(|(from, into, balance)| Edit::Merge { from, into, balance }),
        (name(), any::<bool>()).prop_map(|(screen, resolve)| Edit::ReInk { screen, ink: ink("Plum"), resolve }),
        (name(), any::<bool>()).prop_map(|(screen, resolve)| Edit::Drop { screen, resolve }),
        prop::collection::vec(name(), 1..4).prop_map(|screens| Edit::Order { screens }),
        (name(), name()).prop_map(|(screen, by)| Edit::MaskByScreen { screen, by }),
        (name(), name(), mm()).prop_map(|(screen, by, overlap_mm)| Edit::KnockOut { screen, by, overlap_mm }),
        (name(), name(), part()).prop_map(|(screen, by, amount)| Edit::Subtract { screen, by, amount }),
        (name(), name()).prop_map(|(a, b)| Edit::Swap { a, b }),
        (name(), name()).prop_map(|(screen, name)| Edit::Copy { screen, name, ink: None }),
        (name(), name(), 0.0..0.5f64, 0.51..=1.0f64, part()).prop_map(|(screen, name, from, to, soft)| {
            let [from, to] = [from, to].map(|v| Coverage::new(v).unwrap());
            Edit::Split { screen, name, ink: ink("Deep"), from, to, soft }
        }),
        (name(), any::<bool>())
            .prop_map(|(name, resolve)| { Edit::Add { name, ink: ink("Deep"), place: Place::Usual, resolve } }),
        (name(), 0.0..0.5f64, mm())
            .prop_map(|(screen, tolerance, feather_mm)| { Edit::ClearBackground { screen, tolerance, feather_mm } }),
        (name(), any::<bool>()).prop_map(|(name, light)| {
            Edit::FromArt { name, ink: ink("Deep"), source: Source::Lightness { light } }
        }),
        (name(), 1usize..40, 1usize..40, any::<bool>()).prop_map(|(name, width, height, light)| {
            let pixels = Plane::from_fn(width, height, |x, y| (x * 1_777 + y * 977) as u16);
            let picture = GreyPicture::new("glow.png", format!("{width}x{height}"), pixels);
            Edit::Import { name, ink: ink("Deep"), picture, light }
        }),
    ];
    prop_oneof![one, more]
}

/// What the user does next.
#[derive(Debug, Clone)]
enum Act {
    Add(Edit),
    Switch(usize),
    Delete(usize),
    Move(usize, usize),
    Undo,
    Redo,
}

fn any_act() -> impl Strategy<Value = Act> {
    prop_oneof![
        4 => any_edit().prop_map(Act::Add),
        1 => any::<usize>().prop_map(Act::Switch),
        1 => any::<usize>().prop_map(Act::Delete),
        1 => any::<(usize, usize)>().prop_map(|(a, b)| Act::Move(a, b)),
        2 => Just(Act::Undo),
        1 => Just(Act::Redo),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn undo_and_redo_give_back_equal_jobs_and_equal_screens(acts in prop::collection::vec(any_act(), 1..14)) {
        let mut history = History::new(job());
        // The same walk, with every state kept beside it with its screens.
        let mut walk = vec![(job(), screens(&job()).ok())];
        let mut at: usize = 0;
        for act in acts {
            let mut next = history.present().clone();
            let count = next.edits.len();
            match act {
                Act::Undo => {
                    prop_assert_eq!(history.undo().is_some(), at > 0);
                    at = at.saturating_sub(1);
                }
                Act::Redo => {
                    prop_assert_eq!(history.redo().is_some(), at + 1 < walk.len());
                    at = (at + 1).min(walk.len() - 1);
                }
                Act::Add(edit) => next.edits.push(EditEntry::on(edit)),
                Act::Switch(i) if count > 0 => next.edits[i % count].on ^= true,
                Act::Delete(i) if count > 0 => { next.edits.remove(i % count); }
                Act::Move(from, to) if count > 0 => {
                    let entry = next.edits.remove(from % count);
                    next.edits.insert(to % count, entry);
                }
                Act::Switch(_) | Act::Delete(_) | Act::Move(..) => {}
            }
            if next != *history.present() && next.edits != walk[at].0.edits {
                walk.truncate(at + 1);
                walk.push((next.clone(), screens(&next).ok()));
                at += 1;
                history.apply("edit", next);
            }
            let (wanted, made) = &walk[at];
            prop_assert_eq!(history.present(), wanted);
            prop_assert_eq!(&screens(history.present()).ok(), made);
            // JSON gives back the same job.
            let text = serde_json::to_string(wanted).unwrap();
            prop_assert_eq!(&serde_json::from_str::<Job>(&text).unwrap(), wanted);
            // Every plane is whole.
            for screen in made.iter().flat_map(|s| &s.list) {
                prop_assert_eq!((screen.coverage.width(), screen.coverage.height()), (24, 18));
            }
        }
    }

    #[test]
    fn conflicts_are_found_without_pixels_and_fixed(edits in prop::collection::vec(any_edit(), 1..10), pick: u8) {
        let mut job = job();
        job.edits = edits.into_iter().map(EditEntry::on).collect();
        let found = conflicts(&job.separation, &job.edits);
        match screens(&job) {
            Ok(_) => prop_assert!(found.is_empty(), "{found:?}"),
            Err(TuneError::NoBackground { .. }) => {}
            Err(error) => prop_assert!(!found.is_empty(), "{error} was not foreseen"),
        }
        // Any choice of fixes ends: the edits that are left can be applied.
        for round in 0.. {
            let found = conflicts(&job.separation, &job.edits);
            let Some(first) = found.first() else { break };
            prop_assert!(first.at < job.edits.len() && !first.fixes.is_empty());
            // Clever fixes may meet the next conflict; switching off always ends.
            let choice = if round < 12 { usize::from(pick) % first.fixes.len() } else { first.fixes.len() - 1 };
            let chosen = first.fixes[choice].clone();
            fix_conflict(&mut job.edits, first.at, &chosen);
            prop_assert!(round < 60, "fixes go in circles: {found:?}");
        }
        prop_assert!(screens(&job).is_ok());
    }
}
