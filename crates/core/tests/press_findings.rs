//! Constructed jobs, each with one fault that must be found, and sound ones that must stay quiet.
//! Prints are 120 x 160 mm at 150 ppi; art is what the screens mean to print.

#![allow(clippy::unwrap_used)]

use strikeoff_core::Progress;
use strikeoff_core::findings::{
    Change, Finding, Kind, Severity, check_job, head_plan, outlook, search_orders, swap_garments,
};
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::{Stop, proof_from_screens};
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::tune::apply_edits;
use strikeoff_core::units::{Degrees, Dpi, Lpi, Mm, Ppi};
use strikeoff_core::usage::Mesh;

const PPI: f64 = 150.0;
const WIDTH_MM: f64 = 120.0;
const HEIGHT_MM: f64 = 160.0;

type Paint = Box<dyn Fn(f64, f64) -> f64 + Sync>;

struct Made {
    job: Job,
    prepared: Prepared,
    screens: Screens,
}

impl Made {
    fn findings(&self) -> Vec<Finding> {
        check_job(&self.job, &self.prepared, &self.screens, &Progress::none()).unwrap()
    }

    fn flash(mut self, after: &str) -> Self {
        self.job.press.stops.insert(after.into(), Stop::Flash);
        self
    }

    fn change(mut self, f: impl FnOnce(&mut Job)) -> Self {
        f(&mut self.job);
        self
    }
}

fn ink(name: &str) -> Ink {
    let (hex, opacity, role) = match name {
        "Black" => ("#1A1A1C", 0.95, InkRole::Black),
        "White" => ("#F4F4F0", 0.85, InkRole::White),
        "Base" => ("#F0F0EC", 0.85, InkRole::BaseWhite),
        "Yellow" => ("#FFD91A", 0.55, InkRole::Color),
        "Red" => ("#D0202E", 0.65, InkRole::Color),
        "Blue" => ("#1F4FA8", 0.65, InkRole::Color),
        "Green" => ("#1E8A4C", 0.65, InkRole::Color),
        other => panic!("no ink {other}"),
    };
    serde_json::from_value(serde_json::json!({ "name": name, "over_white": hex, "opacity": opacity, "role": role }))
        .unwrap()
}

/// Screens in print order, painted by functions of mm.
fn make(garment: &str, list: Vec<(&str, Paint)>) -> Made {
    let garment = Garment { fabric: Some("cotton".into()), ..Garment::of_color(garment.parse().unwrap()) };
    let (width, height) = ((WIDTH_MM / 25.4 * PPI) as usize, (HEIGHT_MM / 25.4 * PPI) as usize);
    let ppi = Ppi::new(PPI).unwrap();
    let mm = 25.4 / PPI;
    let list = list
        .into_iter()
        .map(|(name, paint)| Screen {
            name: name.into(),
            ink: ink(name),
            hits: 1,
            coverage: Plane::from_fn(width, height, |x, y| {
                let a = paint((x as f64 + 0.5) * mm, (y as f64 + 0.5) * mm);
                (a.clamp(0.0, 1.0) * 65535.0).round() as u16
            }),
        })
        .collect();
    let screens = Screens { width, height, ppi, list };
    let mut job = Job::new(garment);
    job.info.quantity = 150;
    job.run.heads = 10;
    let picture = proof_from_screens(&screens, &job.ground(), |_| true);
    let prepared = Prepared { picture, ppi, print_size_mm: [WIDTH_MM, HEIGHT_MM], true_ppi: 200.0 };
    Made { job, prepared, screens }
}

fn rect(left: f64, top: f64, right: f64, bottom: f64) -> Paint {
    Box::new(move |x, y| f64::from(u8::from((left..right).contains(&x) && (top..bottom).contains(&y))))
}

/// A disc, solid to its edge.
fn disc(cx: f64, cy: f64, r: f64) -> Paint {
    Box::new(move |x, y| f64::from(u8::from((x - cx).hypot(y - cy) < r)))
}

