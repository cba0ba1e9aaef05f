//! Sets of films for a job, each tried with its real dots: how true its print is to the model, how steady when
//! register wanders, how much texture it shows, and how it beats with the meshes.

use std::collections::BTreeMap;

use serde::Serialize;

use super::angle_sets::{dots, spread_at_hand};
use super::mesh::mesh_beats;
use super::trial::{DotTrial, close_up, spots, try_dots};
use super::{Search, screen_beats, worst_beat};
use crate::halftone::{AngleRule, DotShape, FilmSettings, turn_between};
use crate::job::Job;
use crate::press::Stack;
use crate::raster::Picture;
use crate::screens::{ScreenName, Screens};
use crate::units::{Degrees, Mm};
use crate::{Cancelled, Progress};

/// A set of films and what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmSet {
    /// What it is, in a few words.
    pub name: &'static str,
    /// The film settings.
    pub film: FilmSettings,
    /// What its real dots make.
    pub trial: DotTrial,
    /// Largest risk of a visible beat between a screen and its mesh or two screens, 0 none to 1.
    pub beats: f64,
    /// Its dots where most of them meet, 4.5 mm of the print at 720 dpi.
    pub close_up: Picture,
}

/// Its figures for a report.
#[derive(Debug, Clone, Serialize)]
pub struct FilmSetFigures {
    /// What it is.
    pub name: &'static str,
    /// Angle by screen.
    pub angles: BTreeMap<ScreenName, f64>,
    /// The figures of its dots.
    #[serde(flatten)]
    pub trial: DotTrial,
    /// Risk of a visible beat, 0..=1.
    pub beats: f64,
}

/// What a visible beat counts beside a difference of colour (our judgement).
const BEAT_COUNTS: f64 = 4.0;
/// What texture counts (our judgement): lightness through a blur, beside a difference of the whole colour.
const TEXTURE_COUNTS: f64 = 0.5;
/// Angles fifteen degrees apart in a right angle.
const SLOTS: usize = 6;

impl FilmSet {
    /// What is wrong with it in one figure: the less the better.
    pub fn badness(&self) -> f64 {
        self.trial.miss + self.trial.moves + TEXTURE_COUNTS * self.trial.texture + BEAT_COUNTS * self.beats
    }

    /// Its figures.
    pub fn figures(&self, screens: &Screens) -> FilmSetFigures {
        let angle = |name: &ScreenName| self.film.of_screen(name).1.get();
        FilmSetFigures {
            name: self.name,
            angles: screens.list.iter().map(|s| (s.name.clone(), angle(&s.name))).collect(),
            trial: self.trial,
            beats: self.beats,
        }
    }
}

/// The film set that the job has, tried.
pub fn film_set_now(job: &Job, screens: &Screens, progress: &Progress) -> Result<FilmSet, Cancelled> {
    tried("as it is", job.film.clone(), job, screens, &spots(screens), progress)
}

/// Film sets for a job, best first, the one that it has among them.
pub fn film_sets(job: &Job, screens: &Screens, progress: &Progress) -> Result<Vec<FilmSet>, Cancelled> {
    let mut list = vec![("as it is", job.film.clone())];
    for film in best_apart(job, screens) {
        list.push(("angles of their own", film));
    }
    list.push(("classic spread", with_angles(job, screens, &spread_at_hand(job, screens))));
    let search = Search::new(dots(job, screens), &job.film.angles_at_hand);
    let mut one = job.film.clone();
    one.share_one_angle();
    one.angle = Degrees::new(search.together(job.film.angle.get())).unwrap_or(one.angle);
    list.push(("one angle", one));
    if let Some(film) = scattered(job, screens) {
        list.push(("stochastic", film));
    }
    let spots = spots(screens);
    let mut out: Vec<FilmSet> = Vec::new();
    for (at, (name, film)) in list.iter().enumerate() {
        let known = out.iter().any(|set| same_dots(&set.film, film, screens));
        if !known {
            let part = progress.part(at as f32 / list.len() as f32, (at + 1) as f32 / list.len() as f32);
            out.push(tried(name, film.clone(), job, screens, &spots, &part)?);
        }
    }
    out.sort_by(|a, b| a.badness().total_cmp(&b.badness()));
    // Of the sets of the same kind the best is enough.
    let mut seen: Vec<&str> = Vec::new();
    out.retain(|set| {
        let new = !seen.contains(&set.name);
        seen.push(set.name);
        new
    });
    Ok(out)
}

