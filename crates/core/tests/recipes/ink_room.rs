//! An ink room with a physics of its own: the two-flux equation is integrated through the film in small steps
//! (Runge-Kutta), the surface is that of refractive index 1.5, white crowds as there is more of it, the instrument
//! has noise and weighing has errors. Nothing is shared with the code but the form of its input.

use strikeoff_core::color::{BANDS, Spectrum};
use strikeoff_core::ink::InkSpectra;
use strikeoff_core::recipe::{Component, Drawdown, InkRoom};

/// Random numbers that are the same in every run (Knuth's 64-bit multiplier).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Mean 0, deviation 1: twelve even ones less six.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// Names, and absorption and scatter of so much of it that all would be it.
pub const NAMES: [&str; 8] = ["Base", "White", "Black", "Yellow", "Red", "Magenta", "Blue", "Green"];

fn nm(band: usize) -> f64 {
    380.0 + 10.0 * band as f64
}

fn hump(at: f64, middle: f64, width: f64) -> f64 {
    (-((at - middle) / width).powi(2)).exp()
}

fn edge(at: f64, middle: f64, width: f64) -> f64 {
    1.0 / (1.0 + ((at - middle) / width).exp())
}

/// K and S of a component in a band.
fn constants(component: usize, band: usize) -> (f64, f64) {
    let l = nm(band);
    match component {
        0 => (0.015 + 0.05 * edge(l, 415.0, 15.0), 0.12),
        1 => (0.02 + 2.0 * edge(l, 398.0, 8.0), 5.0 * (550.0 / l).powf(0.4)),
        2 => (55.0, 0.8),
        3 => (28.0 * edge(l, 500.0, 11.0) + 0.05, 1.6),
        4 => (26.0 * edge(l, 585.0, 10.0) + 0.1, 1.2 + 0.8 * (1.0 - edge(l, 600.0, 20.0))),
        5 => (24.0 * hump(l, 545.0, 42.0) + 4.0 * hump(l, 400.0, 40.0) + 0.1, 0.7),
        6 => (30.0 * hump(l, 615.0, 60.0) + 2.0 * hump(l, 390.0, 15.0) + 5.0 * (1.0 - edge(l, 690.0, 15.0)), 0.5),
        _ => (26.0 * hump(l, 640.0, 48.0) + 16.0 * hump(l, 425.0, 35.0) + 0.2, 0.6),
    }
}

/// What an instrument sees of a film over a ground that it sees as `ground`.
pub fn film(shares: &[f64; 8], ground: f64, thick: f64) -> [f64; BANDS] {
    let (outside, inside) = (0.04, 0.596);
    let within = |seen: f64| {
        let u = seen / ((1.0 - outside) * (1.0 - inside));
        u / (1.0 + inside * u)
    };
    std::array::from_fn(|band| {
        let (mut k, mut s) = (0.0, 0.0);
        for (at, share) in shares.iter().enumerate() {
            let (own_k, own_s) = constants(at, band);
            k += share * own_k;
            s += share * own_s * if at == 1 { 1.0 - 0.08 * share } else { 1.0 };
        }
        let slope = |r: f64| s - 2.0 * (k + s) * r + s * r * r;
        let (steps, mut r) = (400, within(ground));
        let h = thick / f64::from(steps);
        for _ in 0..steps {
            let a = slope(r);
            let b = slope(r + 0.5 * h * a);
            let c = slope(r + 0.5 * h * b);
            let d = slope(r + h * c);
            r += h / 6.0 * (a + 2.0 * b + 2.0 * c + d);
        }
        (1.0 - outside) * (1.0 - inside) * r / (1.0 - inside * r)
    })
}

/// White and black card.
pub const CARDS: [f64; 2] = [0.9, 0.03];

/// As an instrument reads it, with its noise.
pub fn read(of: [f64; BANDS], dice: &mut Dice) -> Spectrum {
    Spectrum(of.map(|r| (r + 0.0005 * dice.normal()).max(0.0) as f32))
}

/// Shares of one component in the base.
pub fn let_down(at: usize, share: f64) -> [f64; 8] {
    let mut shares = [0.0; 8];
    shares[0] = 1.0 - share;
    shares[at] += share;
    shares
}

/// The room as the shop knows it: drawdowns of the base, and of white and each colour let down in the base twice.
pub fn measured_room(dice: &mut Dice) -> InkRoom {
    let spectra = |shares: &[f64; 8], dice: &mut Dice| InkSpectra {
        over_white: read(film(shares, CARDS[0], 1.0), dice),
        over_black: read(film(shares, CARDS[1], 1.0), dice),
        white: read([CARDS[0]; BANDS], dice),
        black: read([CARDS[1]; BANDS], dice),
    };
    let component = |(at, name): (usize, &&str), dice: &mut Dice| {
        let shares: &[f64] = match at {
            0 => &[1.0],
            1 => &[1.0, 0.25],
            _ => &[0.02, 0.08],
        };
        let drawdown = |share: f64, dice: &mut Dice| Drawdown {
            share,
            within: (share < 1.0).then(|| NAMES[0].to_owned()),
            over_white: None,
            over_black: None,
            spectra: Some(Box::new(spectra(&let_down(at, share), dice))),
        };
        Component {
            name: (*name).to_owned(),
            drawdowns: shares.iter().map(|share| drawdown(*share, dice)).collect(),
            most: if at < 2 { 1.0 } else { 0.2 },
            leftover_g: None,
            price_per_kg: Some(if at < 2 { 12.0 } else { 60.0 }),
        }
    };
    InkRoom { surface: None, components: NAMES.iter().enumerate().map(|each| component(each, dice)).collect() }
}

/// What the mix of some shares really looks like over the white card.
pub fn truth(shares: &[f64; 8]) -> Spectrum {
    Spectrum(film(shares, CARDS[0], 1.0).map(|r| r as f32))
}

/// A colour that can be mixed: some white, one or two colours, perhaps a little black, the rest base.
pub fn some_mix(dice: &mut Dice) -> [f64; 8] {
    let mut shares = [0.0; 8];
    shares[1] = 0.5 * dice.even();
    let mut colour = |most: f64, dice: &mut Dice| {
        let at = 3 + (5.0 * dice.even()) as usize;
        shares[at] += most * (0.1 + 0.9 * dice.even());
    };
    colour(0.12, dice);
    if dice.even() < 0.6 {
        colour(0.06, dice);
    }
    if dice.even() < 0.3 {
        shares[2] = 0.01 * dice.even();
    }
    shares[0] = 1.0 - shares[1..].iter().sum::<f64>();
    shares
}