/// A blend from `from` to `to` across a rectangle.
fn blend(left: f64, right: f64, from: f64, to: f64) -> Paint {
    Box::new(move |x, y| {
        if !(left..right).contains(&x) || !(10.0..150.0).contains(&y) {
            return 0.0;
        }
        from + (to - from) * (x - left) / (right - left)
    })
}

/// A soft blob that fades to nothing.
fn blob(cx: f64, cy: f64, r: f64) -> Paint {
    Box::new(move |x, y| (1.25 * (-((x - cx).powi(2) + (y - cy).powi(2)) / (r * r)).exp() - 0.05).clamp(0.0, 1.0))
}

fn kinds(findings: &[Finding]) -> Vec<Kind> {
    findings.iter().map(|f| f.kind).collect()
}

/// The finding of this kind, which must be the worst of the job's, or as bad.
fn must_find(made: &Made, kind: Kind) -> Finding {
    let findings = made.findings();
    let found = findings.iter().find(|f| f.kind == kind);
    let found = found.unwrap_or_else(|| panic!("{kind:?} is not among {:?}", kinds(&findings)));
    assert_eq!(found.severity, findings[0].severity);
    assert!(!found.inputs.is_empty() && found.what.len() > 20);
    found.clone()
}

/// One of the mends takes the finding away; edits are applied to the screens as they are.
fn must_mend(mut made: Made, kind: Kind, suits: impl Fn(&Change) -> bool) {
    let found = must_find(&made, kind);
    let mend = found.mends.iter().find(|m| m.changes.iter().all(&suits)).unwrap_or_else(|| panic!("{:?}", found.mends));
    mend.apply(&mut made.job);
    apply_edits(&mut made.screens, &made.prepared, &made.job.edits, &made.job.ground(), &Progress::none()).unwrap();
    let left = made.findings();
    assert!(left.iter().all(|f| f.kind != kind), "after \"{}\": {left:?}", mend.label);
}

#[test]
fn fault_01_tones_at_45_lpi_on_110_mesh() {
    let made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.05, 0.9))])
        .change(|job| job.run.mesh = Mesh::named("110/80").unwrap());
    let found = must_find(&made, Kind::LostDots);
    assert!(found.what.contains("110/80"), "{}", found.what);
    must_mend(made, Kind::LostDots, |c| matches!(c, Change::Mesh { .. }));
}

#[test]
fn fault_02_nine_heads_on_a_press_of_eight() {
    let names = ["Base", "Yellow", "Red", "Green", "Blue", "Black", "White"];
    let list = names.iter().map(|n| (*n, rect(20.0, 20.0, 100.0, 60.0))).collect();
    let made = make("#141416", list).flash("Base").change(|job| {
        job.press.stops.insert("Base".into(), Stop::FlashAndCoolDown);
        job.run.heads = 8;
    });
    let found = must_find(&made, Kind::Heads);
    assert_eq!((found.number.value, found.number.limit), (9.0, 8.0));
    must_mend(made, Kind::Heads, |c| matches!(c, Change::Stop { .. }));
}

