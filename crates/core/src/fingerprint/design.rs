//! The calibration print: which patches tell most of a press.

use super::patch::{MOST_INKS, Tint};
use super::spread::{farthest, spread};

/// Most readings of a calibration print.
pub const MOST_READINGS: usize = 70;
/// Steps of each ink.
pub const STEPS: [f64; 3] = [0.25, 0.5, 0.75];

/// A patch of the films, and the prints on which it is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// Coverage of each film.
    pub film: Vec<f64>,
    /// Read on the print wet on wet, and how that flashes.
    pub wet: Option<u32>,
    /// Read on the print that flashes after every ink.
    pub flashed: Option<u32>,
}

impl Planned {
    /// Its readings: what was printed, the wet print first.
    pub fn readings(&self) -> impl Iterator<Item = Tint> {
        [self.wet, self.flashed].into_iter().flatten().map(|flashed| Tint { film: self.film.clone(), flashed })
    }
}

/// Patches for so many inks, at most so many readings: the bare ground, solids, three steps an ink, each pair of inks wet and
/// flashed, then mixtures, the farthest from each other, by turns wet and flashed. On a dark ground, which swallows
/// colours, pairs of colours and two of their steps stand on the base, the first ink, which is flashed on both prints.
///
/// With fewer readings than all pairs need, those of inks far apart in print order fall away first.
pub fn design(inks: usize, dark: bool, readings: usize) -> Vec<Planned> {
    let inks = inks.min(MOST_INKS);
    let wet = if dark { 0b10 } else { 0 };
    let dry = Tint::dry(Vec::new()).flashed;
    let on_base = dark && inks > 1;
    let film = |tones: &[(usize, f64)]| {
        let mut film = vec![0.0; inks];
        tones.iter().for_each(|(ink, tone)| film[*ink] = *tone);
        film
    };
    let read_wet = |film: Vec<f64>| Planned { film, wet: Some(wet), flashed: None };
    let mut out = vec![read_wet(film(&[]))];
    out.extend((0..inks).map(|ink| read_wet(film(&[(ink, 1.0)]))));
    for ink in 0..inks {
        for tone in STEPS {
            let base = on_base && ink > 0 && tone != 0.5;
            out.push(read_wet(if base { film(&[(0, 1.0), (ink, tone)]) } else { film(&[(ink, tone)]) }));
        }
    }
    let mut pairs: Vec<(usize, usize)> = (0..inks).flat_map(|u| (0..u).map(move |l| (l, u))).collect();
    pairs.sort_by_key(|(lower, upper)| upper - lower);
    let mut left = readings.saturating_sub(out.len());
    for (lower, upper) in pairs {
        if left < 2 {
            break;
        }
        let base =
            if on_base { film(&[(0, 1.0), (lower, 1.0), (upper, 1.0)]) } else { film(&[(lower, 1.0), (upper, 1.0)]) };
        // The base is flashed on both prints of a dark ground: its pairs are read once.
        let once = on_base && lower == 0;
        out.push(Planned { film: base, wet: (!once).then_some(wet), flashed: Some(dry) });
        left -= if once { 1 } else { 2 };
    }
    let way = |at: usize| if at.is_multiple_of(2) { wet } else { dry };
    let candidates: Vec<Tint> =
        spread(inks, 2000).into_iter().enumerate().map(|(at, film)| Tint { film, flashed: way(at) }).collect();
    let there: Vec<Tint> = out.iter().flat_map(Planned::readings).collect();
    let mixtures = if inks > 1 { farthest(&there, &candidates, left) } else { Vec::new() };
    out.extend(mixtures.into_iter().map(|tint| {
        // Films print whole percents, and so are numbers on a card.
        let film = tint.film.iter().map(|a| (a * 100.0).round() / 100.0).collect();
        let flashed = tint.flashed == dry;
        Planned { film, wet: (!flashed).then_some(wet), flashed: flashed.then_some(dry) }
    }));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_print_has_its_ground_solids_steps_and_pairs_and_no_more_than_it_may() {
        for inks in 1..=MOST_INKS {
            for dark in [false, true] {
                for most in [20, MOST_READINGS] {
                    let print = design(inks, dark, most);
                    let readings: Vec<Tint> = print.iter().flat_map(Planned::readings).collect();
                    let least = 1 + 4 * inks;
                    assert!(readings.len() <= most.max(least), "{inks} inks: {}", readings.len());
                    assert!(
                        inks == 1 || readings.len() + 1 >= most.min(MOST_READINGS),
                        "{inks} inks: {}",
                        readings.len()
                    );
                    assert!(readings[0].is_bare() && print.iter().all(|p| p.wet.is_some() || p.flashed.is_some()));
                    for ink in 0..inks {
                        let alone = |tone: f64| {
                            readings.iter().any(|t| (0..inks).all(|i| t.film[i] == if i == ink { tone } else { 0.0 }))
                        };
                        assert!(alone(1.0) && alone(0.5), "ink {ink} of {inks}");
                    }
                    for (at, reading) in readings.iter().enumerate() {
                        assert!(!readings[..at].contains(reading), "{reading:?} twice");
                    }
                }
            }
        }
        let pairs = design(6, false, MOST_READINGS).iter().filter(|p| p.wet.is_some() && p.flashed.is_some()).count();
        assert_eq!(pairs, 15);
    }
}
