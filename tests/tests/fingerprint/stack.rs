//! A press that the code does not share: films of six inks in 36 bands, light going back and forth between them by
//! sums of reflections, gain of every ink its own, ink that does not stay on wet ink, deposits that differ from the
//! drawdowns, light that spreads in the ground, and noise of the instrument.

use rayon::prelude::*;
use strikeoff_core::color::{BANDS, Spectrum, difference, lab_of_shares, xyz_of_spectrum};
use strikeoff_core::fingerprint::{AssumedInk, Fingerprint, Patch, Predictor, Tint, farthest, spread};

use super::{Dice, mean, share};

const INKS: usize = 6;

struct Synthetic {
    /// Reflection and transmission of a film as thick as wanted: K, S, deposit.
    inks: Vec<([f64; BANDS], [f64; BANDS], f64)>,
    gain: Vec<[f64; 2]>,
    kept: Vec<[f64; INKS]>,
    ground: f64,
    n: f64,
}

fn nm(band: usize) -> f64 {
    380.0 + 10.0 * band as f64
}

fn edge(at: f64, middle: f64, width: f64) -> f64 {
    1.0 / (1.0 + ((at - middle) / width).exp())
}

fn hump(at: f64, middle: f64, width: f64) -> f64 {
    (-((at - middle) / width).powi(2)).exp()
}

fn lab_of(r: [f64; BANDS]) -> [f64; 3] {
    let xyz = xyz_of_spectrum(&Spectrum(r.map(|r| r as f32)));
    let white = xyz_of_spectrum(&Spectrum([1.0; BANDS]));
    lab_of_shares(std::array::from_fn(|i| xyz[i] / white[i]))
}

/// A film cut into thin layers, put together by doubling: nothing of Kubelka's closed form.
fn film(k: f64, s: f64, thick: f64) -> (f64, f64) {
    let halves = 14;
    let thin = thick / f64::from(1 << halves);
    let (mut r, mut t) = (s * thin, 1.0 - (k + s) * thin);
    for _ in 0..halves {
        let between = 1.0 / (1.0 - r * r);
        (r, t) = (r + t * t * r * between, t * t * between);
    }
    (r, t)
}

impl Synthetic {
    fn new(seed: u64, ground: f64) -> Self {
        let mut dice = Dice::new(seed);
        let d = &mut dice;
        let bands = |of: &dyn Fn(f64) -> f64| -> [f64; BANDS] { std::array::from_fn(|b| of(nm(b))) };
        let mut inks = vec![(bands(&|l| 0.03 + 0.3 * edge(l, 400.0, 10.0)), bands(&|l| 2.5 * (550.0 / l).sqrt()))];
        let (a, b, c) = (d.between(490.0, 515.0), d.between(575.0, 600.0), d.between(600.0, 640.0));
        let mut strong = || (d.between(0.7, 1.1), d.between(0.2, 0.9));
        let (f, s) = strong();
        inks.push((bands(&|l| 0.03 + f * 3.5 * edge(l, a, 12.0)), [s; BANDS]));
        let (f, s) = strong();
        inks.push((bands(&|l| 0.03 + f * 3.5 * edge(l, b, 12.0)), [s; BANDS]));
        let (f, s) = strong();
        inks.push((bands(&|l| 0.06 + f * (3.0 * hump(l, c, 60.0) + 0.3)), [s; BANDS]));
        let (f, s) = strong();
        inks.push((bands(&|l| 0.05 + f * (3.0 * hump(l, 640.0, 50.0) + 2.0 * hump(l, 420.0, 35.0))), [s; BANDS]));
        inks.push(([4.2; BANDS], [0.3; BANDS]));
        Self {
            inks: inks.into_iter().map(|(k, s)| (k, s, dice.between(0.6, 1.4))).collect(),
            gain: (0..INKS).map(|_| [dice.between(0.08, 0.34), dice.between(-0.04, 0.04)]).collect(),
            kept: (0..INKS).map(|_| std::array::from_fn(|_| dice.between(0.6, 0.98))).collect(),
            ground,
            n: dice.between(1.0, 1.3),
        }
    }

