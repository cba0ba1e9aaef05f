//! Nine sets of printed and measured CMYK patches, offset on coated and uncated paper and on newsprint: FOGRA28L, 29L,
//! 30L, 39L and 40L (Fogra 2006), TR002, 003, 005 and 006 (CGATS), of 928 to 1617 patches, zlib licence, read from where
//! the Debian package icc-profiles-free puts them. 68 patches of a set are shown to the fit, all others are held out.

use rayon::prelude::*;
use strikeoff_core::color::{difference, lab_of_shares, shares_of_lab};
use strikeoff_core::fingerprint::{AssumedInk, Fingerprint, Patch, Predictor, Tint, farthest};
use strikeoff_core::press::{effective_area, neugebauer};

use super::{Dice, mean, share};

const SETS: [&str; 9] =
    ["FOGRA28L", "FOGRA29L", "FOGRA30L", "FOGRA39L", "FOGRA40L", "TR002", "TR003", "TR005", "TR006"];

/// Patches of a set; repeats of a tint are one, of their mean.
fn set(name: &str) -> Vec<Patch> {
    let path = format!("/usr/share/color/icc/{name}.ti3");
    let bytes = std::fs::read(&path)
        .unwrap_or_else(|e| panic!("{path}: {e}; install it with: apt-get install icc-profiles-free"));
    let text = String::from_utf8_lossy(&bytes);
    let mut patches: Vec<(Patch, f64)> = Vec::new();
    let rows = text.lines().skip_while(|line| line.trim() != "BEGIN_DATA").skip(1);
    for line in rows.take_while(|line| line.trim() != "END_DATA").filter(|line| !line.trim().is_empty()) {
        let v: Vec<f64> = line.split_whitespace().skip(1).map(|v| v.parse().unwrap()).collect();
        let film: Vec<f64> = v[..4].iter().map(|c| c / 100.0).collect();
        match patches.iter_mut().find(|p| p.0.tint.film == film) {
            Some((patch, count)) => {
                (0..3).for_each(|c| patch.lab[c] += (v[7 + c] - patch.lab[c]) / (*count + 1.0));
                *count += 1.0;
            }
            None => patches.push((Patch { tint: Tint::wet(film), lab: [v[7], v[8], v[9]] }, 1.0)),
        }
    }
    patches.into_iter().map(|p| p.0).collect()
}

/// What a shop would assume of process inks: the colours of ISO 12647-2 in round numbers, almost clear.
fn inks() -> Vec<AssumedInk> {
    [
        ("Cyan", [55.0, -37.0, -50.0]),
        ("Magenta", [48.0, 74.0, -5.0]),
        ("Yellow", [89.0, -5.0, 93.0]),
        ("Black", [16.0, 0.0, 0.0]),
    ]
    .map(|(name, over_white)| AssumedInk { name: name.into(), over_white, over_black: [5.0, 0.0, 0.0] })
    .to_vec()
}

/// The bare paper, all solids over each other, the three steps of each ink nearest to quarters, and the mixtures
/// farthest from each other, of what the set holds.
fn chosen(set: &[Patch], count: usize, steps: &[f64]) -> Vec<usize> {
    let at = |tint: &Tint| set.iter().position(|p| p.tint == *tint).unwrap();
    let mut out: Vec<usize> = if count > 40 {
        (0..16u32).map(|k| at(&Tint::wet((0..4).map(|i| f64::from(k >> i & 1)).collect()))).collect()
    } else {
        (0..5).map(|i| at(&Tint::wet((0..4).map(|j| f64::from(u8::from(i == j + 1))).collect()))).collect()
    };
    for ink in 0..4 {
        let alone = |p: &Patch| {
            p.tint.film[ink] > 0.0 && p.tint.film[ink] < 1.0 && (0..4).all(|j| j == ink || p.tint.film[j] == 0.0)
        };
        for step in steps {
            let off = |i: &usize| (set[*i].tint.film[ink] - step).abs();
            let near = (0..set.len()).filter(|i| alone(&set[*i])).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap();
            if !out.contains(&near) {
                out.push(near);
            }
        }
    }
    let tints: Vec<Tint> = set.iter().map(|p| p.tint.clone()).collect();
    let there: Vec<Tint> = out.iter().map(|i| tints[*i].clone()).collect();
    out.extend(farthest(&there, &tints, count - out.len()).iter().map(at));
    out
}

