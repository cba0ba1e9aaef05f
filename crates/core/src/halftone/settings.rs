//! How films are screened: what the user decides, in physical units.

use std::collections::BTreeMap;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::units::{Coverage, Degrees, Dpi, Lpi, Mm};

/// Shape of the halftone dot. Area is linear in coverage for each of them.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum DotShape {
    /// Round at every tone; dots join at 78.5 %.
    #[default]
    Round,
    /// Round below 50 %, a checkerboard at 50 %, round holes above.
    Euclidean,
    /// Longer along the screen's axis: dots join there first and across later.
    Ellipse {
        /// Coverage at which dots join along the axis. Usual 0.4.
        first_join: Coverage,
        /// Coverage at which they join across it. Usual 0.6.
        second_join: Coverage,
    },
    /// Squares with sides along the screen's axes at every tone.
    Square,
    /// Squares on their points, a checkerboard at 50 %.
    Diamond,
    /// Lines along the screen's axis.
    Line,
}

impl DotShape {
    /// An ellipse that joins at 40 and 60 %.
    pub fn usual_ellipse() -> Self {
        let at = |v| Coverage::new(v).unwrap_or_else(|_| unreachable!());
        Self::Ellipse { first_join: at(0.4), second_join: at(0.6) }
    }

    /// Name as it stands in a job and on a film.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Round => "round",
            Self::Euclidean => "euclidean",
            Self::Ellipse { .. } => "ellipse",
            Self::Square => "square",
            Self::Diamond => "diamond",
            Self::Line => "line",
        }
    }

    /// Says what is wrong with the shape, if anything.
    pub fn check(&self) -> Result<(), String> {
        if let Self::Ellipse { first_join, second_join } = self {
            let (first, second) = (first_join.get(), second_join.get());
            if !(0.2..=0.8).contains(&first) || !(0.2..=0.8).contains(&second) || first > second {
                return Err(format!(
                    "an ellipse joins first at 20 to 80 % and then at as much or more, up to 80 %; {:.0} and {:.0} % \
                     cannot be drawn",
                    first * 100.0,
                    second * 100.0
                ));
            }
        }
        Ok(())
    }
}

/// A dot shape's name that is not one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "there is no dot \"{0}\"; it can be round, euclidean, ellipse (or ellipse:40,60 with the two joining tones in \
     percent), square, diamond or line"
)]
pub struct DotNameError(String);

impl FromStr for DotShape {
    type Err = DotNameError;

    fn from_str(text: &str) -> Result<Self, DotNameError> {
        let bad = || DotNameError(text.to_owned());
        Ok(match text.trim().to_lowercase().as_str() {
            "round" => Self::Round,
            "euclidean" => Self::Euclidean,
            "ellipse" => Self::usual_ellipse(),
            "square" => Self::Square,
            "diamond" => Self::Diamond,
            "line" => Self::Line,
            other => {
                let joins = other.strip_prefix("ellipse:").and_then(|j| j.split_once(',')).ok_or_else(bad)?;
                let share = |part: &str| {
                    part.trim().parse::<f64>().ok().and_then(|p| Coverage::new(p / 100.0).ok()).ok_or_else(bad)
                };
                Self::Ellipse { first_join: share(joins.0)?, second_join: share(joins.1)? }
            }
        })
    }
}

/// Which side of the film carries the image when it reads right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Emulsion {
    /// Reads right with the emulsion towards you: the usual film for a screen.
    #[default]
    Up,
    /// Reads right with the emulsion away from you: the image is mirrored.
    Down,
}

/// What becomes of tones that a press cannot hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DotPolicy {
    /// They stay as they are.
    #[default]
    Keep,
    /// Highlights under the limit become none; shadows over it become solid.
    Clip,
    /// Highlights under the limit are brought up to it; shadows over it are brought down to it.
    /// No ink and solid stay what they are.
    Lift,
}