#[test]
fn fault_03_white_base_unchoked() {
    let made = make("#141416", vec![("Base", disc(60.0, 80.0, 40.0)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base");
    let found = must_find(&made, Kind::Registration);
    assert_eq!(found.severity, Severity::Fault);
    assert!(found.what.contains("white peeks out"), "{}", found.what);
    // The choke that the search found hides it.
    let place = found.place.as_ref().unwrap().region_mm;
    assert!(place[0] > 10.0 && place[0] + place[2] < 110.0, "{place:?}");
    // The choke that the search found hides it.
    must_mend(made, Kind::Registration, |c| matches!(c, Change::Edit { .. }));
}

#[test]
fn fault_04_two_percent_highlights_on_230() {
    let flat: Paint =
        Box::new(|x, y| if (10.0..110.0).contains(&x) && (10.0..150.0).contains(&y) { 0.02 } else { 0.0 });
    let found = must_find(&make("#FFFFFF", vec![("Black", flat)]), Kind::LostDots);
    assert!((found.number.value - 100.0).abs() < 1e-6, "{}", found.number.value);
}

#[test]
fn fault_05_yellow_after_black_wet() {
    let made =
        make("#FFFFFF", vec![("Black", rect(20.0, 20.0, 100.0, 80.0)), ("Yellow", rect(20.0, 50.0, 100.0, 110.0))]);
    let found = must_find(&made, Kind::WetOnWet);
    assert_eq!(found.screens, ["Black", "Yellow"]);
    assert!(found.what.starts_with("50 % of Yellow's ink") || found.what.starts_with("51 %"), "{}", found.what);
    // Seen wherever the yellow prints: 80 x 60 of 120 x 160 mm.
    assert!((found.number.value - 25.0).abs() < 1.0, "{}", found.number.value);
    must_mend(made, Kind::WetOnWet, |c| matches!(c, Change::Stop { .. }));
}

#[test]
fn fault_06_base_not_flashed() {
    let made = make("#141416", vec![("Base", disc(60.0, 80.0, 39.6)), ("Red", disc(60.0, 80.0, 40.0))]);
    assert_eq!(must_find(&made, Kind::WetOnWet).severity, Severity::Fault);
    must_mend(made, Kind::WetOnWet, |c| matches!(c, Change::Stop { .. }));
}

#[test]
fn fault_07_moire_that_a_ratio_rule_misses() {
    let made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.3, 0.9))]).change(|job| {
        job.run.mesh = Mesh::named("156/64").unwrap();
        job.film.ruling = Lpi::new(55.0).unwrap();
        job.film.angle = Degrees::new(45.0).unwrap();
        job.film.dpi = Dpi::new(1440.0).unwrap();
    });
    let findings = made.findings();
    let found = findings.iter().find(|f| f.kind == Kind::Moire).unwrap();
    assert!((found.number.value - 58.19).abs() < 0.1, "{}", found.number.value);
    must_mend_any(made, Kind::Moire, |c| matches!(c, Change::Angle { .. }));
}

fn must_mend_any(mut made: Made, kind: Kind, suits: impl Fn(&Change) -> bool) {
    let found = made.findings().into_iter().find(|f| f.kind == kind).unwrap();
    found.mends.iter().find(|m| m.changes.iter().all(&suits)).unwrap().apply(&mut made.job);
    assert!(made.findings().iter().all(|f| f.kind != kind));
}

#[test]
fn fault_08_too_few_grey_levels() {
    let made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.4, 0.9))]).change(|job| {
        job.film.dpi = Dpi::new(600.0).unwrap();
        job.film.ruling = Lpi::new(55.0).unwrap();
    });
    let found = must_find(&made, Kind::GreyLevels);
    // halftone_levels.csv: 600 dpi at 55 lpi has 120 levels.
    assert_eq!(found.number.value, 120.0);
    must_mend(made, Kind::GreyLevels, |c| matches!(c, Change::FilmResolution { .. }));
}

#[test]
fn fault_09_art_of_fifty_ppi() {
    let mut made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.4, 0.9))]);
    made.prepared.true_ppi = 50.0;
    let found = must_find(&made, Kind::Resolution);
    assert!((found.number.value - 50.0 / 45.0).abs() < 1e-9);
    assert!(found.mends.iter().any(|m| matches!(m.changes[0], Change::MaxHeight { .. })));
}

