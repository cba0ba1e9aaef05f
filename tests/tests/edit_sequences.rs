//! Random sequences of edits, undo and redo: what comes back is equal, in the job and on the
//! screens; conflicts are found before pixels are touched, and their fixes fix them.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

use proptest::prelude::*;
use serde_json::{Map, Value, json};
use strikeoff_core::Progress;
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::raster::{FULL, Picture, Plane};
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::separate::PlannedScreen;
use strikeoff_core::tune::edits::{Field, Info, Type};
use strikeoff_core::tune::{Edit, EditEntry, History, TuneError, apply_edits, conflicts, fix_conflict, planned};
use strikeoff_core::units::{Opacity, Ppi};
use strikeoff_tests::edits::glow;

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

/// Stands for the separation: a plane that depends on nothing but the screen's name and ink.
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

/// An edit of any kind with any values of its fields' ranges.
fn any_edit() -> impl Strategy<Value = Edit> {
    let values = |kind: &'static Info| {
        let fields: Vec<BoxedStrategy<Value>> = kind.fields.iter().map(any_value).collect();
        fields.prop_map(move |values| {
            let keys = kind.fields.iter().map(|field| field.key.to_owned());
            let mut map: Map<String, Value> = keys.zip(values).filter(|(_, value)| !value.is_null()).collect();
            map.insert("kind".to_owned(), json!(kind.name));
            strikeoff_tests::edits::edit(map, &glow())
        })
    };
    prop::sample::select(Edit::kinds().iter().collect::<Vec<_>>()).prop_flat_map(values)
}

fn any_value(field: &Field) -> BoxedStrategy<Value> {
    let name = || prop::sample::select(NAMES.to_vec());
    let [low, high] = field.usual.or(field.range).unwrap_or([0.0, 1.0]);
    let deep = json!(ink("Deep"));
    match field.of {
        Type::Screen | Type::NewScreen => name().prop_map(|name| json!(name)).boxed(),
        Type::Screens => prop::collection::vec(name(), 1..4).prop_map(|names| json!(names)).boxed(),
        Type::Ink => Just(deep).boxed(),
        Type::OtherInk => prop_oneof![Just(Value::Null), Just(deep)].boxed(),
        Type::Coverage => (0.0..=1.0f64).prop_map(|part| json!(part)).boxed(),
        Type::Length | Type::Number => (low..=high).prop_map(|number| json!(number)).boxed(),
        Type::Count => (low as u8..=high as u8).prop_map(|count| json!(count)).boxed(),
        Type::Switch => any::<bool>().prop_map(|on| json!(on)).boxed(),
        Type::Place => prop::sample::select(vec!["usual", "first", "last"]).prop_map(|place| json!(place)).boxed(),
        Type::Curve => prop::collection::vec(0.0..100.0f64, 1..4)
            .prop_map(|mut after| {
                after.sort_by(f64::total_cmp);
                let step = 100.0 / (after.len() + 1) as f64;
                let between = after.iter().enumerate().map(|(at, &y)| [step * (at + 1) as f64, y]);
                json!([[0.0, 0.0]].into_iter().chain(between).chain([[100.0, 100.0]]).collect::<Vec<_>>())
            })
            .boxed(),
        Type::Region => (0.0..0.5f64, 0.0..0.5f64)
            .prop_map(|(left, top)| json!({"shape": "ellipse", "left": left, "top": top, "width": 0.5, "height": 0.4}))
            .boxed(),
        Type::Source => any::<bool>().prop_map(|light| json!({"from": "lightness", "light": light})).boxed(),
        Type::Picture => Just(json!(glow())).boxed(),
    }
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
            let (expected, made) = &walk[at];
            prop_assert_eq!(history.present(), expected);
            prop_assert_eq!(&screens(history.present()).ok(), made);
            // JSON gives back the same job.
            let text = serde_json::to_string(expected).unwrap();
            prop_assert_eq!(&serde_json::from_str::<Job>(&text).unwrap(), expected);
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
