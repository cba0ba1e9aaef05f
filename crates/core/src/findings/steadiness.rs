//! Colour that moves from set-up to set-up: screens of one ruling and angle are dots on one lattice, and how
//! much of them lies on each other is decided by a tenth of a millimetre.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix};
use super::words::list_of;
use crate::color::{ciede2000, lab_from_linear};
use crate::facts::Survey;
use crate::halftone::AngleRule;
use crate::job::Job;
use crate::moire::film_set_now;
use crate::press::{Ground, Meetings, Optics, pairs_on_a_lattice};
use crate::screens::ScreenName;
use crate::{Cancelled, Progress};

/// Mean difference of a set-up from the mean of set-ups that makes a caution and a fault (assumed). Screens
/// that meet by chance move by 0.1 to 0.3.
const CAUTION: f64 = 0.6;
const FAULT: f64 = 2.0;
/// Difference between dots in register and dots by chance at which the map is full.
const MAP_FULL: f64 = 10.0;

pub(super) fn steadiness(s: &Survey<'_>, progress: &Progress) -> Result<Option<Finding>, Cancelled> {
    let (job, ground) = (s.job, s.job.ground());
    let names: Vec<&str> = (0..s.len()).map(|at| s.name(at).as_str()).collect();
    let pairs = pairs_on_a_lattice(ground.meetings, names.iter().copied());
    if pairs.is_empty() {
        return Ok(None);
    }
    let now = film_set_now(job, s.screens, progress)?.trial;
    if now.moves < CAUTION {
        return Ok(None);
    }
    let mut screens: Vec<usize> = pairs.iter().flat_map(|pair| pair.screens).collect();
    screens.sort_unstable();
    screens.dedup();
    let screens: Vec<ScreenName> = screens.into_iter().map(|at| s.name(at).to_owned()).collect();
    let all = screens.len() == s.len();
    let which = if all { "All screens stand".to_owned() } else { format!("{} stand", list_of(&screens, "and")) };
    Ok(Some(Finding {
        kind: Kind::Steadiness,
        severity: if now.moves >= FAULT { Severity::Fault } else { Severity::Caution },
        what: format!(
            "{which} at one angle: with screens usually within {:.2} mm of register, colour moves from set-up to set-up by dE {:.1} on average and by {:.0} at worst.",
            job.run.register_mm.get(),
            now.moves,
            now.moves_p95.max(now.moves.ceil())
        ),
        number: Number { label: "mean dE 2000 between set-ups".into(), value: now.moves, unit: "", limit: CAUTION },
        screens,
        place: RiskArea::of_map(map(s, &ground), s.mm_per_px),
        inputs: vec![
            Input::new(
                "register",
                format!("within {:.2} mm, nineteen times of twenty", job.run.register_mm.get()),
                Basis::Assumed,
            ),
            Input::new("dots", "64 spots of the print, laid as film dots in nine set-ups", Basis::Screens),
        ],
        fixes: fix(s, now.moves, progress)?.into_iter().collect(),
    }))
}

/// Where it moves: dots in register against dots by chance.
fn map(s: &Survey<'_>, ground: &Ground<'_>) -> crate::raster::Plane<u8> {
    let still = ground.meetings.map(|meetings| Meetings { register_mm: 0.0, ..meetings });
    let optics = |meetings| Optics::of_screens(&Ground { meetings, ..*ground }, &s.screens.list);
    let (still, chance) = (optics(still), optics(None));
    s.map(|block| {
        let mut a = vec![0.0f32; s.len()];
        s.coverages(block, &mut a);
        f64::from(ciede2000(lab_from_linear(still.reflectance(&a)), lab_from_linear(chance.reflectance(&a)))) / MAP_FULL
    })
}

/// Angles of their own for all screens, tried with the same dots in the same set-ups.
fn fix(s: &Survey<'_>, now: f64, progress: &Progress) -> Result<Option<Fix>, Cancelled> {
    let mut apart: Job = s.job.clone();
    let inks: Vec<_> = s.screens.list.iter().map(|screen| (screen.name.clone(), Some(&screen.ink))).collect();
    apart.film.set_apart(&inks);
    if apart.film.angles == AngleRule::One {
        return Ok(None);
    }
    let moves = film_set_now(&apart, s.screens, progress)?.trial.moves;
    if moves > 0.7 * now {
        return Ok(None);
    }
    let angles = s.screens.list.iter().map(|screen| (screen.name.clone(), apart.film.of_screen(&screen.name).1));
    Ok(Some(Fix::one(
        format!("Give each screen an angle of its own: colour moves by dE {moves:.1}"),
        Change::Angles { angles: angles.collect() },
    )))
}
