//! How findings behave beyond being there: what a choke leaves, what films leave out, what fixes say.

use strikeoff_core::Progress;
use strikeoff_core::findings::{Change, Kind, Severity, outlook};
use strikeoff_core::units::Mm;

use crate::made::*;

/// An unchoked base shows at once, a choke hides as far as it reaches, one of a millimetre always.
#[test]
fn the_shift_that_shows_is_searched_for() {
    let made = |choke: f64| {
        make(BLACK, vec![("Base", disc(60.0, 80.0, 40.0 - choke)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base")
    };
    let first = |made: &Made| {
        let look = outlook(&made.job, &made.prepared, &made.screens, &Progress::none()).unwrap();
        look.facts.screens[0].fringe_from_mm
    };
    assert_eq!(first(&made(0.0)), Some(0.1));
    for choke in [0.1, 0.2, 0.3] {
        let shown = first(&made(choke)).unwrap();
        // Pixels of this print are 0.17 mm wide, and half of one is not seen.
        assert!(shown > choke && shown < choke + 0.21, "a choke of {choke} mm shows from {shown} mm");
    }
    assert_eq!(first(&made(1.0)), None);
}

/// What a choke leaves of a fringe is narrower, not shorter: white peeks out along nearly the whole
/// upper or lower side of a disc, as wide as the shift less the choke.
#[test]
fn a_choke_narrows_a_fringe_and_does_not_shorten_it() {
    let seen = |choke: f64| {
        let made = make(BLACK, vec![("Base", disc(60.0, 80.0, 40.0 - choke)), ("Red", disc(60.0, 80.0, 40.0))])
            .flash("Base")
            .change(|job| job.run.register_mm = Mm::new(0.5).unwrap());
        let found = made.find(Kind::Registration);
        let width = found.what.split(" mm wide").next().unwrap().rsplit(' ').next().unwrap().parse::<f64>().unwrap();
        (found.number.value, width)
    };
    let ((bare, bare_wide), (choked, choked_wide)) = (seen(0.0), seen(0.3));
    // The disc is 80 mm across; lines are counted across the shift.
    assert!(bare > 60.0 && choked > 0.6 * bare, "{choked} mm left of {bare} mm");
    assert!(choked_wide < 0.7 * bare_wide, "{choked_wide} mm left of {bare_wide} mm");
}

/// Films that leave small dots out, or lift them, have none to lose.
#[test]
fn the_films_own_limits_are_kept_in_mind() {
    let made = make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.05, 0.9))]).on_mesh("110/80");
    assert!(made.findings().iter().any(|f| f.kind == Kind::LostDots));
    let found = made.find(Kind::LostDots);
    let fixed = made.fixed(&found, |c| matches!(c, Change::SmallestDot { .. })).unwrap();
    assert!(fixed.findings().iter().all(|f| f.kind != Kind::LostDots));
}

/// A screen whose dots cannot hold and that nobody would miss is named with a way to drop it.
#[test]
fn a_screen_that_adds_nothing_is_named_quietly() {
    let tint: Paint =
        Box::new(|x, y| if (20.0..100.0).contains(&x) && (20.0..140.0).contains(&y) { 0.04 } else { 0.0 });
    let made = make(WHITE, vec![("Yellow", tint), ("Blue", blend(10.0, 110.0, 0.3, 0.9))]);
    let found = made.find(Kind::LostDots);
    assert_eq!((found.screens, found.severity), (vec!["Yellow".into()], Severity::Caution));
    assert!(found.fixes.iter().any(|m| m.label == "Drop Yellow"), "{:?}", found.fixes);
}

/// A base ink that prints last beside the colours, for highlights, buries nothing.
#[test]
fn a_base_ink_beside_the_colours_is_left_in_peace() {
    let beside = |late: Paint| {
        make(
            BLACK,
            vec![("Base", rect(20.4, 20.4, 99.6, 139.6)), ("Red", rect(20.0, 20.0, 100.0, 140.0)), ("White", late)],
        )
        .flash("Base")
    };
    let again = |mut made: Made| {
        made.screens.list[2].ink = ink("Base");
        made.findings().iter().filter(|f| f.kind == Kind::PrintOrder).map(|f| f.severity).collect::<Vec<_>>()
    };
    assert!(again(beside(rect(25.0, 25.0, 40.0, 40.0))).is_empty());
    assert_eq!(again(beside(rect(25.0, 25.0, 70.0, 70.0))), [Severity::Caution]);
    assert_eq!(again(beside(rect(25.0, 25.0, 100.0, 100.0))), [Severity::Fault]);
}

/// The separation's own limit is the limit; a user who allows more than a soft print takes hears of it.
#[test]
fn the_limit_of_ink_is_the_separations_own_up_to_what_stays_soft() {
    let ink = |tone: f64, limit: f64| {
        let four = ["Yellow", "Red", "Green", "Blue"];
        let made = make(WHITE, four.iter().map(|n| (*n, tint(30.0, 30.0, 90.0, 90.0, tone))).collect())
            .flash("Yellow")
            .flash("Red")
            .flash("Green")
            .change(|job| job.separation.total_ink_limit = limit);
        made.findings().iter().find(|f| f.kind == Kind::BuildUp).map(|f| f.number.limit)
    };
    assert_eq!(ink(0.8, 3.0), Some(300.0));
    assert_eq!(ink(0.75, 3.0), None);
    assert_eq!(ink(0.8, 3.3), None);
    assert_eq!(ink(0.65, 2.4), Some(240.0));
    assert_eq!(ink(0.95, 6.0), Some(340.0));
}

/// A fix's label states what is left: no place of the print has more ink than it says.
#[test]
fn a_cut_of_ink_keeps_its_word() {
    let four = ["Yellow", "Red", "Green", "Blue"];
    let made = make(WHITE, four.iter().map(|n| (*n, tint(30.0, 30.0, 90.0, 90.0, 0.8))).collect())
        .flash("Yellow")
        .flash("Red")
        .flash("Green");
    let found = made.find(Kind::BuildUp);
    assert_eq!(found.fixes.len(), 2, "{:#?}", found.fixes);
    for (at, fix) in found.fixes.iter().enumerate() {
        let said: f64 = fix.label.split(": ").nth(1).unwrap().split(" %").next().unwrap().parse().unwrap();
        let mut only = found.clone();
        only.fixes = vec![found.fixes[at].clone()];
        let fixed = made.fixed(&only, |_| true).unwrap();
        let most = (0..fixed.screens.list[0].coverage.data().len())
            .map(|px| fixed.screens.list.iter().map(|s| f64::from(s.coverage.data()[px])).sum::<f64>() / 65535.0)
            .fold(0.0, f64::max);
        assert!(said <= 300.0 && (most * 100.0 - said).abs() < 1.0, "{}: {most}", fix.label);
    }
}

/// Wet on wet, solids are a fault; halftones of a picture, which are meant to mix, a caution.
#[test]
fn a_picture_wet_on_wet_is_a_caution_and_flat_art_a_fault() {
    let wet = |black: f64, yellow: f64| {
        let made = make(
            WHITE,
            vec![("Black", tint(20.0, 20.0, 100.0, 140.0, black)), ("Yellow", tint(20.0, 20.0, 100.0, 140.0, yellow))],
        );
        made.find(Kind::WetOnWet).severity
    };
    assert_eq!(wet(0.5, 1.0), Severity::Fault);
    assert_eq!(wet(0.5, 0.9), Severity::Caution);
}
