//! Recipes against an ink room that mixes by a physics of its own (`ink_room.rs`).

#![allow(clippy::unwrap_used)]

mod fewest;
mod ink_room;

use ink_room::{CARDS, Dice, measured_room, read, some_mix, truth};
use rayon::prelude::*;
use strikeoff_core::color::{Lab, Spectrum, difference};
use strikeoff_core::recipe::{Amount, Asked, Batch, Bench, Component, InkRoom, Wanted, correct, cost, recipe};
use strikeoff_core::units::Opacity;

fn lab_of(spectrum: &Spectrum) -> [f64; 3] {
    Wanted::of_spectrum(spectrum.clone()).lab
}

fn over_card() -> Asked {
    Asked { ground: [CARDS[0] as f32; 3], grams: 500.0, ..Asked::default() }
}

/// Shares as weighed, each 2 % off.
fn weighed(amounts: &[Amount], dice: &mut Dice) -> [f64; 8] {
    let mut grams = [0.0; 8];
    for amount in amounts {
        grams[amount.component] += amount.grams * (1.0 + 0.02 * dice.normal());
    }
    grams
}

fn whole(grams: [f64; 8]) -> [f64; 8] {
    let sum: f64 = grams.iter().sum();
    grams.map(|g| g / sum)
}

fn mean(of: &[f64]) -> f64 {
    of.iter().sum::<f64>() / of.len() as f64
}

/// Issue: first mix under 0.5 CIEDE2000 mean, under 0.3 after one correction, weighing 2 % off.
#[test]
fn a_mix_is_near_at_first_and_nearer_after_one_correction() {
    let room = measured_room(&mut Dice::new(1));
    let asked = over_card();
    let bench = Bench::new(&room, asked.ground, asked.thick).unwrap();
    let results: Vec<[f64; 4]> = (0..40u64)
        .into_par_iter()
        .map(|case| {
            let mut dice = Dice::new(100 + case);
            let wanted = Wanted::of_lab(lab(lab_of(&truth(&some_mix(&mut dice)))));
            let found = recipe(&room, &wanted, &asked).unwrap();
            let batch = Batch::weigh(&bench, &wanted, &found.parts, asked.grams, 0.1);
            let exact: Vec<f64> = (0..8).map(|at| grams_of(&batch.amounts, at)).collect();
            let exact = whole(exact.try_into().unwrap());
            let pot = weighed(&batch.amounts, &mut dice);
            let first = lab_of(&truth(&whole(pot)));
            let drawdown = Wanted::of_spectrum(read(truth(&whole(pot)).0.map(f64::from), &mut dice));
            let fix = correct(&room, &bench, &batch.amounts, &wanted, &drawdown, 0.1).unwrap();
            let added = weighed(&fix.add, &mut dice);
            let then = whole(std::array::from_fn(|i| pot[i] + added[i]));
            let miss = |lab: [f64; 3]| difference(wanted.lab, lab);
            [
                miss(lab_of(&truth(&exact))),
                miss(first),
                miss(lab_of(&truth(&then))),
                fix.add.iter().map(|a| a.grams).sum(),
            ]
        })
        .collect();
    let column = |at: usize| results.iter().map(|r| r[at]).collect::<Vec<f64>>();
    let (exact, first, after) = (mean(&column(0)), mean(&column(1)), mean(&column(2)));
    println!("exact {exact:.3}, first mix {first:.3}, corrected {after:.3}, added {:.0} g of 500", mean(&column(3)));
    assert!(first < 0.5, "{first}");
    assert!(after < 0.3, "{after}");
}

fn grams_of(amounts: &[Amount], at: usize) -> f64 {
    amounts.iter().filter(|a| a.component == at).map(|a| a.grams).sum()
}

fn lab(v: [f64; 3]) -> Lab {
    let [l, a, b] = v.map(|v| v as f32);
    Lab::new(l, a, b)
}

