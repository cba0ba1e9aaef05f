//! Faults of dots, rulings and tones. Films and meshes are the published or usual ones of the tables
//! named beside each; tones are what the screens mean on the shirt.

use strikeoff_core::findings::{Change, Kind, Severity};
use strikeoff_core::halftone::{DotShape, ScreenFilm, SmallDots};
use strikeoff_core::ink::Knit;
use strikeoff_core::units::{Degrees, Dpi, Lpi, Mm};

use crate::made::*;

fn own_angle(angle: f64) -> ScreenFilm {
    ScreenFilm { angle: Some(Degrees::new(angle).unwrap()), ..ScreenFilm::default() }
}

/// Dots too small for their mesh.
pub fn lost() -> Vec<Fault> {
    // A 3 % tint over 60 % of the print beside a solid. In a round dot of 3 % at 45 lpi, 110 um across,
    // the film would be at the limit of 230/48 mesh (thread 48, opening 62 um); gain compensation makes it
    // far smaller yet.
    let tint_and_disc = || both(tint(10.0, 10.0, 110.0, 125.0, 0.03), disc(60.0, 142.0, 10.0));
    vec![
        Fault {
            name: "tones at 45 lpi on 110 mesh",
            made: make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.05, 0.9))]).on_mesh("110/80"),
            kind: Kind::LostDots,
            severity: Severity::Fault,
            screens: &["Blue"],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.25)),
            // 73 % of the print blends from 5 to 90 %. A film dot of one thread and one opening, 231 um,
            // is 13 % at 45 lpi and prints at 29 %: tones from 14 %, whose loss is dE 2000 of 4, to 29 %
            // are gone. One of two threads and one opening, 311 um, prints at 45 %: no tone over that is.
            number: (0.73 * 100.0 * 15.0 / 85.0, 0.73 * 100.0 * 31.0 / 85.0),
            fix: Some(|c| matches!(c, Change::Mesh { .. })),
        },
        Fault {
            name: "two per cent highlights and nothing else",
            made: make(WHITE, vec![("Black", tint(10.0, 10.0, 110.0, 150.0, 0.02))]),
            kind: Kind::LostDots,
            severity: Severity::Caution,
            screens: &["Black"],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.8)),
            number: (99.9, 100.0),
            fix: None,
        },
        Fault {
            name: "a 3 % tint over 60 % of the print drops out",
            made: make(WHITE, vec![("Blue", tint_and_disc())]),
            kind: Kind::LostDots,
            severity: Severity::Fault,
            screens: &["Blue"],
            area: Some(([10.0, 10.0, 110.0, 125.0], 0.85)),
            // 100 x 115 mm of 120 x 160.
            number: (57.0, 61.0),
            fix: Some(|c| matches!(c, Change::SmallestDot { below: SmallDots::Lift, .. })),
        },
        Fault {
            name: "the same tint, fixed by fewer dots",
            made: make(WHITE, vec![("Blue", tint_and_disc())]),
            kind: Kind::LostDots,
            severity: Severity::Fault,
            screens: &["Blue"],
            area: None,
            number: (57.0, 61.0),
            fix: Some(|c| matches!(c, Change::SmallestDot { below: SmallDots::Thin, .. })),
        },
        Fault {
            name: "the same tint, fixed by scattered dots",
            made: make(WHITE, vec![("Blue", tint_and_disc())]),
            kind: Kind::LostDots,
            severity: Severity::Fault,
            screens: &["Blue"],
            area: None,
            number: (57.0, 61.0),
            fix: Some(|c| matches!(c, Change::Dot { .. })),
        },
        Fault {
            name: "scattered dots of 0.06 mm on 230 mesh",
            made: make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.1, 0.4))])
                .change(|job| job.film.dot = DotShape::BlueNoise { size_mm: Mm::new(0.06).unwrap() }),
            kind: Kind::LostDots,
            severity: Severity::Fault,
            screens: &["Blue"],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.5)),
            number: (50.0, 75.0),
            fix: Some(|c| matches!(c, Change::Dot { .. })),
        },
    ]
}