#[test]
fn fault_10_underbase_on_a_white_shirt() {
    let made = make("#FFFFFF", vec![("Base", disc(60.0, 80.0, 39.6)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base");
    let found = must_find(&made, Kind::Underbase);
    assert!(matches!(found.mends[0].changes[0], Change::Edit { .. }));
}

#[test]
fn fault_11_no_underbase_on_black() {
    let mut made = make("#141416", vec![("Yellow", disc(60.0, 80.0, 40.0))]);
    // The art wants the yellow that stands on the shelf.
    let want = make("#FFFFFF", vec![("Yellow", disc(60.0, 80.0, 40.0))]);
    made.prepared = want.prepared;
    assert_eq!(must_find(&made, Kind::Underbase).severity, Severity::Fault);
}

#[test]
fn fault_12_four_solids_on_one_spot() {
    let names = ["Yellow", "Red", "Green", "Blue"];
    let made = make("#FFFFFF", names.iter().map(|n| (*n, rect(30.0, 30.0, 90.0, 90.0))).collect())
        .flash("Yellow")
        .flash("Red")
        .flash("Green");
    let found = must_find(&made, Kind::BuildUp);
    assert!((found.number.value - 400.0).abs() < 1.0, "{}", found.number.value);
}

#[test]
fn fault_13_hairlines_on_coarse_mesh() {
    let lines: Paint = Box::new(|x, y| {
        f64::from(u8::from(
            (20.0..140.0).contains(&y) && (x / 5.0).fract() * 5.0 < 25.4 / PPI * 0.99 && (20.0..100.0).contains(&x),
        ))
    });
    let made = make("#FFFFFF", vec![("Black", lines)]).change(|job| job.run.mesh = Mesh::named("110/80").unwrap());
    let found = must_find(&made, Kind::FineDetail);
    assert!((found.number.value / (16.0 * 120.0) - 1.0).abs() < 0.05, "{}", found.number.value);
}

#[test]
fn fault_14_highlight_white_veils_the_background() {
    let veil: Paint = Box::new(|x, y| if (x - 60.0).hypot(y - 80.0) < 20.0 { 0.9 } else { 0.05 });
    let made = make("#FFFFFF", vec![("Blue", disc(60.0, 80.0, 45.0)), ("White", veil)]).flash("Blue");
    let findings = made.findings();
    let found = findings.iter().find(|f| f.kind == Kind::HighlightWhite).unwrap_or_else(|| panic!("{findings:?}"));
    assert!(found.number.value > 50.0);
}

#[test]
fn fault_15_gain_left_alone() {
    let made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.3, 0.8))]).change(|job| job.press.compensate = false);
    assert!(must_find(&made, Kind::GainSensitivity).number.value > 8.0);
    must_mend(made, Kind::GainSensitivity, |c| matches!(c, Change::Compensate));
}

#[test]
fn fault_16_colors_that_butt_without_trap() {
    let made = make("#FFFFFF", vec![("Red", rect(20.0, 20.0, 60.0, 140.0)), ("Blue", rect(60.0, 20.0, 100.0, 140.0))]);
    let found = must_find(&made, Kind::Registration);
    // Two edges of 120 mm lie in the tiles looked at; at least one full edge shows.
    assert!(found.number.value > 40.0, "{}", found.number.value);
    must_mend(made, Kind::Registration, |c| matches!(c, Change::Edit { .. }));
}

/// An unchoked base shows at once, a choke hides as far as it reaches, one of a millimetre always.
#[test]
fn the_shift_that_shows_is_searched_for() {
    let made = |choke: f64| {
        make("#141416", vec![("Base", disc(60.0, 80.0, 40.0 - choke)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base")
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
        let made = make("#141416", vec![("Base", disc(60.0, 80.0, 40.0 - choke)), ("Red", disc(60.0, 80.0, 40.0))])
            .flash("Base")
            .change(|job| job.run.register_mm = Mm::new(0.5).unwrap());
        let found = must_find(&made, Kind::Registration);
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
    let made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.05, 0.9))])
        .change(|job| job.run.mesh = Mesh::named("110/80").unwrap());
    assert!(made.findings().iter().any(|f| f.kind == Kind::LostDots));
    must_mend(made, Kind::LostDots, |c| matches!(c, Change::SmallestDot { .. }));
}

