//! A job as the solver sees it: the print model of its screens, what ink costs, and what every
//! colour is aimed at. All methods and the choice of inks plan with it.

use super::correction::Correction;
use super::model::{MAX_SCREENS, PerScreen, SolverModel, brought_up, oklab};
use super::printing::{Printing, model_of};
use super::problem::{Costs, Pull, Target, improve, objective, starts};
use super::{HighlightSettings, ScreenPart, SeparationSettings};
use crate::color::{encode, lab_from_linear, linearize, oklab_from_linear};
use crate::ink::InkRole;
use crate::press::Ground;

/// All that the solver needs to know of a job, colours aside.
pub(super) struct Plan {
    pub model: SolverModel,
    pub costs: Costs,
    /// Colour of the first garment.
    pub garment: [f32; 3],
    /// What each screen does on the first garment that prints it.
    pub parts: Vec<ScreenPart>,
    highlight: HighlightSettings,
    garments: Vec<OnGarment>,
    /// Total ink aimed at for greys from black to white, evenly spaced in code values; empty for none.
    grey_totals: Vec<f32>,
}

/// What the plan knows of a garment.
struct OnGarment {
    color: [f32; 3],
    /// What each screen does on it, of those that it prints.
    parts: Vec<Option<ScreenPart>>,
    base_off: bool,
    /// Light of the grey that is as light as the darkest of the garment and one ink over it.
    darkest: f32,
    /// What its colour counts: all garments alike.
    weight: f32,
}

/// Greys at which the total ink is worked out: the nodes of a table.
const GREYS: usize = 33;
/// Price of the squared distance from a grey's total, squared OKLab. Enough to hold it within a
/// percent.
const TOTAL_PRICE: f32 = 0.04;
/// OKLab chroma at which a colour is no grey any more and the price has faded.
const GREY_CHROMA: f32 = 0.04;
/// The same for ink over a grey's total: only neutrals themselves are held down to it.
const NEUTRAL_CHROMA: f32 = 0.015;

impl Plan {
    /// `settings` are taken as checked.
    pub fn new(ground: &Ground<'_>, settings: &SeparationSettings) -> Self {
        Self::on(&[Printing::alone(ground)], settings)
    }

