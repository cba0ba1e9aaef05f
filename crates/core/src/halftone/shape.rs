//! Dot shapes by name: dots that grow on a turned grid, and dots of one size that are scattered
//! or stand on an upright grid.

use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::names::short;
use crate::units::{Coverage, MM_PER_INCH, Mm, ParseUnitError};

/// What a film's dots are like. Area is linear in coverage for each of them.
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
        #[schemars(transform = table::JOIN.schema())]
        first_join: Coverage,
        /// Coverage at which they join across it. Usual 0.6.
        #[schemars(transform = table::JOIN.schema())]
        second_join: Coverage,
    },
    /// Squares with sides along the screen's axes at every tone.
    Square,
    /// Squares on their points, a checkerboard at 50 %.
    Diamond,
    /// Lines along the screen's axis.
    Line,
    /// Stochastic: small squares scattered as blue noise. Ruling and angle do not apply.
    BlueNoise {
        /// Side of a dot in millimetres.
        #[schemars(transform = table::DOT.schema())]
        size_mm: Mm,
    },
    /// Stochastic: small squares by error diffusion, rows to and fro. Ruling and angle do not
    /// apply.
    Diffusion {
        /// Side of a dot in millimetres.
        #[schemars(transform = table::DOT.schema())]
        size_mm: Mm,
    },
    /// Square dots of an index separation, on an upright grid from the print's upper left corner.
    /// Each takes the coverage under its middle: none and solid come out exact, tones between
    /// are scattered.
    Index {
        /// Side of a dot in millimetres.
        #[schemars(transform = table::DOT.schema())]
        size_mm: Mm,
    },
}

/// Sizes of scattered and index dots that can be drawn, in millimetres.
pub const DOT_SIZES_MM: std::ops::RangeInclusive<f64> = table::DOT.range();

impl DotShape {
    /// An ellipse that joins at 40 and 60 %.
    pub fn usual_ellipse() -> Self {
        let at = |v| Coverage::new(v).unwrap_or_else(|_| unreachable!());
        Self::Ellipse { first_join: at(0.4), second_join: at(0.6) }
    }

    /// One of each kind, with usual values: 0.1 mm for stochastic dots, 0.3 mm for index.
    pub fn kinds() -> [Self; 9] {
        let mm = |v| Mm::new(v).unwrap_or_else(|_| unreachable!());
        [
            Self::Round,
            Self::Euclidean,
            Self::usual_ellipse(),
            Self::Square,
            Self::Diamond,
            Self::Line,
            Self::BlueNoise { size_mm: mm(0.1) },
            Self::Diffusion { size_mm: mm(0.1) },
            Self::Index { size_mm: mm(0.3) },
        ]
    }

    /// Name of the kind as it stands in a job.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Round => "round",
            Self::Euclidean => "euclidean",
            Self::Ellipse { .. } => "ellipse",
            Self::Square => "square",
            Self::Diamond => "diamond",
            Self::Line => "line",
            Self::BlueNoise { .. } => "blue-noise",
            Self::Diffusion { .. } => "diffusion",
            Self::Index { .. } => "index",
        }
    }

    /// Side of a dot where all dots have one size; such dots know no ruling and no angle.
    pub fn size_mm(&self) -> Option<Mm> {
        match self {
            Self::BlueNoise { size_mm } | Self::Diffusion { size_mm } | Self::Index { size_mm } => Some(*size_mm),
            _ => None,
        }
    }

    /// The same kind with dots of another size, if its dots have one.
    #[must_use]
    pub fn with_size(self, size_mm: Mm) -> Self {
        match self {
            Self::BlueNoise { .. } => Self::BlueNoise { size_mm },
            Self::Diffusion { .. } => Self::Diffusion { size_mm },
            Self::Index { .. } => Self::Index { size_mm },
            other => other,
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
        if let Some(size) = self.size_mm().filter(|size| !DOT_SIZES_MM.contains(&size.get())) {
            return Err(format!(
                "{} dots of {size} mm cannot be drawn; they can be {} to {} mm",
                self.name(),
                DOT_SIZES_MM.start(),
                DOT_SIZES_MM.end()
            ));
        }
        Ok(())
    }
}

