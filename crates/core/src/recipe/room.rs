//! The ink room: what inks are mixed from, each known by its drawdowns.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Film, Surface, wanted::Bands};
use crate::bounds::table;
use crate::color::{BANDS, Rgb8};
use crate::ink::{Ink, InkSpectra};
use crate::names::{same, short};

/// Most components of a room: every set of them is tried.
pub const MOST_COMPONENTS: usize = 24;

/// The components at hand.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct InkRoom {
    /// What the surface of a film does to light; by what was measured if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surface: Option<Surface>,
    /// Base, white, black, pigments, finished inks and leftovers.
    pub components: Vec<Component>,
}

/// Something to mix with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Component {
    /// As the shop calls it.
    #[schemars(transform = table::INK_NAME.schema())]
    pub name: String,
    /// One or more, all of one thickness.
    pub drawdowns: Vec<Drawdown>,
    /// Most of it in a mix, 0..=1, from its data sheet: pigments have one. 1 if left out.
    #[serde(default = "whole")]
    pub most: f64,
    /// Grams left of an earlier mix, to be used up first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leftover_g: Option<f64>,
    /// Price of a kilogram.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price_per_kg: Option<f64>,
}

fn whole() -> f64 {
    1.0
}

/// A film of a component, or of some of it in another, over white and over black: spectra, or the two colours.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Drawdown {
    /// Share of the component by weight.
    #[serde(default = "whole")]
    pub share: f64,
    /// What the rest of it is, by name; needed where the share is below 1.
    #[serde(default, rename = "in", skip_serializing_if = "Option::is_none")]
    pub within: Option<String>,
    /// Colour over a white card, where no spectra are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub over_white: Option<Rgb8>,
    /// Colour over a black card, where no spectra are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub over_black: Option<Rgb8>,
    /// What an instrument gave.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spectra: Option<Box<InkSpectra>>,
}

/// An ink room that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RoomError {
    /// Too few or too many components.
    #[error(
        "an ink room has 1 to {MOST_COMPONENTS} components, not {0}: every set of them is tried; leave out what this colour does not need"
    )]
    Count(usize),
    /// Two of one name.
    #[error("two components are called \"{0}\"; give each its own name")]
    Twice(String),
    /// A number out of its range.
    #[error("\"{name}\": {what} must be {range}, not {value}")]
    Number {
        /// The component.
        name: String,
        /// Which number.
        what: &'static str,
        /// Its range.
        range: &'static str,
        /// As found.
        value: f64,
    },
    /// Nothing to know it by.
    #[error("\"{0}\" has no drawdown; give its colour over white and over black, or its spectra")]
    NoDrawdown(String),
    /// A drawdown without colours.
    #[error("a drawdown of \"{0}\" needs over_white and over_black, or spectra of both")]
    NoColour(String),
    /// A let-down without its base.
    #[error(
        "a drawdown of \"{name}\" holds {share} of it: say in what, with \"in\" and the name of a component that has a drawdown of its own"
    )]
    NoBase {
        /// The component.
        name: String,
        /// Its share.
        share: f64,
    },
    /// No such component.
    #[error("there is no component \"{0}\" in the ink room")]
    Unknown(String),
}

impl InkRoom {
    /// Checks names and numbers.
    pub fn check(&self) -> Result<(), RoomError> {
        if !(1..=MOST_COMPONENTS).contains(&self.components.len()) {
            return Err(RoomError::Count(self.components.len()));
        }
        for (at, component) in self.components.iter().enumerate() {
            component.check()?;
            if self.components[..at].iter().any(|other| same(&other.name, &component.name)) {
                return Err(RoomError::Twice(short(&component.name)));
            }
        }
        if let Some(surface) = self.surface {
            for (what, value) in [("outside", surface.outside), ("inside", surface.inside)] {
                number("surface", what, "0 to 0.9", value, (0.0..=0.9).contains(&value))?;
            }
        }
        Ok(())
    }

    /// A component by name.
    pub fn find(&self, name: &str) -> Result<usize, RoomError> {
        let found = self.components.iter().position(|c| same(&c.name, name));
        found.ok_or_else(|| RoomError::Unknown(short(name)))
    }

    /// Spectra if every drawdown has them, else three bands of linear light.
    pub fn bands(&self) -> Bands {
        let spectral = self.components.iter().flat_map(|c| &c.drawdowns).all(|d| d.spectra.is_some());
        if spectral { Bands::Spectral } else { Bands::Linear }
    }

    /// What the surface does.
    pub fn surface(&self) -> Surface {
        self.surface.unwrap_or(match self.bands() {
            Bands::Spectral => Surface::SMOOTH,
            Bands::Linear => Surface::TYPED,
        })
    }

    /// The films of the components, band by band.
    pub(super) fn films(&self) -> Result<Vec<Vec<Film>>, RoomError> {
        self.check()?;
        // Those that have a drawdown of their own come first: let-downs are read against them.
        let own: Vec<Option<Vec<Film>>> =
            self.components.iter().map(|c| self.film(c, &[])).collect::<Result<_, _>>()?;
        let films = self.components.iter().map(|c| self.film(c, &own)).collect::<Result<Vec<_>, _>>()?;
        let named = self.components.iter().zip(films);
        named.map(|(c, film)| film.ok_or_else(|| RoomError::NoDrawdown(short(&c.name)))).collect()
    }

