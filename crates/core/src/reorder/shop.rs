//! What a shop had when a job was printed, beside what it has now.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::bounds::table;
use crate::color::{ciede2000, lab_from_linear};
use crate::ink::Ink;
use crate::job::Job;
use crate::names::same;
use crate::press::DotGain;
use crate::quote::Rates;
use crate::usage::MeshDefaults;

/// What a shop has of all that a job's print, time and money rest on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopState {
    /// Inks of the shelf that are named like those of the job.
    #[schemars(transform = table::INKS.schema())]
    pub inks: Vec<Ink>,
    /// The usual gain curve.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gain: Option<DotGain>,
    /// Usual meshes.
    pub mesh: MeshDefaults,
    /// The latest fingerprint of the press.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fingerprint: Option<FingerprintOf>,
    /// Times and prices.
    pub rates: Rates,
}

/// Which fingerprint.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FingerprintOf {
    /// Its name.
    #[schemars(transform = table::CURVE_NAME.schema())]
    pub name: String,
    /// Its date.
    #[schemars(transform = table::DATE.schema())]
    pub date: String,
}

impl FingerprintOf {
    fn words(&self) -> String {
        format!("{} of {}", self.name, self.date)
    }
}

/// CIEDE2000 from which two colours of an ink are said to differ.
const SAME_COLOR: f32 = 0.05;

impl ShopState {
    /// An ink by its name.
    fn ink(&self, name: &str) -> Option<&Ink> {
        self.inks.iter().find(|ink| same(&ink.name, name))
    }

    /// What an ink of the job has become on the shelf since `then`; none if it is as it was, or gone.
    pub fn changed_ink(&self, then: &Self, name: &str) -> Option<&Ink> {
        let (before, now) = (then.ink(name)?, self.ink(name)?);
        (before != now).then_some(now)
    }

    /// The gain curve, where it is another one than `then`.
    pub fn changed_gain(&self, then: &Self) -> Option<&DotGain> {
        self.gain.as_ref().filter(|now| then.gain.as_ref() != Some(now))
    }

    /// What has changed since `then`, a line each.
    pub fn changes(&self, then: &Self) -> Vec<String> {
        let mut lines: Vec<String> = then.inks.iter().filter_map(|before| self.ink_change(before)).collect();
        if let Some(now) = self.changed_gain(then) {
            let before = then.gain.as_ref().map_or_else(|| "none".to_owned(), DotGain::describe);
            lines.push(format!("the gain curve was {before} and is {}", now.describe()));
        }
        let meshes = [
            ("tones", then.mesh.halftone_tpi, self.mesh.halftone_tpi),
            ("the underbase", then.mesh.underbase_tpi, self.mesh.underbase_tpi),
            ("solid colours", then.mesh.solid_tpi, self.mesh.solid_tpi),
        ];
        for (what, before, now) in meshes.into_iter().filter(|(_, before, now)| before != now) {
            lines.push(format!("the usual mesh of {what} was {before} threads an inch and is {now}"));
        }
        if then.fingerprint != self.fingerprint {
            lines.push(match (&then.fingerprint, &self.fingerprint) {
                (Some(before), Some(now)) => {
                    format!("the press was known by its fingerprint {} and is by {}", before.words(), now.words())
                }
                (None, Some(now)) => format!("the press has a fingerprint since, {}", now.words()),
                (Some(before), None) => format!("the fingerprint {} is gone from the shop profile", before.words()),
                (None, None) => String::new(),
            });
        }
        lines.extend(rate_changes(&then.rates, &self.rates));
        lines
    }

    fn ink_change(&self, before: &Ink) -> Option<String> {
        let Some(now) = self.ink(&before.name) else {
            return Some(format!("{} is no longer on the shelf", before.name));
        };
        if now == before {
            return None;
        }
        let lab = |ink: &Ink| lab_from_linear(ink.reflectance_over_white());
        let apart = ciede2000(lab(before), lab(now));
        let mut parts = Vec::new();
        if apart > SAME_COLOR {
            let (was, is) = (before.over_white, now.over_white);
            parts.push(format!("colour was {was} and is {is} ({apart:.1} CIEDE2000)"));
        }
        if before.opacity != now.opacity {
            parts.push(format!("opacity was {:.2} and is {:.2}", before.opacity.get(), now.opacity.get()));
        }
        if parts.is_empty() {
            parts.push("was measured again".to_owned());
        }
        Some(format!("{}: {}", before.name, parts.join(", ")))
    }
}

fn rate_changes(then: &Rates, now: &Rates) -> Vec<String> {
    let of = |rates: &Rates| serde_json::to_value(rates).unwrap_or(Value::Null);
    let mut changed = Vec::new();
    differing("", &of(then), &of(now), &mut changed);
    match changed.len() {
        0 => Vec::new(),
        n if n > 4 => vec![format!("{n} times and prices have changed; quote the job again")],
        _ => vec![format!("times and prices: {}; quote the job again", changed.join("; "))],
    }
}

/// Leaves that differ: "screen setup was 8 and is 10".
fn differing(place: &str, then: &Value, now: &Value, out: &mut Vec<String>) {
    if then == now {
        return;
    }
    if let (Value::Object(a), Value::Object(b)) = (then, now) {
        let mut names: Vec<&String> = a.keys().chain(b.keys().filter(|key| !a.contains_key(*key))).collect();
        names.sort();
        for name in names {
            let get = |map: &serde_json::Map<String, Value>| map.get(name).cloned().unwrap_or(Value::Null);
            let place =
                if place.is_empty() { name.replace('_', " ") } else { format!("{place}, {}", name.replace('_', " ")) };
            differing(&place, &get(a), &get(b), out);
        }
        return;
    }
    let said = |value: &Value| match value {
        Value::Null => "not stated".to_owned(),
        Value::Object(_) | Value::Array(_) => "another list".to_owned(),
        leaf => leaf.to_string().trim_matches('"').to_owned(),
    };
    out.push(format!("{place} was {} and is {}", said(then), said(now)));
}

/// The job with the inks that the shop has changed since it was printed, wherever it names them as they were.
pub fn take_inks(job: &Job, then: &ShopState, now: &ShopState) -> Job {
    let mut job = job.clone();
    for ink in job.inks_mut().filter(|ink| then.inks.contains(ink)) {
        if let Some(changed) = now.changed_ink(then, &ink.name) {
            ink.clone_from(changed);
        }
    }
    job
}
