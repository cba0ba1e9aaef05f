//! Inks and the shop's shelf. The smallest useful description of an ink is its colour over a
//! white card and its opacity; everything else is optional.

use std::collections::HashSet;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::InkSpectra;
use crate::bounds::{self, OutOfBounds, table};
use crate::color::{LinRgb, Rgb8};
use crate::names::{self, plain, short};
use crate::units::Opacity;

/// What an ink is for. It only steers defaults; the model treats every ink alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum InkRole {
    /// An opaque or general colour.
    #[default]
    Color,
    /// A transparent process colour.
    Process,
    /// Black.
    Black,
    /// A bright white for highlights and plain printing.
    White,
    /// A white made to lie under other inks.
    BaseWhite,
}

/// One ink.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ink {
    /// As the shop calls it.
    #[schemars(transform = table::INK_NAME.schema())]
    pub name: String,
    /// Colour of the solid over a white card.
    pub over_white: Rgb8,
    /// Contrast ratio: luminance over black / luminance over white (definition of ISO 6504-3).
    pub opacity: Opacity,
    /// What it is for.
    #[serde(default)]
    pub role: InkRole,
    /// Whether colour and opacity were measured; otherwise they are assumed.
    #[serde(default)]
    pub measured: bool,
    /// Its spectra, if an instrument gave them; the print model then runs on them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spectra: Option<Box<InkSpectra>>,
}

impl Ink {
    /// A measured ink: colour and opacity follow from its spectra.
    pub fn measured(name: impl Into<String>, role: InkRole, spectra: InkSpectra) -> Self {
        Self {
            name: name.into(),
            over_white: spectra.color_over_white(),
            opacity: spectra.opacity(),
            role,
            measured: true,
            spectra: Some(Box::new(spectra)),
        }
    }

    /// Reflectance of the solid over a white card, linear light.
    pub fn reflectance_over_white(&self) -> LinRgb {
        self.over_white.linear()
    }
}

/// The inks at hand.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Shelf {
    /// In the shop's order.
    #[schemars(transform = table::INKS.schema())]
    pub inks: Vec<Ink>,
}

/// A shelf or an ink name that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ShelfError {
    /// No ink of that name.
    #[error("no ink \"{name}\" on the shelf; the nearest name is \"{nearest}\"")]
    Unknown {
        /// As asked for.
        name: String,
        /// The closest name that is there.
        nearest: String,
    },
    /// Nothing on the shelf.
    #[error("the shelf holds no inks")]
    Empty,
    /// A name too long or with control codes, or a number beyond its range.
    #[error(transparent)]
    Bounds(#[from] OutOfBounds),
    /// Two inks share a name.
    #[error("two inks on the shelf are called \"{0}\"; give each its own name")]
    Twice(String),
}

impl Shelf {
    /// Checks that there are inks, that names differ as [`crate::names::same`] has it, and that every name
    /// is clean and short.
    pub fn check(&self) -> Result<(), ShelfError> {
        if self.inks.is_empty() {
            return Err(ShelfError::Empty);
        }
        // How many there may be comes before looking at each.
        bounds::check(self)?;
        let mut names = HashSet::new();
        match self.inks.iter().find(|ink| !names.insert(plain(&ink.name))) {
            Some(ink) => Err(ShelfError::Twice(ink.name.clone())),
            None => Ok(()),
        }
    }

    /// Finds an ink by its very name, or else ignoring case, blanks, `-` and `_`.
    pub fn find(&self, name: &str) -> Result<&Ink, ShelfError> {
        if let Some(ink) = names::find(&self.inks, name, |ink| &ink.name) {
            return Ok(ink);
        }
        let name = short(name);
        let sought = plain(&name);
        let nearest =
            self.inks.iter().min_by_key(|ink| edit_distance(&plain(&ink.name), &sought)).ok_or(ShelfError::Empty)?;
        Err(ShelfError::Unknown { name, nearest: nearest.name.clone() })
    }
}

/// Levenshtein distance, for the hint in an error.
fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, &cb) in b.iter().enumerate() {
            let change = diagonal + usize::from(ca != cb);
            diagonal = row[j + 1];
            row[j + 1] = change.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_loosely_and_misses_get_a_hint() {
        let shelf: Shelf = serde_json::from_str(
            r##"{"inks":[{"name":"Brick red","over_white":"#B03A2E","opacity":0.75},
                         {"name":"Lemon","over_white":"#F7E04A","opacity":0.6}]}"##,
        )
        .unwrap();
        assert!(shelf.check().is_ok());
        assert_eq!(shelf.find("brick-RED").unwrap().name, "Brick red");
        let miss = shelf.find("lemmon").unwrap_err().to_string();
        assert!(miss.contains("\"Lemon\""), "{miss}");
    }
}