/// Amounts on any scale add up to the batch, none is negative, and rounding costs little colour.
#[test]
fn amounts_add_up_on_every_scale() {
    let room = measured_room(&mut Dice::new(2));
    let asked = over_card();
    let bench = Bench::new(&room, asked.ground, asked.thick).unwrap();
    for case in 0..6u64 {
        let wanted = Wanted::of_lab(lab(lab_of(&truth(&some_mix(&mut Dice::new(200 + case))))));
        let found = recipe(&room, &wanted, &asked).unwrap();
        assert!((found.parts.iter().map(|p| p.1).sum::<f64>() - 1.0).abs() < 1e-9);
        for (grams, step) in [(800.0, 1.0), (333.3, 0.5), (95.0, 0.1), (1250.0, 5.0)] {
            let batch = Batch::weigh(&bench, &wanted, &found.parts, grams, step);
            let sum: f64 = batch.amounts.iter().map(|a| a.grams).sum();
            assert!((sum - batch.grams).abs() < 1e-9 && batch.grams >= grams && batch.grams < grams + step);
            for amount in &batch.amounts {
                let steps = amount.grams / step;
                assert!(amount.grams > 0.0 && (steps - steps.round()).abs() < 1e-9, "{amount:?} on {step} g");
                assert!(amount.grams <= room.components[amount.component].most * batch.grams + step);
            }
            // No worse than shares rounded one by one, the rest in the largest.
            let mut plain: Vec<(usize, f64)> =
                found.parts.iter().map(|p| (p.0, (p.1 * batch.grams / step).round() * step / batch.grams)).collect();
            plain[0].1 += 1.0 - plain.iter().map(|p| p.1).sum::<f64>();
            assert!(batch.miss <= bench.miss(&wanted, &plain) + 1e-9, "{} after {}", batch.miss, found.miss);
        }
        let exact = Batch::weigh(&bench, &wanted, &found.parts, 800.0, 0.001);
        let price: f64 = exact.amounts.iter().map(|a| a.grams * if a.component < 2 { 0.012 } else { 0.06 }).sum();
        assert!((cost(&room, &exact.amounts).unwrap() - price).abs() < 1e-9);
    }
    let mut free = room.clone();
    free.components[0].price_per_kg = None;
    assert_eq!(cost(&free, &[Amount { component: 0, grams: 5.0 }]), Err(vec!["Base"]));
}

/// A leftover of nearly the wanted colour goes in first, as much of it as is there; one of another colour stays out.
#[test]
fn leftovers_are_used_first_where_they_serve() {
    let mut dice = Dice::new(3);
    let mut room = measured_room(&mut dice);
    let shares = [0.62, 0.3, 0.0, 0.0, 0.08, 0.0, 0.0, 0.0];
    let wanted = Wanted::of_lab(lab(lab_of(&truth(&shares))));
    let leftover = |name: &str, shares: [f64; 8], grams: f64, dice: &mut Dice| {
        let mut like = room.components[0].clone();
        let spectra = like.drawdowns[0].spectra.as_mut().unwrap();
        spectra.over_white = read(ink_room::film(&shares, CARDS[0], 1.0), dice);
        spectra.over_black = read(ink_room::film(&shares, CARDS[1], 1.0), dice);
        Component { name: name.into(), leftover_g: Some(grams), ..like }
    };
    let near = leftover("Old red", [0.66, 0.27, 0.0, 0.01, 0.06, 0.0, 0.0, 0.0], 200.0, &mut dice);
    let far = leftover("Old green", [0.6, 0.3, 0.0, 0.0, 0.0, 0.0, 0.0, 0.1], 300.0, &mut dice);
    room.components.extend([near, far]);
    let asked = over_card();
    let found = recipe(&room, &wanted, &asked).unwrap();
    let share = |at: usize| found.parts.iter().find(|p| p.0 == at).map_or(0.0, |p| p.1);
    // At most 200 of 500 grams, as long as the colour stays.
    assert!(share(8) > 0.2 && share(8) <= 0.4 + 1e-9, "{found:?}");
    assert_eq!(share(9), 0.0, "{found:?}");
    assert!(found.miss < 0.6, "{found:?}");
}

