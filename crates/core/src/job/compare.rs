//! Two jobs side by side: which settings differ, which screens, by how much, and which films must
//! be made again.

use crate::screens::ScreenName;
use std::collections::BTreeMap;

use rayon::prelude::*;
use serde::Serialize;
use serde_json::Value;

use super::Job;
use crate::raster::Plane;
use crate::screens::{Screen, Screens};

/// Coverage that two films may differ by and still be called the same: half a level of 255.
const SAME: f64 = 0.5 / 255.0;

/// How job B differs from job A.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Settings, by their place in the job's JSON, `prep.ppi` or `edits.2.edit.ink.name`.
    pub settings: Vec<SettingDifference>,
    /// Every screen of either job, in B's print order, then those that only A has.
    pub screens: Vec<ScreenDifference>,
    /// Films of B that cannot be taken from A, in print order.
    pub remake: Vec<Remake>,
    /// Screens of A whose films are not used any more.
    pub unused: Vec<ScreenName>,
}

/// One setting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SettingDifference {
    /// Its place.
    pub setting: String,
    /// In A; null if it has none.
    pub a: Value,
    /// In B; null if it has none.
    pub b: Value,
}

impl SettingDifference {
    /// In a line: "film.ruling: 45 now 55".
    pub fn words(&self) -> String {
        let brief = |value: &Value| {
            let text = if value.is_null() { "nothing".to_owned() } else { value.to_string() };
            if text.chars().count() > 40 { format!("{}...", text.chars().take(37).collect::<String>()) } else { text }
        };
        format!("{}: {} now {}", self.setting, brief(&self.a), brief(&self.b))
    }
}

/// One screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScreenDifference {
    /// Its name.
    pub screen: ScreenName,
    /// Place in the print order, from 1.
    pub place: [Option<usize>; 2],
    /// Ink.
    pub ink: [Option<String>; 2],
    /// Hits.
    pub hits: [Option<u8>; 2],
    /// Mean coverage, 0..=1.
    pub mean_coverage: [Option<f64>; 2],
    /// Mean of the absolute difference of coverage, 0..=1. None if the planes differ in size or
    /// one is missing.
    pub mean_difference: Option<f64>,
    /// Largest difference of coverage.
    pub largest_difference: Option<f64>,
    /// Share of the print where coverage differs by more than half a level of 255.
    pub share_changed: Option<f64>,
}

/// A film to make again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remake {
    /// The screen.
    pub screen: ScreenName,
    /// Why, one phrase each.
    pub why: Vec<String>,
}

impl Comparison {
    /// Whether nothing differs.
    pub fn is_same(&self) -> bool {
        self.settings.is_empty() && self.remake.is_empty() && self.unused.is_empty()
    }
}

/// Compares two jobs and their screens.
pub fn compare(a: (&Job, &Screens), b: (&Job, &Screens)) -> Comparison {
    let settings = setting_differences(a.0, b.0);
    let same_size = (a.1.width, a.1.height) == (b.1.width, b.1.height) && a.1.ppi == b.1.ppi;
    let mut screens = Vec::new();
    let mut remake = Vec::new();
    for (at, screen) in b.1.list.iter().enumerate() {
        let before = a.1.position(&screen.name);
        let mut difference = measure(before.map(|at| &a.1.list[at]), Some(screen), same_size);
        difference.place = [before.map(|at| at + 1), Some(at + 1)];
        let why = reasons(&difference, same_size, &settings);
        if !why.is_empty() {
            remake.push(Remake { screen: screen.name.clone(), why });
        }
        screens.push(difference);
    }
    let mut unused = Vec::new();
    for (at, screen) in a.1.list.iter().enumerate().filter(|(_, s)| b.1.position(&s.name).is_none()) {
        let mut difference = measure(Some(screen), None, same_size);
        difference.place = [Some(at + 1), None];
        screens.push(difference);
        unused.push(screen.name.clone());
    }
    Comparison { settings, screens, remake, unused }
}

fn measure(a: Option<&Screen>, b: Option<&Screen>, same_size: bool) -> ScreenDifference {
    let both = [a, b];
    let difference = match both {
        [Some(a), Some(b)] if same_size => Some(plane_difference(&a.coverage, &b.coverage)),
        _ => None,
    };
    ScreenDifference {
        screen: b.or(a).map(|s| s.name.clone()).unwrap_or_default(),
        place: [None, None],
        ink: both.map(|s| s.map(|s| s.ink.name.clone())),
        hits: both.map(|s| s.map(|s| s.hits)),
        mean_coverage: both.map(|s| s.map(|s| s.coverage.mean_coverage())),
        mean_difference: difference.map(|d| d[0]),
        largest_difference: difference.map(|d| d[1]),
        share_changed: difference.map(|d| d[2]),
    }
}

/// Mean, largest, and share over [`SAME`].
fn plane_difference(a: &Plane<u16>, b: &Plane<u16>) -> [f64; 3] {
    let (sum, largest, over) = (a.data().par_chunks(1 << 16).zip(b.data().par_chunks(1 << 16)))
        .map(|(a, b)| {
            a.iter().zip(b).fold((0u64, 0u16, 0u64), |(sum, largest, over), (&a, &b)| {
                let d = a.abs_diff(b);
                (sum + u64::from(d), largest.max(d), over + u64::from(f64::from(d) / 65_535.0 > SAME))
            })
        })
        .reduce(|| (0, 0, 0), |x, y| (x.0 + y.0, x.1.max(y.1), x.2 + y.2));
    let count = a.data().len().max(1) as f64;
    [sum as f64 / (count * 65_535.0), f64::from(largest) / 65_535.0, over as f64 / count]
}

