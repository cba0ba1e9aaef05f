//! Angles of their own. Screens of one ruling and one angle are dots on one lattice: what they print together
//! then swings with register from shirt to shirt. Fifteen degrees apart they meet by chance, whatever the
//! register, and six fit into the right angle after which dots on a square grid repeat.

use super::{AngleRule, FilmSettings};
use crate::ink::{Ink, InkRole};
use crate::screens::ScreenName;
use crate::units::Degrees;

/// Angles counted from the job's, in the order in which they are given: 30 degrees apart first, as four-colour work
/// has them.
const SLOTS: [f64; 6] = [0.0, 30.0, 60.0, 45.0, 15.0, 75.0];

impl FilmSettings {
    /// Gives each of the screens, with their inks where they are known, an angle of its own, if it has none
    /// and the job wants them apart. The darkest comes first and then a base, 30 degrees from it, where the two
    /// make the finest pattern; palest inks come last and share an angle where there are more than six.
    pub fn give_angles(&mut self, screens: &[(ScreenName, Option<&Ink>)]) {
        if self.angles == AngleRule::One || self.dot.size_mm().is_some() {
            return;
        }
        let mut order: Vec<&(ScreenName, Option<&Ink>)> = screens.iter().collect();
        let light = |ink: Option<&Ink>| ink.map_or(0.5, |ink| ink.reflectance_over_white().iter().sum::<f32>() / 3.0);
        order.sort_by(|a, b| light(a.1).total_cmp(&light(b.1)));
        let base = |ink: Option<&Ink>| ink.is_some_and(|ink| ink.role == InkRole::BaseWhite);
        if let Some(at) = order.iter().position(|(_, ink)| base(*ink)) {
            let it = order.remove(at);
            order.insert(1.min(order.len()), it);
        }
        let names: Vec<&ScreenName> = screens.iter().map(|(name, _)| name).collect();
        for (name, _) in order {
            if self.own(name).is_none_or(|own| own.angle.is_none()) {
                let slot = self.free_angle(name, &names);
                self.screens.entry(name.clone()).or_default().angle = Some(slot);
            }
        }
    }

    /// The first angle that no other screen of its ruling has, or that fewest have.
    fn free_angle(&self, name: &ScreenName, names: &[&ScreenName]) -> Degrees {
        let (ruling, ..) = self.of_screen(name);
        let others =
            names.iter().filter(|other| ***other != *name && self.own(other).is_some_and(|o| o.angle.is_some()));
        let taken: Vec<f64> =
            others.map(|other| self.of_screen(other)).filter(|of| of.0 == ruling).map(|of| of.1.get()).collect();
        let apart = |slot: f64, angle: f64| {
            let turn = (slot - angle).rem_euclid(90.0);
            turn.min(90.0 - turn)
        };
        let slots = SLOTS.map(|slot| (self.angle.get() + slot).rem_euclid(90.0));
        let crowd = |slot: f64| taken.iter().filter(|&&angle| apart(slot, angle) < 14.0).count();
        let least = slots.into_iter().min_by_key(|&slot| crowd(slot)).unwrap_or(self.angle.get());
        Degrees::new(least).unwrap_or(self.angle)
    }

    /// One angle for all screens.
    pub fn share_one_angle(&mut self) {
        self.angles = AngleRule::One;
        for name in self.screens.keys().cloned().collect::<Vec<_>>() {
            self.change_own(&name, |own| own.angle = None);
        }
    }

    /// Gives every screen a new angle of its own, whatever angle it had.
    pub fn set_apart(&mut self, screens: &[(ScreenName, Option<&Ink>)]) {
        self.share_one_angle();
        self.angles = AngleRule::Apart;
        self.give_angles(screens);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ink(name: &str, color: &str, role: &str) -> Ink {
        let text = format!(r##"{{"name":"{name}","over_white":"{color}","opacity":0.8,"role":"{role}"}}"##);
        serde_json::from_str(&text).unwrap()
    }

    #[test]
    fn six_screens_stand_fifteen_degrees_apart_and_new_ones_take_what_is_free() {
        let inks = [
            ink("base", "#FAFAFA", "base-white"),
            ink("black", "#101014", "black"),
            ink("red", "#B3202A", "color"),
            ink("blue", "#1F3F94", "color"),
            ink("gold", "#D9A72E", "color"),
            ink("white", "#FFFFFF", "white"),
        ];
        let screens: Vec<(ScreenName, Option<&Ink>)> =
            inks.iter().map(|ink| (ink.name.as_str().into(), Some(ink))).collect();
        let mut film = FilmSettings::default();
        film.give_angles(&screens[..5]);
        let angle = |film: &FilmSettings, name: &str| film.of_screen(&name.into()).1.get();
        assert_eq!((angle(&film, "black"), angle(&film, "base")), (22.5, 52.5));
        let before = film.clone();
        film.give_angles(&screens);
        for (name, _) in &screens[..5] {
            assert_eq!(before.of_screen(name), film.of_screen(name));
        }
        let mut angles: Vec<f64> = screens.iter().map(|(name, _)| film.of_screen(name).1.get()).collect();
        angles.sort_by(f64::total_cmp);
        assert_eq!(angles, [7.5, 22.5, 37.5, 52.5, 67.5, 82.5]);
        // The seventh shares.
        let mut more = screens.clone();
        more.push(("late".into(), None));
        film.give_angles(&more);
        assert!(angles.contains(&angle(&film, "late")));
        film.share_one_angle();
        film.give_angles(&more);
        assert!(film.screens.is_empty());
        film.set_apart(&screens);
        assert_eq!(angle(&film, "black"), 22.5);
    }
}