/// A screen whose dots cannot hold and that nobody would miss is named with a way to drop it.
#[test]
fn a_screen_that_adds_nothing_is_named_quietly() {
    let tint: Paint =
        Box::new(|x, y| if (20.0..100.0).contains(&x) && (20.0..140.0).contains(&y) { 0.04 } else { 0.0 });
    let made = make("#FFFFFF", vec![("Yellow", tint), ("Blue", blend(10.0, 110.0, 0.3, 0.9))]);
    let found = must_find(&made, Kind::LostDots);
    assert_eq!((found.screens, found.severity), (vec!["Yellow".to_owned()], Severity::Caution));
    assert!(found.mends.iter().any(|m| m.label == "Drop Yellow"), "{:?}", found.mends);
}

/// Angles of their own that beat: one angle for all takes every screen back.
#[test]
fn screens_that_beat_are_brought_to_one_angle() {
    let angle =
        |a: f64| strikeoff_core::halftone::ScreenFilm { angle: Some(Degrees::new(a).unwrap()), ..Default::default() };
    let made = make("#FFFFFF", vec![("Red", blend(10.0, 110.0, 0.3, 0.6)), ("Blue", blend(10.0, 110.0, 0.6, 0.3))])
        .change(|job| {
            job.film.screens.insert("red".into(), angle(20.0));
            job.film.screens.insert("Blue".into(), angle(25.0));
        });
    let found = must_find(&made, Kind::Moire);
    // 2 * 45 * sin(2.5 degrees) = 3.93 an inch.
    assert!((found.number.value - 25.4 / 3.926).abs() < 0.05, "{}", found.number.value);
    must_mend(made, Kind::Moire, |c| matches!(c, Change::Angle { .. }));
}

#[test]
fn fault_17_a_screen_for_nothing() {
    let made = make("#FFFFFF", vec![("Blue", disc(60.0, 80.0, 40.0)), ("Red", disc(60.0, 80.0, 1.5))]);
    assert!(made.findings().iter().any(|f| f.kind == Kind::EmptyScreen && f.screens == ["Red"]));
}

/// Sound jobs, each close to one of the faults above or to everyday work.
fn sound() -> Vec<(&'static str, Made)> {
    let choke = 0.4;
    vec![
        ("solid black on white", make("#FFFFFF", vec![("Black", disc(60.0, 80.0, 40.0))])),
        ("black wedge on white", make("#FFFFFF", vec![("Black", blend(10.0, 110.0, 0.15, 1.0))])),
        ("black fading to nothing", make("#FFFFFF", vec![("Black", blob(60.0, 80.0, 35.0))])),
        (
            "two colours, trapped",
            make("#FFFFFF", vec![("Yellow", rect(20.0, 20.0, 60.4, 140.0)), ("Blue", rect(60.0, 20.0, 100.0, 140.0))]),
        ),
        (
            "choked base, red over it",
            make("#141416", vec![("Base", disc(60.0, 80.0, 40.0 - choke)), ("Red", disc(60.0, 80.0, 40.0))])
                .flash("Base"),
        ),
        (
            "six colours in blends on white",
            make(
                "#FFFFFF",
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
                "#141416",
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
        ("black first, flashed, two hits", {
            let mut made = make(
                "#FFFFFF",
                vec![("Black", rect(20.0, 20.0, 100.0, 80.0)), ("Yellow", rect(20.0, 50.0, 100.0, 110.0))],
            )
            .flash("Black");
            made.screens.list[0].hits = 2;
            made
        }),
        (
            "flat colour on 110 mesh",
            make("#FFFFFF", vec![("Red", disc(60.0, 80.0, 40.0))])
                .change(|job| job.run.mesh = Mesh::named("110/80").unwrap()),
        ),
        (
            "eight heads for eight",
            make(
                "#141416",
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
            make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.5, 1.0)), ("White", disc(60.0, 80.0, 10.0))])
                .flash("Blue"),
        ),
        (
            "55 lpi on 305 mesh, 1440 dpi",
            make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.25, 0.9))]).change(|job| {
                job.run.mesh = Mesh::named("305/34").unwrap();
                job.film.ruling = Lpi::new(55.0).unwrap();
                job.film.dpi = Dpi::new(1440.0).unwrap();
            }),
        ),
        ("web art at 1.9 pixels a dot", {
            // Common practice, no source: 12 x 16 in at 96 ppi printed 18 in high is 85 ppi.
            let mut made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.3, 0.9))]);
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
        .iter()
        .flat_map(|(name, made)| made.findings().into_iter().map(move |f| format!("{name}: {}", f.what)))
        .collect();
    assert!(loud.is_empty(), "{loud:#?}");
}

