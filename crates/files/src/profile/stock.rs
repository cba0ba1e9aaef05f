//! What the shop has of its inks, and what can be mixed from it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use strikeoff_core::bounds::table;
use strikeoff_core::color::{Lab, ciede2000, lab_from_linear};
use strikeoff_core::ink::{Garment, Ink, InkRole};
use strikeoff_core::names::{find, same};
use strikeoff_core::recipe::{Component, InkRoom};

use super::ShopProfile;
use crate::shelf::house_garments;

/// Inks that a recipe from the shelf is tried of: every set of four of them, in a moment.
const MOST_MIXED: usize = 14;

/// What the shop has of an ink of its shelf, and how it prints it. What is left out is not known.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Stock {
    /// The ink, by its name on the shelf.
    #[schemars(transform = table::INK_NAME.schema())]
    pub ink: String,
    /// Grams at hand.
    #[schemars(transform = table::STOCK.schema())]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grams: Option<f64>,
    /// Price of a kilogram.
    #[schemars(transform = table::PRICE.schema())]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_per_kg: Option<f64>,
    /// Threads an inch of the mesh that it is printed through, whatever the job; by use if left out.
    #[schemars(transform = table::THREADS.schema())]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mesh_tpi: Option<f64>,
}

impl ShopProfile {
    /// What the shop has of an ink.
    pub fn stock_of(&self, ink: &str) -> Option<&Stock> {
        find(&self.stock, ink, |stock| &stock.ink)
    }

    /// The shop's garments, or those of the house.
    pub fn garments_at_hand(&self) -> &[Garment] {
        if self.garments.is_empty() { house_garments() } else { &self.garments }
    }

    /// The ink room that the shelf makes for a colour: finished inks with their prices, whites, blacks and bases first, then
    /// the colours nearest to it (CIEDE2000). A shop that keeps stock mixes from that alone. `without` is the ink that
    /// is to be mixed.
    pub fn ink_room(&self, near: Lab, without: Option<&str>) -> InkRoom {
        let in_stock =
            |ink: &Ink| self.stock_of(&ink.name).and_then(|stock| stock.grams).is_some_and(|grams| grams > 0.0);
        let mut inks: Vec<&Ink> =
            self.shelf.inks.iter().filter(|ink| without.is_none_or(|name| !same(name, &ink.name))).collect();
        let stocked = inks.iter().any(|ink| in_stock(ink));
        inks.retain(|ink| !stocked || in_stock(ink));
        let off = |ink: &Ink| ciede2000(lab_from_linear(ink.over_white.linear()), near);
        inks.sort_by(|a, b| off(a).total_cmp(&off(b)));
        let component = |ink: &Ink| Component {
            price_per_kg: self.stock_of(&ink.name).and_then(|stock| stock.price_per_kg),
            ..Component::of_ink(ink)
        };
        let (colors, plain): (Vec<&Ink>, Vec<&Ink>) = inks.into_iter().partition(|ink| ink.role == InkRole::Color);
        let plain = plain.into_iter().take(MOST_MIXED / 2);
        InkRoom { surface: None, components: plain.chain(colors).take(MOST_MIXED).map(component).collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shelf::house_shelf;
    use strikeoff_core::job::Job;

    #[test]
    fn an_ink_is_mixed_from_what_is_in_stock_and_printed_through_its_own_mesh() {
        let mut profile = ShopProfile::default();
        let red = house_shelf().find("Brick red").unwrap().clone();
        let near = lab_from_linear(red.over_white.linear());
        let room = profile.ink_room(near, Some("brick RED"));
        assert_eq!(room.components.len(), MOST_MIXED);
        assert!(room.check().is_ok() && room.find("Brick red").is_err());
        let stock = |ink: &str, grams, price_per_kg| Stock { ink: ink.into(), grams, price_per_kg, mesh_tpi: None };
        profile.stock = vec![
            stock("Base white", Some(900.0), Some(14.0)),
            stock("Golden yellow", Some(0.0), None),
            Stock { mesh_tpi: Some(156.0), ..stock("Ink black", Some(300.0), None) },
        ];
        let names: Vec<_> =
            profile.ink_room(near, None).components.into_iter().map(|c| (c.name, c.price_per_kg)).collect();
        assert_eq!(names.len(), 2, "{names:?}");
        assert!(names.contains(&("Base white".to_owned(), Some(14.0))));
        let mut job = Job::new(house_garments()[0].clone());
        let inks = ["Ink black", "Brick red"].map(|name| house_shelf().find(name).unwrap().clone());
        job.separation = strikeoff_core::separate::SeparationSettings::for_inks(inks);
        profile.apply_to(&mut job);
        let mesh = |screen: &str| job.run.mesh_of(&screen.into()).threads_per_inch;
        assert!((mesh("Ink black") - 156.0).abs() < 10.0 && mesh("Brick red") > 200.0, "{}", mesh("Brick red"));
        assert_eq!(profile.garments_at_hand(), house_garments());
    }
}