    /// For several garments together, at least one and no more than [`super::MAX_GARMENTS`].
    pub fn on(printings: &[Printing<'_>], settings: &SeparationSettings) -> Self {
        let all_parts: Vec<Vec<Option<ScreenPart>>> = printings.iter().map(|on| on.parts(settings)).collect();
        let part = |at: usize| all_parts.iter().find_map(|parts| parts[at]).unwrap_or(ScreenPart::Color);
        let parts: Vec<ScreenPart> = (0..settings.screens.len()).map(part).collect();
        let mut costs = Costs {
            linear: [3e-4; MAX_SCREENS],
            square: [6e-4; MAX_SCREENS],
            pair: 2e-3 * (settings.cleanliness as f32).powi(3),
            pairs: [0.0; MAX_SCREENS],
            hits: [1.0; MAX_SCREENS],
            hits_on: Vec::new(),
            limit: settings.total_ink_limit as f32,
            hue: 8.0 * settings.hue_keeping as f32,
        };
        let black = settings.black_strength as f32 - 0.5;
        for (i, screen) in settings.screens.iter().enumerate() {
            costs.hits[i] = f32::from(screen.hits.max(1));
            let eager = -screen.willingness as f32;
            costs.linear[i] += 2e-3 * eager;
            match parts[i] {
                ScreenPart::Underbase => {
                    // A second base is for the lights that the first alone leaves short.
                    if parts[..i].contains(&ScreenPart::Underbase) {
                        costs.linear[i] += 3e-4;
                    }
                    costs.linear[i] += -2e-4 + 4e-4 * (0.5 - settings.underbase.strength as f32);
                    costs.square[i] = 3e-5;
                }
                _ => costs.pairs[i] = 1.0,
            }
            if parts[i] == ScreenPart::HighlightWhite {
                costs.square[i] = 1e-5;
                costs.pairs[i] = 0.0;
            }
            if screen.ink.role == InkRole::Black {
                costs.linear[i] = 1e-4 - 3e-3 * black;
                costs.square[i] = 3e-4;
            }
        }
        if printings.len() > 1 {
            let hits = |parts: &Vec<Option<ScreenPart>>| {
                let mut hits = [0.0; MAX_SCREENS];
                for (at, _) in parts.iter().enumerate().filter(|(_, part)| part.is_some()) {
                    hits[at] = costs.hits[at];
                }
                hits
            };
            costs.hits_on = all_parts.iter().map(hits).collect();
        }
        let (model, darkest) = model_of(printings, settings);
        let garments = printings.iter().zip(all_parts).zip(darkest).map(|((on, parts), darkest)| OnGarment {
            color: on.ground.garment.reflectance(),
            parts,
            base_off: on.ground.garment.is_white() && !settings.underbase.on_white,
            darkest,
            weight: 1.0,
        });
        Self {
            model,
            costs,
            garment: printings[0].ground.garment.reflectance(),
            garments: garments.collect(),
            parts,
            highlight: settings.highlight.clone(),
            grey_totals: Vec::new(),
        }
    }

    /// Makes the total ink of a grey ramp go one way. On a coloured garment dark greys take black
    /// and light ones white, and each solved alone the greys between take little of both: films
    /// would thin out in the middle of every shadow. Greys are held to the ink of the end of the
    /// ramp that takes less, or that of any grey since, up to the ink of the other end.
    ///
    /// Greys of several garments go different ways; there the total is left free.
    pub fn with_even_greys(mut self) -> Self {
        if self.garments.len() > 1 {
            return self;
        }
        let greys: Vec<f32> = (0..GREYS).map(|i| linearize(i as f32 / (GREYS - 1) as f32)).collect();
        let n = self.model.screens;
        let mut totals: Vec<f32> = greys
            .iter()
            .map(|&v| {
                let target = self.target([v; 3]);
                let solved = starts(n, &target, 0).into_iter().map(|mut a| {
                    improve(&self.model, &self.costs, &target, &Pull::NONE, &mut a, 40);
                    (objective(&self.model, &self.costs, &target, &a), a)
                });
                let mut best = solved.min_by(|a, b| a.0.total_cmp(&b.0)).map_or([0.0; MAX_SCREENS], |best| best.1);
                // The ink that the grey takes once prices no longer cost it colour.
                let mut correction = Correction::NONE;
                correction.look_ahead(&self.model, &self.costs.free(), &target, &best);
                for _ in 0..2 {
                    correction.move_on(&self.model, &target, &best);
                    let aim = target.beside(&correction.shift);
                    improve(&self.model, &self.costs, &aim, &Pull::NONE, &mut best, 20);
                }
                best[..n].iter().sum()
            })
            .collect();
        let falls = totals[0] > totals[GREYS - 1];
        if falls {
            totals.reverse();
        }
        let (mut least, most) = (totals[0], totals[GREYS - 1]);
        for total in &mut totals {
            least = least.max(*total).min(most);
            *total = least;
        }
        if falls {
            totals.reverse();
        }
        self.grey_totals = totals;
        self
    }

    /// The total ink aimed at for a colour, and the prices of less and of more.
    fn total(&self, color: [f32; 3]) -> (f32, [f32; 2]) {
        if self.grey_totals.is_empty() {
            return (0.0, [0.0; 2]);
        }
        let lab = oklab_from_linear(color);
        let chroma = lab.a.hypot(lab.b);
        let fades = [GREY_CHROMA, NEUTRAL_CHROMA];
        let price = fades.map(|fade| TOTAL_PRICE * (1.0 - ease(chroma / fade)));
        // The grey of the same lightness.
        let grey = encode(lab.l.clamp(0.0, 1.0).powi(3)) * (GREYS - 1) as f32;
        let at = (grey as usize).min(GREYS - 2);
        let [a, b] = [self.grey_totals[at], self.grey_totals[at + 1]];
        (a + (grey - at as f32) * (b - a), price)
    }

    /// The colour that the solver aims at: what is darker than fabric and inks can be is
    /// brought up to what they reach, softly. Aimed at as it is, it would pile ink on ink for a
    /// difference that nobody sees.
    pub fn target(&self, color: [f32; 3]) -> Target {
        self.aimed(color, |on| brought_up(oklab(color), on.darkest))
    }

    /// A flat colour is aimed at as it is: there is no ramp to keep smooth, and a deep colour that
    /// is no darker than the inks reach would still be brought up a little.
    pub fn exact_target(&self, color: [f32; 3]) -> Target {
        self.aimed(color, |_| oklab(color))
    }

    fn aimed(&self, color: [f32; 3], at: impl Fn(&OnGarment) -> [f32; 3]) -> Target {
        let mut target = Target::of_lab(at(&self.garments[0]), &self.costs);
        for (garment, on) in self.garments.iter().enumerate() {
            target.on_garment(garment, at(on), on.weight, &self.costs);
        }
        (target.total, target.total_prices) = self.total(color);
        self.bound(color, &mut target);
        target
    }

    /// What coverages are to become where the art is half clear: on each garment the blend of their print and the fabric,
    /// with no more of any ink. With costs that leave the colour to decide.
    pub fn fading(&self, solid: &PerScreen, alpha: f32) -> (Target, Costs) {
        let costs = Costs { linear: [1e-5; MAX_SCREENS], square: [1e-5; MAX_SCREENS], pair: 0.0, ..self.costs.clone() };
        let mut target = Target::new(self.garment, &costs);
        for ((garment, on), model) in self.garments.iter().enumerate().zip(self.model.garments()) {
            let print = model.reflectance(solid);
            let blend = std::array::from_fn(|i| on.color[i] + alpha * (print[i] - on.color[i]));
            target.on_garment(garment, oklab(blend), on.weight, &costs);
        }
        target.high = *solid;
        (target, costs)
    }

    /// What is wanted of the screens with a rule of their own, by the colour to be printed.
    fn bound(&self, color: [f32; 3], target: &mut Target) {
        for i in 0..self.parts.len() {
            let on = || self.garments.iter().filter_map(|on| on.parts[i].map(|part| (on, part)));
            let held = on().filter(|(_, part)| *part == ScreenPart::HighlightWhite).count();
            // What no garment can do without may be printed; what some want is wanted by their share.
            if on().count() > 0 && on().all(|(on, part)| part == ScreenPart::Underbase && on.base_off) {
                target.high[i] = 0.0;
            } else if held > 0 && held == on().count() {
                let ramp = self.highlight_ramp(color);
                target.high[i] = ramp;
                target.held[i] = ramp * on().map(|(on, _)| self.hold(on, color)).sum::<f32>() / held as f32;
            }
        }
    }

    fn highlight_ramp(&self, color: [f32; 3]) -> f32 {
        let lab = lab_from_linear(color);
        let (start, full) = (self.highlight.starts_at_l as f32, self.highlight.full_at_l as f32);
        let light = ease((lab.l - start) / (full - start).max(1.0));
        let chroma = lab.a.hypot(lab.b) / (self.highlight.max_chroma as f32).max(1.0);
        light * (1.0 - ease(chroma))
    }

    /// Share of the highlight ramp that is printed unless it would cost the colour.
    fn hold(&self, on: &OnGarment, color: [f32; 3]) -> f32 {
        let hold = self.highlight.hold as f32;
        let lab = lab_from_linear(color);
        if on.base_off {
            // Greys on white need no white: black dots alone carry them.
            return hold * ease(lab.a.hypot(lab.b) / HELD_CHROMA) * on.away_from(color);
        }
        // Towards the lightest tones all of it, or it would leap up once the base is solid.
        // Where little is to be held, the solver stays free there too.
        let rise = ease((lab.l - RISES_AT_L) / (100.0 - RISES_AT_L)) * (4.0 * hold).min(1.0);
        (hold + (1.0 - hold) * rise) * on.away_from(color)
    }
}

impl OnGarment {
    /// 0 where the fabric is the colour already, 1 from a difference that shows.
    fn away_from(&self, color: [f32; 3]) -> f32 {
        let (a, b) = (oklab_from_linear(color), oklab_from_linear(self.color));
        let d = ((a.l - b.l).powi(2) + (a.a - b.a).powi(2) + (a.b - b.b).powi(2)).sqrt();
        ease(d / 0.08)
    }
}

/// CIELAB chroma from which a highlight white is held on a white garment in full.
const HELD_CHROMA: f32 = 15.0;
/// L* from which the held share rises to the whole ramp on other garments.
const RISES_AT_L: f32 = 75.0;

/// Smooth from 0 at 0 to 1 at 1.
pub(super) fn ease(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}
