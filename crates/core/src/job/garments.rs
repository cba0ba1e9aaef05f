//! A job on several garments: one set of films, of which each garment prints those that it needs. A white shirt does
//! without the underbase; the colours are shared, solved for all garments together.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Cache, Job, JobError, evaluate_with};
use crate::Progress;
use crate::bounds::table;
use crate::ink::{Garment, InkRole};
use crate::names::{find, same, short};
use crate::press::{Ground, Meetings};
use crate::raster::{Art, Detail, Picture};
use crate::screens::{ScreenName, Screens};
use crate::separate::{MAX_GARMENTS, Printing, Quality, print_quality};

/// A further garment that a job prints on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AlsoOn {
    /// The garment.
    pub garment: Garment,
    /// Screens that do not print on it, by name; names that the job does not have change nothing.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[serde(default)]
    pub leaves_out: BTreeSet<ScreenName>,
}

/// What a garment prints of a job's films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GarmentUse {
    /// The garment.
    pub garment: String,
    /// The screens that print on it, in print order.
    pub screens: Vec<ScreenName>,
    /// How near its print comes to the art.
    pub quality: Quality,
    /// How much further that is, as mean CIEDE2000, than with films of its own.
    pub over_own_films: f64,
}

/// Longest side of the picture on which shared films and films of one garment are compared.
const COMPARED_PX: usize = 800;

impl Job {
    /// The garments that it prints on, its first first.
    pub fn garments(&self) -> impl Iterator<Item = &Garment> {
        std::iter::once(&self.garment).chain(self.also_on.iter().map(|also| &also.garment))
    }

    /// The place of a garment among them by its name, case ignored. An error says which there are.
    pub fn find_garment(&self, name: &str) -> Result<usize, String> {
        let list: Vec<&Garment> = self.garments().collect();
        let found = find(&list, name, |garment| &garment.name);
        let place = found.and_then(|found| list.iter().position(|garment| std::ptr::eq(*garment, *found)));
        place.ok_or_else(|| {
            let known: Vec<String> = list.iter().map(|garment| format!("\"{}\"", garment.name)).collect();
            format!("the job has no garment \"{}\"; it prints on {}", short(name), known.join(", "))
        })
    }

    /// Screens that do not print on one of its garments.
    pub fn left_out_on(&self, garment: usize) -> &BTreeSet<ScreenName> {
        match garment.checked_sub(1).and_then(|at| self.also_on.get(at)) {
            Some(also) => &also.leaves_out,
            None => &self.leaves_out,
        }
    }

    /// The same, to be changed.
    pub fn left_out_on_mut(&mut self, garment: usize) -> &mut BTreeSet<ScreenName> {
        match garment.checked_sub(1).and_then(|at| self.also_on.get_mut(at)) {
            Some(also) => &mut also.leaves_out,
            None => &mut self.leaves_out,
        }
    }

