//! Angles for all screens at once: one angle, the classic spread, or the set in which the moire
//! finder sees least.

use super::angle_search::{Dots, Search};
use super::film_sets::film_sets;
use super::lattice::{Tones, worst_beat};
use super::mesh::mesh_beats;
use crate::Progress;
use crate::color::lab_from_linear;
use crate::halftone::{AngleRule, FilmSettings};
use crate::ink::InkRole;
use crate::job::Job;
use crate::screens::ScreenName;
use crate::screens::{Screen, Screens};
use crate::units::Degrees;

/// A way to give every screen its angle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AngleSet {
    /// The job's angle for all: no two screens beat, and colour moves with register. The garment trade's
    /// one-angle rule.
    One,
    /// Three deep inks 30 degrees apart (22.5, 52.5, 82.5) and the palest at 7.5; with five inks
    /// and more a pale ink takes the angle of the deep ink whose hue is most unlike its own. A mesh
    /// maker's published set for threads at 0 degrees.
    Spread,
    /// The angles that do best with real dots on this art: true, steady, without pattern, on these meshes. See
    /// [`super::film_sets`].
    Suggested,
}

impl AngleSet {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::One, Self::Spread, Self::Suggested];

    /// As it is typed.
    pub fn name(self) -> &'static str {
        match self {
            Self::One => "one",
            Self::Spread => "spread",
            Self::Suggested => "suggested",
        }
    }
}

/// Angles of a set, and how much moire is left.
#[derive(Debug, Clone, PartialEq)]
pub struct Angles {
    /// Angle of each screen, in print order.
    pub angles: Vec<Degrees>,
    /// Largest risk of a visible beat between a screen and its mesh or two screens, 0 none to 1.
    pub risk: f64,
}

impl Angles {
    /// Puts them into film settings.
    pub fn apply(&self, screens: &Screens, film: &mut FilmSettings) {
        if let Some(&first) = self.angles.first()
            && self.angles.iter().all(|angle| *angle == first)
        {
            film.angle = first;
            return film.share_one_angle();
        }
        film.angles = AngleRule::Apart;
        for (screen, &angle) in screens.list.iter().zip(&self.angles) {
            film.change_own(&screen.name, |own| own.angle = Some(angle));
        }
    }
}

/// Computes a set for these screens.
pub fn angle_set(set: AngleSet, job: &Job, screens: &Screens) -> Angles {
    let search = Search::new(dots(job, screens), &job.film.angles_at_hand);
    let angles = match set {
        AngleSet::One => vec![job.film.angle.get(); screens.list.len()],
        AngleSet::Spread => spread_at_hand(job, screens),
        AngleSet::Suggested => suggested(job, screens),
    };
    let risk = search.risk(&angles);
    let angles = angles.into_iter().map(|a| Degrees::new(a).unwrap_or(job.film.angle)).collect();
    Angles { angles, risk }
}

/// Angles of the spread: deep inks first.
const SPREAD: [f64; 3] = [22.5, 52.5, 82.5];
/// Angle of the palest ink, whose dots are seen least.
const PALE: f64 = 7.5;

/// The spread, or the angles at hand that are nearest to it.
pub(super) fn spread_at_hand(job: &Job, screens: &Screens) -> Vec<f64> {
    let nearest = |angle: f64| Degrees::new(angle).map_or(angle, |angle| job.film.nearest_angle(angle).get());
    spread_angles(screens).into_iter().map(nearest).collect()
}

fn spread_angles(screens: &Screens) -> Vec<f64> {
    let list = &screens.list;
    let lab: Vec<[f32; 3]> =
        list.iter().map(|s| lab_from_linear(s.ink.reflectance_over_white())).map(|lab| [lab.l, lab.a, lab.b]).collect();
    // Whites count as palest whatever the garment.
    let pale = |at: usize| matches!(list[at].ink.role, InkRole::White | InkRole::BaseWhite);
    let mut order: Vec<usize> = (0..list.len()).collect();
    order.sort_by(|&a, &b| pale(a).cmp(&pale(b)).then(lab[a][0].total_cmp(&lab[b][0])));
    let mut angles = vec![PALE; list.len()];
    for (rank, &at) in order.iter().enumerate().take(3) {
        angles[at] = SPREAD[rank];
    }
    for (rank, &at) in order.iter().enumerate().skip(3) {
        if rank + 1 == list.len() {
            break;
        }
        let unlike = |deep: &usize| {
            let (a, b) = (lab[at], lab[*deep]);
            // The cosine of the hue angle between them, least for complements; near greys have none.
            (a[1] * b[1] + a[2] * b[2]) / (a[1].hypot(a[2]).max(1.0) * b[1].hypot(b[2]).max(30.0))
        };
        let deep = order[..3].iter().min_by(|a, b| unlike(a).total_cmp(&unlike(b)));
        angles[at] = deep.map_or(PALE, |&deep| angles[deep]);
    }
    angles
}