/// The smallest and largest dot a film carries, as film coverage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct DotLimits {
    /// Smallest dot. Default 0.03 (common practice, depends on mesh and ruling).
    pub smallest: Coverage,
    /// What becomes of smaller ones. Default keep.
    pub below: DotPolicy,
    /// Largest dot. Default 0.97.
    pub largest: Coverage,
    /// What becomes of larger ones. Default keep.
    pub above: DotPolicy,
}

impl Default for DotLimits {
    fn default() -> Self {
        let at = |v| Coverage::new(v).unwrap_or_else(|_| unreachable!());
        Self { smallest: at(0.03), below: DotPolicy::Keep, largest: at(0.97), above: DotPolicy::Keep }
    }
}

/// A film printer's own tone, from a measured wedge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Linearisation {
    /// Name of the wedge, printed on the film.
    pub name: String,
    /// Coverage sent to the printer and coverage measured on its film; 0 and 1 are implied.
    pub points: Vec<(Coverage, Coverage)>,
}

/// Where a screen differs from the rest of the job.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ScreenFilm {
    /// Its ruling.
    pub ruling: Option<Lpi>,
    /// Its angle.
    pub angle: Option<Degrees>,
    /// Its dot.
    pub dot: Option<DotShape>,
    /// Its mesh as the shop calls it, printed on the film.
    pub mesh: Option<String>,
}

/// Film settings of a job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct FilmSettings {
    /// Film printer resolution. Default 720 dpi.
    pub dpi: Dpi,
    /// Its resolution down the film, where it differs (720 x 1440). Default none: the same.
    pub dpi_down: Option<Dpi>,
    /// Ruling. Default 45 lpi.
    pub ruling: Lpi,
    /// Angle. Default 22.5 degrees for every screen (the trade's one-angle rule).
    pub angle: Degrees,
    /// Dot shape. Default round.
    pub dot: DotShape,
    /// What differs, by screen name.
    pub screens: BTreeMap<String, ScreenFilm>,
    /// Smallest and largest dot.
    pub limits: DotLimits,
    /// The film printer's measured tone. Default none: taken as linear.
    pub linearisation: Option<Linearisation>,
    /// Emulsion side. Default up: right-reading.
    pub emulsion: Emulsion,
    /// Reversed film, clear where ink prints, for direct exposure. Default false.
    pub reverse: bool,
    /// Film around the print on each side. Default 12.7 mm (half an inch).
    pub margin: Mm,
    /// Registration marks, centre lines and crop corners. Default true.
    pub marks: bool,
    /// A label that names job, screen and settings. Default true.
    pub label: bool,
    /// A step wedge of uncompensated tones. Default true.
    pub wedge: bool,
}

impl Default for FilmSettings {
    fn default() -> Self {
        Self {
            dpi: Dpi::new(720.0).unwrap_or_else(|_| unreachable!()),
            dpi_down: None,
            ruling: Lpi::new(45.0).unwrap_or_else(|_| unreachable!()),
            angle: Degrees::new(22.5).unwrap_or_else(|_| unreachable!()),
            dot: DotShape::Round,
            screens: BTreeMap::new(),
            limits: DotLimits::default(),
            linearisation: None,
            emulsion: Emulsion::Up,
            reverse: false,
            margin: Mm::new(12.7).unwrap_or_else(|_| unreachable!()),
            marks: true,
            label: true,
            wedge: true,
        }
    }
}

impl FilmSettings {
    /// Ruling, angle and dot of a screen.
    pub fn of_screen(&self, name: &str) -> (Lpi, Degrees, DotShape) {
        let own = self.own(name);
        (
            own.and_then(|s| s.ruling).unwrap_or(self.ruling),
            own.and_then(|s| s.angle).unwrap_or(self.angle),
            own.and_then(|s| s.dot).unwrap_or(self.dot),
        )
    }

    /// What differs for a screen, its name's case ignored.
    pub fn own(&self, name: &str) -> Option<&ScreenFilm> {
        self.screens.iter().find(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, own)| own)
    }
}