    fn solids(&self, overprint: usize, tint: &Tint) -> [f64; BANDS] {
        let mut r = [self.ground; BANDS];
        let mut below: Option<usize> = None;
        for (ink, (k, s, deposit)) in self.inks.iter().enumerate() {
            if overprint >> ink & 1 == 0 {
                continue;
            }
            let wet = below.filter(|lower| (lower + 1..=ink).all(|at| tint.flashed >> at & 1 == 0));
            let thick = deposit * wet.map_or(1.0, |lower| self.kept[ink][lower]);
            for band in 0..BANDS {
                let (own, through) = film(k[band], s[band], thick);
                r[band] = own + through * through * r[band] / (1.0 - own * r[band]);
            }
            below = Some(ink);
        }
        r
    }

    /// The true colours of tints.
    fn colors(&self, tints: &[Tint]) -> Vec<[f64; 3]> {
        let ways: Vec<u32> = {
            let mut ways: Vec<u32> = tints.iter().map(|t| t.flashed).collect();
            ways.sort_unstable();
            ways.dedup();
            ways
        };
        let solids: Vec<Vec<[f64; BANDS]>> = ways
            .par_iter()
            .map(|flashed| {
                let tint = Tint { film: Vec::new(), flashed: *flashed };
                (0..1 << INKS).map(|k| self.solids(k, &tint).map(|r| r.powf(1.0 / self.n))).collect()
            })
            .collect();
        let color = |tint: &Tint| {
            let solids = &solids[ways.iter().position(|w| *w == tint.flashed).unwrap()];
            // Dots, and holes above one half, grow or close at their edge by a share of the pitch; a wave of the ink's own
            // on top.
            let printed: Vec<f64> = (tint.film.iter().zip(&self.gain))
                .map(|(&a, [gain, wave])| {
                    let edge = gain * (2.0 * a.min(1.0 - a)).sqrt();
                    (a + edge + wave * (2.0 * std::f64::consts::PI * a).sin()).clamp(0.0, 1.0)
                })
                .collect();
            let mut r = [0.0; BANDS];
            for (overprint, solid) in solids.iter().enumerate() {
                let weight: f64 = printed
                    .iter()
                    .enumerate()
                    .map(|(i, a)| if overprint >> i & 1 == 1 { *a } else { 1.0 - a })
                    .product();
                (0..BANDS).for_each(|b| r[b] += weight * solid[b]);
            }
            lab_of(r.map(|r| r.powf(self.n)))
        };
        tints.par_iter().map(color).collect()
    }

    /// What the shop takes for granted before: colours over white and black of drawdowns that are not of the press's
    /// thickness, 6 off in each of L*, a* and b*, as shelf colours are that nobody measured.
    fn shelf(&self, dice: &mut Dice) -> Vec<AssumedInk> {
        let over = |(k, s, _): &([f64; BANDS], [f64; BANDS], f64), ground: f64| {
            lab_of(std::array::from_fn(|b| {
                let (own, through) = film(k[b], s[b], 1.0);
                own + through * through * ground / (1.0 - own * ground)
            }))
        };
        let ink = |(at, ink)| {
            let off: [f64; 3] = std::array::from_fn(|_| 6.0 * dice.normal());
            let seen = |ground: f64| {
                let lab = over(ink, ground);
                [(lab[0] + off[0] * ground).clamp(3.0, 97.0), lab[1] + off[1] * ground, lab[2] + off[2] * ground]
            };
            AssumedInk { name: format!("Ink {at}"), over_white: seen(1.0), over_black: seen(0.0) }
        };
        self.inks.iter().enumerate().map(ink).collect()
    }
}

fn one(ink: usize, tone: f64) -> Vec<f64> {
    (0..INKS).map(|i| if i == ink { tone } else { 0.0 }).collect()
}

