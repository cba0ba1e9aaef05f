//! Applies the edits of a job to its screens.

use std::ops::Range;

use super::add::added;
use super::background::{background, background_within};
use super::grey::fitted;
use super::soften::{blur, sharpen};
use super::spots::{clear_specks, fill_pinholes};
use super::{Edit, EditEntry, between, tone};
use crate::ink::Ink;
use crate::prep::Prepared;
use crate::press::Ground;
use crate::raster::{FULL, Plane, choke, choke_in_place, spread_in_place};
use crate::screens::{MAX_JOB_SCREENS, Screen, Screens};
use crate::separate::{PlannedScreen, SeparationSettings};
use crate::units::{Coverage, MM_PER_INCH, Mm};
use crate::{Cancelled, Progress};

/// Why an edit cannot be applied. `number` is its place in the list, from 1.
#[derive(Debug, thiserror::Error)]
pub enum TuneError {
    /// An edit names a screen that is not there.
    #[error("edit {number} names the screen \"{screen}\", which the job does not have at that point")]
    NoScreen {
        /// Which edit.
        number: usize,
        /// The missing screen.
        screen: String,
    },
    /// An edit adds a screen of a name that is taken.
    #[error("edit {number} adds a screen \"{screen}\", but the job has one of that name; choose another name")]
    NameTaken {
        /// Which edit.
        number: usize,
        /// The name.
        screen: String,
    },
    /// A number of an edit is out of its range.
    #[error("edit {number}: {what}")]
    Value {
        /// Which edit.
        number: usize,
        /// Which number, and its range.
        what: String,
    },
    /// A new separation is asked for a screen that does not come from one.
    #[error(
        "edit {number} wants the screens separated again for \"{screen}\", which does not come from the separation; \
         do it without separating again"
    )]
    NotPlanned {
        /// Which edit.
        number: usize,
        /// The screen.
        screen: String,
    },
    /// A trim of the background where the art has none.
    #[error(
        "edit {number} trims \"{screen}\" in the background, but the artwork has none: nothing in it is clear and its \
         edge has no even colour; trim without the background"
    )]
    NoBackground {
        /// Which edit.
        number: usize,
        /// The screen to trim.
        screen: String,
    },
    /// More screens than a job may have.
    #[error(
        "edit {number} would give the job more than {MAX_JOB_SCREENS} screens, the most that it may have; merge or drop \
         screens first"
    )]
    TooManyScreens {
        /// Which edit.
        number: usize,
    },
    /// A grey picture whose pixels were lost.
    #[error(
        "edit {number} makes the screen \"{screen}\" from the grey picture {file}, which is not in the job any more; \
         bring the picture in again or delete the edit"
    )]
    NoPicture {
        /// Which edit.
        number: usize,
        /// The screen that it would make.
        screen: String,
        /// The picture's file name.
        file: String,
    },
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// The separation as the edits want it: inks changed and screens dropped by edits that have the
/// screens separated again.
pub fn planned(separation: &SeparationSettings, edits: &[EditEntry]) -> Result<SeparationSettings, TuneError> {
    let mut plan = separation.clone();
    for (at, entry) in edits.iter().enumerate().filter(|(_, e)| e.on) {
        let find = |plan: &SeparationSettings, screen: &String| {
            let found = plan.screens.iter().position(|s| s.name.eq_ignore_ascii_case(screen));
            found.ok_or_else(|| TuneError::NotPlanned { number: at + 1, screen: screen.clone() })
        };
        match &entry.edit {
            Edit::ReInk { screen, ink, resolve: true } => {
                let found = find(&plan, screen)?;
                plan.screens[found].ink = ink.clone();
            }
            Edit::Drop { screen, resolve: true } => {
                let found = find(&plan, screen)?;
                plan.screens.remove(found);
            }
            Edit::Add { name, ink, place, resolve: true } => {
                if plan.screens.iter().any(|s| s.name.eq_ignore_ascii_case(name)) {
                    return Err(TuneError::NameTaken { number: at + 1, screen: name.clone() });
                }
                let inks: Vec<&Ink> = plan.screens.iter().map(|s| &s.ink).collect();
                let to = place.among(&inks, ink);
                plan.screens.insert(to, PlannedScreen { name: name.clone(), ..PlannedScreen::of_ink(ink.clone()) });
            }
            _ => {}
        }
    }
    Ok(plan)
}

/// Applies the edits that are switched on, in order, to the screens of the [`planned`] separation.
pub fn apply_edits(
    screens: &mut Screens,
    prepared: &Prepared,
    edits: &[EditEntry],
    ground: &Ground<'_>,
    progress: &Progress,
) -> Result<(), TuneError> {
    apply_edits_in(screens, prepared, edits, 0..edits.len(), ground, progress)
}

