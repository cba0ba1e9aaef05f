//! Checked units. A number that leaves its physical range is refused where it enters,
//! so the stages behind need no defensive clamps.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::{Bound, plain_number};
use crate::names::short;

/// A number was outside the range of its unit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{what} must be {min} to {max}{}{unit}, not {}", if unit.is_empty() { "" } else { " " }, plain_number(*value))]
pub struct UnitError {
    what: &'static str,
    unit: &'static str,
    min: f64,
    max: f64,
    value: f64,
}

macro_rules! unit {
    ($(#[$doc:meta])* $name:ident, $what:literal, $unit:literal, $min:expr, $max:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(try_from = "f64", into = "f64")]
        pub struct $name(f64);

        impl $name {
            /// Checks the range; NaN is refused.
            pub fn new(value: f64) -> Result<Self, UnitError> {
                if ($min..=$max).contains(&value) {
                    Ok(Self(value))
                } else {
                    Err(UnitError { what: $what, unit: $unit, min: $min, max: $max, value })
                }
            }

            /// The bare number, in the unit of the type.
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                let mut schema = schemars::json_schema!({ "type": "number" });
                Bound::new($what, $unit, $min, $max).schema()(&mut schema);
                schema
            }
        }

        impl TryFrom<f64> for $name {
            type Error = UnitError;
            fn try_from(value: f64) -> Result<Self, UnitError> {
                Self::new(value)
            }
        }

        impl From<$name> for f64 {
            fn from(value: $name) -> f64 {
                value.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                // At most three decimals, no trailing zeros: 22.5, 45, 0.333.
                let text = format!("{:.3}", self.0);
                f.write_str(text.trim_end_matches('0').trim_end_matches('.'))
            }
        }
    };
}

unit!(
    /// Fraction of the area that carries ink: 0 none, 1 solid.
    Coverage, "coverage", "", 0.0, 1.0
);
unit!(
    /// Opacity of an ink: its contrast ratio, luminance over black / luminance over white.
    Opacity, "opacity", "", 0.0, 1.0
);
unit!(
    /// Halftone ruling in lines (dots) per inch.
    Lpi, "ruling", "lpi", 5.0, 300.0
);
unit!(
    /// Angle in degrees, counter-clockwise from the horizontal of the film seen right-reading.
    Degrees, "angle", "degrees", -360.0, 360.0
);
unit!(
    /// Picture resolution in pixels per inch.
    Ppi, "resolution", "ppi", 1.0, 6000.0
);
unit!(
    /// Film printer resolution in dots per inch.
    Dpi, "film resolution", "dpi", 72.0, 10160.0
);
unit!(
    /// A length in millimetres, zero or more.
    Mm, "length", "mm", 0.0, 100_000.0
);

/// Unit in which lengths of the print are shown and typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LengthUnit {
    /// Inches.
    #[default]
    Inch,
    /// Millimetres.
    Mm,
}

/// Millimetres in one inch, exactly.
pub const MM_PER_INCH: f64 = 25.4;

impl Mm {
    /// From inches.
    pub fn from_inches(inches: f64) -> Result<Self, UnitError> {
        Self::new(inches * MM_PER_INCH)
    }

    /// In inches.
    pub fn inches(self) -> f64 {
        self.0 / MM_PER_INCH
    }

    /// In pixels (not rounded) at a resolution.
    pub fn px(self, ppi: f64) -> f64 {
        self.inches() * ppi
    }
}

/// A quantity as written that could not be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ParseUnitError {
    /// Not a number with a unit that fits.
    #[error("\"{text}\" is not {} {what}; write it like {example}", if what.starts_with('a') { "an" } else { "a" })]
    Form {
        /// As written.
        text: String,
        /// What it should be.
        what: &'static str,
        /// How to write it.
        example: &'static str,
    },
    /// Out of range.
    #[error(transparent)]
    Range(#[from] UnitError),
}

/// Splits a number from the unit behind it, which may be absent and is matched without case.
fn number_with_unit(text: &str) -> Option<(f64, String)> {
    let text = text.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    number.is_finite().then(|| (number, text[end..].trim().to_lowercase()))
}

macro_rules! parse_unit {
    ($name:ident, $what:literal, $example:literal, { $($unit:pat => $factor:expr),+ $(,)? }) => {
        impl std::str::FromStr for $name {
            type Err = ParseUnitError;

            fn from_str(text: &str) -> Result<Self, ParseUnitError> {
                let bad = || ParseUnitError::Form { text: short(text), what: $what, example: $example };
                let (number, unit) = number_with_unit(text).ok_or_else(bad)?;
                let factor: f64 = match unit.as_str() {
                    $($unit => $factor,)+
                    _ => return Err(bad()),
                };
                Ok(Self::new(number * factor)?)
            }
        }
    };
}

// A length must say its unit: a bare 18 could be either.
parse_unit!(Mm, "length", "18in or 457mm", {
    "mm" => 1.0, "cm" => 10.0, "in" | "inch" | "\"" => MM_PER_INCH, "um" | "\u{b5}m" | "\u{3bc}m" => 0.001,
});
parse_unit!(Lpi, "ruling", "45lpi", { "" | "lpi" => 1.0, "/cm" => 2.54 });
parse_unit!(Degrees, "angle", "22.5", { "" | "deg" | "\u{b0}" => 1.0 });
parse_unit!(Ppi, "resolution", "300ppi", { "" | "ppi" => 1.0 });
parse_unit!(Dpi, "film resolution", "720dpi", { "" | "dpi" => 1.0 });
parse_unit!(Coverage, "coverage", "0.1 or 10%", { "" => 1.0, "%" => 0.01 });

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn out_of_range_and_nan_are_refused() {
        assert!(Lpi::new(45.0).is_ok());
        assert!(Lpi::new(0.0).is_err());
        assert!(Coverage::new(f64::NAN).is_err());
        let error = serde_json::from_str::<Coverage>("1.5").unwrap_err().to_string();
        assert!(error.contains("coverage must be 0 to 1"), "{error}");
    }

    #[test]
    fn inches_and_millimetres_agree() {
        // International inch of 1959: 25.4 mm exactly.
        assert_eq!(Mm::from_inches(18.0).unwrap().get(), 457.2);
        assert_eq!(Mm::from_inches(18.0).unwrap().px(300.0), 5400.0);
    }

    #[test]
    fn quantities_are_read_as_people_write_them() {
        assert_eq!("18in".parse::<Mm>().unwrap().get(), 457.2);
        assert_eq!("18 in".parse::<Mm>().unwrap(), "457.2mm".parse::<Mm>().unwrap());
        assert_eq!("100um".parse::<Mm>().unwrap(), "0.1 mm".parse::<Mm>().unwrap());
        assert_eq!("45 LPI".parse::<Lpi>().unwrap().get(), 45.0);
        assert_eq!("-22.5".parse::<Degrees>().unwrap().get(), -22.5);
        assert_eq!("10%".parse::<Coverage>().unwrap().get(), 0.1);
        for bad in ["18", "in", "18ft", "", "1e999mm", "NaNmm", "\u{e9}mm"] {
            let error = bad.parse::<Mm>().unwrap_err().to_string();
            assert!(error.contains("18in or 457mm"), "{bad}: {error}");
        }
        assert!("0lpi".parse::<Lpi>().unwrap_err().to_string().contains("5 to 300 lpi"));
    }
}
