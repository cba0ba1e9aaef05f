//! The edits as data. Lengths in millimetres on the print, areas in square millimetres, tones as
//! coverage (fraction of ink), places as fractions of the print, so that a proxy and the full
//! size agree.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Curve, GreyPicture, Place, Region, Source};
use crate::bounds::{self, table};
use crate::ink::Ink;
use crate::units::{Coverage, Mm};

/// An edit with its switch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EditEntry {
    /// Whether it is applied.
    pub on: bool,
    /// What it does.
    pub edit: Edit,
}

impl EditEntry {
    /// An edit that is switched on.
    pub fn on(edit: Edit) -> Self {
        Self { on: true, edit }
    }
}

/// One edit. Screens are named by their names, case ignored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum Edit {
    /// Multiplies the film values of `from` into `into`, and drops `from`.
    Merge {
        /// The screen that goes.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        from: String,
        /// The screen that stays.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        into: String,
        /// How much each counts, 0 only `into`, 1 only `from`. At one half, the default, both
        /// count in full: plain multiply.
        #[serde(default = "half")]
        balance: Coverage,
    },
    /// Prints a screen with another ink.
    ReInk {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Its new ink.
        ink: Ink,
        /// Whether all screens are separated again for the new ink. Default false: coverages stay.
        /// Only for screens that come from the separation.
        #[serde(default)]
        resolve: bool,
    },
    /// Takes a screen out.
    Drop {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Whether the other screens are separated again without it, to make up for it. Default
        /// false. Only for screens that come from the separation.
        #[serde(default)]
        resolve: bool,
    },
    /// Sets the print order; screens not named follow in their present order.
    Order {
        /// First down first.
        #[schemars(transform = table::NAMED_SCREENS.schema(), transform = table::SCREEN_NAME.each())]
        screens: Vec<String>,
    },
    /// Takes light tones out, makes dark ones solid, and optionally clears the background.
    Trim {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Coverage below this becomes none.
        below: Coverage,
        /// Coverage from here on becomes solid. Default 1: only what is solid already.
        #[serde(default = "one")]
        above: Coverage,
        /// Width of tone over which each change fades in, inside the tones that are kept.
        /// Default 0: hard.
        #[serde(default = "zero")]
        soft: Coverage,
        /// Whether the screen is cleared where the art's background is.
        #[serde(default)]
        background: bool,
    },
    /// A tone curve.
    Curve {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// The curve.
        curve: Curve,
    },
    /// Stretches the tones between two coverages over the whole range.
    Levels {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// This coverage and less becomes none.
        none: Coverage,
        /// This coverage and more becomes solid.
        solid: Coverage,
        /// What the middle between them becomes, 0.05..=0.95. Default 0.5: straight.
        #[schemars(transform = table::MIDDLE.schema())]
        #[serde(default = "half")]
        middle: Coverage,
    },
    /// Adds points to the middle tones (or takes them, if negative), none at the ends, with the
    /// shape `4 c (1 - c)`.
    Gain {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Points at 50 %, -25 to 25.
        #[schemars(transform = table::GAIN.schema())]
        points: f64,
    },
    /// Multiplies coverage; solid is the most.
    Density {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Factor, 0 to 10.
        #[schemars(transform = table::DENSITY.schema())]
        factor: f64,
    },
    /// No ink where there was ink, ink where there was none.
    Invert {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
    },
    /// Pulls every edge back.
    Choke {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// How far.
        #[schemars(transform = table::REACH.schema())]
        by_mm: Mm,
    },
    /// Pushes every edge out.
    Spread {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// How far.
        #[schemars(transform = table::REACH.schema())]
        by_mm: Mm,
    },
    /// Clears islands of ink smaller than an area.
    Specks {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Smallest area that is kept, in square millimetres.
        #[schemars(transform = table::AREA.schema())]
        under_mm2: f64,
        /// Least coverage that counts as ink. Default 0.05.
        #[serde(default = "twentieth")]
        at: Coverage,
    },
    /// Fills holes in ink smaller than an area, to the coverage around them.
    Pinholes {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Smallest area that is left open, in square millimetres.
        #[schemars(transform = table::AREA.schema())]
        under_mm2: f64,
        /// Coverage below which a spot counts as open. Default 0.5.
        #[serde(default = "half")]
        at: Coverage,
    },
    /// Softens.
    Blur {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Standard deviation on the print.
        #[schemars(transform = table::RADIUS.schema())]
        radius_mm: Mm,
    },
    /// Sharpens by unsharp masking.
    Sharpen {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Standard deviation of the mask on the print.
        #[schemars(transform = table::RADIUS.schema())]
        radius_mm: Mm,
        /// Strength, 0 to 5.
        #[schemars(transform = table::STRENGTH.schema())]
        amount: f64,
    },
    /// Keeps the ink inside a region only (or outside).
    MaskRegion {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// The region.
        region: Region,
        /// Whether the ink outside is kept instead.
        #[serde(default)]
        outside: bool,
        /// Width of the soft edge on the print. Default 0.
        #[schemars(transform = table::SOFT_EDGE.schema())]
        #[serde(default = "zero_mm")]
        feather_mm: Mm,
    },
    /// Keeps the ink only where another screen prints, in proportion to it.
    MaskByScreen {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// The other screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        by: String,
    },
    /// Takes the ink out where another screen prints, in proportion to it.
    KnockOut {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// The other screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        by: String,
        /// How far the two overlap: the other is choked by this first. Default 0.
        #[schemars(transform = table::OVERLAP.schema())]
        #[serde(default = "zero_mm")]
        overlap_mm: Mm,
    },
    /// Takes another screen's coverage off this one's.
    Subtract {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// The other screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        by: String,
        /// Share of it, 0..=1. Default 1.
        #[serde(default = "one")]
        amount: Coverage,
    },
    /// Exchanges what two screens print; inks, names and places in the order stay.
    Swap {
        /// One.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        a: String,
        /// The other.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        b: String,
    },
    /// A copy, printed right after its original.
    Copy {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Name of the copy.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        name: String,
        /// Its ink; the same if absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ink: Option<Ink>,
    },
    /// How often a screen prints, one hit on the other.
    Hits {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// 1 to 4.
        #[schemars(transform = table::HITS.schema())]
        hits: u8,
    },
    /// Moves a range of tones to a screen of its own, printed right after.
    Split {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Name of the new screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        name: String,
        /// Its ink.
        ink: Ink,
        /// Lightest tone that moves.
        from: Coverage,
        /// Darkest tone that moves.
        to: Coverage,
        /// Width of tone over which ink is shared at both ends. Default 0.1.
        #[serde(default = "tenth")]
        soft: Coverage,
    },
    /// A new screen read from the art, printed last.
    FromArt {
        /// Name of the new screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        name: String,
        /// Its ink.
        ink: Ink,
        /// What of the art makes ink.
        source: Source,
    },
    /// A new screen from a grey picture, stretched over the print, printed last.
    Import {
        /// Name of the new screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        name: String,
        /// Its ink.
        ink: Ink,
        /// The picture.
        picture: GreyPicture,
        /// Whether light makes ink. Default false: black is solid, as on a film.
        #[serde(default)]
        light: bool,
    },
    /// A new screen. The others are separated again with it, or stay: then a first black is made
    /// from the art's shadows and edges, and any other ink prints what brings the proof nearest to
    /// the art.
    Add {
        /// Name of the new screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        name: String,
        /// Its ink.
        ink: Ink,
        /// Where it prints. Default the usual place.
        #[serde(default)]
        place: Place,
        /// Whether all screens are separated again with it. Default true.
        #[serde(default = "yes")]
        resolve: bool,
    },
    /// Clears a screen where the art's background is: what is clear, and what joins the picture's
    /// edge in the edge's own colour.
    ClearBackground {
        /// The screen.
        #[schemars(transform = table::SCREEN_NAME.schema())]
        screen: String,
        /// Distance in OKLab that still counts as the edge's colour, 0 to 0.5. Default 0.045.
        #[schemars(transform = table::CLEAR_TOLERANCE.schema())]
        #[serde(default = "same")]
        tolerance: f64,
        /// Width over which ink comes back inside the background's border. Default 0: hard.
        #[schemars(transform = table::SOFT_EDGE.schema())]
        #[serde(default = "zero_mm")]
        feather_mm: Mm,
    },
}

