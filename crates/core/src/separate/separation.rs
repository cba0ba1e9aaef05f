//! The separation as a whole: costs from the settings, the table, the planes, and the screens that
//! follow a rule of their own.

use super::base_under::hold_bases;
use super::choke::choke;
use super::model::{MAX_SCREENS, PrintModel, brought_up, light_as_grey, oklab};
use super::problem::{Costs, Pull, Target, improve, objective, starts};
use super::table::{self, Table, Touched};
use super::{Method, ScreenPart, SeparationSettings, index, lookup, spot};
use crate::color::{encode, lab_from_linear, linearize, oklab_from_linear};
use crate::ink::{Garment, InkRole};
use crate::job::{Screen, Screens};
use crate::prep::Prepared;
use crate::press::{PressSettings, Stack};
use crate::raster::{Picture, Plane};
use crate::units::Lpi;
use crate::{Cancelled, Progress};

/// Why a picture cannot be separated.
#[derive(Debug, thiserror::Error)]
pub enum SeparateError {
    /// No inks were given.
    #[error("no inks to separate into; name at least one")]
    NoInks,
    /// Two screens share a name.
    #[error("two screens are called \"{0}\"; give each its own name")]
    SameName(String),
    /// More screens than the solver takes.
    #[error("{0} screens are more than a separation can have; leave at most {MAX_SCREENS}")]
    TooMany(usize),
    /// A setting is out of its range.
    #[error("{what} must be {min} to {max}, not {value}")]
    Setting {
        /// The setting.
        what: &'static str,
        /// Least value.
        min: f64,
        /// Greatest value.
        max: f64,
        /// As given.
        value: f64,
    },
    /// Spot art without flat areas.
    #[error(
        "the artwork has no area of one colour, so it cannot be separated as spot art; use simulated process or index, \
         or count smaller areas"
    )]
    NoFlatColors,
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Separates a prepared picture into the planned screens for a garment.
pub fn separate(
    prepared: &Prepared,
    garment: &Garment,
    settings: &SeparationSettings,
    press: &PressSettings,
    ruling: Lpi,
    progress: &Progress,
) -> Result<Screens, SeparateError> {
    let planes = match settings.method {
        Method::SimulatedProcess => {
            let table = ColorTable::solve(&prepared.picture, garment, settings, press, ruling, progress)?;
            progress.step("separate", 0.8)?;
            let mut planes = table.planes(&prepared.picture);
            let parts = settings.parts(garment.is_white());
            let bases = planes.iter_mut().zip(parts).filter(|(_, part)| *part == ScreenPart::Underbase);
            for (at, (plane, _)) in bases.enumerate() {
                choke(plane, settings.underbase.choke_of(at).px(prepared.ppi.get()));
            }
            planes
        }
        method => {
            check(settings)?;
            let plan = Plan::new(garment, settings, press, ruling);
            let planes = if method == Method::SpotArt { spot::planes } else { index::planes };
            planes(prepared, garment, settings, &plan, progress)?
        }
    };
    progress.step("separate", 1.0)?;
    let list = settings
        .screens
        .iter()
        .zip(planes)
        .map(|(s, coverage)| Screen { name: s.name.clone(), ink: s.ink.clone(), hits: s.hits, coverage })
        .collect();
    let picture = &prepared.picture;
    Ok(Screens { width: picture.width(), height: picture.height(), ppi: prepared.ppi, list })
}

/// The coverages of all colours of a picture on a garment: solved once, looked up for every pixel.
#[derive(Debug, Clone)]
pub struct ColorTable {
    table: Table,
    garment: [f32; 3],
}

impl ColorTable {
    /// Solves the colours of `picture`. Other pictures may be looked up only if they have no
    /// colours far from these: cells that the picture does not touch are empty.
    pub fn solve(
        picture: &Picture,
        garment: &Garment,
        settings: &SeparationSettings,
        press: &PressSettings,
        ruling: Lpi,
        progress: &Progress,
    ) -> Result<Self, SeparateError> {
        progress.step("separate", 0.0)?;
        check(settings)?;
        let plan = Plan::new(garment, settings, press, ruling).with_even_greys();
        let touched = Touched::by(picture, plan.garment);
        let mut table = table::solve(&touched, &plan, progress)?;
        hold_bases(&mut table, &plan, settings, &plan.parts);
        Ok(Self { table, garment: plan.garment })
    }