/// One job's findings are the same for any number of threads.
#[test]
fn findings_do_not_depend_on_threads() {
    let made = make("#141416", vec![("Base", disc(60.0, 80.0, 40.0)), ("Red", blob(60.0, 80.0, 40.0))]);
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| made.findings());
    assert_eq!(alone, made.findings());
}

#[test]
fn heads_are_laid_out_with_flashes_between() {
    let made = make("#141416", vec![("Base", disc(60.0, 80.0, 39.0)), ("Red", disc(60.0, 80.0, 40.0))]).change(|job| {
        job.run.heads = 6;
        job.press.stops.insert("Base".into(), Stop::FlashAndCoolDown);
        job.press.stops.insert("Red".into(), Stop::Flash);
    });
    let plan = serde_json::to_value(head_plan(&made.job, &made.screens)).unwrap();
    let holds: Vec<&str> = plan.as_array().unwrap().iter().map(|h| h["holds"].as_str().unwrap()).collect();
    assert_eq!(holds, ["screen", "flash", "cool-down", "screen", "empty", "empty"]);
}

/// A base painted wrong way round: the search puts the light ink before the dark one, and keeps
/// the base first.
#[test]
fn order_search_keeps_pins_and_prefers_light_before_dark() {
    let made = make(
        "#141416",
        vec![
            ("Base", rect(20.4, 20.4, 99.6, 139.6)),
            ("Black", rect(20.0, 20.0, 100.0, 80.0)),
            ("Yellow", rect(20.0, 50.0, 100.0, 140.0)),
        ],
    )
    .flash("Base");
    // The art shows black over yellow.
    let wanted = make(
        "#141416",
        vec![
            ("Base", rect(20.4, 20.4, 99.6, 139.6)),
            ("Yellow", rect(20.0, 50.0, 100.0, 140.0)),
            ("Black", rect(20.0, 20.0, 100.0, 80.0)),
        ],
    )
    .flash("Base");
    let (present, best) = search_orders(&made.job, &wanted.prepared, &made.screens, 3, &Progress::none()).unwrap();
    assert_eq!(best.len(), 2);
    assert_eq!(best[0].order, ["Base", "Yellow", "Black"]);
    assert!(best[0].pick_up < present.pick_up && best[0].delta_e < present.delta_e);
    assert_eq!(present.flashes, 1);
}

#[test]
fn facts_state_ink_mesh_and_resolution() {
    let mut made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.3, 0.9))]);
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
    let made = make("#FFFFFF", vec![("Blue", blend(10.0, 110.0, 0.2, 0.8)), ("Yellow", blob(60.0, 80.0, 30.0))]);
    let garments = ["#FCFCFA", "#141416"].map(|hex| Garment::of_color(hex.parse().unwrap()));
    let marks = swap_garments(&made.job, &made.prepared, &made.screens, &garments, &Progress::none()).unwrap();
    assert!(marks[0].changes.is_empty() && marks[0].mean_shift < 2.0, "{:?}", marks[0]);
    assert!(marks[1].mean_shift > 20.0 && marks[1].changes[0].contains("underbase"), "{:?}", marks[1]);
    let based = make("#141416", vec![("Base", disc(60.0, 80.0, 39.0)), ("Red", disc(60.0, 80.0, 40.0))]).flash("Base");
    let marks = swap_garments(&based.job, &based.prepared, &based.screens, &garments, &Progress::none()).unwrap();
    assert!(marks[0].changes[0].contains("Leave Base out"), "{:?}", marks[0]);
    assert!(marks[1].mean_shift < 0.5);
}
