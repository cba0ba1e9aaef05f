//! The recipe of an ink of the shelf from what else the shop has.

use strikeoff_core::Progress;
use strikeoff_core::color::{Lab, Rgb8, lab_from_linear, linear_from_lab};
use strikeoff_core::ink::Ink;
use strikeoff_core::recipe::{Asked, Batch, Bench, InkRoom, Recipe, Wanted, cost, recipe};
use strikeoff_files::profile::ShopProfile;

use super::slot::Outcome;
use crate::session::Value;

/// What it follows from: what is wanted, of what, and how much.
pub type RecipeKey = (Value<Ink>, Value<InkRoom>, u32);

/// A recipe on the scale.
pub struct Mixed {
    /// As found.
    pub recipe: Recipe,
    /// Names and grams, the most first.
    pub amounts: Vec<(String, f64)>,
    /// CIEDE2000 of the weighed mix to what is wanted.
    pub miss: f64,
    /// What the weighed mix looks like on white.
    pub color: Rgb8,
    /// Its opacity.
    pub opacity: f64,
    /// What it costs, or the components without a price.
    pub cost: Result<f64, Vec<String>>,
}

/// That of an ink and so many grams.
pub fn mix_key(profile: &ShopProfile, ink: &Ink, grams: f64) -> RecipeKey {
    let near = lab_from_linear(ink.over_white.linear());
    (Value::new(ink.clone()), Value::new(profile.ink_room(near, Some(&ink.name))), grams.round() as u32)
}

/// Finds it.
pub fn mix(key: &RecipeKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Mixed> + use<> {
    let (ink, room, grams) = key.clone();
    move |(), _| Some(mixed(&ink, &room, f64::from(grams)).map_err(|error| error.to_string()))
}

fn mixed(ink: &Ink, room: &InkRoom, grams: f64) -> Result<Mixed, strikeoff_core::recipe::RecipeError> {
    let wanted = Wanted::of_linear(ink.reflectance_over_white()).with_opacity(ink.opacity);
    let asked = Asked { grams, ..Asked::default() };
    let bench = Bench::new(room, asked.ground, asked.thick)?;
    let recipe = recipe(room, &wanted, &asked)?;
    let batch = Batch::weigh(&bench, &wanted, &recipe.parts, grams, 1.0);
    let parts = batch.parts();
    let [l, a, b] = bench.lab(&parts).map(|v| v as f32);
    let name = |component: usize| room.components[component].name.clone();
    let mut amounts: Vec<(String, f64)> = batch.amounts.iter().map(|a| (name(a.component), a.grams)).collect();
    amounts.sort_by(|a, b| b.1.total_cmp(&a.1));
    Ok(Mixed {
        amounts,
        miss: batch.miss,
        color: Rgb8::from_linear(linear_from_lab(Lab::new(l, a, b))),
        opacity: bench.opacity(&parts),
        cost: cost(room, &batch.amounts).map_err(|without| without.into_iter().map(str::to_owned).collect()),
        recipe,
    })
}
