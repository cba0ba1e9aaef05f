//! What compression and resizing did to a picture before it came.

use serde::Serialize;

use super::learned::found;
use crate::raster::Picture;

/// Softness from which a picture was enlarged or blurred before it came, and sharpness from which it was sharpened.
const SOFT: f64 = 0.4;
const SHARPENED: f64 = -0.4;

/// Wear of a picture, as far as a small trained net can tell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Wear {
    /// Damage of compression: 0 none, 1 that of a JPEG of quality 30.
    pub damage: f64,
    /// 0 as sharp as its pixels; above it enlarged or blurred already, below it sharpened.
    pub softness: f64,
}

impl Wear {
    /// That of a picture. None if the program's weights are damaged, which enlarging then says.
    pub fn of(picture: &Picture) -> Option<Self> {
        found(picture).ok().map(|found| Self { damage: found.damage, softness: found.softness })
    }

    /// The quality of a JPEG that is damaged as much; none where no damage is found.
    pub fn like_jpeg(&self) -> Option<u32> {
        (self.damage > 0.0).then(|| (100.0 - 70.0 * self.damage).round() as u32)
    }

    /// In words, a sentence each.
    pub fn words(&self) -> Vec<String> {
        let damage = match self.like_jpeg() {
            None => "No damage of compression found".to_owned(),
            Some(quality) => format!("Damaged by compression, about as a JPEG of quality {quality}"),
        };
        let mut words = vec![damage];
        match self.softness {
            s if s > SOFT => words.push("Softer than its pixels: enlarged or blurred before it came in".to_owned()),
            s if s < SHARPENED => words.push("Sharpened before it came in".to_owned()),
            _ => {}
        }
        words
    }
}
