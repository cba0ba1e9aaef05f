//! What the user decided about the separation. Lengths in millimetres, strengths as fractions,
//! so that a proxy and the full size agree.

use crate::screens::ScreenName;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{IndexSettings, Method, SpotSettings};
use crate::bounds::table;
use crate::ink::{Ink, InkRole};
use crate::units::Mm;

/// What a screen does in the print, where that is more than its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ScreenPart {
    /// From the ink's role and its place: a base white before the colours is an underbase, a
    /// white after colours is a highlight white if another white lies beneath or the garment is
    /// white, everything else is a colour.
    #[default]
    Auto,
    /// A colour like any other; the solver uses it freely.
    Color,
    /// White under the colours.
    Underbase,
    /// White over the colours, on a ramp over light and weakly coloured tones.
    HighlightWhite,
}

/// One screen that the separation makes.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlannedScreen {
    /// Name of the screen, unique in the job (case ignored). Usually the ink's.
    pub name: ScreenName,
    /// The ink it prints.
    pub ink: Ink,
    /// Prints of this screen, one on the other. Default 1.
    #[schemars(transform = table::HITS.schema())]
    #[serde(default = "one")]
    pub hits: u8,
    /// What it does in the print. Default: from the ink's role and place.
    #[serde(default)]
    pub part: ScreenPart,
    /// How willingly the separation uses it, -1 (sparingly) to 1 (eagerly). Default 0.
    #[schemars(transform = table::WILLINGNESS.schema())]
    #[serde(default)]
    pub willingness: f64,
}

fn one() -> u8 {
    1
}

/// A name in another case is a change, though it is the same name: films show it.
impl PartialEq for PlannedScreen {
    fn eq(&self, other: &Self) -> bool {
        let Self { name, ink, hits, part, willingness } = self;
        name.is_written_as(&other.name)
            && *ink == other.ink
            && *hits == other.hits
            && *part == other.part
            && *willingness == other.willingness
    }
}

impl PlannedScreen {
    /// A screen named after its ink, one hit, with everything else at its default.
    pub fn of_ink(ink: Ink) -> Self {
        Self { name: ink.name.as_str().into(), ink, hits: 1, part: ScreenPart::Auto, willingness: 0.0 }
    }
}

/// The underbase.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct UnderbaseSettings {
    /// How far the base stays behind the edges of the colours over it. Default 0.2 mm.
    #[schemars(transform = table::BASE_CHOKE.schema())]
    pub choke_mm: Mm,
    /// How willingly white goes under tones that could do with less, 0..=1. Default 0.5.
    #[schemars(transform = table::BASE_STRENGTH.schema())]
    pub strength: f64,
    /// The same for a second base, which lies on the first. Default 0.35 mm.
    #[schemars(transform = table::BASE_CHOKE.schema())]
    pub second_choke_mm: Mm,
    /// Whether an underbase prints on white garments too. Default false.
    pub on_white: bool,
    /// Screens that the base goes under, by name, case ignored; names that the job does not have
    /// change nothing. Default absent: under all.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub under: Option<Vec<ScreenName>>,
}

impl UnderbaseSettings {
    /// Whether the base goes under a screen.
    pub fn goes_under(&self, screen: &ScreenName) -> bool {
        self.under.as_ref().is_none_or(|names| names.contains(screen))
    }

    /// Choke of the first, second .. base, counted from 0.
    pub fn choke_of(&self, base: usize) -> Mm {
        if base == 0 { self.choke_mm } else { self.second_choke_mm }
    }
}

impl Default for UnderbaseSettings {
    fn default() -> Self {
        let mm = |v| Mm::new(v).unwrap_or_else(|_| unreachable!());
        Self { choke_mm: mm(0.2), strength: 0.5, second_choke_mm: mm(0.35), on_white: false, under: None }
    }
}

/// The ramp of the highlight white.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct HighlightSettings {
    /// CIELAB L* of the art where it begins. Default 45.
    #[schemars(transform = table::HIGHLIGHT_START.schema())]
    pub starts_at_l: f64,
    /// L* from which it may be solid. Default 95.
    #[schemars(transform = table::HIGHLIGHT_FULL.schema())]
    pub full_at_l: f64,
    /// CIELAB chroma of the art at which it has faded out. Default 60.
    #[schemars(transform = table::HIGHLIGHT_CHROMA.schema())]
    pub max_chroma: f64,
    /// Share of the ramp that is printed even where the solver could do without, so that pastels
    /// are held by larger dots under white, 0..=1; less where so much white would cost a colour.
    /// Default 0.55. Bare fabric is left alone, and so
    /// are greys on a white garment; on others the share rises to the whole in the lightest tones.
    #[schemars(transform = table::HIGHLIGHT_HOLD.schema())]
    pub hold: f64,
}

impl Default for HighlightSettings {
    fn default() -> Self {
        Self { starts_at_l: 45.0, full_at_l: 95.0, max_chroma: 60.0, hold: 0.55 }
    }
}