    /// A table of given coverages, `coverage(node, screen)`, on white; for tests and benches of the look-up.
    ///
    /// # Panics
    /// If there are no screens or more than [`super::MAX_SCREENS`].
    pub fn of_nodes(screens: usize, coverage: impl Fn(usize, usize) -> u16) -> Self {
        assert!((1..=super::MAX_SCREENS).contains(&screens));
        Self { table: Table::of_nodes(screens, coverage), garment: [1.0; 3] }
    }

    /// One plane a screen, in print order, before choke.
    pub fn planes(&self, picture: &Picture) -> Vec<Plane<u16>> {
        lookup::planes(&self.table, self.garment, picture)
    }

    /// The same without the fast kernel: the plain reference of tests and benches.
    pub fn planes_plainly(&self, picture: &Picture) -> Vec<Plane<u16>> {
        lookup::planes_plainly(&self.table, self.garment, picture)
    }
}

pub(super) fn check(settings: &SeparationSettings) -> Result<(), SeparateError> {
    let screens = &settings.screens;
    if screens.is_empty() {
        return Err(SeparateError::NoInks);
    }
    if screens.len() > MAX_SCREENS {
        return Err(SeparateError::TooMany(screens.len()));
    }
    for (at, screen) in screens.iter().enumerate() {
        if screens[..at].iter().any(|other| other.name.eq_ignore_ascii_case(&screen.name)) {
            return Err(SeparateError::SameName(screen.name.clone()));
        }
    }
    let hl = &settings.highlight;
    let mut ranges = vec![
        ("black strength", settings.black_strength, 0.0, 1.0),
        ("cleanliness", settings.cleanliness, 0.0, 1.0),
        ("the total ink limit", settings.total_ink_limit, 0.1, MAX_SCREENS as f64),
        ("hue keeping", settings.hue_keeping, 0.0, 1.0),
        ("the strength of the underbase", settings.underbase.strength, 0.0, 1.0),
        ("the lightness at which the highlight white starts", hl.starts_at_l, 0.0, 100.0),
        ("the lightness at which the highlight white is full", hl.full_at_l, 0.0, 100.0),
        ("the chroma at which the highlight white ends", hl.max_chroma, 0.0, 200.0),
        ("the hold of the highlight white", hl.hold, 0.0, 1.0),
        ("the trap in mm", settings.spot.trap_mm.get(), 0.0, 5.0),
        ("the distance of one flat colour", settings.spot.same_within, 0.005, 0.5),
        ("the least share of a flat colour", settings.spot.least_share, 0.0, 0.5),
        ("the side of an index dot in mm", settings.index.dot_mm.get(), 0.05, 2.0),
    ];
    ranges.extend(screens.iter().map(|s| ("the willingness of a screen", s.willingness, -1.0, 1.0)));
    for (what, value, min, max) in ranges {
        if !(min..=max).contains(&value) {
            return Err(SeparateError::Setting { what, min, max, value });
        }
    }
    Ok(())
}

/// All that the solver needs to know of a job, colours aside.
pub(super) struct Plan {
    pub model: PrintModel,
    pub costs: Costs,
    pub garment: [f32; 3],
    parts: Vec<ScreenPart>,
    highlight: super::HighlightSettings,
    base_off: bool,
    /// Light of the grey that is as light as the darkest of the garment and one ink over it.
    darkest: f32,
    /// Total ink aimed at for greys from black to white, evenly spaced in code values; empty for none.
    grey_totals: Vec<f32>,
}

/// Greys at which the total ink is worked out: the nodes of a table.
const GREYS: usize = 33;
/// Price of the squared distance from a grey's total, squared OKLab. Enough to hold it within a
/// percent.
const TOTAL_PRICE: f32 = 0.02;
/// OKLab chroma at which a colour is no grey any more and the price has faded.
const GREY_CHROMA: f32 = 0.04;
/// The same for ink over a grey's total: only neutrals themselves are held down to it.
const NEUTRAL_CHROMA: f32 = 0.015;