/// The calibration print: ground, solids, three steps an ink, pairs wet and flashed, and mixtures to 70. On a dark
/// ground, which swallows colours, pairs of colours and two of their steps stand on the base, the first ink, flashed.
fn print(dark: bool) -> Vec<Tint> {
    let on_base = |mut film: Vec<f64>, wet: bool| {
        if dark {
            film[0] = 1.0;
        }
        let tint = if wet { Tint::wet(film) } else { Tint::dry(film) };
        if dark { Tint { flashed: tint.flashed | 0b10, ..tint } } else { tint }
    };
    let mut out = vec![Tint::wet(vec![0.0; INKS])];
    for ink in 0..INKS {
        out.push(Tint::wet(one(ink, 1.0)));
        out.extend([0.25, 0.5, 0.75].map(|tone| {
            if ink == 0 || tone == 0.5 { Tint::wet(one(ink, tone)) } else { on_base(one(ink, tone), true) }
        }));
    }
    for upper in 0..INKS {
        for lower in 0..upper {
            let pair: Vec<f64> = (0..INKS).map(|i| f64::from(u8::from(i == lower || i == upper))).collect();
            out.extend(if lower == 0 {
                [Tint::wet(pair.clone()), Tint::dry(pair)]
            } else {
                [on_base(pair.clone(), true), on_base(pair, false)]
            });
        }
    }
    let candidates: Vec<Tint> = spread(INKS, 2000)
        .into_iter()
        .enumerate()
        .map(|(at, film)| if at & 1 == 0 { Tint::wet(film) } else { Tint::dry(film) })
        .collect();
    let more = farthest(&out, &candidates, 70 - out.len());
    out.extend(more);
    out
}

/// Issue 19 of the project's list: 70 patches give under 1.0 CIEDE2000 mean on held-out mixtures where the assumed model
/// has more than 4. What is assumed: the colours of a shelf, 24 points of gain, 0.85 of an ink on wet ink.
#[test]
fn seventy_patches_tell_a_press_of_six_inks() {
    let trials: Vec<(u64, f64)> = vec![(1, 0.85), (2, 0.85), (3, 0.85), (1, 0.04), (2, 0.04), (3, 0.04)];
    let mut within = Vec::new();
    let (mut assumed, mut fitted) = (Vec::new(), Vec::new());
    for (seed, ground) in trials {
        let press = Synthetic::new(seed, ground);
        let mut dice = Dice::new(100 + seed);
        let tints = print(ground < 0.3);
        assert_eq!(tints.len(), 70);
        let patches: Vec<Patch> = (tints.iter().zip(press.colors(&tints)))
            .map(|(tint, lab)| Patch { tint: tint.clone(), lab: lab.map(|v| v + 0.3 * dice.normal()) })
            .collect();
        let held: Vec<Tint> = (0..400)
            .map(|at| {
                let film = (0..INKS).map(|_| if dice.even() < 0.6 { dice.even() } else { 0.0 }).collect();
                if at & 1 == 0 { Tint::wet(film) } else { Tint::dry(film) }
            })
            .collect();
        let truth = press.colors(&held);
        let off = |predictor: &Predictor| {
            predictor.predict(&held).iter().zip(&truth).map(|(p, lab)| difference(*lab, p.lab)).collect::<Vec<f64>>()
        };
        // The bare ground and nothing else leaves every figure at what is assumed.
        let bare = Patch { tint: Tint::wet(vec![0.0; INKS]), lab: patches[0].lab };
        let shelf = press.shelf(&mut dice);
        let before = Predictor::new(&Fingerprint::assumed("assumed", shelf.clone(), bare.lab).unwrap());
        let fit = Fingerprint::fit("synthetic", shelf, patches, 0.3, &[]).unwrap();
        let after = Predictor::new(&fit);
        let (b, a) = (off(&before), off(&after));
        let bands: Vec<f64> = after.predict(&held).iter().map(|p| p.band).collect();
        let inside: Vec<bool> = a.iter().zip(&bands).map(|(e, band)| e <= band).collect();
        println!(
            "seed {seed} ground {ground}: assumed {:.2}, model {:.2}, fitted {:.2}, within {:.3}, band {:.2}",
            mean(&b),
            mean(&held.iter().zip(&truth).map(|(t, lab)| difference(*lab, after.model(t))).collect::<Vec<_>>()),
            mean(&a),
            share(&inside),
            mean(&bands)
        );
        assert!(mean(&a) < 1.0, "seed {seed} on {ground}: {}", mean(&a));
        within.extend(inside);
        assumed.push(mean(&b));
        fitted.push(mean(&a));
    }
    println!("assumed {:.2} fitted {:.2} within {:.3}", mean(&assumed), mean(&fitted), share(&within));
    assert!(mean(&assumed) > 4.0, "{assumed:?}");
    // What the model cannot tell of six inks over each other has long tails: bands hold 91 of 100.
    assert!((0.88..=0.98).contains(&share(&within)), "{}", share(&within));
}