/// What cannot be mixed is said so, with the nearest; opacity costs what it must.
#[test]
fn what_cannot_be_mixed_is_said_so_with_the_nearest() {
    let room = measured_room(&mut Dice::new(4));
    let asked = over_card();
    // A yellow that no ink has.
    let wanted = Wanted::of_lab(Lab::new(95.0, -15.0, 130.0));
    let found = recipe(&room, &wanted, &asked).unwrap();
    assert!(!found.mixed && found.miss > 3.0, "{found:?}");
    assert!(found.parts.iter().any(|p| p.0 == 3), "the nearest holds yellow: {found:?}");
    let pink = Wanted::of_lab(lab(lab_of(&truth(&[0.9, 0.05, 0.0, 0.0, 0.0, 0.05, 0.0, 0.0]))));
    let thin = recipe(&room, &pink, &asked).unwrap();
    let thick = recipe(&room, &pink.clone().with_opacity(Opacity::new(0.45).unwrap()), &asked).unwrap();
    assert!(thin.opacity < 0.4 && thick.opacity > 0.43, "{} {}", thin.opacity, thick.opacity);
    assert!(thin.mixed && thick.mixed, "{thin:?} {thick:?}");
    // White hides as the physics of the ink room has it: luminance over black by that over white.
    let mut shares = [0.0; 8];
    thick.parts.iter().for_each(|p| shares[p.0] = p.1);
    let y = |ground: f64| {
        ((lab_of(&Spectrum(ink_room::film(&shares, ground, 1.0).map(|r| r as f32)))[0] + 16.0) / 116.0).powi(3)
    };
    assert!((y(0.0) / y(1.0) - thick.opacity).abs() < 0.02, "{} {}", y(0.0) / y(1.0), thick.opacity);
}

/// Where only colours are known, mixes are computed in three bands: grey of black and white, pink of red and white.
#[test]
fn colors_alone_give_a_recipe_too() {
    let component = |name: &str, over_white: &str, over_black: &str| -> Component {
        serde_json::from_value(serde_json::json!({
            "name": name, "drawdowns": [{"over_white": over_white, "over_black": over_black}]
        }))
        .unwrap()
    };
    let room = InkRoom {
        surface: None,
        components: vec![
            component("White", "#F4F4F0", "#E8E8E6"),
            component("Red", "#C8202A", "#8A1018"),
            component("Black", "#141414", "#121212"),
        ],
    };
    let wanted = Wanted::of_linear("#C86A6C".parse::<strikeoff_core::color::Rgb8>().unwrap().linear());
    let found = recipe(&room, &wanted, &Asked::default()).unwrap();
    let names: Vec<usize> = found.parts.iter().map(|p| p.0).collect();
    assert!(names.contains(&0) && names.contains(&1), "{found:?}");
    assert!(found.miss < 4.0, "{found:?}");
    // A shelf ink that is a component is its own recipe.
    let red = Wanted::of_linear("#C8202A".parse::<strikeoff_core::color::Rgb8>().unwrap().linear());
    let alone = recipe(&room, &red, &Asked::default()).unwrap();
    assert_eq!(alone.parts, vec![(1, 1.0)]);
    assert!(alone.miss < 0.01, "{alone:?}");
}

#[test]
fn rooms_that_cannot_be_used_say_why() {
    let says = |json: &str| {
        let room: InkRoom = serde_json::from_str(json).unwrap();
        recipe(&room, &Wanted::of_lab(Lab::new(50.0, 0.0, 0.0)), &Asked::default()).unwrap_err().to_string()
    };
    let drawdown = r##""drawdowns":[{"over_white":"#808080","over_black":"#404040"}]"##;
    for (json, want) in [
        (r#"{"components":[]}"#.to_owned(), "1 to 24 components, not 0"),
        (format!(r#"{{"components":[{{"name":"A",{drawdown}}},{{"name":"a",{drawdown}}}]}}"#), "two components are called"),
        (format!(r#"{{"components":[{{"name":"A","most":0.2,{drawdown}}}]}}"#), "no set of components fills a mix"),
        (format!(r#"{{"components":[{{"name":"A","most":2,{drawdown}}}]}}"#), "most must be above 0 to 1, not 2"),
        (r#"{"components":[{"name":"A","drawdowns":[]}]}"#.to_owned(), "has no drawdown"),
        (r##"{"components":[{"name":"A","drawdowns":[{"over_white":"#808080"}]}]}"##.to_owned(), "needs over_white and over_black"),
        (r##"{"components":[{"name":"A","drawdowns":[{"share":0.1,"over_white":"#808080","over_black":"#404040"}]}]}"##.to_owned(), "say in what"),
        (r##"{"components":[{"name":"A","drawdowns":[{"share":0.1,"in":"B","over_white":"#808080","over_black":"#404040"}]}]}"##.to_owned(), "no component \"B\""),
    ] {
        let said = says(&json);
        assert!(said.contains(want), "{said}");
    }
}