impl Plan {
    /// `settings` are taken as checked.
    pub fn new(garment: &Garment, settings: &SeparationSettings, press: &PressSettings, ruling: Lpi) -> Self {
        let inks = settings.screens.iter().map(|s| (s.name.as_str(), &s.ink, s.hits));
        let stack = Stack::of_inks(garment, inks, press, ruling);
        let parts = settings.parts(garment.is_white());
        let mut costs = Costs {
            linear: [3e-4; MAX_SCREENS],
            square: [6e-4; MAX_SCREENS],
            pair: 2e-3 * (settings.cleanliness as f32).powi(3),
            pairs: [0.0; MAX_SCREENS],
            hits: [1.0; MAX_SCREENS],
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
                costs.linear[i] = 1e-4 - 2e-3 * black;
                costs.square[i] = 3e-4;
            }
        }
        let light = |c: [f32; 3]| light_as_grey(oklab(c));
        let solids = stack.layers.iter().map(|layer| light(layer.over(stack.garment)));
        Self {
            darkest: solids.fold(light(stack.garment), f32::min),
            model: PrintModel::new(&stack),
            costs,
            garment: garment.reflectance(),
            base_off: garment.is_white() && !settings.underbase.on_white,
            parts,
            highlight: settings.highlight.clone(),
            grey_totals: Vec::new(),
        }
    }

    /// Makes the total ink of a grey ramp go one way. On a coloured garment dark greys take black
    /// and light ones white, and each solved alone the greys between take little of both: films
    /// would thin out in the middle of every shadow. Greys are held to the ink of the end of the
    /// ramp that takes less, or that of any grey since, up to the ink of the other end.
    pub fn with_even_greys(mut self) -> Self {
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
                let best = solved.min_by(|a, b| a.0.total_cmp(&b.0)).map_or([0.0; MAX_SCREENS], |best| best.1);
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

    /// The colour as the solver shall aim at it: what is darker than fabric and inks can be is
    /// brought up to what they reach, softly. Aimed at as it is, it would pile ink on ink for a
    /// difference that nobody sees.
    pub fn target(&self, color: [f32; 3]) -> Target {
        self.aimed(brought_up(oklab(color), self.darkest), color)
    }

    /// A flat colour is aimed at as it is: there is no ramp to keep smooth, and a deep colour that
    /// is no darker than the inks reach would still be brought up a little.
    pub fn exact_target(&self, color: [f32; 3]) -> Target {
        self.aimed(oklab(color), color)
    }

    fn aimed(&self, at: [f32; 3], color: [f32; 3]) -> Target {
        let mut target = Target::of_lab(at, &self.costs);
        (target.total, target.total_prices) = self.total(color);
        self.bound(color, &mut target);
        target
    }

    /// Bounds of the screens with a rule of their own, by the colour to be printed.
    fn bound(&self, color: [f32; 3], target: &mut Target) {
        for (i, part) in self.parts.iter().enumerate() {
            match part {
                ScreenPart::Underbase if self.base_off => target.high[i] = 0.0,
                ScreenPart::HighlightWhite => {
                    let ramp = self.highlight_ramp(color);
                    target.high[i] = ramp;
                    target.low[i] = ramp * self.hold(color);
                }
                _ => {}
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

    /// Share of the highlight ramp that is printed in any case.
    fn hold(&self, color: [f32; 3]) -> f32 {
        let hold = self.highlight.hold as f32;
        let lab = lab_from_linear(color);
        if self.base_off {
            // Greys on white need no white: black dots alone carry them.
            return hold * ease(lab.a.hypot(lab.b) / HELD_CHROMA) * self.away_from_fabric(color);
        }
        // Towards the lightest tones all of it, or it would leap up once the base is solid.
        // Where little is to be held, the solver stays free there too.
        let rise = ease((lab.l - RISES_AT_L) / (100.0 - RISES_AT_L)) * (4.0 * hold).min(1.0);
        (hold + (1.0 - hold) * rise) * self.away_from_fabric(color)
    }

    /// 0 where the fabric is the colour already, 1 from a difference that shows.
    fn away_from_fabric(&self, color: [f32; 3]) -> f32 {
        let (a, b) = (oklab_from_linear(color), oklab_from_linear(self.garment));
        let d = ((a.l - b.l).powi(2) + (a.a - b.a).powi(2) + (a.b - b.b).powi(2)).sqrt();
        ease(d / 0.08)
    }
}

/// CIELAB chroma from which a highlight white is held on a white garment in full.
const HELD_CHROMA: f32 = 15.0;
/// L* from which the held share rises to the whole ramp on other garments.
const RISES_AT_L: f32 = 75.0;

/// Smooth from 0 at 0 to 1 at 1.
fn ease(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

#[cfg(test)]
mod tests {
    use super::super::PlannedScreen;
    use super::*;
    use crate::color::{Rgb8, ciede2000, linear_from_u16};
    use crate::ink::Ink;
    use crate::press::{art_on_garment, proof_from_screens};
    use crate::units::{Opacity, Ppi};

    fn ink(name: &str, color: &str, opacity: f64, role: InkRole) -> Ink {
        let (over_white, opacity) = (color.parse().unwrap(), Opacity::new(opacity).unwrap());
        Ink { name: name.into(), over_white, opacity, role, measured: false, spectra: None }
    }

    fn garment(color: &str) -> Garment {
        Garment::of_color(color.parse::<Rgb8>().unwrap())
    }

    fn prepared(pixels: Plane<[u16; 4]>) -> Prepared {
        Prepared {
            picture: Picture::new(pixels),
            ppi: Ppi::new(100.0).unwrap(),
            print_size_mm: [25.4, 25.4],
            true_ppi: 100.0,
        }
    }

    fn inks() -> Vec<Ink> {
        vec![
            ink("base", "#F4F4F0", 0.9, InkRole::BaseWhite),
            ink("yellow", "#F6D21F", 0.6, InkRole::Color),
            ink("red", "#C8202F", 0.65, InkRole::Color),
            ink("blue", "#1F4FA3", 0.65, InkRole::Color),
            ink("black", "#161616", 0.95, InkRole::Black),
            ink("white", "#FAFAFA", 0.8, InkRole::White),
        ]
    }

    /// A plane of hues and tones, clear on the left edge and half clear beside it.
    fn art() -> Plane<[u16; 4]> {
        Plane::from_fn(64, 48, |x, y| {
            let (r, g) = ((x * 1024) as u16, (y * 1365) as u16);
            let alpha = if x < 4 {
                0
            } else if x < 8 {
                30_000
            } else {
                65_535
            };
            // Warm and muted, within reach of the inks.
            [r, r / 4 + g / 2, r / 3 + g / 4, alpha]
        })
    }

    fn run(on: &str, settings: &SeparationSettings) -> Screens {
        let press = PressSettings::default();
        separate(&prepared(art()), &garment(on), settings, &press, Lpi::new(45.0).unwrap(), &Progress::none()).unwrap()
    }

    fn mean_difference(on: &str, screens: &Screens) -> f32 {
        let proof =
            proof_from_screens(screens, &garment(on), &PressSettings::default(), Lpi::new(45.0).unwrap(), |_| true);
        let art = art_on_garment(&Picture::new(art()), &garment(on));
        let lab = |p: &[u16; 4]| lab_from_linear(linear_from_u16(p));
        let pairs = proof.pixels().data().iter().zip(art.pixels().data());
        pairs.map(|(a, b)| ciede2000(lab(a), lab(b))).sum::<f32>() / (64.0 * 48.0)
    }

    #[test]
    fn proofs_come_near_the_art_on_white_and_on_black() {
        for on in ["#FFFFFF", "#141416"] {
            let screens = run(on, &SeparationSettings::for_inks(inks()));
            let mean = mean_difference(on, &screens);
            assert!(mean < 6.0, "mean CIEDE2000 {mean} on {on}");
        }
    }

    #[test]
    fn clear_pixels_take_no_ink_and_a_white_garment_no_underbase() {
        let screens = run("#FFFFFF", &SeparationSettings::for_inks(inks()));
        assert_eq!(screens.list[0].coverage.mean_coverage(), 0.0);
        let screens = run("#141416", &SeparationSettings::for_inks(inks()));
        assert!(screens.list[0].coverage.mean_coverage() > 0.1);
        for screen in &screens.list {
            assert!((0..48).all(|y| screen.coverage.row(y)[..4].iter().all(|&a| a == 0)), "{}", screen.name);
        }
    }

    #[test]
    fn one_thread_and_many_give_the_same() {
        let settings = SeparationSettings::for_inks(inks());
        let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let one = pool(1).install(|| run("#141416", &settings));
        let many = pool(5).install(|| run("#141416", &settings));
        assert_eq!(one, many);
    }

    #[test]
    fn what_cannot_be_separated_is_refused_with_the_reason() {
        let try_it = |settings: &SeparationSettings| {
            let (on, press) = (garment("#FFFFFF"), PressSettings::default());
            separate(&prepared(art()), &on, settings, &press, Lpi::new(45.0).unwrap(), &Progress::none())
                .unwrap_err()
                .to_string()
        };
        let mut settings = SeparationSettings::default();
        assert!(try_it(&settings).contains("no inks"));
        settings.screens = vec![PlannedScreen::of_ink(inks()[1].clone()); 2];
        assert!(try_it(&settings).contains("\"yellow\""));
        settings.screens.pop();
        settings.cleanliness = f64::NAN;
        assert!(try_it(&settings).contains("cleanliness must be 0 to 1"));
    }
}
