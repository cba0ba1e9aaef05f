//! A colour as people write it: `#RRGGBB`, sRGB.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{LinRgb, linear_from_u16};

/// A colour that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not a colour; write it as #RRGGBB, for example #1B1B1E")]
pub struct ColorError(String);

/// An 8-bit sRGB colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Rgb8(pub [u8; 3]);

impl Rgb8 {
    /// In linear light.
    pub fn linear(self) -> LinRgb {
        linear_from_u16(&self.0.map(|v| u16::from(v) * 257))
    }

    /// The nearest 8-bit colour to a linear one.
    pub fn from_linear(linear: LinRgb) -> Self {
        Self(super::encode_u16(linear).map(|v| ((u32::from(v) + 128) / 257) as u8))
    }
}

impl FromStr for Rgb8 {
    type Err = ColorError;

    fn from_str(text: &str) -> Result<Self, ColorError> {
        let bad = || ColorError(text.to_owned());
        let digits = text.trim().strip_prefix('#').ok_or_else(bad)?;
        if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(bad());
        }
        let value = u32::from_str_radix(digits, 16).map_err(|_| bad())?;
        Ok(Self([(value >> 16) as u8, (value >> 8) as u8, value as u8]))
    }
}

impl schemars::JsonSchema for Rgb8 {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Rgb8".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "string", "pattern": "^#[0-9A-Fa-f]{6}$", "description": "#RRGGBB, sRGB" })
    }
}

impl TryFrom<String> for Rgb8 {
    type Error = ColorError;
    fn try_from(text: String) -> Result<Self, ColorError> {
        text.parse()
    }
}

impl From<Rgb8> for String {
    fn from(color: Rgb8) -> String {
        color.to_string()
    }
}

impl std::fmt::Display for Rgb8 {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let [r, g, b] = self.0;
        write!(f, "#{r:02X}{g:02X}{b:02X}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hex_round_trips_and_misspellings_are_named() {
        let color: Rgb8 = "#1b2C3d".parse().unwrap();
        assert_eq!(color.to_string(), "#1B2C3D");
        assert_eq!(Rgb8::from_linear(color.linear()), color);
        for bad in ["1B2C3D", "#1B2C3", "#1B2C3G", "navy", "", "#é1234"] {
            assert!(bad.parse::<Rgb8>().unwrap_err().to_string().contains("#RRGGBB"));
        }
    }
}