/// Applies a part of the list to screens that the edits before it were applied to.
pub(crate) fn apply_edits_in(
    screens: &mut Screens,
    prepared: &Prepared,
    edits: &[EditEntry],
    part: Range<usize>,
    ground: &Ground<'_>,
    progress: &Progress,
) -> Result<(), TuneError> {
    let first = part.start;
    for (at, entry) in edits[part].iter().enumerate().map(|(i, e)| (first + i, e)).filter(|(_, e)| e.on) {
        progress.step("edit", at as f32 / edits.len() as f32)?;
        One { screens: &mut *screens, prepared, ground, number: at + 1, progress }.apply(&entry.edit)?;
    }
    Ok(())
}

/// One edit on its way.
struct One<'a> {
    screens: &'a mut Screens,
    prepared: &'a Prepared,
    ground: &'a Ground<'a>,
    number: usize,
    progress: &'a Progress,
}

impl One<'_> {
    fn find(&self, name: &str) -> Result<usize, TuneError> {
        let found = self.screens.position(name);
        found.ok_or_else(|| TuneError::NoScreen { number: self.number, screen: name.to_owned() })
    }

    fn plane(&mut self, name: &str) -> Result<&mut Plane<u16>, TuneError> {
        let at = self.find(name)?;
        Ok(&mut self.screens.list[at].coverage)
    }

    /// The plane of `screen` to change, and a copy of the other's.
    fn two(&mut self, screen: &str, by: &str) -> Result<(&mut Plane<u16>, Plane<u16>), TuneError> {
        let (at, other) = (self.find(screen)?, self.find(by)?);
        let copy = self.screens.list[other].coverage.clone();
        Ok((&mut self.screens.list[at].coverage, copy))
    }

    fn px(&self, length: Mm) -> f64 {
        length.px(self.screens.ppi.get())
    }

    fn area_px(&self, mm2: f64) -> f64 {
        mm2 * (self.screens.ppi.get() / MM_PER_INCH).powi(2)
    }

    fn insert(&mut self, at: usize, screen: Screen) -> Result<(), TuneError> {
        if self.screens.position(&screen.name).is_some() {
            return Err(TuneError::NameTaken { number: self.number, screen: screen.name });
        }
        if self.screens.list.len() >= MAX_JOB_SCREENS {
            return Err(TuneError::TooManyScreens { number: self.number });
        }
        self.screens.list.insert(at, screen);
        Ok(())
    }

    fn apply(mut self, edit: &Edit) -> Result<(), TuneError> {
        edit.check().map_err(|what| TuneError::Value { number: self.number, what })?;
        let progress = self.progress;
        match edit {
            Edit::Merge { from, into, balance } => {
                let (plane, other) = self.two(into, from)?;
                between::merge(plane, &other, *balance);
                let gone = self.find(from)?;
                self.screens.list.remove(gone);
            }
            Edit::Drop { screen, resolve } => match self.find(screen) {
                Ok(at) => {
                    self.screens.list.remove(at);
                }
                // The separation was made without it.
                Err(_) if *resolve => {}
                Err(error) => return Err(error),
            },
            Edit::ReInk { screen, ink, .. } => {
                let at = self.find(screen)?;
                self.screens.list[at].ink = ink.clone();
            }
            Edit::Order { screens: names } => {
                for (to, name) in names.iter().enumerate() {
                    let from = self.find(name)?;
                    let screen = self.screens.list.remove(from);
                    self.screens.list.insert(to.min(self.screens.list.len()), screen);
                }
            }
            Edit::Trim { screen, below, above, soft, background: in_background } => {
                tone::trim(self.plane(screen)?, *below, *above, *soft);
                if *in_background {
                    let mask = background(&self.prepared.picture)
                        .ok_or_else(|| TuneError::NoBackground { number: self.number, screen: screen.clone() })?;
                    let plane = self.plane(screen)?;
                    for (v, _) in plane.data_mut().iter_mut().zip(mask.data()).filter(|(_, out)| **out) {
                        *v = 0;
                    }
                }
            }
            Edit::Curve { screen, curve } => tone::curve(self.plane(screen)?, curve),
            Edit::Levels { screen, none, solid, middle } => tone::levels(self.plane(screen)?, *none, *solid, *middle),
            Edit::Gain { screen, points } => tone::gain(self.plane(screen)?, *points),
            Edit::Density { screen, factor } => tone::map_tone(self.plane(screen)?, |c| c * factor),
            Edit::Invert { screen } => self.plane(screen)?.apply(|v| FULL - v),
            Edit::Choke { screen, by_mm } => {
                let reach = self.px(*by_mm);
                choke_in_place(self.plane(screen)?, reach, progress)?;
            }
            Edit::Spread { screen, by_mm } => {
                let reach = self.px(*by_mm);
                spread_in_place(self.plane(screen)?, reach, progress)?;
            }
            Edit::Specks { screen, under_mm2, at } => {
                let area = self.area_px(*under_mm2);
                clear_specks(self.plane(screen)?, level(*at), area);
            }
            Edit::Pinholes { screen, under_mm2, at } => {
                let area = self.area_px(*under_mm2);
                fill_pinholes(self.plane(screen)?, level(*at), area);
            }
            Edit::Blur { screen, radius_mm } => {
                let sigma = self.px(*radius_mm);
                let plane = self.plane(screen)?;
                *plane = blur(plane, sigma, progress)?;
            }
            Edit::Sharpen { screen, radius_mm, amount } => {
                let sigma = self.px(*radius_mm);
                let plane = self.plane(screen)?;
                *plane = sharpen(plane, sigma, *amount, progress)?;
            }
            Edit::MaskRegion { screen, region, outside, feather_mm } => {
                let feather = self.px(*feather_mm);
                let mut mask = region.mask(self.screens.width, self.screens.height);
                if feather > 0.0 {
                    // Nine tenths of a Gaussian edge lie within 2.6 standard deviations.
                    mask = blur(&mask, feather / 2.6, progress)?;
                }
                let plane = self.plane(screen)?;
                if *outside { between::knock_out(plane, &mask) } else { between::mask(plane, &mask) }
            }
            Edit::MaskByScreen { screen, by } => {
                let (plane, other) = self.two(screen, by)?;
                between::mask(plane, &other);
            }
            Edit::KnockOut { screen, by, overlap_mm } => {
                let overlap = self.px(*overlap_mm);
                let (plane, other) = self.two(screen, by)?;
                between::knock_out(plane, &choke(&other, overlap, progress)?);
            }
            Edit::Subtract { screen, by, amount } => {
                let (plane, other) = self.two(screen, by)?;
                between::subtract(plane, &other, *amount);
            }
            Edit::Swap { a, b } => {
                let (a, b) = (self.find(a)?, self.find(b)?);
                // Planes change places; names, inks and hits change back.
                self.screens.list.swap(a, b);
                let (first, last) = self.screens.list.split_at_mut(a.max(b));
                let (one, other) = (&mut first[a.min(b)], &mut last[0]);
                std::mem::swap(&mut one.name, &mut other.name);
                std::mem::swap(&mut one.ink, &mut other.ink);
                std::mem::swap(&mut one.hits, &mut other.hits);
            }
            Edit::Copy { screen, name, ink } => {
                let at = self.find(screen)?;
                let mut copy = self.screens.list[at].clone();
                copy.name.clone_from(name);
                if let Some(ink) = ink {
                    copy.ink = ink.clone();
                }
                self.insert(at + 1, copy)?;
            }
            Edit::Hits { screen, hits } => {
                let at = self.find(screen)?;
                self.screens.list[at].hits = *hits;
            }
            Edit::Split { screen, name, ink, from, to, soft } => {
                let at = self.find(screen)?;
                let coverage = between::split(&mut self.screens.list[at].coverage, *from, *to, *soft);
                self.insert(at + 1, Screen { name: name.clone(), ink: ink.clone(), hits: 1, coverage })?;
            }
            // Made by the separation.
            Edit::Add { resolve: true, .. } => {}
            Edit::Add { name, ink, place, resolve: false } => {
                let inks: Vec<&Ink> = self.screens.list.iter().map(|s| &s.ink).collect();
                let at = place.among(&inks, ink);
                let coverage = added(self.screens, at, name, ink, self.prepared, self.ground, progress)?;
                self.insert(at, Screen { name: name.clone(), ink: ink.clone(), hits: 1, coverage })?;
            }
            Edit::ClearBackground { screen, tolerance, feather_mm } => {
                let found = background_within(&self.prepared.picture, *tolerance)
                    .ok_or_else(|| TuneError::NoBackground { number: self.number, screen: screen.clone() })?;
                let feather = self.px(*feather_mm);
                let mut keep = found.map(|out| if out { 0 } else { FULL });
                if feather > 0.0 {
                    // Half of the soft step lies outside, where nothing may print: the inner half is
                    // stretched over the whole. Nine tenths of it lie within 1.3 standard deviations.
                    keep = blur(&keep, feather / 1.3, progress)?;
                    keep.apply(|v| (2 * u32::from(v)).saturating_sub(u32::from(FULL)) as u16);
                }
                between::mask(self.plane(screen)?, &keep);
            }
            Edit::FromArt { name, ink, source } => {
                let coverage = source.read(self.prepared, progress)?;
                let last = self.screens.list.len();
                self.insert(last, Screen { name: name.clone(), ink: ink.clone(), hits: 1, coverage })?;
            }
            Edit::Import { name, ink, picture, light } => {
                let pixels = picture.pixels().ok_or_else(|| TuneError::NoPicture {
                    number: self.number,
                    screen: name.clone(),
                    file: picture.file.clone(),
                })?;
                let mut coverage = fitted(pixels, self.screens.width, self.screens.height, progress)?;
                if !light {
                    coverage.apply(|v| FULL - v);
                }
                let last = self.screens.list.len();
                self.insert(last, Screen { name: name.clone(), ink: ink.clone(), hits: 1, coverage })?;
            }
        }
        Ok(())
    }
}