/// What the moire finder looks at: film tones, sampled from the planes themselves. Flat art has no
/// dots to beat with, nor have dots of one size, which lie on no grid.
pub(super) fn dots<'a>(job: &'a Job, screens: &Screens) -> Vec<Dots<'a>> {
    let one = |screen: &Screen| {
        let (ruling, _, dot) = job.film.of_screen(&screen.name);
        let mesh = job.run.mesh_of(&screen.name);
        if dot.size_mm().is_some() {
            return Dots { mesh, ruling, tones: None };
        }
        let gain = job.press.gain.curve(job.film.gain_ruling(&screen.name));
        let data = screen.coverage.data();
        let sample = data.iter().step_by((data.len() / 50_000).max(1)).map(|&v| {
            let a = f32::from(v) / 65_535.0;
            f64::from(if job.press.compensate { gain.film(a) } else { a })
        });
        let films: Vec<f64> = sample.collect();
        let tonal = films.iter().filter(|film| (0.02..0.98).contains(*film)).count();
        let tones = (tonal * 50 > films.len()).then(|| Tones::binned(films.iter().map(|&film| (film, 1.0))));
        Dots { mesh, ruling, tones }
    };
    screens.list.iter().map(one).collect()
}

/// The angles of the best film set whose dots grow as the job's do.
fn suggested(job: &Job, screens: &Screens) -> Vec<f64> {
    let sets = film_sets(job, screens, &Progress::none()).unwrap_or_default();
    let same_dots =
        |film: &FilmSettings| screens.list.iter().all(|s| film.of_screen(&s.name).2 == job.film.of_screen(&s.name).2);
    let film = sets.into_iter().find(|set| same_dots(&set.film)).map_or_else(|| job.film.clone(), |set| set.film);
    screens.list.iter().map(|s| film.of_screen(&s.name).1.get()).collect()
}

/// The riskiest beat of one ruling and angle on a mesh for an even wedge: for advice in place.
pub fn mesh_risk(job: &Job, screen: &ScreenName) -> f64 {
    let (ruling, angle, dot) = job.film.of_screen(screen);
    if dot.size_mm().is_some() {
        return 0.0;
    }
    let beats = mesh_beats(job.run.mesh_of(screen), ruling, angle.get(), &Tones::even());
    worst_beat(&beats, ruling).map_or(0.0, |beat| beat.risk(ruling))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::{Garment, Ink};
    use crate::raster::Plane;
    use crate::units::{Lpi, Opacity, Ppi};
    use crate::usage::Mesh;

    fn screens(inks: &[(&str, &str, InkRole)]) -> Screens {
        let list = inks.iter().map(|&(name, color, role)| Screen {
            name: name.into(),
            ink: Ink {
                name: name.into(),
                over_white: color.parse().unwrap(),
                opacity: Opacity::new(0.8).unwrap(),
                role,
                measured: false,
                spectra: None,
            },
            hits: 1,
            coverage: Plane::from_fn(64, 64, |x, _| (x * 1023) as u16),
        });
        Screens { width: 64, height: 64, ppi: Ppi::new(100.0).unwrap(), list: list.collect() }
    }

    /// "Questions about half-tone printing" (a mesh maker's page): 7.5, 22.5, 52.5 and 82.5 degrees
    /// for four colours on a mesh at 0; five and more: a pale colour at its deep complement's angle.
    #[test]
    fn the_spread_is_the_published_one() {
        let four = screens(&[
            ("Yellow", "#F2D13A", InkRole::Color),
            ("Black", "#101014", InkRole::Black),
            ("Red", "#B3202A", InkRole::Color),
            ("Blue", "#1F3F94", InkRole::Color),
        ]);
        let job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        let got: Vec<f64> = angle_set(AngleSet::Spread, &job, &four).angles.iter().map(|a| a.get()).collect();
        assert_eq!(got[0], 7.5, "the palest");
        let mut deep = got[1..].to_vec();
        deep.sort_by(f64::total_cmp);
        assert_eq!(deep, [22.5, 52.5, 82.5]);
        let six = screens(&[
            ("Base", "#FAFAFA", InkRole::BaseWhite),
            ("Gold", "#D9A72E", InkRole::Color),
            ("Blue", "#1F3F94", InkRole::Color),
            ("Red", "#8E1620", InkRole::Color),
            ("Black", "#101014", InkRole::Black),
        ]);
        let got = angle_set(AngleSet::Spread, &job, &six).angles;
        assert_eq!(got[0].get(), 7.5);
        assert_eq!(got[1], got[2], "gold lies on blue's angle");
    }

    /// 55 lpi on 156 mesh beats at 45 degrees (moire_mesh_halftone.csv: 0.44 per inch, 58 mm).
    #[test]
    fn the_suggestion_leaves_no_beat_where_there_was_one() {
        let list = screens(&[("Black", "#101014", InkRole::Black), ("Red", "#B3202A", InkRole::Color)]);
        let mut job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        job.run.mesh = Mesh::named("156/64").unwrap();
        job.film.ruling = Lpi::new(55.0).unwrap();
        job.film.angle = Degrees::new(45.0).unwrap();
        assert!(angle_set(AngleSet::One, &job, &list).risk > 0.4);
        let better = angle_set(AngleSet::Suggested, &job, &list);
        assert!(better.risk < 0.05, "{better:?}");
        assert_ne!(better.angles[0], better.angles[1], "two screens that share spots stand apart");
        better.apply(&list, &mut job.film);
        assert_eq!(job.film.of_screen(&"Red".into()).1, better.angles[1]);
        // Two rulings cannot share an angle without beating, so each takes its own.
        job.film.change_own(&"Red".into(), |own| own.ruling = Some(Lpi::new(50.0).unwrap()));
        let parted = angle_set(AngleSet::Suggested, &job, &list);
        let same = angle_set(AngleSet::One, &job, &list);
        assert!(parted.risk <= same.risk && parted.angles[0] != parted.angles[1], "{parted:?} {same:?}");
    }
}
