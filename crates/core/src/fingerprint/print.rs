//! A fingerprint: the patches of a calibration print and what was fitted to them.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fit::{Assumed, Measured};
use super::patch::{MOST_INKS, Patch};
use super::predict::Unlearned;
use super::press::{BANDS, Places};
use super::prior::Prior;
use super::rest::Habit;
use super::{Press, film};
use crate::bounds::table;
use crate::color::{lab_from_linear, shares_of_lab};
use crate::ink::Ink;

/// What is known of an ink before the press is measured: CIELAB over a perfect white and a perfect black.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AssumedInk {
    /// As the shop calls it.
    #[schemars(transform = table::INK_NAME.schema())]
    pub name: String,
    /// Over white.
    #[schemars(transform = table::PATCH_LAB.each())]
    pub over_white: [f64; 3],
    /// Over black.
    #[schemars(transform = table::PATCH_LAB.each())]
    pub over_black: [f64; 3],
}

/// A press as it printed on a day, with its inks, on a ground.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fingerprint {
    /// Press, fabric, mesh and ink line, as the shop calls them.
    #[schemars(transform = table::CURVE_NAME.schema())]
    pub name: String,
    /// Date of the measurement.
    #[schemars(transform = table::DATE.schema())]
    pub date: String,
    /// Where it came from: file of measurements, instrument.
    #[schemars(transform = table::LINE.schema())]
    pub origin: String,
    /// The inks in print order.
    #[schemars(transform = table::PATCH_INKS.schema())]
    pub inks: Vec<AssumedInk>,
    /// The bare ground, CIELAB.
    #[schemars(transform = table::PATCH_LAB.each())]
    pub ground: [f64; 3],
    /// What was measured.
    #[schemars(transform = table::PATCHES.schema())]
    pub patches: Vec<Patch>,
    /// Noise of a reading, one sigma of L*, a* and b* each: 0.3 for an instrument, more for a scan.
    #[schemars(transform = table::READING_NOISE.schema())]
    pub reading: f64,
    /// The fitted figures of the press.
    pub press: Press,
    /// The habits of what the press model leaves.
    pub habit: Habit,
    /// Presses that it was started from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(transform = table::FINGERPRINTS.schema())]
    pub prior: Vec<Fingerprint>,
}

/// Why there is no fingerprint.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Too few or too many inks.
    #[error("a fingerprint is taken of 1 to {MOST_INKS} inks, not {0}; print the others on a second calibration print")]
    Inks(usize),
    /// A patch of another number of inks.
    #[error("patch {patch} has {has} coverages, and there are {inks} inks")]
    Coverages {
        /// From 1.
        patch: usize,
        /// Its coverages.
        has: usize,
        /// Inks.
        inks: usize,
    },
    /// A number that no patch has.
    #[error("patch {patch}: {what}")]
    Value {
        /// From 1.
        patch: usize,
        /// Which and why.
        what: &'static str,
    },
    /// The bare ground is missing.
    #[error("no patch shows the bare ground; measure a spot without ink too")]
    NoGround,
    /// An ink without its solid.
    #[error("no patch shows the solid of \"{0}\" alone; it is what tells the ink's colour")]
    NoSolid(String),
    /// Too few.
    #[error(
        "{has} patches cannot tell {inks} inks; measure {wants} or more, or start from other presses of these inks"
    )]
    Few {
        /// Patches.
        has: usize,
        /// Inks.
        inks: usize,
        /// Needed.
        wants: usize,
    },
}

impl AssumedInk {
    /// Of an ink of the shelf: its colour over white, and over black by its opacity or its spectra.
    pub fn of(ink: &Ink) -> Self {
        let white = ink.reflectance_over_white();
        let (white, black) = match &ink.spectra {
            Some(spectra) => spectra.linear(),
            None => (white, white.map(|r| r * ink.opacity.get() as f32)),
        };
        let lab = |c: [f32; 3]| {
            let lab = lab_from_linear(c.map(|v| v.clamp(0.0, 1.0)));
            [lab.l, lab.a, lab.b].map(f64::from)
        };
        Self { name: ink.name.clone(), over_white: lab(white), over_black: lab(black) }
    }
}