struct Outcome {
    model: f64,
    errors: Vec<f64>,
    within: Vec<bool>,
    bands: Vec<f64>,
}

/// Fits some patches, with noise of a reading in Lab, and predicts the others.
fn trial(name: &str, count: usize, noise: f64, others: &[Fingerprint]) -> (Fingerprint, Outcome) {
    let all = set(name);
    let seen = chosen(&all, count, if count > 40 { &[0.25, 0.5, 0.75] } else { &[0.5] });
    let mut dice = Dice::new(39);
    let shown = seen.iter().map(|i| {
        let mut patch = all[*i].clone();
        patch.lab = patch.lab.map(|v| v + noise * dice.normal());
        patch
    });
    let print = Fingerprint::fit(name, inks(), shown.collect(), noise.max(0.1), others).unwrap();
    let press = Predictor::new(&print);
    let held: Vec<&Patch> = (0..all.len()).filter(|i| !seen.contains(i)).map(|i| &all[i]).collect();
    let predictions = press.predict(&held.iter().map(|p| p.tint.clone()).collect::<Vec<_>>());
    let errors: Vec<f64> = held.iter().zip(&predictions).map(|(p, q)| difference(p.lab, q.lab)).collect();
    let outcome = Outcome {
        model: mean(&held.iter().map(|p| difference(p.lab, press.model(&p.tint))).collect::<Vec<_>>()),
        within: errors.iter().zip(&predictions).map(|(e, q)| *e <= q.band).collect(),
        bands: predictions.iter().map(|q| q.band).collect(),
        errors,
    };
    (print, outcome)
}

fn told(name: &str, out: &Outcome) -> String {
    let mut sorted = out.errors.clone();
    sorted.sort_by(f64::total_cmp);
    format!(
        "| {name} | {:.2} | {:.2} | {:.2} | {:.1} % | {:.2} |",
        out.model,
        mean(&out.errors),
        sorted[sorted.len() * 95 / 100],
        100.0 * share(&out.within),
        mean(&out.bands)
    )
}

/// Issue 19 of the project's list: FOGRA39L from 68 patches, held out, mean under 0.45 CIEDE2000 clean and under 1.0 with
/// noise of 0.7 Lab; 92 to 98 % of errors within the stated band. Plain Neugebauer with curves is held beside it.
#[test]
fn sixty_eight_patches_tell_the_rest_of_nine_sets() {
    for noise in [0.0, 0.7] {
        let outcomes: Vec<(Fingerprint, Outcome)> = SETS.par_iter().map(|name| trial(name, 68, noise, &[])).collect();
        println!("noise {noise}\n| set | press model alone | mean | 95 % under | within the band | band |");
        let mut within = Vec::new();
        for (name, (_, out)) in SETS.iter().zip(&outcomes) {
            println!("{}", told(name, out));
            within.extend(&out.within);
            assert!(mean(&out.errors) < if noise > 0.0 { 1.0 } else { 0.65 }, "{name}");
        }
        println!("within {:.3}", share(&within));
        let fogra39 = &outcomes[3].1;
        assert!(mean(&fogra39.errors) < if noise > 0.0 { 1.0 } else { 0.45 });
        assert!((0.92..=0.98).contains(&share(&within)), "noise {noise}: {}", share(&within));
        if noise == 0.0 {
            assert!((0.92..=0.98).contains(&share(&fogra39.within)), "{}", share(&fogra39.within));
            let plain = neugebauer_with_curves("FOGRA39L");
            println!("Neugebauer with curves {plain:.2}");
            assert!((1.1..1.8).contains(&plain) && mean(&fogra39.errors) < 0.5 * plain, "{plain}");
        }
    }
}