/// A film shows coverage through gain compensation and the halftone; its label names place and ink.
fn reasons(screen: &ScreenDifference, same_size: bool, settings: &[SettingDifference]) -> Vec<String> {
    let mut why = Vec::new();
    if screen.place[0].is_none() {
        return vec!["a new screen".to_owned()];
    }
    if !same_size {
        why.push("the print has another size or resolution".to_owned());
    }
    if screen.largest_difference.is_some_and(|d| d > SAME) {
        let share = screen.share_changed.unwrap_or(0.0) * 100.0;
        let mean = screen.mean_difference.unwrap_or(0.0) * 100.0;
        why.push(format!("coverage differs on {share:.2} % of the print, by {mean:.2} % on average over all of it"));
    }
    let touched = |prefix: &str| settings.iter().any(|s| s.setting.starts_with(prefix));
    if touched("film.") {
        why.push("film settings differ".to_owned());
    }
    if touched("press.gain") || touched("press.compensate") {
        why.push("gain compensation differs".to_owned());
    }
    why
}

fn setting_differences(a: &Job, b: &Job) -> Vec<SettingDifference> {
    let leaves = |job: &Job| {
        let mut found = BTreeMap::new();
        // A job is plain data: it always becomes JSON.
        flatten(String::new(), &serde_json::to_value(job).unwrap_or(Value::Null), &mut found);
        found
    };
    let (a, b) = (leaves(a), leaves(b));
    let mut names: Vec<&String> = a.keys().chain(b.keys().filter(|k| !a.contains_key(*k))).collect();
    names.sort();
    let get = |map: &BTreeMap<String, Value>, name: &String| map.get(name).cloned().unwrap_or(Value::Null);
    (names.into_iter())
        .map(|name| SettingDifference { setting: name.clone(), a: get(&a, name), b: get(&b, name) })
        .filter(|d| d.a != d.b)
        .collect()
}

fn flatten(place: String, value: &Value, found: &mut BTreeMap<String, Value>) {
    let under = |name: &str| if place.is_empty() { name.to_owned() } else { format!("{place}.{name}") };
    match value {
        Value::Object(map) if !map.is_empty() => map.iter().for_each(|(name, v)| flatten(under(name), v, found)),
        Value::Array(list) if !list.is_empty() => {
            list.iter().enumerate().for_each(|(at, v)| flatten(under(&(at + 1).to_string()), v, found));
        }
        // An empty list or map is known by what the other job has in it.
        Value::Object(_) | Value::Array(_) => {}
        leaf => {
            found.insert(place, leaf.clone());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::{Garment, Ink, InkRole};
    use crate::tune::{Edit, EditEntry};
    use crate::units::{Lpi, Opacity, Ppi};

    fn screens(names: &[&str]) -> Screens {
        let list = (names.iter())
            .map(|name| Screen {
                name: (*name).into(),
                ink: Ink {
                    name: (*name).into(),
                    over_white: "#808080".parse().unwrap(),
                    opacity: Opacity::new(0.5).unwrap(),
                    role: InkRole::Color,
                    measured: false,
                    spectra: None,
                },
                hits: 1,
                coverage: Plane::filled(10, 10, 20_000),
            })
            .collect();
        Screens { width: 10, height: 10, ppi: Ppi::new(300.0).unwrap(), list }
    }

    #[test]
    fn equal_jobs_have_no_difference() {
        let job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        let list = screens(&["Teal", "Rose"]);
        let same = compare((&job, &list), (&job, &list));
        assert!(same.is_same());
        assert_eq!(same.screens.len(), 2);
    }

    #[test]
    fn differences_are_named_and_measured() {
        let a = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        let mut b = a.clone();
        b.edits.push(EditEntry::on(Edit::drop("Rose")));
        let (before, mut after) = (screens(&["Teal", "Rose", "Sand"]), screens(&["Sand", "Teal"]));
        after.list[1].coverage.set(3, 3, 40_000);
        let found = compare((&a, &before), (&b, &after));
        assert_eq!(found.remake.len(), 1);
        assert_eq!((found.remake[0].screen.as_str(), found.unused.as_slice()), ("Teal", &["Rose".into()][..]));
        let teal = found.screens.iter().find(|s| s.screen == "Teal").unwrap();
        assert_eq!((teal.place, teal.share_changed), ([Some(1), Some(2)], Some(0.01)));
        assert!((teal.largest_difference.unwrap() - 20_000.0 / 65_535.0).abs() < 1e-12);
        assert!(found.settings.iter().any(|s| s.setting == "edits.1.edit.screen" && s.b == "Rose"), "{found:?}");
        b.film.ruling = Lpi::new(55.0).unwrap();
        assert_eq!(compare((&a, &before), (&b, &before)).remake.len(), 3, "another ruling needs all films");
    }
}