fn level(coverage: Coverage) -> u16 {
    (coverage.get() * f64::from(FULL)).round() as u16
}

#[cfg(test)]
mod tests {
    use super::super::edit::half;
    use super::*;
    use crate::color::Rgb8;
    use crate::ink::{Garment, InkRole};
    use crate::press::PrintModel;
    use crate::raster::{Picture, Plane};
    use crate::units::{Coverage, Opacity, Ppi};

    fn ink(name: &str) -> Ink {
        Ink {
            name: name.into(),
            over_white: "#406080".parse::<Rgb8>().unwrap(),
            opacity: Opacity::new(0.5).unwrap(),
            role: InkRole::Color,
            measured: false,
            spectra: None,
        }
    }

    /// Three screens of 4x1 on art that is white with one dark pixel (at x = 2).
    fn three() -> (Screens, Prepared) {
        let ppi = Ppi::new(100.0).unwrap();
        let planes = [[0, 6553, 30_000, 65_535], [100, 100, 100, 100], [65_535, 20_000, 6554, 3]];
        let list = ["Teal", "Rose", "White"]
            .iter()
            .zip(planes)
            .map(|(name, data)| Screen {
                name: (*name).into(),
                ink: ink(name),
                hits: 1,
                coverage: Plane::from_fn(4, 3, |x, _| data[x]),
            })
            .collect();
        let picture =
            Picture::new(Plane::from_fn(4, 3, |x, y| if (x, y) == (2, 1) { [0, 0, 0, FULL] } else { [FULL; 4] }));
        let prepared = Prepared { picture, ppi, print_size_mm: [1.0, 0.75], true_ppi: 100.0 };
        (Screens { width: 4, height: 3, ppi, list }, prepared)
    }