impl Fingerprint {
    /// Fits a press to its patches, read with a noise of `reading`, from what is assumed of its inks and from other
    /// presses, if any.
    pub fn fit(
        name: &str,
        inks: Vec<AssumedInk>,
        patches: Vec<Patch>,
        reading: f64,
        others: &[Fingerprint],
    ) -> Result<Self, FitError> {
        check(&inks, &patches, others.is_empty())?;
        let bare: Vec<[f64; 3]> = patches.iter().filter(|p| p.tint.is_bare()).map(|p| p.lab).collect();
        let ground: [f64; 3] = std::array::from_fn(|c| bare.iter().map(|lab| lab[c]).sum::<f64>() / bare.len() as f64);
        let prior = Prior::of(others);
        let assumed = match &prior {
            Some(prior) => prior.assumed(),
            None => assumed(&inks, &patches),
        };
        let measured = Measured::of(inks.len(), ground, &patches);
        let press = Press { figures: measured.fit(&assumed).0 };
        let habit = Unlearned::of(&press, &measured, &assumed, prior).learn(&patches).habit().clone();
        let prior = others.iter().map(|other| Self { prior: Vec::new(), ..other.clone() }).collect();
        Ok(Self {
            name: name.to_owned(),
            date: String::new(),
            origin: String::new(),
            inks,
            ground,
            patches,
            reading,
            press,
            habit,
            prior,
        })
    }

    /// A press of which nothing was measured but the ground: every figure is assumed, and colours may be far off.
    pub fn assumed(name: &str, inks: Vec<AssumedInk>, ground: [f64; 3]) -> Result<Self, FitError> {
        if !(1..=MOST_INKS).contains(&inks.len()) {
            return Err(FitError::Inks(inks.len()));
        }
        let press = Press { figures: assumed(&inks, &[]).value };
        // An assumption: 70 patches of presses made up for tests found colours 3 to 5 off what was assumed.
        let habit = Habit { reach: vec![1.0; inks.len() + 1], noise: 0.1, size: [4.0, 4.0, 4.0] };
        Ok(Self {
            name: name.to_owned(),
            date: String::new(),
            origin: String::new(),
            inks,
            ground,
            patches: Vec::new(),
            reading: 0.3,
            press,
            habit,
            prior: Vec::new(),
        })
    }

    /// Whether its parts fit together: they do unless a file was changed by hand.
    pub fn is_whole(&self) -> bool {
        let inks = self.inks.len();
        (1..=MOST_INKS).contains(&inks)
            && self.press.figures.len() == (Places { inks }).count()
            && self.habit.reach.len() == inks + 1
            && self.patches.iter().all(|p| p.tint.film.len() == inks)
            && self.prior.iter().all(|other| other.inks.len() == inks && other.prior.is_empty() && other.is_whole())
    }
}

fn check(inks: &[AssumedInk], patches: &[Patch], alone: bool) -> Result<(), FitError> {
    if !(1..=MOST_INKS).contains(&inks.len()) {
        return Err(FitError::Inks(inks.len()));
    }
    for (at, patch) in patches.iter().enumerate() {
        let (number, film) = (at + 1, &patch.tint.film);
        if film.len() != inks.len() {
            return Err(FitError::Coverages { patch: number, has: film.len(), inks: inks.len() });
        }
        if !film.iter().all(|a| (0.0..=1.0).contains(a)) {
            return Err(FitError::Value { patch: number, what: "a coverage must be 0 to 1" });
        }
        let [l, a, b] = patch.lab;
        if !((-1.0..=110.0).contains(&l) && a.abs() <= 200.0 && b.abs() <= 200.0) {
            return Err(FitError::Value { patch: number, what: "L* must be 0 to 100, a* and b* within 200 of 0" });
        }
    }
    if !patches.iter().any(|p| p.tint.is_bare()) {
        return Err(FitError::NoGround);
    }
    let solid = |ink: usize| {
        move |p: &&Patch| p.tint.film.iter().enumerate().all(|(at, a)| *a == f64::from(u8::from(at == ink)))
    };
    if alone && let Some(at) = (0..inks.len()).find(|ink| patches.iter().find(solid(*ink)).is_none()) {
        return Err(FitError::NoSolid(inks[at].name.clone()));
    }
    let wants = if alone { 2 * inks.len() + 1 } else { inks.len() + 1 };
    if patches.len() < wants {
        return Err(FitError::Few { has: patches.len(), inks: inks.len(), wants });
    }
    Ok(())
}

/// What is taken for granted of inks, and how many tints of each alone there are.
pub(super) fn assumed(inks: &[AssumedInk], patches: &[Patch]) -> Assumed {
    let films: Vec<[[f64; 2]; BANDS]> = (inks.iter())
        .map(|ink| {
            let (white, black) = (shares_of_lab(ink.over_white), shares_of_lab(ink.over_black));
            std::array::from_fn(|b| film::constants(white[b], black[b]))
        })
        .collect();
    let alone = |ink: usize, p: &Patch| {
        (0.0..1.0).contains(&p.tint.film[ink])
            && p.tint.film[ink] > 0.0
            && p.tint.film.iter().enumerate().all(|(at, a)| at == ink || *a == 0.0)
    };
    let steps: Vec<usize> = (0..inks.len()).map(|ink| patches.iter().filter(|p| alone(ink, p)).count()).collect();
    Assumed::of_films(&films, &steps)
}
