//! Which inks from the shelf, for how many screens: what is asked, what is answered, and what of a search
//! ([`super::search`]) is worth offering.

use serde::{Deserialize, Serialize};

use super::judge::{Judge, judged_colors};
use super::search::{Search, Standing, best_of_each_size};
use crate::color::{Rgb8, color_words};
use crate::ink::{Ink, InkRole, Shelf, ShelfError};
use crate::press::Ground;
use crate::raster::Picture;
use crate::separate::error::check;
use crate::separate::model::MAX_SCREENS;
use crate::separate::{PlannedScreen, Quality, SeparateError, SeparationSettings};
use crate::{Cancelled, Progress};

/// What the choice is to meet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct InkRequest {
    /// Screens to fill, an underbase counted. Default 6.
    pub screens: usize,
    /// Inks that must be in, by name.
    pub pinned: Vec<String>,
    /// Inks that must stay out, by name.
    pub banned: Vec<String>,
    /// Whether transparent process inks and opaque colours may be in one set. Default false: they want
    /// different meshes and another order, so a set has the ones or the others, besides white and black.
    pub process_with_opaque: bool,
}

impl Default for InkRequest {
    fn default() -> Self {
        Self { screens: 6, pinned: Vec::new(), banned: Vec::new(), process_with_opaque: false }
    }
}

/// Why an ink is in a set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reason {
    /// The colours that it prints most, in words: "dark blue".
    pub prints: String,
    /// Its mean coverage over the print.
    pub coverage: f64,
    /// Mean CIEDE2000 of the set without it, less that with it.
    pub brings: f64,
}

/// A set of inks and what it is worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Choice {
    /// In print order.
    pub inks: Vec<Ink>,
    /// Estimated on the weighed colours.
    pub quality: Quality,
    /// One for each ink, in the same order.
    pub reasons: Vec<Reason>,
}