fn same_dots(a: &FilmSettings, b: &FilmSettings, screens: &Screens) -> bool {
    screens.list.iter().all(|s| a.of_screen(&s.name) == b.of_screen(&s.name))
}

fn tried(
    name: &'static str,
    film: FilmSettings,
    job: &Job,
    screens: &Screens,
    spots: &[Vec<f32>],
    progress: &Progress,
) -> Result<FilmSet, Cancelled> {
    let job = Job { film, ..job.clone() };
    let trial = try_dots(&job, screens, spots, progress)?;
    let (beats, close_up) = (beats(&job, screens), close_up(&job, screens, spots));
    Ok(FilmSet { name, film: job.film, trial, beats, close_up })
}

/// The largest risk of a beat that is seen: of a screen with its mesh, and of two screens by how much of the
/// print has dots of both.
fn beats(job: &Job, screens: &Screens) -> f64 {
    let list = dots(job, screens);
    let at = |i: usize| {
        let (ruling, angle, _) = job.film.of_screen(&screens.list[i].name);
        (ruling, angle.get())
    };
    let mut risk = 0.0f64;
    for (i, one) in list.iter().enumerate() {
        let (Some(tones), (ruling, angle)) = (&one.tones, at(i)) else { continue };
        risk =
            risk.max(worst_beat(&mesh_beats(one.mesh, ruling, angle, tones), ruling).map_or(0.0, |b| b.risk(ruling)));
        for (j, other) in list[..i].iter().enumerate() {
            let (Some(others), (r, a)) = (&other.tones, at(j)) else { continue };
            if (r, a) == (ruling, angle) || shared(screens, i, j) < 0.02 {
                continue;
            }
            risk = risk
                .max(worst_beat(&screen_beats((r, a, others), (ruling, angle, tones)), r).map_or(0.0, |b| b.risk(r)));
        }
    }
    risk
}

/// Share of the print on which two screens both have dots.
fn shared(screens: &Screens, i: usize, j: usize) -> f64 {
    let (a, b) = (screens.list[i].coverage.data(), screens.list[j].coverage.data());
    let step = (a.len() / 20_000).max(1);
    let dotted = |v: u16| (3_277..62_258).contains(&v);
    let both = a.iter().zip(b).step_by(step).filter(|(a, b)| dotted(**a) && dotted(**b)).count();
    both as f64 / a.len().div_ceil(step).max(1) as f64
}

fn with_angles(job: &Job, screens: &Screens, angles: &[f64]) -> FilmSettings {
    let mut film = job.film.clone();
    film.angles = AngleRule::Apart;
    for (screen, &angle) in screens.list.iter().zip(angles) {
        film.change_own(&screen.name, |own| own.angle = Degrees::new(angle).ok());
    }
    film
}

/// Dots of one size for all screens, as small as every mesh holds, where that is small enough not to look like
/// grain.
fn scattered(job: &Job, screens: &Screens) -> Option<FilmSettings> {
    let coarsest = screens.list.iter().map(|s| job.run.mesh_of(&s.name).marginal_dot_um()).fold(0.0, f64::max);
    let size_mm = Mm::new((coarsest / 10.0).ceil() / 100.0).ok()?;
    if !(0.05..=0.25).contains(&size_mm.get()) {
        return None;
    }
    let mut film = job.film.clone();
    film.dot = DotShape::BlueNoise { size_mm };
    for screen in &screens.list {
        film.change_own(&screen.name, |own| own.dot = None);
    }
    Some(film)
}

/// Angles to choose from: fifteen degrees apart from three starts, or those at hand.
fn slot_sets(film: &FilmSettings) -> Vec<Vec<f64>> {
    if !film.angles_at_hand.is_empty() {
        return vec![film.angles_at_hand.iter().map(|angle| angle.get()).collect()];
    }
    let step = 90.0 / SLOTS as f64;
    let from = |offset: f64| move |slot| (film.angle.get() + offset + slot as f64 * step).rem_euclid(90.0);
    [0.0, 5.0, 10.0].iter().map(|&offset| (0..SLOTS).map(from(offset)).collect()).collect()
}