    fn run(edits: &[Edit]) -> Result<Screens, TuneError> {
        let (mut screens, prepared) = three();
        let entries: Vec<_> = edits.iter().map(|edit| EditEntry { on: true, edit: edit.clone() }).collect();
        let (garment, press) = (Garment::of_color(Rgb8([255; 3])), PrintModel::default());
        let ground = Ground { garment: &garment, press: &press, ruling: crate::units::Lpi::new(45.0).unwrap() };
        apply_edits(&mut screens, &prepared, &entries, &ground, &Progress::none()).map(|()| screens)
    }

    fn names(screens: &Screens) -> Vec<&str> {
        screens.list.iter().map(|s| s.name.as_str()).collect()
    }

    #[test]
    fn merge_multiplies_and_drops_the_source() {
        let screens = run(&[Edit::Merge { from: "white".into(), into: "Teal".into(), balance: half() }]).unwrap();
        assert_eq!(names(&screens), ["Teal", "Rose"]);
        let row = screens.list[0].coverage.row(0).to_vec();
        let film = |v: u32| f64::from(65_535 - v);
        let wanted = [(0, 65_535), (6553, 20_000), (30_000, 6554), (65_535, 3)]
            .map(|(a, b)| (65_535.0 - film(a) * film(b) / 65_535.0).round() as u16);
        assert_eq!(row, wanted);
    }

    #[test]
    fn order_puts_the_named_first_and_keeps_the_rest() {
        let screens = run(&[Edit::Order { screens: vec!["White".into(), "teal".into()] }]).unwrap();
        assert_eq!(names(&screens), ["White", "Teal", "Rose"]);
    }

