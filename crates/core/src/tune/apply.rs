//! Applies the edits of a job to its screens.

use std::ops::Range;

use super::EditEntry;
use super::edits::{Again, On};
use crate::ink::Ink;
use crate::prep::Prepared;
use crate::press::Ground;
use crate::screens::ScreenName;
use crate::screens::{MAX_JOB_SCREENS, Screens};
use crate::separate::{PlannedScreen, SeparationSettings};
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
        screen: ScreenName,
    },
    /// An edit adds a screen of a name that is taken.
    #[error("edit {number} adds a screen \"{screen}\", but the job has one of that name; choose another name")]
    NameTaken {
        /// Which edit.
        number: usize,
        /// The name.
        screen: ScreenName,
    },
    /// A number of an edit is out of its range.
    #[error("edit {number}: {what}")]
    Value {
        /// Which edit.
        number: usize,
        /// Which number, and its range.
        what: String,
    },
    /// A new separation is requested for a screen that does not come from one.
    #[error(
        "edit {number} wants the screens separated again for \"{screen}\", which does not come from the separation; \
         do it without separating again"
    )]
    NotPlanned {
        /// Which edit.
        number: usize,
        /// The screen.
        screen: ScreenName,
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
        screen: ScreenName,
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
        screen: ScreenName,
        /// The picture's file name.
        file: String,
    },
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// The separation with inks changed, screens dropped and screens added by edits that have the screens
/// separated again.
pub fn planned(separation: &SeparationSettings, edits: &[EditEntry]) -> Result<SeparationSettings, TuneError> {
    let mut plan = separation.clone();
    for (at, entry) in edits.iter().enumerate().filter(|(_, e)| e.on) {
        let Some(again) = entry.edit.again() else { continue };
        let find = |plan: &SeparationSettings, screen: &ScreenName| {
            let found = plan.screens.iter().position(|s| s.name == *screen);
            found.ok_or_else(|| TuneError::NotPlanned { number: at + 1, screen: screen.clone() })
        };
        match again {
            Again::With(screen, ink) => {
                let found = find(&plan, screen)?;
                plan.screens[found].ink = ink.clone();
            }
            Again::Without(screen) => {
                let found = find(&plan, screen)?;
                plan.screens.remove(found);
            }
            Again::Added(name, ink, place) => {
                let name = name.screen().clone();
                if plan.screens.iter().any(|s| s.name == name) {
                    return Err(TuneError::NameTaken { number: at + 1, screen: name });
                }
                let inks: Vec<&Ink> = plan.screens.iter().map(|s| &s.ink).collect();
                let to = place.among(&inks, ink);
                plan.screens.insert(to, PlannedScreen { name, ..PlannedScreen::of_ink(ink.clone()) });
            }
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
        let number = at + 1;
        entry.edit.check().map_err(|what| TuneError::Value { number, what })?;
        entry.edit.apply(&mut On { screens: &mut *screens, prepared, ground, number, progress })?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::edit::half;
    use super::super::{Edit, edits};
    use super::*;
    use crate::color::Rgb8;
    use crate::ink::{Garment, InkRole};
    use crate::press::PrintModel;
    use crate::raster::{FULL, Picture, Plane};
    use crate::screens::Screen;
    use crate::units::{Coverage, Mm, Opacity, Ppi};

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
        let ground = Ground::by_chance(&garment, &press, crate::units::Lpi::new(45.0).unwrap());
        apply_edits(&mut screens, &prepared, &entries, &ground, &Progress::none()).map(|()| screens)
    }

    fn names(screens: &Screens) -> Vec<&str> {
        screens.list.iter().map(|s| s.name.as_str()).collect()
    }

    #[test]
    fn merge_multiplies_and_drops_the_source() {
        let screens =
            run(&[Edit::Merge(edits::Merge { from: "white".into(), into: "Teal".into(), balance: half() })]).unwrap();
        assert_eq!(names(&screens), ["Teal", "Rose"]);
        let row = screens.list[0].coverage.row(0).to_vec();
        let film = |v: u32| f64::from(65_535 - v);
        let expected = [(0, 65_535), (6553, 20_000), (30_000, 6554), (65_535, 3)]
            .map(|(a, b)| (65_535.0 - film(a) * film(b) / 65_535.0).round() as u16);
        assert_eq!(row, expected);
    }

    #[test]
    fn order_puts_the_named_first_and_keeps_the_rest() {
        let screens = run(&[Edit::Order(edits::Order { screens: vec!["White".into(), "teal".into()] })]).unwrap();
        assert_eq!(names(&screens), ["White", "Teal", "Rose"]);
    }

    #[test]
    fn re_ink_keeps_name_and_coverage() {
        let screens =
            run(&[Edit::ReInk(edits::ReInk { screen: "rose".into(), ink: ink("Plum"), separate_again: false })])
                .unwrap();
        assert_eq!((screens.list[1].name.as_str(), screens.list[1].ink.name.as_str()), ("Rose", "Plum"));
        assert_eq!(screens.list[1].coverage, three().0.list[1].coverage);
    }

    #[test]
    fn trim_clears_light_tones_and_the_background() {
        let trim = |background| {
            Edit::Trim(edits::Trim {
                screen: "White".into(),
                below: Coverage::new(0.1).unwrap(),
                solid_from: Coverage::new(1.0).unwrap(),
                soft_over: Coverage::new(0.0).unwrap(),
                background,
            })
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
            let edit = Edit::ClearBackground(edits::ClearBackground {
                screen: "white".into(),
                tolerance: 0.05,
                soft_edge_mm: Mm::new(feather).unwrap(),
            });
            let (garment, press) = (Garment::of_color(Rgb8([255; 3])), PrintModel::default());
            let ground = Ground::by_chance(&garment, &press, crate::units::Lpi::new(45.0).unwrap());
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
        let add = |resolve: bool| {
            Edit::Add(edits::Add {
                name: "Key".into(),
                ink: ink("Key"),
                place: super::super::Place::Last,
                keep_others: !resolve,
            })
        };
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
            Edit::Drop(edits::Drop { screen: "Rose".into(), separate_again: false }),
            Edit::ReInk(edits::ReInk { screen: "Rose".into(), ink: ink("Plum"), separate_again: false }),
        ])
        .unwrap_err()
        .to_string();
        assert!(error.contains("edit 2") && error.contains("\"Rose\""), "{error}");
        let error = run(&[Edit::Merge(edits::Merge { from: "Rose".into(), into: "rose".into(), balance: half() })])
            .unwrap_err()
            .to_string();
        assert!(error.contains("into itself"), "{error}");
    }
}
