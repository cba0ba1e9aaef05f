//! Wet on wet. Halftones are printed wet on wet every day: it is reported where the shirt shows it, by
//! printing the stack once more with the upper ink as tainted as its share makes it. In a picture that
//! is worth watching; a solid on a wet solid, and colours on a wet base, go wrong.

use crate::screens::ScreenName;
use rayon::prelude::*;

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix};
use super::words::list_of;
use crate::color::{ciede2000, lab_from_linear};
use crate::facts::{PICKED_UP, PickUp, Survey, pick_ups, taint, tainted_band};
use crate::ink::InkRole;
use crate::press::Stop;
use crate::tune::{Edit, edits};

/// CIEDE2000 by which the upper ink itself must change: with 8 % of the lower, and with what its
/// share of overlap makes of that (assumed). Where a dark ink over a light one comes out nearly
/// grey, the shirt alone makes much of an ink that hardly changed.
const TAINT: f64 = 3.0;
const TAINT_BY_SHARE: f64 = 2.5;

/// CIEDE2000 on the shirt at which a taint shows, and shares of the print that make a caution
/// and a fault (assumed).
const SHOWS: f32 = 2.0;
const SHOWN_CAUTION: f64 = 0.04;
const SHOWN_FAULT: f64 = 0.10;

/// Share of a colour's ink on a wet base, or on a wet white where the garment needs one under it, that
/// makes a fault whatever its taint (assumed).
const ON_BASE: f64 = 0.10;
const ON_WHITE: f64 = 0.30;

/// Blocks of a sample on which the upper ink, carrying as much of the lower as it meets, is seen
/// to shift the print; with how far.
fn shifts(s: &Survey<'_>, pair: &PickUp, blocks: &[usize]) -> Vec<f32> {
    let picked = PICKED_UP * pair.share as f32;
    let tainted = s.optics.dulled(pair.above, pair.below, |above, below| tainted_band(above, below, picked));
    blocks
        .par_iter()
        .map(|&block| {
            let mut a = vec![0.0f32; s.len()];
            s.coverages(block, &mut a);
            if a[pair.above] < 0.02 {
                return 0.0;
            }
            ciede2000(lab_from_linear(s.optics.reflectance(&a)), lab_from_linear(tainted.reflectance(&a)))
        })
        .collect()
}

pub(super) fn wet_on_wet(s: &Survey<'_>) -> Vec<Finding> {
    let all = pick_ups(s);
    let mut out = wet_bases(s, &all);
    let blocks = s.every(8_000);
    for pair in all.iter().filter(|pair| !on_wet_base(s, pair)) {
        if pair.taint < TAINT || pair.risk() < TAINT_BY_SHARE || pair.share < 0.10 {
            continue;
        }
        let shown = shifts(s, pair, &blocks);
        let share = shown.iter().filter(|&&d| d > SHOWS).count() as f64 / blocks.len().max(1) as f64;
        if share >= SHOWN_CAUTION {
            out.push(tainted(s, &all, pair, share, f64::from(shown.iter().copied().fold(0.0, f32::max))));
        }
    }
    out
}

/// Whether a colour lands on a wet base: that mixes into every colour, whatever its taint. So does any
/// white that lies under much of a colour on a garment that needs one.
fn on_wet_base(s: &Survey<'_>, pair: &PickUp) -> bool {
    let (below, above) = (&s.screens.list[pair.below].ink, &s.screens.list[pair.above].ink);
    let from = match below.role {
        InkRole::BaseWhite => ON_BASE,
        InkRole::White if !s.job.garment.is_white() && above.role != InkRole::White => ON_WHITE,
        _ => f64::INFINITY,
    };
    pair.share >= from && !s.is_empty(pair.below)
}

