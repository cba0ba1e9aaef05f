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
        let crowd = |slot: f64| taken.iter().filter(|&&angle| turn_between(slot, angle) < 14.0).count();
        let slots = self.angle_slots();
        slots.into_iter().min_by_key(|slot| crowd(slot.get())).unwrap_or(self.angle)
    }

    /// Angles that screens are given, in this order: those of the shop, nearest to the wanted ones first, or any.
    pub fn angle_slots(&self) -> Vec<Degrees> {
        let wanted = SLOTS.map(|slot| (self.angle.get() + slot).rem_euclid(90.0));
        if self.angles_at_hand.is_empty() {
            return wanted.into_iter().filter_map(|slot| Degrees::new(slot).ok()).collect();
        }
        let mut left = self.angles_at_hand.clone();
        let mut slots = Vec::new();
        for slot in wanted.into_iter().cycle() {
            let off = |angle: &Degrees| turn_between(angle.get(), slot);
            let nearest = (0..left.len()).min_by(|&a, &b| off(&left[a]).total_cmp(&off(&left[b])));
            let Some(nearest) = nearest else { return slots };
            slots.push(left.remove(nearest));
        }
        slots
    }

    /// The angle of those at hand that is nearest to one.
    pub fn nearest_angle(&self, angle: Degrees) -> Degrees {
        let off = |one: &&Degrees| turn_between(one.get(), angle.get());
        self.angles_at_hand.iter().min_by(|a, b| off(a).total_cmp(&off(b))).copied().unwrap_or(angle)
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

/// Degrees between two angles of a grid that repeats every 90 degrees.
pub(crate) fn turn_between(a: f64, b: f64) -> f64 {
    let turn = (a - b).rem_euclid(90.0);
    turn.min(90.0 - turn)
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
        // A shop with three angles gives these, the nearest to the wanted ones first, and then again.
        film.angles_at_hand = [15.0, 45.0, 75.0].map(|angle| Degrees::new(angle).unwrap()).to_vec();
        film.set_apart(&screens);
        assert_eq!(["black", "base"].map(|name| angle(&film, name)), [15.0, 45.0]);
        let mut given: Vec<f64> = screens.iter().map(|(name, _)| angle(&film, name)).collect();
        given.sort_by(f64::total_cmp);
        assert_eq!(given, [15.0, 15.0, 45.0, 45.0, 75.0, 75.0]);
    }
}