    /// What one of its garments is to the print.
    pub fn ground_of(&self, garment: usize) -> Ground<'_> {
        let on = self.garments().nth(garment).unwrap_or(&self.garment);
        let meetings = Meetings { dots: &self.film, register_mm: self.run.usual_register_mm() };
        let by_chance = Ground::by_chance(on, &self.press, self.film.ruling);
        let left_out = self.left_out_on(garment);
        Ground { meetings: Some(meetings), left_out: (!left_out.is_empty()).then_some(left_out), ..by_chance }
    }

    /// What its screens are solved for.
    pub fn printings(&self) -> Vec<Printing<'_>> {
        (0..=self.also_on.len()).map(|at| Printing { ground: self.ground_of(at) }).collect()
    }

    /// The job as one of its garments has it: that garment first, its sizes and shirts alone. For proofs, findings and
    /// sheets; screens are made from the job itself. Without sizes it is not known how many shirts are of which garment.
    pub fn seen_on(&self, garment: usize) -> Self {
        let mut job = self.clone();
        if self.also_on.is_empty() {
            return job;
        }
        if let Some(also) = garment.checked_sub(1).and_then(|at| job.also_on.get_mut(at)) {
            std::mem::swap(&mut job.garment, &mut also.garment);
            std::mem::swap(&mut job.leaves_out, &mut also.leaves_out);
        }
        let name = &job.garment.name;
        let is_its = |called: &str| if called.is_empty() { garment == 0 } else { same(called, name) };
        job.info.sizes.retain(|one| is_its(&one.garment));
        job.info.quantity = job.info.sizes.iter().map(|one| one.shirts).sum();
        job
    }

    /// The job on its first garment, the others forgotten: for reports on that one.
    pub fn one_garment(self) -> Self {
        Self { also_on: Vec::new(), ..self }
    }

    /// The job on one of its garments alone, with the screens that print on it, to be separated for itself.
    pub fn alone_on(&self, garment: usize) -> Self {
        let mut job = self.seen_on(garment);
        let left_out = std::mem::take(&mut job.leaves_out);
        job.also_on.clear();
        job.separation.screens.retain(|screen| !left_out.contains(&screen.name));
        job
    }

    /// Leaves of screens those that print on its first garment.
    pub fn keep_printed(&self, screens: &mut Screens) {
        let ground = self.ground();
        screens.list.retain(|screen| ground.prints(screen.name.as_str()));
    }

    /// Of screens those that print on its first garment; borrowed where all do.
    pub fn printed<'a>(&self, screens: &'a Screens) -> Cow<'a, Screens> {
        let ground = self.ground();
        if screens.list.iter().all(|screen| ground.prints(screen.name.as_str())) {
            return Cow::Borrowed(screens);
        }
        let list = screens.list.iter().filter(|screen| ground.prints(screen.name.as_str())).cloned().collect();
        Cow::Owned(Screens { list, ..*screens })
    }

    /// Makes one of its garments the first: that of findings, costs and sheets.
    pub fn make_first(&mut self, garment: usize) {
        if let Some(also) = garment.checked_sub(1).and_then(|at| self.also_on.get_mut(at)) {
            // Sizes without a name are those of the garment that was the first.
            for size in self.info.sizes.iter_mut().filter(|size| size.garment.is_empty()) {
                size.garment.clone_from(&self.garment.name);
            }
            std::mem::swap(&mut self.garment, &mut also.garment);
            std::mem::swap(&mut self.leaves_out, &mut also.leaves_out);
        }
    }

    /// Places of the garments that print a screen.
    pub fn serves(&self, screen: &ScreenName) -> Vec<usize> {
        (0..=self.also_on.len()).filter(|&at| !self.left_out_on(at).contains(screen)).collect()
    }

    /// For the label of a screen that not every garment prints: the garments that do. None for a film that serves all.
    pub fn serves_words(&self, screen: &ScreenName) -> Option<String> {
        let serves = self.serves(screen);
        if serves.len() == self.also_on.len() + 1 {
            return None;
        }
        let names: Vec<&str> =
            self.garments().enumerate().filter(|(at, _)| serves.contains(at)).map(|(_, on)| on.name.as_str()).collect();
        Some(if names.is_empty() { "no garment".to_owned() } else { names.join(", ") })
    }

    /// Screens that a garment usually does without: whites on white. Black is of use on black fabric too, where shared
    /// colours print fuller than the fabric alone would ask for.
    pub fn usually_left_out(&self, garment: &Garment) -> BTreeSet<ScreenName> {
        let white = |role: InkRole| matches!(role, InkRole::White | InkRole::BaseWhite);
        let screens = self.separation.screens.iter().filter(|screen| garment.is_white() && white(screen.ink.role));
        screens.map(|screen| screen.name.clone()).collect()
    }

    /// Where there are several garments, leaves the new screens of a job out on those that usually do without them.
    pub(super) fn leave_out_usual(&mut self) {
        if self.also_on.is_empty() {
            return;
        }
        let usual: Vec<BTreeSet<ScreenName>> = self.garments().map(|garment| self.usually_left_out(garment)).collect();
        for (at, usual) in usual.into_iter().enumerate() {
            self.left_out_on_mut(at).extend(usual);
        }
    }

    /// Adds a garment, without the screens that it usually does without. An error is one sentence.
    pub fn add_garment(&mut self, garment: Garment) -> Result<(), String> {
        if self.also_on.len() + 1 >= MAX_GARMENTS {
            return Err(format!("a job prints on {MAX_GARMENTS} garments at most; make another job for more"));
        }
        if self.garments().any(|own| same(&own.name, &garment.name)) {
            return Err(format!("the job prints on \"{}\" already", short(&garment.name)));
        }
        let leaves_out = self.usually_left_out(&garment);
        self.also_on.push(AlsoOn { garment, leaves_out });
        Ok(())
    }

    /// Takes a garment away; of the first, the next becomes the first. An error is one sentence.
    pub fn remove_garment(&mut self, garment: usize) -> Result<(), String> {
        if self.also_on.is_empty() {
            return Err("a job prints on one garment at least; change its garment instead".to_owned());
        }
        if garment == 0 {
            let next = self.also_on.remove(0);
            (self.garment, self.leaves_out) = (next.garment, next.leaves_out);
        } else {
            self.also_on.remove(garment - 1);
        }
        Ok(())
    }

    /// How near the print of screens comes to the art, as mean CIEDE2000: the mean of its garments.
    pub fn difference(&self, screens: &Screens, art: &Picture) -> f64 {
        let of = |at: usize| print_quality(screens, art, &self.ground_of(at)).mean;
        let garments = self.also_on.len() + 1;
        (0..garments).map(of).sum::<f64>() / garments as f64
    }

    /// What each of its garments prints, and how near that comes to films of its own: the same screens separated for
    /// it alone. `screens` and `art` are those of the full print; the comparison is made on a small one.
    pub fn garment_uses(
        &self,
        screens: &Screens,
        picture: &Picture,
        art: &Arc<Art>,
        progress: &Progress,
    ) -> Result<Vec<GarmentUse>, JobError> {
        let small = Detail::Proxy { longest_px: COMPARED_PX };
        let count = self.also_on.len() + 1;
        let step = |at: usize| progress.part(at as f32 / (count + 1) as f32, (at + 1) as f32 / (count + 1) as f32);
        let together = evaluate_with(&mut Cache::default(), self, art, small, &step(0))?;
        let use_of = |at: usize| {
            let ground = self.ground_of(at);
            let alone = self.alone_on(at);
            let own = evaluate_with(&mut Cache::default(), &alone, art, small, &step(at + 1))?;
            let [with, without] = [(&together, ground), (&own, alone.ground())]
                .map(|(level, ground)| print_quality(&level.screens, &level.prepared.picture, &ground).mean);
            let printed = screens.list.iter().map(|screen| &screen.name);
            Ok(GarmentUse {
                garment: ground.garment.name.clone(),
                screens: printed.filter(|name| ground.prints(name.as_str())).cloned().collect(),
                quality: print_quality(screens, picture, &ground),
                over_own_films: with - without,
            })
        };
        (0..count).map(use_of).collect()
    }

    /// Whether its garments can be told apart; else what to do about it.
    pub(super) fn garments_agree(&self) -> Result<(), String> {
        let names: Vec<&str> = self.garments().map(|garment| garment.name.as_str()).collect();
        for (at, name) in names.iter().enumerate() {
            if names[..at].iter().any(|other| same(other, name)) {
                return Err(format!("two garments are called \"{}\"; give each a name of its own", short(name)));
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Ink;
    use crate::job::{Act, evaluate};
    use crate::press::proof_from_screens;
    use crate::raster::Plane;
    use crate::separate::{PlannedScreen, SeparationSettings};
    use crate::units::{Opacity, Ppi};

    fn garment(name: &str, color: &str) -> Garment {
        Garment { name: name.into(), ..Garment::of_color(color.parse().unwrap()) }
    }

    fn job() -> Job {
        let ink = |name: &str, color: &str, opacity: f64, role| Ink {
            name: name.into(),
            over_white: color.parse().unwrap(),
            opacity: Opacity::new(opacity).unwrap(),
            role,
            measured: false,
            spectra: None,
        };
        let mut job = Job::new(garment("Coal", "#1B1B1D"));
        job.separation = SeparationSettings::for_inks([
            ink("base", "#F4F4F0", 0.9, InkRole::BaseWhite),
            ink("yellow", "#F6D21F", 0.6, InkRole::Color),
            ink("red", "#C8202F", 0.65, InkRole::Color),
            ink("blue", "#1F4FA3", 0.65, InkRole::Color),
            ink("black", "#161616", 0.95, InkRole::Black),
            ink("white", "#FAFAFA", 0.8, InkRole::White),
        ]);
        job.prep.ppi = Ppi::new(100.0).unwrap();
        job.press.stops.insert("base".into(), crate::press::Stop::Flash);
        job
    }

    /// Muted hues in all tones, clear to the left and fading out of it.
    fn art() -> Art {
        let picture = Picture::new(Plane::from_fn(100, 80, |x, y| {
            let alpha = if x < 10 {
                0
            } else if x < 20 {
                ((x - 10) * 6_553) as u16
            } else {
                u16::MAX
            };
            let tone = 8_000 + y * 600;
            [tone as u16, (tone * (40 + x) / 160) as u16, (tone * (150 - x) / 190) as u16, alpha]
        }));
        Art { picture, ppi: Ppi::new(100.0).unwrap() }
    }

    #[test]
    fn white_does_without_white() {
        let mut job = job();
        job.leaves_out = job.usually_left_out(&job.garment);
        job.add_garment(garment("Chalk", "#FFFFFF")).unwrap();
        job.add_garment(garment("Brick", "#8E2A22")).unwrap();
        let left_out = |at: usize| job.left_out_on(at).iter().map(ScreenName::as_str).collect::<Vec<_>>();
        assert_eq!((left_out(0), left_out(1), left_out(2)), (vec![], vec!["base", "white"], vec![]));
        assert_eq!(job.serves_words(&"base".into()).unwrap(), "Coal, Brick");
        assert_eq!(job.serves_words(&"red".into()), None);
        assert!(job.add_garment(garment("chalk", "#FAFAFA")).unwrap_err().contains("already"));
        assert!(job.find_garment("Sand").unwrap_err().contains("\"Chalk\""));
        job.add_garment(garment("Sand", "#D8C9A8")).unwrap();
        assert!(job.add_garment(garment("Sky", "#9CC4E4")).unwrap_err().contains("4 garments"));
        job.check().unwrap();
        // A new set of inks has a white of another name.
        let screens = [PlannedScreen::of_ink(Ink { name: "soft".into(), ..job.separation.screens[5].ink.clone() })];
        let other = Act::Inks { screens: screens.to_vec() }.done(&job);
        assert!(other.left_out_on(1).contains(&"soft".into()) && !other.left_out_on(0).contains(&"soft".into()));
        job.remove_garment(0).unwrap();
        assert_eq!((job.garment.name.as_str(), job.also_on.len()), ("Chalk", 2));
        // A file with two of a name is not taken.
        job.also_on[0].garment.name = "CHALK".into();
        assert!(job.check().unwrap_err().to_string().contains("two garments"));
    }

    #[test]
    fn sizes_of_each_garment_are_its_own() {
        let mut job = job();
        job.add_garment(garment("Chalk", "#FFFFFF")).unwrap();
        job.info.set_sizes("S 20, M 60; Chalk: M 12").unwrap();
        assert_eq!((job.seen_on(0).info.quantity, job.seen_on(1).info.quantity), (80, 12));
        let seen = job.seen_on(1);
        assert_eq!((seen.garment.name.as_str(), seen.also_on[0].garment.name.as_str()), ("Chalk", "Coal"));
        seen.check().unwrap();
    }

    /// The proof of each garment is that of the screens that it prints, taken out by hand; and shared films come near
    /// those of its own, which nothing but a common solution does: films made for the one print far off on the other.
    #[test]
    fn shared_films_come_near_films_of_their_own() {
        let none = Progress::none();
        let mut both = job();
        both.leaves_out = both.usually_left_out(&both.garment);
        both.add_garment(garment("Chalk", "#FFFFFF")).unwrap();
        let made = evaluate(&both, &art(), Detail::Full, &none).unwrap();
        assert_eq!(made.screens.list.len(), 6);
        let quality = |job: &Job, screens: &Screens, at: usize| {
            print_quality(screens, &made.prepared.picture, &job.ground_of(at)).mean
        };
        for at in 0..2 {
            let (seen, mut printed) = (both.seen_on(at), made.screens.clone());
            seen.keep_printed(&mut printed);
            assert_eq!(printed.list.len(), 6 - 2 * at);
            let alone = both.alone_on(at);
            let [by_ground, by_hand] = [(&made.screens, both.ground_of(at)), (&printed, alone.ground())]
                .map(|(screens, ground)| proof_from_screens(screens, &ground, |_| true));
            assert_eq!(by_ground, by_hand, "garment {at}");
            let own = evaluate(&alone, &art(), Detail::Full, &none).unwrap();
            let (shared, dedicated) = (quality(&both, &made.screens, at), quality(&alone, &own.screens, 0));
            // The films of the other garment, with its own base or black.
            let other = evaluate(&both.alone_on(1 - at), &art(), Detail::Full, &none).unwrap();
            let mut borrowed = made.screens.clone();
            for screen in &mut borrowed.list {
                let from = [&other.screens, &own.screens]
                    .map(|screens| screens.position(&screen.name).map(|p| &screens.list[p]));
                screen.coverage = from.into_iter().flatten().next().unwrap().coverage.clone();
            }
            let lent = quality(&both, &borrowed, at);
            println!("garment {at}: shared {shared:.2}, its own {dedicated:.2}, those of the other {lent:.2}");
            assert!(shared < dedicated + 1.8 && shared < lent, "garment {at}: {shared} {dedicated} {lent}");
        }
        // Where the art is clear nothing prints.
        assert!(made.screens.list.iter().all(|screen| screen.coverage.row(40)[..10].iter().all(|a| *a == 0)));
    }
}
