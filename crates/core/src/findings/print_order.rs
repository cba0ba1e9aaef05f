//! A base white that prints after colours it belongs under: it buries them. Judged by what it covers,
//! not by its name alone, so that a base ink used once more for highlights beside the colours is left
//! in peace.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix, drops};
use super::words::list_of;
use crate::facts::Survey;
use crate::ink::InkRole;
use crate::press::Stop;
use crate::screens::ScreenName;
use crate::tune::{Edit, edits};

/// Shares of a colour's ink under a later base that make a caution and a fault (assumed).
const BURIED_CAUTION: f64 = 0.10;
const BURIED_FAULT: f64 = 0.30;

pub(super) fn print_order(s: &Survey<'_>) -> Vec<Finding> {
    let is_base = |&at: &usize| s.screens.list[at].ink.role == InkRole::BaseWhite;
    (0..s.len()).filter(is_base).filter(|&at| !s.is_empty(at)).filter_map(|base| late_base(s, base)).collect()
}

fn is_color(s: &Survey<'_>, at: usize) -> bool {
    !matches!(s.screens.list[at].ink.role, InkRole::White | InkRole::BaseWhite)
}

/// Share of a colour's ink that the base covers.
fn buried(s: &Survey<'_>, base: usize, color: usize) -> f64 {
    let ink: f64 = (0..s.blocks()).map(|block| s.at(color, block)).sum();
    let under: f64 = (0..s.blocks()).map(|block| s.at(color, block) * s.at(base, block)).sum();
    under / ink.max(1e-9)
}

fn late_base(s: &Survey<'_>, base: usize) -> Option<Finding> {
    let colors: Vec<(usize, f64)> = (0..base)
        .filter(|&at| is_color(s, at) && !s.is_empty(at))
        .map(|at| (at, buried(s, base, at)))
        .filter(|(_, share)| *share >= BURIED_CAUTION)
        .collect();
    let most = colors.iter().map(|c| c.1).fold(0.0, f64::max);
    if colors.is_empty() {
        return None;
    }
    let name = s.name(base).to_owned();
    let names: Vec<ScreenName> = colors.iter().map(|c| s.name(c.0).to_owned()).collect();
    let map = s.map(|block| s.at(base, block) * colors.iter().map(|c| s.at(c.0, block)).fold(0.0, f64::max));
    Some(Finding {
        kind: Kind::PrintOrder,
        severity: if most >= BURIED_FAULT { Severity::Fault } else { Severity::Caution },
        what: format!(
            "{name} is a base but prints after {} and covers up to {:.0} % of their ink: it hides the colours that it \
             should carry.",
            list_of(&names, "and"),
            most * 100.0
        ),
        number: Number {
            label: "most ink of one colour under the base".into(),
            value: most * 100.0,
            unit: "%",
            limit: BURIED_CAUTION * 100.0,
        },
        screens: std::iter::once(name.clone()).chain(names).collect(),
        place: RiskArea::of_map(map, s.mm_per_px),
        inputs: vec![
            Input::new(
                "print order",
                s.screens.list.iter().map(|x| x.name.as_str()).collect::<Vec<_>>().join(", "),
                Basis::Job,
            ),
            Input::new("overlap", format!("{:.0} % of a colour's ink at most", most * 100.0), Basis::Screens),
        ],
        fixes: fixes(s, base, name),
    })
}

/// The base goes down before the first colour and is flashed; a white garment can do without it.
fn fixes(s: &Survey<'_>, base: usize, name: ScreenName) -> Vec<Fix> {
    let mut screens: Vec<ScreenName> = s.screens.list.iter().map(|x| x.name.clone()).collect();
    let moved = screens.remove(base);
    let first_color = (0..s.len()).find(|&at| is_color(s, at)).unwrap_or(0);
    screens.insert(first_color, moved);
    let flashed = s.job.press.stops.contains_key(&name);
    let mut changes = vec![Change::Edit { edit: Edit::Order(edits::Order { screens }) }];
    let mut label = format!("Print {name} before the colours");
    if !flashed {
        changes.push(Change::Stop { screen: name.clone(), stop: Some(Stop::Flash) });
        label += " and flash it";
    }
    let mut out = vec![Fix { label, changes }];
    if s.job.garment.is_white() {
        out.extend(drops(s.len(), &[name]));
    }
    out
}
