//! Shadows: tones meant to stay open that run together towards solid. The gain curve gives what a
//! film tone prints as; compensation opens films as far as it can.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix};
use super::inputs::{gain_input, ruling_input};
use crate::facts::{BINS, Survey, bin_coverage};

/// Tones that count as shadows with detail, coverage on the shirt.
const SHADOWS: std::ops::RangeInclusive<f64> = 0.80..=0.985;

/// A shadow is lost where it prints this dark and keeps less than half of the open area that it is
/// meant to have (assumed; common practice has shadows over 90 to 95 % filling in).
const PRINTS_FROM: f64 = 0.97;
const KEEPS: f64 = 0.5;

/// Share of a screen's area that makes a caution, and shares of the print that make a caution and a
/// fault (assumed).
const OF_SCREEN: f64 = 0.15;
const OF_PRINT_CAUTION: f64 = 0.02;
const OF_PRINT_FAULT: f64 = 0.10;

pub(super) fn filled_shadows(s: &Survey<'_>) -> Vec<Finding> {
    // Films of a calibration print are left uncompensated on purpose.
    if s.job.run.calibration {
        return Vec::new();
    }
    (0..s.len()).filter_map(|at| of_screen(s, at)).collect()
}

/// Whether a tone is meant as a shadow with detail and loses it.
fn fills(s: &Survey<'_>, at: usize, a: f64) -> bool {
    if !SHADOWS.contains(&a) {
        return false;
    }
    let film = s.film(at, a);
    let printed = f64::from(s.gain.print(film as f32));
    // What a film makes solid on purpose is decided, not lost.
    film < 1.0 && printed >= PRINTS_FROM && 1.0 - printed < KEEPS * (1.0 - a)
}

fn of_screen(s: &Survey<'_>, at: usize) -> Option<Finding> {
    let filled = s.mean(at, |a| f64::from(u8::from(fills(s, at, a))));
    let share = filled / s.inked(at).max(1e-9);
    if share < OF_SCREEN || filled < OF_PRINT_CAUTION {
        return None;
    }
    let name = s.name(at);
    // The tones that are there, without the thinnest hundredth at each end.
    let tones: Vec<(f64, f64)> = (0..BINS)
        .map(|bin| (bin_coverage(bin), s.histograms[at][bin] as f64))
        .filter(|(a, _)| fills(s, at, *a))
        .collect();
    let total: f64 = tones.iter().map(|t| t.1).sum();
    let quantile = |q: f64| {
        let mut run = 0.0;
        let reached = tones.iter().find(|tone| {
            run += tone.1;
            run >= q * total
        });
        reached.map_or(1.0, |tone| tone.0)
    };
    let (low, high) = (quantile(0.01), quantile(0.99));
    let prints = |a: f64| f64::from(s.gain.print(s.film(at, a) as f32)) * 100.0;
    Some(Finding {
        kind: Kind::FilledShadows,
        severity: if filled >= OF_PRINT_FAULT { Severity::Fault } else { Severity::Caution },
        what: format!(
            "Shadow detail in {name} fills in: tones of {:.0} to {:.0} % print at {:.1} to {:.1} %, on {:.0} % of the print.",
            low * 100.0,
            high * 100.0,
            prints(low),
            prints(high),
            filled * 100.0
        ),
        number: Number {
            label: format!("share of {name}'s area that fills in"),
            value: share * 100.0,
            unit: "%",
            limit: OF_SCREEN * 100.0,
        },
        screens: vec![name.to_owned()],
        place: RiskArea::of_map(s.map(|block| f64::from(u8::from(fills(s, at, s.at(at, block))))), s.mm_per_px),
        inputs: vec![
            gain_input(s),
            ruling_input(s, at),
            Input::new(
                "filled in",
                format!("prints at {:.0} % or more and keeps less than half of its open area", PRINTS_FROM * 100.0),
                Basis::Assumed,
            ),
        ],
        fixes: if s.job.press.compensate {
            Vec::new()
        } else {
            vec![Fix::one("Compensate the dot gain on the films: shadows stay open", Change::Compensate)]
        },
    })
}
