//! What a job takes before any of it is made: pixels of its print, screens, and memory, from the size of
//! its art and its settings alone. What a program holds against the memory that it may use.

use super::{Job, JobError};
use crate::prep::{Enlarging, PrepError, PrepSettings, print_px};
use crate::raster::{Art, Detail};
use crate::screens::MAX_JOB_SCREENS;
use crate::tune::{EditEntry, TuneError, planned};

/// Bytes of a pixel of art and print, and of a screen.
const PICTURE_BYTES: u64 = 8;
const SCREEN_BYTES: u64 = 2;
/// Bytes of work beside each pixel of the print while it is prepared or separated: floats of what is
/// enlarged, a second copy, masks.
const WORK_BYTES: u64 = 24;
/// Bytes of the net's feature maps, whatever the print, where art is repaired.
const REPAIR_BYTES: u64 = 90_000_000;
/// Bytes of work beside each pixel of art that is redrawn: samples, shares, boundaries.
const REDRAW_BYTES: u64 = 160;

/// What evaluating a job takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Needs {
    /// Pixels of the art.
    pub art_px: u64,
    /// Pixels of the print across and down.
    pub print_px: [usize; 2],
    /// Most screens at any step of separation and edits.
    pub screens: usize,
    /// Bytes of work that go with the way of enlarging.
    pub aside: u64,
}

impl Needs {
    /// Of `job` on `art`, whose pixels are looked at only where the print is cropped to its content.
    /// Errors are those of the evaluation.
    pub fn of(job: &Job, art: &Art, detail: Detail) -> Result<Self, JobError> {
        let screens = most_screens(job)?;
        Ok(Self { screens, ..Self::of_print(art, &job.working_prep(), detail)? })
    }

    /// Of a preparation alone.
    pub fn of_print(art: &Art, settings: &PrepSettings, detail: Detail) -> Result<Self, PrepError> {
        let art_px = (art.picture.width() * art.picture.height()) as u64;
        let aside = match settings.enlarging {
            Enlarging::Repair => REPAIR_BYTES,
            Enlarging::Redraw => art_px * REDRAW_BYTES,
            Enlarging::Edges | Enlarging::Plain => 0,
        };
        Ok(Self { art_px, print_px: print_px(art, settings, detail)?, screens: 0, aside })
    }

    /// Most memory that the evaluation holds at once, art and outcome included, in bytes: an estimate
    /// from above.
    pub fn bytes(&self) -> u64 {
        let print = self.print_px[0] as u64 * self.print_px[1] as u64;
        // The art once more: turned, or cleaned on its own pixels.
        let art = 2 * self.art_px * PICTURE_BYTES;
        art + self.aside + print * (PICTURE_BYTES + WORK_BYTES + SCREEN_BYTES * self.screens as u64)
    }
}

/// Most screens at any step; refuses more than [`MAX_JOB_SCREENS`].
fn most_screens(job: &Job) -> Result<usize, TuneError> {
    let mut now = planned(&job.separation, &job.edits)?.screens.len();
    let mut most = now;
    for (at, EditEntry { edit, .. }) in job.edits.iter().enumerate().filter(|(_, entry)| entry.on) {
        // What the separation makes or leaves out is in the plan.
        if edit.again().is_none() {
            now = now.saturating_sub(usize::from(edit.removes().is_some())) + usize::from(edit.adds().is_some());
        }
        if now > MAX_JOB_SCREENS {
            return Err(TuneError::TooManyScreens { number: at + 1 });
        }
        most = most.max(now);
    }
    Ok(most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Progress;
    use crate::color::Rgb8;
    use crate::ink::{Garment, Ink, InkRole};
    use crate::job::evaluate;
    use crate::prep::{CropBox, Turn};
    use crate::raster::{Picture, Plane};
    use crate::tune::{Edit, edits};
    use crate::units::{Degrees, Mm, Opacity, Ppi};

    fn art(width: usize, height: usize) -> Art {
        let picture = Picture::new(Plane::from_fn(width, height, |x, y| {
            if x > width / 4 && y > height / 4 && x < width / 2 { [60_000, 9_000, 3_000, 65_535] } else { [65_535; 4] }
        }));
        Art { picture, ppi: Ppi::new(150.0).unwrap() }
    }

    fn job() -> Job {
        Job::new(Garment::of_color(Rgb8::from_linear([1.0; 3])))
    }

    #[test]
    fn the_size_before_is_the_size_after() {
        let mut jobs = vec![job(); 6];
        jobs[1].prep.turn = Turn { mirrored: false, quarters: 1 };
        jobs[2].prep.straighten = Degrees::new(7.0).unwrap();
        jobs[3].prep.crop = Some(CropBox { left: 0.25, top: 0.0, width: 0.5, height: 0.75 });
        jobs[4].prep.content_margin_mm = Some(Mm::new(2.0).unwrap());
        jobs[4].prep.max_height_mm = Some(Mm::new(30.0).unwrap());
        jobs[5].prep.content_margin_mm = Some(Mm::new(1.0).unwrap());
        jobs[5].prep.turn = Turn { mirrored: true, quarters: 3 };
        for (at, job) in jobs.iter().enumerate() {
            for detail in [Detail::Full, Detail::Proxy { longest_px: 40 }] {
                let before = Needs::of(job, &art(90, 61), detail).unwrap();
                let after = crate::prep::prepare(&art(90, 61), &job.working_prep(), detail, &Progress::none()).unwrap();
                assert_eq!(before.print_px, [after.picture.width(), after.picture.height()], "job {at} {detail:?}");
            }
        }
    }

    #[test]
    fn the_same_screens_are_refused_before_and_on_the_way() {
        let mut job = job();
        let ink = Ink {
            name: "Marsh green".into(),
            over_white: "#3E6B4F".parse().unwrap(),
            opacity: Opacity::new(0.7).unwrap(),
            role: InkRole::Color,
            measured: false,
            spectra: None,
        };
        job.separation.screens = vec![crate::separate::PlannedScreen::of_ink(ink)];
        let first = job.separation.screens[0].name.clone();
        let copy =
            |at: usize| Edit::Copy(edits::Copy { screen: first.clone(), name: format!("copy {at}").into(), ink: None });
        job.edits = (1..MAX_JOB_SCREENS).map(|at| EditEntry::on(copy(at))).collect();
        let needs = Needs::of(&job, &art(20, 20), Detail::Full).unwrap();
        let made = evaluate(&job, &art(20, 20), Detail::Full, &Progress::none()).unwrap();
        assert_eq!((needs.screens, made.screens.list.len()), (MAX_JOB_SCREENS, MAX_JOB_SCREENS));
        job.edits.push(EditEntry::on(copy(MAX_JOB_SCREENS)));
        let before = Needs::of(&job, &art(20, 20), Detail::Full).unwrap_err().to_string();
        let on_the_way = evaluate(&job, &art(20, 20), Detail::Full, &Progress::none()).unwrap_err().to_string();
        assert!(before == on_the_way && before.contains("32"), "{before} / {on_the_way}");
    }
}
