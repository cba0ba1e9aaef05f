//! Checked units. A number that leaves its physical range is refused where it enters,
//! so the stages behind need no defensive clamps.

use serde::{Deserialize, Serialize};

/// A number was outside the range of its unit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{what} must be {min} to {max}{}{unit}, not {value}", if unit.is_empty() { "" } else { " " })]
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
}