impl Choice {
    /// Its screens, planned with everything at its default.
    pub fn screens(&self) -> Vec<PlannedScreen> {
        self.inks.iter().cloned().map(PlannedScreen::of_ink).collect()
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suggestion {
    /// The set for the screens requested (or as many as the shelf gives).
    pub chosen: Choice,
    /// The best set found for 1, 2, 3 .. screens, up to two more than requested. A number of screens that
    /// brings less than [`LEAST_GAIN`] and [`LEAST_P95_GAIN`] over a smaller one is left out.
    pub curve: Vec<Choice>,
    /// The most screens that were tried.
    pub tried: usize,
}

/// What more screens must take off the mean CIEDE2000 to be offered ...
pub const LEAST_GAIN: f64 = 0.1;
/// .. or off the 95th percentile: a small part of the picture may need an ink of its own.
pub const LEAST_P95_GAIN: f64 = 1.0;

/// Whether a set is worth more screens than another.
pub fn earns(now: Quality, before: Quality) -> bool {
    let (mean, p95) = (before.mean - now.mean, before.p95 - now.p95);
    mean >= LEAST_GAIN || (mean > 0.0 && p95 >= LEAST_P95_GAIN)
}

/// Why no inks can be suggested.
#[derive(Debug, thiserror::Error)]
pub enum SuggestError {
    /// The shelf, or a name.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
    /// More pins than screens.
    #[error("{pinned} inks are pinned but only {screens} screens are requested; unpin some or add screens")]
    TooManyPins {
        /// Pinned inks.
        pinned: usize,
        /// Screens requested.
        screens: usize,
    },
    /// Pinned and banned.
    #[error("\"{0}\" is both pinned and banned; choose one")]
    PinnedAndBanned(String),
    /// Every ink is banned.
    #[error("every ink on the shelf is banned; allow some")]
    NothingLeft,
    /// Zero or too many screens.
    #[error("ask for 1 to {MAX_SCREENS} screens, not {0}")]
    Screens(usize),
    /// Settings.
    #[error(transparent)]
    Separate(#[from] SeparateError),
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Colours that a choice is judged on.
const COLORS: usize = 160;
/// Colours that all sets are compared on.
const FEW_COLORS: usize = 40;

/// Chooses inks for a picture from a shelf. Whites that lie under the colours are taken to be
/// flashed; `separation` gives the controls (its screens are not used).
pub fn suggest(
    picture: &Picture,
    ground: &Ground<'_>,
    shelf: &Shelf,
    request: &InkRequest,
    separation: &SeparationSettings,
    progress: &Progress,
) -> Result<Suggestion, SuggestError> {
    shelf.check()?;
    check(&SeparationSettings { screens: vec![PlannedScreen::of_ink(shelf.inks[0].clone())], ..separation.clone() })?;
    if !(1..=MAX_SCREENS).contains(&request.screens) {
        return Err(SuggestError::Screens(request.screens));
    }
    let place = |name: &String| -> Result<usize, SuggestError> {
        let ink = shelf.find(name)?;
        Ok(shelf.inks.iter().position(|other| other.name == ink.name).unwrap_or(0))
    };
    let mut pinned: Vec<usize> = request.pinned.iter().map(place).collect::<Result<_, _>>()?;
    pinned.sort_unstable();
    pinned.dedup();
    let banned: Vec<usize> = request.banned.iter().map(place).collect::<Result<_, _>>()?;
    if let Some(&both) = pinned.iter().find(|p| banned.contains(p)) {
        return Err(SuggestError::PinnedAndBanned(shelf.inks[both].name.clone()));
    }
    if pinned.len() > request.screens {
        return Err(SuggestError::TooManyPins { pinned: pinned.len(), screens: request.screens });
    }
    let allowed: Vec<usize> = (0..shelf.inks.len()).filter(|i| !banned.contains(i)).collect();
    if allowed.is_empty() {
        return Err(SuggestError::NothingLeft);
    }
    progress.step("weigh colours", 0.0)?;
    let [few, many] = judged_colors(picture, ground.garment, separation, [FEW_COLORS, COLORS])?.map(|colors| Judge {
        colors,
        ground: *ground,
        settings: separation,
    });
    let natures = natures(shelf, &allowed, &pinned, request.process_with_opaque);
    let (mut best, mut tried) = (Vec::new(), 0);
    let part = 1.0 / natures.len() as f32;
    for (at, allowed) in natures.into_iter().enumerate() {
        let search = Search { few: &few, many: &many, shelf, allowed, pinned: &pinned };
        let progress = progress.part(part * at as f32, part * (at as f32 + 1.0));
        tried = tried.max(search.most(request.screens));
        best.extend(search.run(request.screens, &progress)?);
    }
    let best = best_of_each_size(best);
    let mut kept: Vec<Standing> = Vec::new();
    for standing in best {
        if kept.last().is_none_or(|before| earns(standing.many.quality, before.many.quality)) {
            kept.push(standing);
        }
    }
    let curve: Vec<Choice> = kept.iter().map(|standing| explained(&many, standing)).collect();
    let chosen = curve.iter().rev().find(|c| c.inks.len() <= request.screens).or(curve.first()).cloned();
    let chosen = chosen.ok_or(SuggestError::NothingLeft)?;
    progress.step("choose inks", 1.0)?;
    Ok(Suggestion { chosen, curve, tried })
}

/// The lists of inks that sets are chosen from, each searched by itself: with `together` or where inks of
/// both natures are pinned, all that is allowed; otherwise opaque colours or process inks, besides white and
/// black.
fn natures(shelf: &Shelf, allowed: &[usize], pinned: &[usize], together: bool) -> Vec<Vec<usize>> {
    let is = |role: InkRole| move |at: &&usize| shelf.inks[**at].role == role;
    let without = |role: InkRole| -> Vec<usize> { allowed.iter().filter(|at| !is(role)(at)).copied().collect() };
    let [process, opaque] = [InkRole::Process, InkRole::Color].map(|role| allowed.iter().any(|at| is(role)(&at)));
    match [InkRole::Process, InkRole::Color].map(|role| pinned.iter().any(|at| is(role)(&at))) {
        _ if together || !process || !opaque => vec![allowed.to_vec()],
        [true, true] => vec![allowed.to_vec()],
        [true, false] => vec![without(InkRole::Color)],
        [false, true] => vec![without(InkRole::Process)],
        [false, false] => vec![without(InkRole::Process), without(InkRole::Color)],
    }
}

/// A set with the reason for each of its inks.
fn explained(judge: &Judge<'_>, standing: &Standing) -> Choice {
    let found = &standing.many;
    let reason = |at: usize| {
        let mut others = found.screens.clone();
        others.remove(at);
        let brings = match others.is_empty() {
            true => 0.0,
            false => judge.solve(others, Some(found)).quality.mean - found.quality.mean,
        };
        let mut sum = ([0.0f64; 3], 0.0, 0.0);
        for (color, a) in judge.colors.iter().zip(&found.values) {
            let coverage = f64::from(a[at]);
            // What it prints as a solid says more of it than what it tints.
            let weight = color.weight * coverage * coverage;
            sum.0.iter_mut().zip(color.color).for_each(|(s, v)| *s += weight * f64::from(v));
            sum.1 += weight;
            sum.2 += color.weight * coverage;
        }
        let all: f64 = judge.colors.iter().map(|c| c.weight).sum();
        let mean = sum.0.map(|s| (s / sum.1.max(1e-9)) as f32);
        let prints = color_words(Rgb8::from_linear(mean));
        Reason { prints, coverage: sum.2 / all.max(1e-9), brings }
    };
    let reasons = (0..found.screens.len()).map(reason).collect();
    Choice { inks: found.screens.iter().map(|s| s.ink.clone()).collect(), quality: found.quality, reasons }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Garment;
    use crate::ink::InkRole;
    use crate::press::PrintModel;
    use crate::raster::Plane;
    use crate::units::{Lpi, Opacity};

    fn shelf() -> Shelf {
        let ink = |name: &str, color: &str, opacity, role| Ink {
            name: name.into(),
            over_white: color.parse().unwrap(),
            opacity: Opacity::new(opacity).unwrap(),
            role,
            measured: false,
            spectra: None,
        };
        Shelf {
            inks: vec![
                ink("grass", "#3F9B45", 0.7, InkRole::Color),
                ink("black", "#17171A", 0.95, InkRole::Black),
                ink("red", "#D8232A", 0.7, InkRole::Color),
                ink("base", "#F4F4F0", 0.9, InkRole::BaseWhite),
                ink("sun", "#FBBE22", 0.6, InkRole::Color),
            ],
        }
    }

    /// A red and black picture, a tenth of it yellow.
    fn picture() -> Picture {
        Picture::new(Plane::from_fn(40, 40, |x, y| match (x, y) {
            (_, 36..) => [64_500, 48_800, 8_700, u16::MAX],
            (0..20, _) => [55_000, 9_500, 11_000, u16::MAX],
            _ => [6_000, 6_000, 6_700, u16::MAX],
        }))
    }

    fn ask(on: &str, request: &InkRequest) -> Result<Suggestion, SuggestError> {
        ask_of(&shelf(), on, request)
    }

    fn ask_of(shelf: &Shelf, on: &str, request: &InkRequest) -> Result<Suggestion, SuggestError> {
        let (settings, press) = (SeparationSettings::default(), PrintModel::default());
        let garment = Garment::of_color(on.parse().unwrap());
        let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).unwrap());
        suggest(&picture(), &ground, shelf, request, &settings, &Progress::none())
    }

    fn names(choice: &Choice) -> Vec<&str> {
        choice.inks.iter().map(|i| i.name.as_str()).collect()
    }

    #[test]
    fn inks_follow_the_picture_and_the_garment() {
        let on_white = ask("#FFFFFF", &InkRequest { screens: 3, ..Default::default() }).unwrap();
        assert_eq!(names(&on_white.chosen), ["sun", "red", "black"]);
        let on_black = ask("#17171A", &InkRequest { screens: 3, ..Default::default() }).unwrap();
        assert_eq!(names(&on_black.chosen), ["base", "sun", "red"]);
        for pair in on_white.curve.windows(2) {
            assert!(earns(pair[1].quality, pair[0].quality), "more screens earn their place: {pair:?}");
        }
    }

    #[test]
    fn pins_and_bans_hold_and_contradictions_are_refused() {
        let of = |pinned: &str| InkRequest {
            screens: 2,
            pinned: vec![pinned.into()],
            banned: vec!["red".into()],
            ..Default::default()
        };
        let pinned = of("Grass");
        let found = ask("#FFFFFF", &pinned).unwrap();
        assert!(names(&found.chosen).contains(&"grass") && !names(&found.chosen).contains(&"red"));
        let both = of("red");
        assert!(ask("#FFFFFF", &both).unwrap_err().to_string().contains("both pinned and banned"));
        let unknown = InkRequest { pinned: vec!["rad".into()], ..Default::default() };
        assert!(ask("#FFFFFF", &unknown).unwrap_err().to_string().contains("\"red\""));
    }

    /// The picture has three colours besides black: nothing that is offered has more screens than bring
    /// something, and every ink has its reason.
    #[test]
    fn screens_that_bring_nothing_are_not_offered() {
        for on in ["#FFFFFF", "#17171A", "#A3202B"] {
            let found = ask(on, &InkRequest { screens: 5, ..Default::default() }).unwrap();
            assert_eq!(found.tried, 5);
            let most = found.curve.last().unwrap();
            assert!(most.inks.len() <= 4, "on {on}: {:?}", names(most));
            assert_eq!(found.chosen, *most);
            for (ink, reason) in most.inks.iter().zip(&most.reasons) {
                assert!(reason.coverage > 0.01 && reason.brings > 0.1, "on {on}: {} {reason:?}", ink.name);
            }
        }
        let on_white = ask("#FFFFFF", &InkRequest { screens: 3, ..Default::default() }).unwrap().chosen;
        let prints: Vec<&str> = on_white.reasons.iter().map(|r| r.prints.as_str()).collect();
        assert!(prints[0].ends_with("yellow") || prints[0].ends_with("orange"), "{prints:?}");
        assert!(prints[1].ends_with("red") && prints[2] == "black", "{prints:?}");
    }

    /// A second white hardly apart from the first is not taken on a dark garment, and process inks join opaque
    /// ones only if asked.
    #[test]
    fn twins_and_mixed_natures_are_left_out() {
        let mut shelf = shelf();
        let like = |name: &str, of: &str, color: &str, role| Ink {
            name: name.into(),
            over_white: color.parse().unwrap(),
            opacity: Opacity::new(if role == InkRole::Process { 0.1 } else { 0.88 }).unwrap(),
            role,
            ..shelf.find(of).unwrap().clone()
        };
        let more = [
            like("other base", "base", "#F2F2F2", InkRole::BaseWhite),
            like("process yellow", "sun", "#F7E017", InkRole::Process),
            like("process magenta", "red", "#C9187A", InkRole::Process),
            like("process cyan", "grass", "#1593D1", InkRole::Process),
        ];
        shelf.inks.extend(more);
        let of = |choice: &Choice, role: InkRole| choice.inks.iter().filter(|ink| ink.role == role).count();
        for on in ["#FFFFFF", "#17171A"] {
            let request = InkRequest { screens: 5, ..Default::default() };
            for choice in ask_of(&shelf, on, &request).unwrap().curve {
                assert!(of(&choice, InkRole::BaseWhite) < 2, "on {on}: {:?}", names(&choice));
                assert!(of(&choice, InkRole::Process) * of(&choice, InkRole::Color) == 0, "{:?}", names(&choice));
            }
            let pinned = InkRequest { pinned: vec!["process cyan".into(), "red".into()], ..request.clone() };
            let both = ask_of(&shelf, on, &pinned).unwrap().chosen;
            assert!(of(&both, InkRole::Process) > 0 && of(&both, InkRole::Color) > 0);
            let one = InkRequest { pinned: vec!["process cyan".into()], ..request };
            assert_eq!(of(&ask_of(&shelf, on, &one).unwrap().chosen, InkRole::Color), 0);
        }
    }
}