    #[test]
    fn re_ink_keeps_name_and_coverage() {
        let screens = run(&[Edit::ReInk { screen: "rose".into(), ink: ink("Plum"), resolve: false }]).unwrap();
        assert_eq!((screens.list[1].name.as_str(), screens.list[1].ink.name.as_str()), ("Rose", "Plum"));
        assert_eq!(screens.list[1].coverage, three().0.list[1].coverage);
    }

    #[test]
    fn trim_clears_light_tones_and_the_background() {
        let trim = |background| Edit::Trim {
            screen: "White".into(),
            below: Coverage::new(0.1).unwrap(),
            above: Coverage::new(1.0).unwrap(),
            soft: Coverage::new(0.0).unwrap(),
            background,
        };
        let plain = run(&[trim(false)]).unwrap();
        assert_eq!(plain.list[2].coverage.row(1), [65_535, 20_000, 6554, 0]);
        let cleared = run(&[trim(true)]).unwrap();
        assert_eq!(cleared.list[2].coverage.row(1), [0, 0, 6554, 0]);
        assert_eq!(cleared.list[2].coverage.row(0), [0; 4]);
    }

    #[test]
    fn a_cleared_background_fades_in_inside_its_border() {
        // White art with a black square of 20 px; the screen prints everywhere.
        let picture = Picture::new(Plane::from_fn(60, 60, |x, y| {
            if (20..40).contains(&x) && (20..40).contains(&y) { [0, 0, 0, FULL] } else { [FULL; 4] }
        }));
        let ppi = Ppi::new(100.0).unwrap();
        let prepared = Prepared { picture, ppi, print_size_mm: [15.24; 2], true_ppi: 100.0 };
        let run = |feather: f64| {
            let coverage = Plane::filled(60, 60, FULL);
            let list = vec![Screen { name: "White".into(), ink: ink("White"), hits: 1, coverage }];
            let mut screens = Screens { width: 60, height: 60, ppi, list };
            let edit = Edit::ClearBackground {
                screen: "white".into(),
                tolerance: 0.05,
                feather_mm: Mm::new(feather).unwrap(),
            };
            let (garment, press) = (Garment::of_color(Rgb8([255; 3])), PrintModel::default());
            let ground = Ground { garment: &garment, press: &press, ruling: crate::units::Lpi::new(45.0).unwrap() };
            apply_edits(&mut screens, &prepared, &[EditEntry::on(edit)], &ground, &Progress::none()).unwrap();
            screens.list.remove(0).coverage
        };
        let hard = run(0.0);
        assert_eq!((hard.get(19, 30), hard.get(20, 30)), (0, FULL));
        // 1 mm is 3.9 px at 100 ppi.
        let soft = run(1.0);
        assert_eq!(soft.get(19, 30), 0, "nothing prints in the background");
        assert!(soft.get(20, 30) < 20_000 && soft.get(25, 30) > 58_000, "{:?}", &soft.row(30)[18..28]);
        assert!(soft.row(30)[20..30].windows(2).all(|p| p[0] <= p[1]));
    }

    #[test]
    fn a_screen_is_added_with_the_rest_solved_again_or_left() {
        let add =
            |resolve| Edit::Add { name: "Key".into(), ink: ink("Key"), place: super::super::Place::Last, resolve };
        let plan = SeparationSettings::for_inks([ink("Teal")]);
        let again = planned(&plan, &[EditEntry::on(add(true))]).unwrap();
        assert_eq!(again.screens.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(), ["Teal", "Key"]);
        assert_eq!(planned(&plan, &[EditEntry::on(add(false))]).unwrap(), plan);
        let screens = run(&[add(false)]).unwrap();
        assert_eq!(names(&screens), ["Teal", "Rose", "White", "Key"]);
        assert!(run(&[add(false), add(false)]).unwrap_err().to_string().contains("\"Key\""));
        let twice = planned(&plan, &[EditEntry::on(add(true)), EditEntry::on(add(true))]).unwrap_err();
        assert!(twice.to_string().contains("another name"), "{twice}");
    }

    #[test]
    fn an_edit_on_a_dropped_screen_is_named() {
        let error = run(&[
            Edit::Drop { screen: "Rose".into(), resolve: false },
            Edit::ReInk { screen: "Rose".into(), ink: ink("Plum"), resolve: false },
        ])
        .unwrap_err()
        .to_string();
        assert!(error.contains("edit 2") && error.contains("\"Rose\""), "{error}");
        let error =
            run(&[Edit::Merge { from: "Rose".into(), into: "rose".into(), balance: half() }]).unwrap_err().to_string();
        assert!(error.contains("into itself"), "{error}");
    }
}
