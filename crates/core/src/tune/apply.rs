//! Applies the edits of a job to its screens.

use super::background::background;
use super::multiply::merge;
use super::{Edit, EditEntry};
use crate::job::Screens;
use crate::prep::Prepared;
use crate::raster::FULL;
use crate::{Cancelled, Progress};

/// Why an edit cannot be applied.
#[derive(Debug, thiserror::Error)]
pub enum TuneError {
    /// An edit names a screen that is not there.
    #[error("edit {number} names the screen \"{screen}\", which the job does not have at that point")]
    NoScreen {
        /// Place of the edit in the list, from 1.
        number: usize,
        /// The missing screen.
        screen: String,
    },
    /// A trim of the background where the art has none.
    #[error(
        "edit {number} trims \"{screen}\" in the background, but the artwork has none: nothing in it is clear and its \
         edge has no even colour; trim without the background"
    )]
    NoBackground {
        /// Place of the edit in the list, from 1.
        number: usize,
        /// The screen to trim.
        screen: String,
    },
    /// A screen merged into itself.
    #[error("edit {number} merges \"{screen}\" into itself; name two screens")]
    IntoItself {
        /// Place of the edit in the list, from 1.
        number: usize,
        /// The screen.
        screen: String,
    },
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Applies the edits that are switched on, in order.
pub fn apply_edits(
    screens: &mut Screens,
    prepared: &Prepared,
    edits: &[EditEntry],
    progress: &Progress,
) -> Result<(), TuneError> {
    for (at, entry) in edits.iter().enumerate().filter(|(_, e)| e.on) {
        progress.step("edit", at as f32 / edits.len() as f32)?;
        apply_one(screens, prepared, at + 1, &entry.edit)?;
    }
    Ok(())
}

fn apply_one(screens: &mut Screens, prepared: &Prepared, number: usize, edit: &Edit) -> Result<(), TuneError> {
    let find = |screens: &Screens, name: &str| {
        screens.position(name).ok_or_else(|| TuneError::NoScreen { number, screen: name.to_owned() })
    };
    match edit {
        Edit::Merge { from, into } => {
            let (from_at, into_at) = (find(screens, from)?, find(screens, into)?);
            if from_at == into_at {
                return Err(TuneError::IntoItself { number, screen: from.clone() });
            }
            let gone = screens.list[from_at].coverage.clone();
            merge(&mut screens.list[into_at].coverage, &gone);
            screens.list.remove(from_at);
        }
        Edit::Drop { screen } => {
            let at = find(screens, screen)?;
            screens.list.remove(at);
        }
        Edit::ReInk { screen, ink } => {
            let at = find(screens, screen)?;
            screens.list[at].ink = ink.clone();
        }
        Edit::Order { screens: names } => {
            for (to, name) in names.iter().enumerate() {
                let from = find(screens, name)?;
                let screen = screens.list.remove(from);
                screens.list.insert(to.min(screens.list.len()), screen);
            }
        }
        Edit::Trim { screen, below, background: in_background } => {
            let at = find(screens, screen)?;
            let below = (below.get() * f64::from(FULL)).round() as u16;
            let plane = &mut screens.list[at].coverage;
            plane.apply(|v| if v < below { 0 } else { v });
            if *in_background {
                let mask = background(&prepared.picture)
                    .ok_or_else(|| TuneError::NoBackground { number, screen: screen.clone() })?;
                for (v, &out) in plane.data_mut().iter_mut().zip(mask.data()) {
                    if out {
                        *v = 0;
                    }
                }
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::Rgb8;
    use crate::ink::{Ink, InkRole};
    use crate::job::Screen;
    use crate::raster::{Picture, Plane};
    use crate::units::{Coverage, Opacity, Ppi};

    fn ink(name: &str) -> Ink {
        Ink {
            name: name.into(),
            over_white: "#406080".parse::<Rgb8>().unwrap(),
            opacity: Opacity::new(0.5).unwrap(),
            role: InkRole::Color,
            measured: false,
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
        apply_edits(&mut screens, &prepared, &entries, &Progress::none()).map(|()| screens)
    }

    fn names(screens: &Screens) -> Vec<&str> {
        screens.list.iter().map(|s| s.name.as_str()).collect()
    }

    #[test]
    fn merge_multiplies_and_drops_the_source() {
        let screens = run(&[Edit::Merge { from: "white".into(), into: "Teal".into() }]).unwrap();
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
        let screens = run(&[Edit::ReInk { screen: "rose".into(), ink: ink("Plum") }]).unwrap();
        assert_eq!((screens.list[1].name.as_str(), screens.list[1].ink.name.as_str()), ("Rose", "Plum"));
        assert_eq!(screens.list[1].coverage, three().0.list[1].coverage);
    }

    #[test]
    fn trim_clears_light_tones_and_the_background() {
        let trim = |background| Edit::Trim { screen: "White".into(), below: Coverage::new(0.1).unwrap(), background };
        let plain = run(&[trim(false)]).unwrap();
        assert_eq!(plain.list[2].coverage.row(1), [65_535, 20_000, 6554, 0]);
        let cleared = run(&[trim(true)]).unwrap();
        assert_eq!(cleared.list[2].coverage.row(1), [0, 0, 6554, 0]);
        assert_eq!(cleared.list[2].coverage.row(0), [0; 4]);
    }

    #[test]
    fn an_edit_on_a_dropped_screen_is_named() {
        let error =
            run(&[Edit::Drop { screen: "Rose".into() }, Edit::ReInk { screen: "Rose".into(), ink: ink("Plum") }])
                .unwrap_err()
                .to_string();
        assert!(error.contains("edit 2") && error.contains("\"Rose\""), "{error}");
        let error = run(&[Edit::Merge { from: "Rose".into(), into: "rose".into() }]).unwrap_err().to_string();
        assert!(error.contains("into itself"), "{error}");
    }
}