/// Every name of a screen that must be there for an edit, as references of the edit's own kind.
macro_rules! named_screens {
    ($edit:expr) => {
        match $edit {
            Edit::Merge { from, into, .. } => vec![from, into],
            Edit::Order { screens } => screens.into_iter().collect::<Vec<_>>(),
            Edit::MaskByScreen { screen, by }
            | Edit::KnockOut { screen, by, .. }
            | Edit::Subtract { screen, by, .. } => vec![screen, by],
            Edit::Swap { a, b } => vec![a, b],
            Edit::ReInk { screen, .. }
            | Edit::Drop { screen, .. }
            | Edit::Trim { screen, .. }
            | Edit::Curve { screen, .. }
            | Edit::Levels { screen, .. }
            | Edit::Gain { screen, .. }
            | Edit::Density { screen, .. }
            | Edit::Invert { screen }
            | Edit::Choke { screen, .. }
            | Edit::Spread { screen, .. }
            | Edit::Specks { screen, .. }
            | Edit::Pinholes { screen, .. }
            | Edit::Blur { screen, .. }
            | Edit::Sharpen { screen, .. }
            | Edit::MaskRegion { screen, .. }
            | Edit::ClearBackground { screen, .. }
            | Edit::Copy { screen, .. }
            | Edit::Hits { screen, .. }
            | Edit::Split { screen, .. } => vec![screen],
            Edit::FromArt { .. } | Edit::Import { .. } | Edit::Add { .. } => vec![],
        }
    };
}