impl std::fmt::Display for DotShape {
    /// As it is typed: `round`, `ellipse:40,60`, `blue-noise:100um`, `index:0.3mm`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Ellipse { first_join, second_join } => {
                write!(f, "ellipse:{:.0},{:.0}", first_join.get() * 100.0, second_join.get() * 100.0)
            }
            Self::Index { size_mm } => write!(f, "index:{size_mm}mm"),
            other => match other.size_mm() {
                Some(size) => write!(f, "{}:{:.0}um", other.name(), size.get() * 1000.0),
                None => f.write_str(other.name()),
            },
        }
    }
}

/// A dot shape's name that is not one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "there is no dot \"{0}\"; it can be round, euclidean, ellipse (or ellipse:40,60 with the two joining tones in \
     percent), square, diamond, line, or with the size of a dot blue-noise:100um, diffusion:100um, index:0.3mm or \
     index:85dpi"
)]
pub struct DotNameError(String);

impl FromStr for DotShape {
    type Err = DotNameError;

    fn from_str(text: &str) -> Result<Self, DotNameError> {
        let bad = || DotNameError(short(text));
        let lower = text.trim().to_lowercase();
        let (name, more) = lower.split_once(':').map_or((lower.as_str(), None), |(name, more)| (name, Some(more)));
        let plain = match name {
            "round" => Self::Round,
            "euclidean" => Self::Euclidean,
            "square" => Self::Square,
            "diamond" => Self::Diamond,
            "line" => Self::Line,
            "ellipse" => {
                let Some(joins) = more else { return Ok(Self::usual_ellipse()) };
                let (first, second) = joins.split_once(',').ok_or_else(bad)?;
                let share = |part: &str| {
                    part.trim().parse::<f64>().ok().and_then(|p| Coverage::new(p / 100.0).ok()).ok_or_else(bad)
                };
                return Ok(Self::Ellipse { first_join: share(first)?, second_join: share(second)? });
            }
            "blue-noise" | "diffusion" | "index" => {
                let size_mm = more.and_then(|size| dot_side(size).ok()).ok_or_else(bad)?;
                return Ok(match name {
                    "blue-noise" => Self::BlueNoise { size_mm },
                    "diffusion" => Self::Diffusion { size_mm },
                    _ => Self::Index { size_mm },
                });
            }
            _ => return Err(bad()),
        };
        if more.is_some() { Err(bad()) } else { Ok(plain) }
    }
}

/// The side of a dot: a length (`100um`, `0.1mm`), or dots an inch (`85dpi`).
pub fn dot_side(text: &str) -> Result<Mm, ParseUnitError> {
    let bad = || ParseUnitError::Form { text: short(text), what: "size of a dot", example: "100um, 0.14mm or 180dpi" };
    let lower = text.trim().to_lowercase();
    let side = match lower.strip_suffix("dpi") {
        Some(dots) => {
            let per_inch: f64 = dots.trim().parse().map_err(|_| bad())?;
            Mm::new(MM_PER_INCH / per_inch).ok().filter(|_| per_inch.is_finite() && per_inch > 0.0).ok_or_else(bad)?
        }
        None => lower.parse().map_err(|_| bad())?,
    };
    if side.get() > 0.0 { Ok(side) } else { Err(bad()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_back_as_they_are_written() {
        for shape in DotShape::kinds() {
            assert_eq!(shape.to_string().parse::<DotShape>().unwrap(), shape);
        }
        assert_eq!("index:100dpi".parse::<DotShape>().unwrap().size_mm().unwrap().get(), 0.254);
        for bad in ["oval", "index", "index:", "index:0mm", "blue-noise:100", "round:3", "ellipse:40", "diffusion:-1um"]
        {
            assert!(bad.parse::<DotShape>().unwrap_err().to_string().contains("index:0.3mm"), "{bad}");
        }
        assert!("index:9mm".parse::<DotShape>().unwrap().check().is_err());
    }
}
