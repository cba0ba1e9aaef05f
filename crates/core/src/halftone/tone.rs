//! Coverage meant on the shirt to coverage on the film, as one table over all 16-bit values.

use super::settings::{DotLimits, DotPolicy, Linearisation};
use crate::press::{DotGain, GainCurve};
use crate::units::Lpi;

/// What the film carries for each coverage.
#[derive(Debug, Clone, PartialEq)]
pub struct ToneTable {
    table: Vec<u16>,
}

impl ToneTable {
    /// The film carries the coverage itself.
    pub fn identity() -> Self {
        Self { table: (0..=u16::MAX).collect() }
    }

    /// What a screen's film carries: the gain's inverse if there is one, then the limits of the
    /// dot, then the inverse of the film printer's own tone.
    pub fn for_film(gain: Option<&GainCurve>, limits: &DotLimits, linearisation: Option<&Linearisation>) -> Self {
        let printer = linearisation.map(|l| {
            DotGain::Measured { name: String::new(), points: l.points.clone() }
                .curve(Lpi::new(45.0).unwrap_or_else(|_| unreachable!()))
        });
        Self::from_fn(|coverage| {
            let film = gain.map_or(coverage, |gain| gain.film(coverage));
            let film = limited(film, limits);
            printer.as_ref().map_or(film, |printer| printer.film(film))
        })
    }

    /// From any function on 0..=1. No ink stays no ink and solid stays solid.
    pub fn from_fn(f: impl Fn(f32) -> f32) -> Self {
        let mut table: Vec<u16> =
            (0..=u16::MAX).map(|v| (f(f32::from(v) / 65_535.0).clamp(0.0, 1.0) * 65_535.0).round() as u16).collect();
        table[0] = 0;
        table[usize::from(u16::MAX)] = u16::MAX;
        Self { table }
    }

    /// The film's coverage.
    #[inline]
    pub fn get(&self, coverage: u16) -> u16 {
        self.table[usize::from(coverage)]
    }
}

/// Film coverage with the policies for small and large dots. No ink and solid stay.
pub(crate) fn limited(film: f32, limits: &DotLimits) -> f32 {
    let (smallest, largest) = (limits.smallest.get() as f32, limits.largest.get() as f32);
    if film <= 0.0 || film >= 1.0 {
        return film;
    }
    if film < smallest {
        match limits.below {
            DotPolicy::Keep => film,
            DotPolicy::Clip => 0.0,
            DotPolicy::Lift => smallest,
        }
    } else if film > largest {
        match limits.above {
            DotPolicy::Keep => film,
            DotPolicy::Clip => 1.0,
            DotPolicy::Lift => largest,
        }
    } else {
        film
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Coverage;

    #[test]
    fn policies_clip_lift_and_keep() {
        let tone = |below, above| ToneTable::for_film(None, &DotLimits { below, above, ..DotLimits::default() }, None);
        let at = |table: &ToneTable, v: f64| f64::from(table.get((v * 65_535.0).round() as u16)) / 65_535.0;
        let clip = tone(DotPolicy::Clip, DotPolicy::Clip);
        assert_eq!((at(&clip, 0.02), at(&clip, 0.98)), (0.0, 1.0));
        let lift = tone(DotPolicy::Lift, DotPolicy::Lift);
        assert!((at(&lift, 0.001) - 0.03).abs() < 1e-4 && (at(&lift, 0.999) - 0.97).abs() < 1e-4);
        assert_eq!((at(&lift, 0.0), at(&lift, 1.0)), (0.0, 1.0));
        let keep = tone(DotPolicy::Keep, DotPolicy::Keep);
        assert!((at(&keep, 0.02) - 0.02).abs() < 1e-4);
    }

    #[test]
    fn printing_the_compensated_film_gives_the_nominal_back() {
        let gain = DotGain::default().curve(Lpi::new(45.0).unwrap());
        let table = ToneTable::for_film(Some(&gain), &DotLimits::default(), None);
        for percent in 0..=100u32 {
            let film = f32::from(table.get((percent * 65_535 / 100) as u16)) / 65_535.0;
            assert!((gain.print(film) - percent as f32 / 100.0).abs() < 0.005, "{percent} %");
        }
    }

    #[test]
    fn a_film_printer_that_darkens_is_undone() {
        let c = |v| Coverage::new(v).unwrap();
        let wedge = Linearisation { name: "wedge".into(), points: vec![(c(0.4), c(0.5))] };
        let table = ToneTable::for_film(None, &DotLimits::default(), Some(&wedge));
        assert!((f64::from(table.get(32_768)) / 65_535.0 - 0.4).abs() < 1e-3);
    }
}
