//! Sound jobs, each close to one of the faults or to everyday work: nothing may be reported.

use rayon::prelude::*;
use strikeoff_core::press::Stop;
use strikeoff_core::units::{Dpi, Lpi};

use crate::made::*;

type Sound = (&'static str, Made);

/// Sound jobs, each close to one of the faults or to everyday work.
pub fn sound() -> Vec<Sound> {
    [plain(), on_bases(), near_limits(), near_faults()].into_iter().flatten().collect()
}

/// Everyday work on white.
fn plain() -> Vec<Sound> {
    vec![
        ("solid black on white", make(WHITE, vec![("Black", disc(60.0, 80.0, 40.0))])),
        ("black wedge on white", make(WHITE, vec![("Black", blend(10.0, 110.0, 0.15, 1.0))])),
        ("black fading to nothing", make(WHITE, vec![("Black", blob(60.0, 80.0, 35.0))])),
        (
            "two colours, trapped",
            make(WHITE, vec![("Yellow", rect(20.0, 20.0, 60.4, 140.0)), ("Blue", rect(60.0, 20.0, 100.0, 140.0))]),
        ),
    ]
}

/// Bases on black.
fn on_bases() -> Vec<Sound> {
    let choke = 0.4;
    vec![
        (
            "choked base, red over it",
            make(BLACK, vec![("Base", disc(60.0, 80.0, 40.0 - choke)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base"),
        ),
        (
            "six colours in blends on white",
            make(
                WHITE,
                vec![
                    ("Yellow", blend(10.0, 110.0, 0.2, 0.9)),
                    ("Red", blend(10.0, 110.0, 0.6, 0.2)),
                    ("Green", blob(30.0, 40.0, 25.0)),
                    ("Blue", blob(90.0, 120.0, 25.0)),
                    ("Black", blob(60.0, 80.0, 15.0)),
                ],
            ),
        ),
        (
            "tonal base and two colours on black",
            make(
                BLACK,
                vec![
                    (
                        "Base",
                        Box::new(|x, y| {
                            let inside = (10.4..109.6).contains(&x) && (10.4..149.6).contains(&y);
                            if inside { 0.3 + 0.006 * (x - 10.0) } else { 0.0 }
                        }),
                    ),
                    ("Yellow", blend(10.0, 110.0, 0.2, 0.8)),
                    ("Red", blend(10.0, 110.0, 0.8, 0.3)),
                ],
            )
            .flash("Base"),
        ),
    ]
}

/// Close to the limits of heads, mesh and highlight white.
fn near_limits() -> Vec<Sound> {
    vec![
        ("black first, flashed, two hits", {
            let mut made =
                make(WHITE, vec![("Black", rect(20.0, 20.0, 100.0, 80.0)), ("Yellow", rect(20.0, 50.0, 100.0, 110.0))])
                    .flash("Black");
            made.screens.list[0].hits = 2;
            made
        }),
        ("flat colour on 110 mesh", make(WHITE, vec![("Red", disc(60.0, 80.0, 40.0))]).on_mesh("110/80")),
        (
            "eight heads for eight",
            make(
                BLACK,
                ["Base", "Yellow", "Red", "Green", "Blue", "White"]
                    .iter()
                    .enumerate()
                    .map(|(i, n)| {
                        let y = 20.0 + 24.0 * (i as f64 - 1.0);
                        (
                            *n,
                            if i == 0 { rect(20.4, 20.4, 99.6, 139.6) } else { rect(20.0, y - 0.25, 100.0, y + 24.25) },
                        )
                    })
                    .collect(),
            )
            .change(|job| {
                job.press.stops.insert("Base".into(), Stop::FlashAndCoolDown);
                job.run.heads = 8;
            }),
        ),
        (
            "highlight white only where it is light",
            make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.5, 1.0)), ("White", disc(60.0, 80.0, 10.0))]).flash("Blue"),
        ),
        (
            "55 lpi on 305 mesh, 1440 dpi",
            make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.25, 0.9))]).on_mesh("305/34").change(|job| {
                job.film.ruling = Lpi::new(55.0).unwrap();
                job.film.dpi = Dpi::new(1440.0).unwrap();
            }),
        ),
    ]
}

/// Close to a fault of lines, tints, ink and shadows.
fn near_faults() -> Vec<Sound> {
    vec![
        (
            "reversed lines of half a millimetre",
            make(
                WHITE,
                vec![("Black", without(rect(20.0, 20.0, 100.0, 140.0), lines(25.0, 30.0, 95.0, 130.0, 5.0, 0.5)))],
            ),
        ),
        ("a 25 % tint over 60 % of the print", make(WHITE, vec![("Blue", tint(10.0, 10.0, 110.0, 125.0, 0.25))])),
        (
            "300 % of ink where the limit is 300",
            make(WHITE, ["Yellow", "Red", "Blue"].iter().map(|n| (*n, soft_square(60.0, 80.0, 30.0))).collect())
                .flash("Yellow")
                .flash("Red"),
        ),
        ("shadows of 93 to 98 %, compensated", make(WHITE, vec![("Black", blend(20.0, 100.0, 0.93, 0.98))])),
        (
            "two halftones wet on wet",
            make(WHITE, vec![("Yellow", blend(10.0, 110.0, 0.2, 0.6)), ("Blue", blend(10.0, 110.0, 0.6, 0.2))]),
        ),
        ("web art at 1.9 pixels a dot", {
            // Common practice, no source: 12 x 16 in at 96 ppi printed 18 in high is 85 ppi.
            let mut made = make(WHITE, vec![("Blue", blend(10.0, 110.0, 0.3, 0.9))]);
            made.prepared.true_ppi = 96.0 * 16.0 / 18.0;
            made
        }),
    ]
}

#[test]
fn sound_jobs_raise_nothing() {
    let sound = sound();
    assert!(sound.len() >= 12);
    let loud: Vec<String> = sound
        .par_iter()
        .flat_map_iter(|(name, made)| made.findings().into_iter().map(move |f| format!("{name}: {}", f.what)))
        .collect();
    assert!(loud.is_empty(), "{loud:#?}");
}
