//! Grams of ink for a run. Theory (open stencil area x mesh volume x density) is a floor: shops
//! use 1.6 times that and more, by squeegee, tension, hits and waste. So a figure is a range with
//! a likely value, and one weighed shirt narrows it.

use crate::screens::ScreenName;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Mesh;
use crate::bounds::table;

/// What is assumed about ink on the run. Every figure may be replaced by the shop's own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct InkUse {
    /// Density in g/cm3. Default 1.3, between 1.1 of light colours and 1.44 of a published white
    /// (12 lb a US gallon).
    #[schemars(transform = table::INK_DENSITY.schema())]
    pub density_g_cm3: f64,
    /// Real use over theory: least, likely, most. Default 1.0, 1.65, 4.0: theory itself; the
    /// middle of a published cost table (1.6 to 1.7); the highest published example.
    #[schemars(transform = table::USE_FACTOR.each())]
    pub factor: [f64; 3],
    /// A shirt weighed before and after, in grams of ink of all screens. Narrows the factor to
    /// 15 % either way. Absent: not weighed.
    #[schemars(transform = table::WEIGHED.schema())]
    pub weighed_g_per_shirt: Option<f64>,
    /// Spoilage, a fraction of the run. Default 0.03 (trade: misprints up to 3 % are usual).
    #[schemars(transform = table::SPOILAGE.schema())]
    pub spoilage: f64,
    /// Ink that stays in each screen after the run, in grams. Default 120, assumed.
    #[schemars(transform = table::LEFT_IN_SCREEN.schema())]
    pub left_in_screen_g: f64,
    /// Ink put on a screen at a time, in grams. Default 450, assumed.
    #[schemars(transform = table::CHARGE.schema())]
    pub charge_g: f64,
    /// Price of ink a kilogram by screen name; screens not named are not priced.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[schemars(transform = table::SCREEN_NAME.keys())]
    #[schemars(transform = table::PRICE.each())]
    pub price_per_kg: std::collections::BTreeMap<ScreenName, f64>,
}

impl Default for InkUse {
    fn default() -> Self {
        Self {
            density_g_cm3: 1.3,
            factor: [1.0, 1.65, 4.0],
            weighed_g_per_shirt: None,
            spoilage: 0.03,
            left_in_screen_g: 120.0,
            charge_g: 450.0,
            price_per_kg: std::collections::BTreeMap::new(),
        }
    }
}

/// A range: least, likely and most.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Range {
    /// Least.
    pub low: f64,
    /// Likely.
    pub likely: f64,
    /// Most.
    pub high: f64,
}

impl Range {
    fn times(self, k: f64) -> Self {
        Self { low: self.low * k, likely: self.likely * k, high: self.high * k }
    }
}

/// Ink on one screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScreenInk {
    /// The screen.
    pub screen: ScreenName,
    /// Theoretical grams a shirt.
    pub theory_g_per_shirt: f64,
    /// Grams a shirt as the press will use it.
    pub g_per_shirt: Range,
    /// Grams for the run with spoilage, without what stays in the screen.
    pub run_g: Range,
    /// Grams to mix: the run's likely use and what stays in the screen.
    pub mix_g: f64,
    /// Cost of the likely use and the rest in the screen, if priced.
    pub cost: Option<f64>,
    /// Shirts after which to look at the ink in the screen, so that it never runs dry even at
    /// the high figure.
    pub check_every_shirts: u32,
}

/// What a screen needs for [`ink_for_run`].
#[derive(Debug, Clone, Copy)]
pub struct ScreenLoad<'a> {
    /// Name of the screen.
    pub name: &'a ScreenName,
    /// Mean coverage of the open stencil (the film), 0..1.
    pub film_coverage: f64,
    /// Prints of it on a shirt.
    pub hits: u8,
    /// Its mesh.
    pub mesh: &'a Mesh,
}

/// Theoretical ink in grams of one print: area x coverage x mesh volume x density x hits.
pub fn theory_g(area_mm2: f64, load: &ScreenLoad<'_>, density_g_cm3: f64) -> f64 {
    area_mm2 / 1e6 * load.film_coverage * load.mesh.volume_cm3_m2() * density_g_cm3 * f64::from(load.hits)
}

/// Shirts to print so that `quantity` good ones are left: misprints of `spoilage` on top,
/// rounded up.
pub fn shirts_with_spares(quantity: u32, spoilage: f64) -> u32 {
    quantity + (f64::from(quantity) * spoilage.clamp(0.0, 1.0)).ceil() as u32
}

