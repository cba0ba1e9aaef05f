//! Coverage meant on the shirt to coverage on the film, as one table over all 16-bit values.

use super::settings::{Linearisation, ScreenDots, SmallDots, SmallHoles};
use crate::press::{DotGain, GainCurve};
use crate::units::Lpi;

/// What the film carries for each coverage.
#[derive(Debug, Clone, PartialEq)]
pub struct ToneTable {
    table: Vec<u16>,
    /// Where tones are thinned: the dot that they are made of. Lower tones are so many of it.
    thinned_to: Option<u16>,
}

impl ToneTable {
    /// The film carries the coverage itself.
    pub fn identity() -> Self {
        Self { table: (0..=u16::MAX).collect(), thinned_to: None }
    }

    /// What a screen's film carries: the gain's inverse if there is one, then the limits of the
    /// dot, then the inverse of the film printer's own tone.
    pub fn for_film(gain: Option<&GainCurve>, dots: &ScreenDots, linearisation: Option<&Linearisation>) -> Self {
        let printer = linearisation.map(|l| {
            DotGain::Measured { name: String::new(), points: l.points.clone() }
                .curve(Lpi::new(45.0).unwrap_or_else(|_| unreachable!()))
        });
        let send = |film: f32| printer.as_ref().map_or(film, |printer| printer.film(film));
        let mut out = Self::from_fn(|coverage| {
            let film = dots.film(coverage, gain);
            match dots.below {
                // So many dots as the printer prints them; it does not print fewer of them.
                SmallDots::Thin if film < dots.smallest => film / dots.smallest * send(dots.smallest),
                _ => send(film),
            }
        });
        if dots.below == SmallDots::Thin && dots.smallest > 0.0 {
            out.thinned_to = Some(whole(send(dots.smallest)));
        }
        out
    }

    /// The tones as a press prints them: dots grow by its gain, their number does not.
    pub fn printed(&self, gain: &GainCurve) -> Self {
        let print = |film: u16| gain.print(f32::from(film) / 65_535.0);
        let mut out = Self::from_fn(|coverage| {
            let film = self.get(whole(coverage));
            match self.thinned_to {
                Some(smallest) if film < smallest => f32::from(film) / f32::from(smallest) * print(smallest),
                _ => print(film),
            }
        });
        out.thinned_to = self.thinned_to.map(|smallest| whole(print(smallest)));
        out
    }

    /// From any function on 0..=1. No ink stays no ink and solid stays solid.
    pub fn from_fn(f: impl Fn(f32) -> f32) -> Self {
        let mut table: Vec<u16> = (0..=u16::MAX).map(|v| whole(f(f32::from(v) / 65_535.0))).collect();
        table[0] = 0;
        table[usize::from(u16::MAX)] = u16::MAX;
        Self { table, thinned_to: None }
    }

    /// The film's coverage.
    #[inline]
    pub fn get(&self, coverage: u16) -> u16 {
        self.table[usize::from(coverage)]
    }

    /// The dot that lower tones are thinned to, if they are.
    pub(super) fn thinned_to(&self) -> Option<u16> {
        self.thinned_to
    }

    /// The least coverage whose film carries at least `film`.
    pub(super) fn first_from(&self, film: u16) -> u16 {
        self.table.partition_point(|&tone| tone < film).min(usize::from(u16::MAX)) as u16
    }
}

fn whole(share: f32) -> u16 {
    (share.clamp(0.0, 1.0) * 65_535.0).round() as u16
}

impl ScreenDots {
    /// Mean film coverage for a coverage that is meant, on the shirt where there is a gain to undo and on the
    /// film where there is none. No ink and solid stay.
    pub fn film(&self, coverage: f32, gain: Option<&GainCurve>) -> f32 {
        let film = gain.map_or(coverage, |gain| gain.film(coverage));
        if film <= 0.0 || film >= 1.0 {
            return film;
        }
        if film < self.smallest {
            return match (self.below, gain) {
                (SmallDots::Keep, _) | (SmallDots::Thin, None) => film,
                // So many of the smallest as print the tone.
                (SmallDots::Thin, Some(gain)) => self.smallest * coverage / gain.print(self.smallest).max(1e-6),
                (SmallDots::Clip, _) => 0.0,
                (SmallDots::Lift, _) => self.smallest,
            };
        }
        if film > self.largest {
            return match self.above {
                SmallHoles::Keep => film,
                SmallHoles::Clip => 1.0,
                SmallHoles::Lift => self.largest,
            };
        }
        film
    }