    /// A component's film from those of its drawdowns whose rest is known: a reading
    /// weighs by the share squared, as a let-down multiplies its error, and by the light that comes through, there
    /// and back and squared, as dark bands are read to no better than bright ones.
    fn film(&self, component: &Component, known: &[Option<Vec<Film>>]) -> Result<Option<Vec<Film>>, RoomError> {
        let mut sum: Vec<(Film, f64)> = Vec::new();
        for drawdown in &component.drawdowns {
            let rest = match (&drawdown.within, drawdown.share < 1.0) {
                (_, false) => None,
                (Some(name), true) => match known.get(self.find(name)?) {
                    Some(Some(films)) => Some(films),
                    Some(None) => return Err(no_base(component, drawdown)),
                    None => continue,
                },
                (None, true) => return Err(no_base(component, drawdown)),
            };
            let read = self.read(component, drawdown)?;
            sum.resize(read.len(), (Film::default(), 0.0));
            for (band, ((film, through), (sum, weights))) in read.into_iter().zip(&mut sum).enumerate() {
                let rest = rest.map_or(Film::default(), |films| films[band]);
                let of = |mix: f64, rest: f64| ((mix - (1.0 - drawdown.share) * rest) / drawdown.share).max(0.0);
                let weight = drawdown.share.powi(2) * (through.powi(4) + 1e-9);
                sum.k += weight * of(film.k, rest.k);
                sum.s += weight * of(film.s, rest.s);
                *weights += weight;
            }
        }
        let mean = |(sum, weight): (Film, f64)| Film { k: sum.k / weight, s: sum.s / weight };
        Ok((!sum.is_empty()).then(|| sum.into_iter().map(mean).collect()))
    }

    fn read(&self, component: &Component, drawdown: &Drawdown) -> Result<Vec<(Film, f64)>, RoomError> {
        let surface = self.surface();
        let film = |[white, black, over_white, over_black]: [f64; 4]| {
            let [white, black, over_white, over_black] =
                [white, black, over_white, over_black].map(|seen| surface.within(seen));
            Film::of_two_grounds(white, black, over_white, over_black)
        };
        if let (Some(s), Bands::Spectral) = (&drawdown.spectra, self.bands()) {
            let four = |b: usize| [&s.white, &s.black, &s.over_white, &s.over_black].map(|of| f64::from(of.0[b]));
            return Ok((0..BANDS).map(|b| film(four(b))).collect());
        }
        let (white, black) = match (&drawdown.spectra, drawdown.over_white, drawdown.over_black) {
            (Some(spectra), ..) => spectra.linear(),
            (None, Some(white), Some(black)) => (white.linear(), black.linear()),
            _ => return Err(RoomError::NoColour(short(&component.name))),
        };
        Ok((0..3).map(|b| film([1.0, 0.0, f64::from(white[b]), f64::from(black[b])])).collect())
    }
}

fn no_base(component: &Component, drawdown: &Drawdown) -> RoomError {
    RoomError::NoBase { name: short(&component.name), share: drawdown.share }
}

fn number(name: &str, what: &'static str, range: &'static str, value: f64, good: bool) -> Result<(), RoomError> {
    if good { Ok(()) } else { Err(RoomError::Number { name: short(name), what, range, value }) }
}

impl Component {
    fn check(&self) -> Result<(), RoomError> {
        if self.drawdowns.is_empty() {
            return Err(RoomError::NoDrawdown(short(&self.name)));
        }
        let above = |value: f64, most: f64| value > 0.0 && value <= most;
        number(&self.name, "most", "above 0 to 1", self.most, above(self.most, 1.0))?;
        for drawdown in &self.drawdowns {
            number(&self.name, "share", "above 0 to 1", drawdown.share, above(drawdown.share, 1.0))?;
        }
        let price = self.price_per_kg.unwrap_or(0.0);
        number(&self.name, "price_per_kg", "0 to 1000000", price, (0.0..=1e6).contains(&price))?;
        let left = self.leftover_g.unwrap_or(1.0);
        number(&self.name, "leftover_g", "above 0 to 1000000", left, above(left, 1e6))
    }

    /// A finished ink of the shelf: its colour over white, and over black by its opacity, the same in each band
    /// where it has no spectra.
    pub fn of_ink(ink: &Ink) -> Self {
        let white = ink.reflectance_over_white();
        let black = white.map(|r| r * ink.opacity.get() as f32);
        let spectra = ink.spectra.clone();
        let colours = spectra.is_none().then(|| (ink.over_white, Rgb8::from_linear(black)));
        let drawdown = Drawdown {
            share: 1.0,
            within: None,
            over_white: colours.map(|c| c.0),
            over_black: colours.map(|c| c.1),
            spectra,
        };
        Self { name: ink.name.clone(), drawdowns: vec![drawdown], most: 1.0, leftover_g: None, price_per_kg: None }
    }
}