/// 20 patches alone, and with the eight other sets as presses known before.
#[test]
fn twenty_patches_and_eight_presses_do_better_than_twenty_alone() {
    let presses: Vec<Fingerprint> = SETS.par_iter().map(|name| trial(name, 68, 0.0, &[]).0).collect();
    let results: Vec<(Outcome, Outcome)> = SETS
        .par_iter()
        .enumerate()
        .map(|(at, name)| {
            let others: Vec<Fingerprint> =
                presses.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, p)| p.clone()).collect();
            (trial(name, 20, 0.0, &[]).1, trial(name, 20, 0.0, &others).1)
        })
        .collect();
    let mut within = Vec::new();
    for (name, (alone, with)) in SETS.iter().zip(&results) {
        println!("alone {}\nwith  {}", told(name, alone), told(name, with));
        within.extend(&with.within);
    }
    println!("within {:.3}", share(&within));
    let means = |pick: &dyn Fn(&(Outcome, Outcome)) -> f64| mean(&results.iter().map(pick).collect::<Vec<_>>());
    let (alone, with) = (means(&|r| mean(&r.0.errors)), means(&|r| mean(&r.1.errors)));
    println!("alone {alone:.3} with {with:.3}");
    assert!(with < 0.7 * alone && with < 1.2, "{alone} {with}");
}

/// The usual model from the same 68 patches: all sixteen solids as measured, a curve an ink straight between its three
/// steps, read in the band that it absorbs most, and the n that serves them best.
fn neugebauer_with_curves(name: &str) -> f64 {
    let all = set(name);
    let seen = chosen(&all, 68, &[0.25, 0.5, 0.75]);
    let color = |film: &[f64]| shares_of_lab(all.iter().find(|p| p.tint.film == film).unwrap().lab);
    let solids: Vec<[f64; 3]> =
        (0..16u32).map(|k| color(&(0..4).map(|i| f64::from(k >> i & 1)).collect::<Vec<_>>())).collect();
    let error = |n: f64, patches: &mut dyn Iterator<Item = &Patch>| {
        let curve = |ink: usize| -> Vec<(f64, f64)> {
            let band = [0, 1, 2, 1][ink];
            let alone = |p: &&Patch| (0..4).all(|j| j == ink || p.tint.film[j] == 0.0);
            let mut steps: Vec<(f64, f64)> = (seen.iter().map(|i| &all[*i]).filter(alone))
                .map(|p| {
                    let tint = shares_of_lab(p.lab)[band];
                    (p.tint.film[ink], effective_area(solids[0][band], solids[1 << ink][band], tint, n))
                })
                .collect();
            steps.sort_by(|a, b| a.0.total_cmp(&b.0));
            steps
        };
        let curves: Vec<Vec<(f64, f64)>> = (0..4).map(curve).collect();
        let printed = |ink: usize, a: f64| {
            let steps = &curves[ink];
            let right = steps.partition_point(|s| s.0 < a).clamp(1, steps.len() - 1);
            let ((x0, y0), (x1, y1)) = (steps[right - 1], steps[right]);
            y0 + (y1 - y0) * (a - x0) / (x1 - x0)
        };
        let off = |p: &Patch| {
            let a: Vec<f64> = (0..4).map(|ink| printed(ink, p.tint.film[ink])).collect();
            difference(p.lab, lab_of_shares(neugebauer(&a, n, |k| solids[k])))
        };
        mean(&patches.map(off).collect::<Vec<_>>())
    };
    let n = (10..=30).map(|n| f64::from(n) / 10.0).min_by(|a, b| {
        let of = |n: f64| error(n, &mut seen.iter().map(|i| &all[*i]));
        of(*a).total_cmp(&of(*b))
    });
    error(n.unwrap(), &mut (0..all.len()).filter(|i| !seen.contains(i)).map(|i| &all[i]))
}