/// A finding for each base that colours land on before it is flashed.
fn wet_bases(s: &Survey<'_>, all: &[PickUp]) -> Vec<Finding> {
    let wet: Vec<&PickUp> = all.iter().filter(|pair| on_wet_base(s, pair)).collect();
    let bases = (0..s.len()).filter(|&base| wet.iter().any(|pair| pair.below == base));
    bases
        .map(|base| {
            let pairs: Vec<&PickUp> = wet.iter().filter(|pair| pair.below == base).copied().collect();
            let colors: Vec<ScreenName> = pairs.iter().map(|pair| s.name(pair.above).to_owned()).collect();
            let share = pairs.iter().map(|pair| pair.share).fold(0.0, f64::max);
            let base_name = s.name(base).to_owned();
            Finding {
                kind: Kind::WetOnWet,
                severity: Severity::Fault,
                what: format!(
                    "{base_name} is not flashed: {} over it land{} on wet white, mix with it and lose strength.",
                    list_of(&colors, "and"),
                    if colors.len() == 1 { "s" } else { "" }
                ),
                number: Number {
                    label: format!("most ink of one colour on wet {base_name}"),
                    value: share * 100.0,
                    unit: "%",
                    limit: ON_BASE * 100.0,
                },
                screens: std::iter::once(base_name.clone()).chain(colors).collect(),
                place: overlap(s, base, &pairs.iter().map(|pair| pair.above).collect::<Vec<_>>()),
                inputs: vec![
                    Input::new("overlap", format!("up to {:.0} % of a colour's ink", share * 100.0), Basis::Screens),
                    Input::new("flashes", stops_in_words(s), Basis::Job),
                ],
                fixes: vec![flash_after(base_name)],
            }
        })
        .collect()
}

fn flash_after(screen: ScreenName) -> Fix {
    Fix::one(format!("Flash after {screen}"), Change::Stop { screen, stop: Some(Stop::Flash) })
}

/// Where one screen lies under others.
fn overlap(s: &Survey<'_>, below: usize, above: &[usize]) -> Option<RiskArea> {
    let both = |block: usize| above.iter().map(|&i| s.at(below, block) * s.at(i, block)).fold(0.0, f64::max);
    RiskArea::of_map(s.map(both), s.mm_per_px)
}

/// An ink that picks up so much of a wet one that the shirt shows it.
fn tainted(s: &Survey<'_>, all: &[PickUp], pair: &PickUp, shown: f64, most: f64) -> Finding {
    let (below, above) = (s.name(pair.below), s.name(pair.above));
    let picked = PICKED_UP * 100.0;
    Finding {
        kind: Kind::WetOnWet,
        severity: if shown >= SHOWN_FAULT && !s.is_picture(pair.above) { Severity::Fault } else { Severity::Caution },
        what: format!(
            "{:.0} % of {above}'s ink prints on wet {below}. If it picks up {picked:.0} % of it (assumed), colours shift by \
             up to dE {most:.1} as the run goes on.",
            pair.share * 100.0
        ),
        number: Number {
            label: "share of the print that shows the taint".into(),
            value: shown * 100.0,
            unit: "%",
            limit: SHOWN_CAUTION * 100.0,
        },
        screens: vec![below.to_owned(), above.to_owned()],
        place: overlap(s, pair.below, &[pair.above]),
        inputs: vec![
            Input::new("pick-up", format!("{picked:.0} % of {below} ends up in {above}"), Basis::Assumed),
            Input::new(
                "taint",
                format!("dE 2000 of {:.1} in the pure ink; shows on the shirt from {SHOWS:.0}", pair.taint),
                Basis::Assumed,
            ),
            Input::new("overlap", format!("{:.0} % of {above}'s ink", pair.share * 100.0), Basis::Screens),
            Input::new("flashes", stops_in_words(s), Basis::Job),
        ],
        fixes: taint_fixes(s, all, pair),
    }
}

/// The flash that helps this pair and, of those, the whole job most; or the lighter ink first.
fn taint_fixes(s: &Survey<'_>, all: &[PickUp], pair: &PickUp) -> Vec<Fix> {
    let dried = |at: usize| all.iter().filter(|p| p.below <= at && p.above > at).map(PickUp::risk).sum::<f64>();
    let after =
        (pair.below..pair.above).max_by(|&a, &b| dried(a).total_cmp(&dried(b)).then(b.cmp(&a))).unwrap_or(pair.below);
    let mut fixes = vec![flash_after(s.name(after).to_owned())];
    let (below, above) = (&s.screens.list[pair.below], &s.screens.list[pair.above]);
    if taint(&below.ink, &above.ink) < pair.taint * 0.6 {
        let mut screens: Vec<ScreenName> = s.screens.list.iter().map(|x| x.name.clone()).collect();
        let moved = screens.remove(pair.above);
        screens.insert(pair.below, moved);
        fixes.push(Fix::one(
            format!("Print {} before {}", above.name, below.name),
            Change::Edit { edit: Edit::Order(edits::Order { screens }) },
        ));
    }
    fixes
}

fn stops_in_words(s: &Survey<'_>) -> String {
    let after: Vec<ScreenName> =
        s.screens.list.iter().map(|x| x.name.clone()).filter(|n| s.job.press.stops.contains_key(n)).collect();
    if after.is_empty() { "none".to_owned() } else { format!("after {}", list_of(&after, "and")) }
}
