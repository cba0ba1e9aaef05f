//! Faults of inks, their order, how much of them lies in one place, and heads.

use strikeoff_core::findings::{Change, Kind, Severity};
use strikeoff_core::press::Stop;

use crate::made::*;

fn is_edit(change: &Change) -> bool {
    matches!(change, Change::Edit { .. })
}

fn is_stop(change: &Change) -> bool {
    matches!(change, Change::Stop { .. })
}

/// Order, flashes and heads.
pub fn order() -> Vec<Fault> {
    let seven = ["Base", "Yellow", "Red", "Green", "Blue", "Black", "White"];
    let nine_heads = make(BLACK, seven.iter().map(|n| (*n, rect(20.0, 20.0, 100.0, 60.0))).collect()).change(|job| {
        job.press.stops.insert("Base".into(), Stop::FlashAndCoolDown);
        job.run.heads = 8;
    });
    let wet = make(WHITE, vec![("Black", rect(20.0, 20.0, 100.0, 80.0)), ("Yellow", rect(20.0, 50.0, 100.0, 110.0))]);
    vec![
        Fault {
            name: "nine heads on a press of eight",
            made: nine_heads,
            kind: Kind::Heads,
            severity: Severity::Fault,
            screens: &[],
            area: None,
            number: (9.0, 9.0),
            fix: Some(is_stop),
        },
        Fault {
            name: "solid yellow after solid black, wet",
            made: wet,
            kind: Kind::WetOnWet,
            severity: Severity::Fault,
            screens: &["Black", "Yellow"],
            area: Some(([20.0, 50.0, 100.0, 80.0], 0.8)),
            // Shows wherever the yellow prints: 80 x 60 of 120 x 160 mm.
            number: (24.0, 26.0),
            fix: Some(is_stop),
        },
    ]
}

/// Bases: missing, needless, wet, or in the wrong place.
pub fn bases() -> Vec<Fault> {
    let base_first = make(BLACK, vec![("Base", disc(60.0, 80.0, 39.6)), ("Red", disc(60.0, 80.0, 40.0))]);
    let base_last = make(
        BLACK,
        vec![
            ("Red", rect(20.0, 20.0, 60.0, 140.0)),
            ("Blue", rect(60.0, 20.0, 100.0, 140.0)),
            ("Base", rect(20.4, 20.4, 99.6, 139.6)),
        ],
    );
    vec![
        Fault {
            name: "base not flashed",
            made: base_first,
            kind: Kind::WetOnWet,
            severity: Severity::Fault,
            screens: &["Base", "Red"],
            area: Some(([20.0, 40.0, 100.0, 120.0], 0.7)),
            number: (95.0, 100.0),
            fix: Some(is_stop),
        },
        Fault {
            name: "base white printed last over colours",
            made: base_last.with_art_of(make(
                BLACK,
                vec![
                    ("Base", rect(20.4, 20.4, 99.6, 139.6)),
                    ("Red", rect(20.0, 20.0, 60.0, 140.0)),
                    ("Blue", rect(60.0, 20.0, 100.0, 140.0)),
                ],
            )),
            kind: Kind::PrintOrder,
            severity: Severity::Fault,
            screens: &["Base", "Red", "Blue"],
            area: Some(([20.4, 20.4, 99.6, 139.6], 0.8)),
            number: (95.0, 100.0),
            fix: Some(is_edit),
        },
        Fault {
            name: "underbase on a white shirt",
            made: make(WHITE, vec![("Base", disc(60.0, 80.0, 39.6)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base"),
            kind: Kind::Underbase,
            severity: Severity::Caution,
            screens: &["Base"],
            area: Some(([20.0, 40.0, 100.0, 120.0], 0.7)),
            number: (20.0, 30.0),
            fix: Some(is_edit),
        },
        Fault {
            name: "no underbase on black",
            // The art is the yellow of the shelf, as it prints on white.
            made: make(BLACK, vec![("Yellow", disc(60.0, 80.0, 40.0))])
                .with_art_of(make(WHITE, vec![("Yellow", disc(60.0, 80.0, 40.0))])),
            kind: Kind::Underbase,
            severity: Severity::Fault,
            screens: &[],
            area: Some(([0.0, 0.0, 120.0, 160.0], 0.2)),
            number: (20.0, 100.0),
            fix: None,
        },
    ]
}

/// How much ink lies where.
pub fn amounts() -> Vec<Fault> {
    let four = ["Yellow", "Red", "Green", "Blue"];
    let dry = |made: Made| made.flash("Yellow").flash("Red").flash("Green");
    let square = |tone: f64| tint(30.0, 30.0, 90.0, 90.0, tone);
    let large = Sheet { width_mm: 280.0, height_mm: 300.0, ppi: 75.0 };
    let veil: Paint = Box::new(|x, y| if (x - 60.0).hypot(y - 80.0) < 20.0 { 0.9 } else { 0.05 });
    vec![
        Fault {
            name: "four solids on one spot",
            made: dry(make(WHITE, four.iter().map(|n| (*n, square(1.0))).collect())),
            kind: Kind::BuildUp,
            severity: Severity::Fault,
            screens: &[],
            area: Some(([30.0, 30.0, 90.0, 90.0], 0.9)),
            number: (399.0, 401.0),
            fix: None,
        },
        Fault {
            name: "320 % of ink where the limit is 300",
            // The limit of 300 % is the job's own default.
            made: dry(make(WHITE, four.iter().map(|n| (*n, square(0.8))).collect())),
            kind: Kind::BuildUp,
            severity: Severity::Caution,
            screens: &[],
            area: Some(([30.0, 30.0, 90.0, 90.0], 0.9)),
            number: (319.0, 321.0),
            fix: Some(is_edit),
        },
        Fault {
            name: "a plate of two layers",
            made: make_on(
                large,
                BLACK,
                vec![("Base", rect(20.4, 20.4, 259.6, 259.6)), ("Red", rect(20.0, 20.0, 260.0, 260.0))],
            )
            .flash("Base"),
            kind: Kind::BuildUp,
            severity: Severity::Caution,
            screens: &[],
            area: Some(([20.0, 20.0, 260.0, 260.0], 0.85)),
            // 24 x 24 cm, and a rim.
            number: (560.0, 580.0),
            fix: None,
        },
        Fault {
            name: "a highlight white over the background",
            made: make(WHITE, vec![("Blue", disc(60.0, 80.0, 45.0)), ("White", veil)]).flash("Blue"),
            kind: Kind::HighlightWhite,
            severity: Severity::Caution,
            screens: &["White"],
            area: Some(([0.0, 0.0, 120.0, 160.0], 0.8)),
            // All of the print but the disc of 20 mm.
            number: (92.0, 94.5),
            fix: Some(is_edit),
        },
        Fault {
            name: "a screen for nothing",
            made: make(WHITE, vec![("Blue", disc(60.0, 80.0, 40.0)), ("Red", disc(60.0, 80.0, 1.5))]),
            kind: Kind::EmptyScreen,
            severity: Severity::Caution,
            screens: &["Red"],
            area: None,
            // A disc of 1.5 mm has 7.1 mm2.
            number: (6.0, 8.5),
            fix: Some(is_edit),
        },
    ]
}