/// Moire with the mesh, another screen and the knit.
pub fn moire() -> Vec<Fault> {
    vec![
        Fault {
            name: "moire that a ratio rule misses",
            // moire_mesh_halftone.csv: 156 mesh, 55 lpi at 45 degrees, 58.19 mm.
            made: make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.3, 0.9))]).on_mesh("156/64").change(|job| {
                job.film.ruling = Lpi::new(55.0).unwrap();
                job.film.angle = Degrees::new(45.0).unwrap();
                job.film.dpi = Dpi::new(1440.0).unwrap();
            }),
            kind: Kind::Moire,
            severity: Severity::Fault,
            screens: &["Blue"],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.8)),
            number: (58.1, 58.3),
            fix: Some(|c| matches!(c, Change::Angle { .. })),
        },
        Fault {
            name: "two screens five degrees apart",
            made: make(WHITE, vec![("Red", blend(10.0, 110.0, 0.3, 0.6)), ("Blue", blend(10.0, 110.0, 0.6, 0.3))])
                .change(|job| {
                    job.film.screens.insert("red".into(), own_angle(20.0));
                    job.film.screens.insert("Blue".into(), own_angle(25.0));
                }),
            kind: Kind::Moire,
            severity: Severity::Fault,
            screens: &["Red", "Blue"],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.8)),
            // Equal gratings: 2 x 45 x sin(2.5 degrees) = 3.926 an inch.
            number: (25.4 / 3.93, 25.4 / 3.92),
            fix: Some(|c| matches!(c, Change::Angle { .. })),
        },
        Fault {
            name: "two screens at one angle",
            // How much films at one angle move is held to the films themselves in the whole-job tests.
            made: make(WHITE, vec![("Red", blend(10.0, 110.0, 0.3, 0.6)), ("Blue", blend(10.0, 110.0, 0.6, 0.3))])
                .change(|job| job.film.share_one_angle()),
            kind: Kind::Steadiness,
            severity: Severity::Fault,
            screens: &["Red", "Blue"],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.8)),
            number: (1.0, 8.0),
            fix: Some(|c| matches!(c, Change::Angles { .. })),
        },
        Fault {
            name: "dots that stand on the courses of the knit",
            made: make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.3, 0.6))]).change(|job| {
                job.garment.knit = Some(Knit { wales_per_inch: 36.0, courses_per_inch: 47.0 });
                job.film.angle = Degrees::new(0.0).unwrap();
            }),
            kind: Kind::Moire,
            severity: Severity::Caution,
            screens: &["Blue"],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.8)),
            // 47 - 45 = 2 an inch.
            number: (12.69, 12.71),
            fix: Some(|c| matches!(c, Change::Angle { .. })),
        },
    ]
}

/// Grey levels, resolution, gain and shadows.
pub fn tones() -> Vec<Fault> {
    let shadows = |tone: fn(f64) -> f64| -> Paint {
        Box::new(move |x, y| if (20.0..100.0).contains(&x) && (30.0..130.0).contains(&y) { tone(x) } else { 0.0 })
    };
    let mut low_art = make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.4, 0.9))]);
    low_art.prepared.true_ppi = 50.0;
    vec![
        Fault {
            name: "too few grey levels",
            made: make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.4, 0.9))]).change(|job| {
                job.film.dpi = Dpi::new(600.0).unwrap();
                job.film.ruling = Lpi::new(55.0).unwrap();
            }),
            kind: Kind::GreyLevels,
            severity: Severity::Caution,
            screens: &["Blue"],
            area: None,
            // halftone_levels.csv: 600 dpi at 55 lpi has 120 levels.
            number: (120.0, 120.0),
            fix: Some(|c| matches!(c, Change::FilmResolution { .. })),
        },
        Fault {
            name: "art of 50 ppi",
            made: low_art,
            kind: Kind::Resolution,
            severity: Severity::Caution,
            screens: &[],
            area: None,
            number: (50.0 / 45.0, 50.0 / 45.0),
            fix: None,
        },
        Fault {
            name: "gain left alone",
            made: make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.3, 0.8))]).change(|job| job.press.compensate = false),
            kind: Kind::GainSensitivity,
            severity: Severity::Fault,
            screens: &[],
            area: Some(([10.0, 10.0, 110.0, 150.0], 0.7)),
            number: (8.0, 30.0),
            fix: Some(|c| matches!(c, Change::Compensate)),
        },
        Fault {
            name: "shadows of 93 to 98 % with compensation off",
            made: make(WHITE, vec![("Black", shadows(|x| 0.93 + 0.05 * (x - 20.0) / 80.0))])
                .change(|job| job.press.compensate = false),
            kind: Kind::FilledShadows,
            severity: Severity::Fault,
            screens: &["Black"],
            area: Some(([20.0, 30.0, 100.0, 130.0], 0.8)),
            number: (95.0, 100.0),
            fix: Some(|c| matches!(c, Change::Compensate)),
        },
        Fault {
            name: "one screen that steers the whole print",
            // A white with 77 % of light over black, at 30 %: CIE lightness 55.7, and 48.5 at 21.6 %, ten
            // points less at half tone.
            made: make(BLACK, vec![("White", tint(10.0, 10.0, 110.0, 150.0, 0.3))]),
            kind: Kind::GainSensitivity,
            severity: Severity::Caution,
            screens: &["White"],
            area: None,
            number: (6.9, 7.4),
            fix: None,
        },
    ]
}