/// Screens fifteen degrees apart, or at the angles at hand, by how much of the print they share and how much the
/// eye sees of it: the best assignments, by moves and exchanges from a few starts.
fn best_apart(job: &Job, screens: &Screens) -> Vec<FilmSettings> {
    let count = screens.list.len();
    let weights = pair_weights(job, screens);
    let list = dots(job, screens);
    let mut found: Vec<(f64, Vec<f64>)> = Vec::new();
    for angles in slot_sets(&job.film) {
        let on_mesh: Vec<Vec<f64>> = list
            .iter()
            .map(|one| {
                let risk = |slot: usize| {
                    let tones = one.tones.as_ref()?;
                    let beats = mesh_beats(one.mesh, one.ruling, angles[slot], tones);
                    worst_beat(&beats, one.ruling).map(|beat| beat.risk(one.ruling))
                };
                (0..angles.len()).map(|slot| risk(slot).unwrap_or(0.0)).collect()
            })
            .collect();
        let cost = |slots: &[usize]| -> f64 {
            let meshes: f64 = slots.iter().zip(&on_mesh).map(|(&slot, risks)| risks[slot]).sum();
            let pairs = (0..count).flat_map(|j| (0..j).map(move |i| (i, j)));
            let of_pair =
                |(i, j): (usize, usize)| weights[j][i] * together(turn_between(angles[slots[i]], angles[slots[j]]));
            BEAT_COUNTS * meshes + pairs.map(of_pair).sum::<f64>()
        };
        for start in 0..angles.len() {
            let mut slots: Vec<usize> = (0..count).map(|i| (start + i * (1 + start % 5)) % angles.len()).collect();
            settle(&mut slots, angles.len(), &cost);
            found.push((cost(&slots), slots.iter().map(|&slot| angles[slot]).collect()));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.dedup_by(|a, b| a.1 == b.1);
    found.iter().take(3).map(|(_, angles)| with_angles(job, screens, angles)).collect()
}

/// What two screens that share spots cost by how many degrees they stand apart (our judgement from dots laid over
/// each other): on one lattice they swing, 15 degrees apart a dark ink and a base make a pattern of 2 mm, further
/// apart a finer one.
fn together(apart_deg: f64) -> f64 {
    const COSTS: [f64; 4] = [4.0, 0.8, 0.25, 0.2];
    let at = (apart_deg / 15.0).clamp(0.0, 3.0);
    let (below, above) = (COSTS[at as usize], COSTS[(at as usize + 1).min(3)]);
    below + (above - below) * at.fract()
}

/// Moves one screen or exchanges two until nothing helps.
fn settle(slots: &mut [usize], choices: usize, cost: &impl Fn(&[usize]) -> f64) {
    let mut best = cost(slots);
    loop {
        let before = best;
        for i in 0..slots.len() {
            for slot in 0..choices {
                let old = std::mem::replace(&mut slots[i], slot);
                let now = cost(slots);
                if now + 1e-12 < best { best = now } else { slots[i] = old }
            }
            for j in 0..i {
                slots.swap(i, j);
                let now = cost(slots);
                if now + 1e-12 < best { best = now } else { slots.swap(i, j) }
            }
        }
        if best + 1e-12 >= before {
            return;
        }
    }
}

/// How much two screens share, weighed by what it does to lightness: the mean over the print of
/// `sqrt(a (1 - a) b (1 - b))` times the change that the upper one makes where the lower one prints, less where it
/// does not.
fn pair_weights(job: &Job, screens: &Screens) -> Vec<Vec<f64>> {
    let stack = Stack { meetings: Vec::new(), gain: Vec::new(), ..Stack::of_screens(&job.ground(), &screens.list) };
    let spots = spots(screens);
    let count = screens.list.len();
    let light = |a: &[f32]| {
        let [r, g, b] = stack.reflectance(a);
        f64::from(crate::color::lab_from_linear([0.2126 * r + 0.7152 * g + 0.0722 * b; 3]).l)
    };
    let mut weights = vec![vec![0.0; count]; count];
    for spot in &spots {
        for j in 0..count {
            for i in 0..j {
                let swing = f64::from(spot[i] * (1.0 - spot[i]) * spot[j] * (1.0 - spot[j])).sqrt();
                if swing < 0.01 {
                    continue;
                }
                let with = |lower: f32, upper: f32| {
                    let mut a = spot.clone();
                    (a[i], a[j]) = (lower, upper);
                    light(&a)
                };
                let mixed = with(1.0, 1.0) - with(1.0, 0.0) - with(0.0, 1.0) + with(0.0, 0.0);
                weights[j][i] += swing * mixed.abs() / spots.len() as f64;
            }
        }
    }
    weights
}