    /// What a film coverage prints as.
    pub fn printed(&self, film: f32, gain: &GainCurve) -> f32 {
        match self.below {
            SmallDots::Thin if film < self.smallest => film / self.smallest * gain.print(self.smallest),
            _ => gain.print(film),
        }
    }

    /// Film coverage of the dots that a mean film coverage is made of.
    pub fn dot(&self, film: f32) -> f32 {
        if self.below == SmallDots::Thin && film > 0.0 { film.max(self.smallest) } else { film }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Coverage;

    #[test]
    fn policies_clip_lift_and_keep() {
        let tone =
            |below, above| ToneTable::for_film(None, &ScreenDots { smallest: 0.03, below, largest: 0.97, above }, None);
        let at = |table: &ToneTable, v: f64| f64::from(table.get((v * 65_535.0).round() as u16)) / 65_535.0;
        let clip = tone(SmallDots::Clip, SmallHoles::Clip);
        assert_eq!((at(&clip, 0.02), at(&clip, 0.98)), (0.0, 1.0));
        let lift = tone(SmallDots::Lift, SmallHoles::Lift);
        assert!((at(&lift, 0.001) - 0.03).abs() < 1e-4 && (at(&lift, 0.999) - 0.97).abs() < 1e-4);
        assert_eq!((at(&lift, 0.0), at(&lift, 1.0)), (0.0, 1.0));
        let keep = tone(SmallDots::Keep, SmallHoles::Keep);
        assert!((at(&keep, 0.02) - 0.02).abs() < 1e-4);
    }

    #[test]
    fn printing_the_compensated_film_gives_the_nominal_back() {
        let gain = DotGain::default().curve(Lpi::new(45.0).unwrap());
        let table = ToneTable::for_film(Some(&gain), &ScreenDots::ALL, None);
        for percent in 0..=100u32 {
            let film = f32::from(table.get((percent * 65_535 / 100) as u16)) / 65_535.0;
            assert!((gain.print(film) - percent as f32 / 100.0).abs() < 0.005, "{percent} %");
        }
    }

    #[test]
    fn a_film_printer_that_darkens_is_undone() {
        let c = |v| Coverage::new(v).unwrap();
        let wedge = Linearisation { name: "wedge".into(), points: vec![(c(0.4), c(0.5))] };
        let table = ToneTable::for_film(None, &ScreenDots::ALL, Some(&wedge));
        assert!((f64::from(table.get(32_768)) / 65_535.0 - 0.4).abs() < 1e-3);
    }

    /// Thinned tones print what is meant, and what they are made of is the smallest dot.
    #[test]
    fn thinned_tones_print_what_is_meant() {
        let gain = DotGain::default().curve(Lpi::new(45.0).unwrap());
        let dots = ScreenDots { smallest: 0.06, below: SmallDots::Thin, ..ScreenDots::ALL };
        let table = ToneTable::for_film(Some(&gain), &dots, None);
        let printed = table.printed(&gain);
        for percent in 0..=100u32 {
            let meant = percent as f32 / 100.0;
            let film = dots.film(meant, Some(&gain));
            assert!((dots.printed(film, &gain) - meant).abs() < 0.005, "{percent} %");
            let at = (percent * 65_535 / 100) as u16;
            assert!((f32::from(table.get(at)) / 65_535.0 - film).abs() < 1e-4, "{percent} %");
            assert!((f32::from(printed.get(at)) / 65_535.0 - meant).abs() < 0.005, "{percent} %");
        }
        assert_eq!(table.thinned_to(), Some(3_932));
        assert!(table.get(table.first_from(1)) > 0 && table.get(table.first_from(1) - 1) == 0);
        assert_eq!((dots.dot(0.01), dots.dot(0.2), dots.dot(0.0)), (0.06, 0.2, 0.0));
    }
}