impl Edit {
    /// Merge by plain multiply.
    pub fn merge(from: impl Into<String>, into: impl Into<String>) -> Self {
        Self::Merge { from: from.into(), into: into.into(), balance: half() }
    }

    /// Re-ink, coverages kept.
    pub fn re_ink(screen: impl Into<String>, ink: Ink) -> Self {
        Self::ReInk { screen: screen.into(), ink, resolve: false }
    }

    /// Drop, the other screens kept.
    pub fn drop(screen: impl Into<String>) -> Self {
        Self::Drop { screen: screen.into(), resolve: false }
    }

    /// Trim of light tones, hard.
    pub fn trim(screen: impl Into<String>, below: Coverage, background: bool) -> Self {
        Self::Trim { screen: screen.into(), below, above: one(), soft: zero(), background }
    }

    /// In a word or two, for lists.
    pub fn label(&self) -> &'static str {
        match self {
            Self::Merge { .. } => "Merge",
            Self::ReInk { .. } => "Re-ink",
            Self::Drop { .. } => "Drop",
            Self::Order { .. } => "Print order",
            Self::Trim { .. } => "Trim",
            Self::Curve { .. } => "Tone curve",
            Self::Levels { .. } => "Tone range",
            Self::Gain { .. } => "Gain",
            Self::Density { .. } => "Density",
            Self::Invert { .. } => "Invert",
            Self::Choke { .. } => "Choke",
            Self::Spread { .. } => "Spread",
            Self::Specks { .. } => "Clean specks",
            Self::Pinholes { .. } => "Fill pinholes",
            Self::Blur { .. } => "Soften",
            Self::Sharpen { .. } => "Sharpen",
            Self::MaskRegion { .. } => "Mask by region",
            Self::MaskByScreen { .. } => "Mask by screen",
            Self::KnockOut { .. } => "Knock out",
            Self::Subtract { .. } => "Subtract",
            Self::Swap { .. } => "Swap",
            Self::Copy { .. } => "Copy",
            Self::Hits { .. } => "Hits",
            Self::Split { .. } => "Split tones",
            Self::FromArt { .. } => "Screen from art",
            Self::Import { .. } => "Grey picture",
            Self::Add { .. } => "Add screen",
            Self::ClearBackground { .. } => "Clear background",
        }
    }

    /// Whether its numbers and names make sense; if not, which one and why.
    pub fn check(&self) -> Result<(), String> {
        bounds::check(self).map_err(|e| e.what().to_owned())?;
        match self {
            Self::Merge { from, into, .. } if from.eq_ignore_ascii_case(into) => {
                Err(format!("\"{from}\" cannot be merged into itself; name two screens"))
            }
            Self::Swap { a, b } if a.eq_ignore_ascii_case(b) => {
                Err(format!("\"{a}\" cannot change places with itself; name two screens"))
            }
            Self::Trim { below, above, .. } if below > above => {
                Err("a trim's lower coverage must not lie above its upper one".to_owned())
            }
            Self::Levels { none, solid, .. } if none >= solid => {
                Err("the coverage that becomes none must lie below the one that becomes solid".to_owned())
            }
            Self::MaskRegion { region, .. } => region.check(),
            Self::FromArt { name, source, .. } if !name.trim().is_empty() => source.check(),
            Self::Split { from, to, .. } if from >= to => {
                Err("the range that is split off must end above where it begins".to_owned())
            }
            edit if edit.adds().is_some_and(|name| name.trim().is_empty()) => {
                Err("the new screen needs a name".to_owned())
            }
            _ => Ok(()),
        }
    }

    /// The screens that must be there for it.
    pub fn needs(&self) -> Vec<&str> {
        named_screens!(self).into_iter().map(String::as_str).collect()
    }

    /// Lets it name `to` wherever it names `from` as a screen that must be there.
    pub fn rename(&mut self, from: &str, to: &str) {
        for name in named_screens!(self).into_iter().filter(|name| name.eq_ignore_ascii_case(from)) {
            *name = to.to_owned();
        }
    }

    /// The screen that it adds.
    pub fn adds(&self) -> Option<&str> {
        match self {
            Self::Copy { name, .. }
            | Self::Split { name, .. }
            | Self::FromArt { name, .. }
            | Self::Import { name, .. }
            | Self::Add { name, .. } => Some(name),
            _ => None,
        }
    }

    /// The name of the screen that it adds, to change.
    pub fn adds_mut(&mut self) -> Option<&mut String> {
        match self {
            Self::Copy { name, .. }
            | Self::Split { name, .. }
            | Self::FromArt { name, .. }
            | Self::Import { name, .. }
            | Self::Add { name, .. } => Some(name),
            _ => None,
        }
    }

    /// The grey picture that it brings in.
    pub fn grey(&self) -> Option<&GreyPicture> {
        if let Self::Import { picture, .. } = self { Some(picture) } else { None }
    }

    /// The grey picture that it brings in, to give it its pixels.
    pub fn grey_mut(&mut self) -> Option<&mut GreyPicture> {
        if let Self::Import { picture, .. } = self { Some(picture) } else { None }
    }

    /// The screen that is gone after it.
    pub fn removes(&self) -> Option<&str> {
        match self {
            Self::Merge { from, .. } => Some(from),
            Self::Drop { screen, .. } => Some(screen),
            _ => None,
        }
    }
}

fn fraction(value: f64) -> Coverage {
    Coverage::new(value).unwrap_or_else(|_| unreachable!())
}

fn zero() -> Coverage {
    fraction(0.0)
}

fn twentieth() -> Coverage {
    fraction(0.05)
}

fn tenth() -> Coverage {
    fraction(0.1)
}

pub(super) fn half() -> Coverage {
    fraction(0.5)
}

fn one() -> Coverage {
    fraction(1.0)
}

fn yes() -> bool {
    true
}

fn same() -> f64 {
    0.045
}

fn zero_mm() -> Mm {
    Mm::new(0.0).unwrap_or_else(|_| unreachable!())
}
