//! Argument values that need the house's own data to be read: garments and screens by name.

use anyhow::bail;
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::Garment;
use strikeoff_files::shelf::{house_garment, house_garments};

/// A garment as `#RRGGBB` or by the name of a house garment.
pub fn garment(text: &str) -> anyhow::Result<Garment> {
    if let Some(garment) = house_garment(text) {
        return Ok(garment.clone());
    }
    match text.parse::<Rgb8>() {
        Ok(color) => {
            let known = house_garments().iter().find(|g| g.color == color);
            Ok(known.cloned().unwrap_or_else(|| Garment::of_color(color)))
        }
        Err(_) => {
            let names: Vec<_> = house_garments().iter().map(|g| g.name.to_lowercase()).collect();
            bail!("\"{text}\" is no garment colour; write #RRGGBB or one of: {}", names.join(", "))
        }
    }
}

/// Splits a list of names at commas.
pub fn names(text: &str) -> Vec<String> {
    text.split(',').map(str::trim).filter(|name| !name.is_empty()).map(str::to_owned).collect()
}