/// Settings of the separation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct SeparationSettings {
    /// In print order, first down first.
    #[schemars(transform = table::SCREENS.schema())]
    pub screens: Vec<PlannedScreen>,
    /// How the picture is turned into screens.
    pub method: Method,
    /// How far black replaces the other inks: 0 little black, for detail in the shadows only;
    /// 1 every grey from black. Default 0.5.
    #[schemars(transform = table::BLACK_STRENGTH.schema())]
    pub black_strength: f64,
    /// How few inks may share a spot: 0 as many as serve the colour, 1 as few as possible.
    /// Default 0.25.
    #[schemars(transform = table::CLEANLINESS.schema())]
    pub cleanliness: f64,
    /// Most ink on a spot, as a sum of coverages (3 is 300 %), hits counted. Default 3.
    #[schemars(transform = table::TOTAL_INK.schema())]
    pub total_ink_limit: f64,
    /// How much more an error of hue costs than one of lightness or chroma: 0 the same, 1 three
    /// times as much. Default 0.5.
    #[schemars(transform = table::HUE_KEEPING.schema())]
    pub hue_keeping: f64,
    /// The underbase, if a screen is one.
    pub underbase: UnderbaseSettings,
    /// The highlight white, if a screen is one.
    pub highlight: HighlightSettings,
    /// What spot art has of its own.
    pub spot: SpotSettings,
    /// What index separation has of its own.
    pub index: IndexSettings,
}

impl Default for SeparationSettings {
    fn default() -> Self {
        Self {
            screens: Vec::new(),
            method: Method::default(),
            black_strength: 0.5,
            cleanliness: 0.25,
            total_ink_limit: 3.0,
            hue_keeping: 0.5,
            underbase: UnderbaseSettings::default(),
            highlight: HighlightSettings::default(),
            spot: SpotSettings::default(),
            index: IndexSettings::default(),
        }
    }
}

/// Where black prints among the colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BlackPlace {
    /// Before the colours, after whites that lead: the others mix over it.
    First,
    /// After the colours, before whites that end.
    Last,
}

impl SeparationSettings {
    /// Where black prints; none if there is none, or if it prints amid the colours.
    pub fn black_place(&self) -> Option<BlackPlace> {
        let black = |s: &PlannedScreen| s.ink.role == InkRole::Black;
        let color = |s: &PlannedScreen| matches!(s.ink.role, InkRole::Color | InkRole::Process);
        let (first, last) = (self.screens.iter().position(black)?, self.screens.iter().rposition(black)?);
        match (self.screens.iter().position(color), self.screens.iter().rposition(color)) {
            (Some(colors_from), _) if last < colors_from => Some(BlackPlace::First),
            (_, Some(colors_to)) if first < colors_to => None,
            _ => Some(BlackPlace::Last),
        }
    }

    /// Lets every black print first or last.
    pub fn place_black(&mut self, place: BlackPlace) {
        let white = |s: &PlannedScreen| matches!(s.ink.role, InkRole::White | InkRole::BaseWhite);
        let (blacks, mut others): (Vec<_>, Vec<_>) =
            std::mem::take(&mut self.screens).into_iter().partition(|s| s.ink.role == InkRole::Black);
        let at = match place {
            BlackPlace::First => others.iter().position(|s| !white(s)),
            BlackPlace::Last => others.iter().rposition(|s| !white(s)).map(|at| at + 1),
        };
        let at = at.unwrap_or(others.len());
        others.splice(at..at, blacks);
        self.screens = others;
    }

    /// A screen an ink, in print order, everything else at its default.
    pub fn for_inks(inks: impl IntoIterator<Item = Ink>) -> Self {
        Self { screens: inks.into_iter().map(PlannedScreen::of_ink).collect(), ..Self::default() }
    }

    /// What every screen does on a garment, [`ScreenPart::Auto`] resolved.
    pub fn parts(&self, garment_is_white: bool) -> Vec<ScreenPart> {
        let white = |s: &PlannedScreen| matches!(s.ink.role, InkRole::White | InkRole::BaseWhite);
        let first_color = self.screens.iter().position(|s| !white(s) && s.ink.role != InkRole::Black);
        let part = |(at, screen): (usize, &PlannedScreen)| match screen.part {
            ScreenPart::Auto if white(screen) => {
                let before_colors = first_color.is_none_or(|first| at < first);
                let white_beneath = self.screens[..at].iter().any(white);
                if before_colors && first_color.is_some() {
                    ScreenPart::Underbase
                } else if !before_colors && (white_beneath || garment_is_white) {
                    ScreenPart::HighlightWhite
                } else {
                    ScreenPart::Color
                }
            }
            ScreenPart::Auto => ScreenPart::Color,
            stated => stated,
        };
        self.screens.iter().enumerate().map(part).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Opacity;

    #[test]
    fn black_goes_first_and_last_among_the_colours() {
        let screen = |name: &str, role| {
            PlannedScreen::of_ink(Ink {
                name: name.into(),
                over_white: "#808080".parse().unwrap(),
                opacity: Opacity::new(0.7).unwrap(),
                role,
                measured: false,
                spectra: None,
            })
        };
        let mut settings = SeparationSettings {
            screens: vec![
                screen("base", InkRole::BaseWhite),
                screen("red", InkRole::Color),
                screen("black", InkRole::Black),
                screen("blue", InkRole::Color),
                screen("white", InkRole::White),
            ],
            ..SeparationSettings::default()
        };
        let names = |s: &SeparationSettings| s.screens.iter().map(|s| s.name.to_string()).collect::<Vec<_>>().join(" ");
        assert_eq!(settings.black_place(), None);
        settings.place_black(BlackPlace::Last);
        assert_eq!(names(&settings), "base red blue black white");
        assert_eq!(settings.black_place(), Some(BlackPlace::Last));
        settings.place_black(BlackPlace::First);
        assert_eq!(names(&settings), "base black red blue white");
        assert_eq!(settings.black_place(), Some(BlackPlace::First));
    }
}