/// Ink of every screen for a run. With no quantity the run is one shirt.
pub fn ink_for_run(area_mm2: f64, quantity: u32, loads: &[ScreenLoad<'_>], ink: &InkUse) -> Vec<ScreenInk> {
    let theory: Vec<f64> = loads.iter().map(|l| theory_g(area_mm2, l, ink.density_g_cm3)).collect();
    let all: f64 = theory.iter().sum();
    let factor = match ink.weighed_g_per_shirt {
        Some(weighed) if all > 0.0 => {
            let k = weighed / all;
            Range { low: 0.85 * k, likely: k, high: 1.15 * k }
        }
        _ => Range { low: ink.factor[0], likely: ink.factor[1], high: ink.factor[2] },
    };
    let shirts = f64::from(shirts_with_spares(quantity.max(1), ink.spoilage));
    let usable = (ink.charge_g - ink.left_in_screen_g).max(1.0);
    loads
        .iter()
        .zip(&theory)
        .map(|(load, &theory)| {
            let each = factor.times(theory);
            let run = each.times(shirts);
            let mix = run.likely + ink.left_in_screen_g;
            ScreenInk {
                screen: load.name.clone(),
                theory_g_per_shirt: theory,
                g_per_shirt: each,
                run_g: run,
                mix_g: mix,
                cost: ink.price_per_kg.get(load.name).map(|price| price * mix / 1000.0),
                check_every_shirts: if each.high > 0.0 {
                    ((usable / each.high).floor() as u32).clamp(1, 10_000)
                } else {
                    10_000
                },
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// 12 x 16 in at 25 % coverage on 225/40 (25 cm3/m2, published) with 1.44 g/cm3: 1.1 g a
    /// shirt, 167 g for 150 (arithmetic of the trade notes).
    #[test]
    fn a_full_front_uses_about_a_gram() {
        let mesh = Mesh::named("225/40").unwrap();
        let load = ScreenLoad { name: &"a".into(), film_coverage: 0.25, hits: 1, mesh: &mesh };
        let area = 12.0 * 16.0 * 25.4 * 25.4;
        let each = theory_g(area, &load, 1.44);
        assert_abs_diff_eq!(each, 1.115, epsilon = 0.005);
        assert_abs_diff_eq!(each * 150.0, 167.0, epsilon = 0.5);
    }

    /// Published examples (ink_consumption.csv) lie inside our range: cm3/m2 used on 110, 156 and
    /// 195 mesh at 50 % of 144 sq in, and the full front that needs about four times theory.
    #[test]
    fn published_use_lies_within_the_range() {
        let table = std::fs::read_to_string(format!(
            "{}/../../tests/fixtures/reference/ink_consumption.csv",
            env!("CARGO_MANIFEST_DIR")
        ))
        .unwrap();
        let mut seen = 0;
        for line in table.lines().skip(2) {
            let Some(mesh) = ["110/80", "156/64", "195/55"].iter().find(|m| {
                let count = m.split('/').next().unwrap();
                line.starts_with(&format!("cost by mesh,{count},")) || line.starts_with(&format!("full front,{count},"))
            }) else {
                continue;
            };
            // The last number of the row before its status is the use in cm3/m2.
            let used: f64 = line.split(',').filter_map(|c| c.parse().ok()).next_back().unwrap();
            let theory = Mesh::named(mesh).unwrap().volume_cm3_m2();
            let [low, _, high] = InkUse::default().factor;
            assert!((low * theory..=high * theory).contains(&used), "{mesh}: {used} of theory {theory}");
            seen += 1;
        }
        assert_eq!(seen, 4);
    }

    #[test]
    fn a_weighed_shirt_narrows_the_range_and_prices_add_up() {
        let mesh = Mesh::default();
        let loads = [
            ScreenLoad { name: &"base".into(), film_coverage: 0.4, hits: 2, mesh: &mesh },
            ScreenLoad { name: &"red".into(), film_coverage: 0.2, hits: 1, mesh: &mesh },
        ];
        let mut ink = InkUse::default();
        let wide = ink_for_run(100_000.0, 150, &loads, &ink);
        ink.weighed_g_per_shirt = Some(5.0);
        ink.price_per_kg.insert("red".into(), 20.0);
        let narrow = ink_for_run(100_000.0, 150, &loads, &ink);
        assert!(wide[0].g_per_shirt.high / wide[0].g_per_shirt.low > 3.0);
        assert_abs_diff_eq!(narrow[0].g_per_shirt.likely + narrow[1].g_per_shirt.likely, 5.0, epsilon = 1e-9);
        assert_abs_diff_eq!(narrow[0].g_per_shirt.likely, 4.0, epsilon = 1e-9);
        assert_abs_diff_eq!(narrow[1].cost.unwrap(), 20.0 * narrow[1].mix_g / 1000.0, epsilon = 1e-9);
        assert_eq!(narrow[0].cost, None);
    }

    /// 150 shirts with 3 % misprints: 5 spares (trade notes: 3 to 5).
    #[test]
    fn spares_are_rounded_up() {
        assert_eq!(shirts_with_spares(150, 0.03), 155);
        assert_eq!(shirts_with_spares(0, 0.03), 0);
    }
}
