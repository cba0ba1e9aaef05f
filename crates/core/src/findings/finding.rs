//! What a finding is: a number, a place, what it rests on and what would fix it.

use crate::screens::ScreenName;
use serde::Serialize;

use crate::raster::Plane;

use super::Fix;

/// What a finding is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// The art has too few pixels for the ruling at this size.
    Resolution,
    /// The film printer cannot make enough grey levels.
    GreyLevels,
    /// Strokes or gaps too fine for the mesh.
    FineDetail,
    /// Highlight dots that will not hold on the mesh.
    LostDots,
    /// Shadow tones that run together.
    FilledShadows,
    /// Visible moire between mesh, halftone, other screens or the knit.
    Moire,
    /// Colour moves from set-up to set-up.
    Steadiness,
    /// Gaps or fringes when screens are out of register.
    Registration,
    /// A screen that prints over what it belongs under.
    PrintOrder,
    /// A screen lands on wet ink that will taint it.
    WetOnWet,
    /// Too much ink in one place.
    BuildUp,
    /// More heads needed than the press has.
    Heads,
    /// One screen's gain endangers the look.
    GainSensitivity,
    /// The garment needs an underbase and has none, or has one that it does not need.
    Underbase,
    /// A highlight white hazes what it should not.
    HighlightWhite,
    /// A screen prints almost nothing.
    EmptyScreen,
}

impl Kind {
    /// In words, for a list.
    pub fn label(self) -> &'static str {
        match self {
            Self::Resolution => "Resolution",
            Self::GreyLevels => "Grey levels",
            Self::FineDetail => "Fine detail",
            Self::LostDots => "Lost dots",
            Self::FilledShadows => "Filled shadows",
            Self::Moire => "Moire",
            Self::Steadiness => "Steadiness",
            Self::Registration => "Registration",
            Self::PrintOrder => "Print order",
            Self::WetOnWet => "Wet on wet",
            Self::BuildUp => "Ink build-up",
            Self::Heads => "Heads",
            Self::GainSensitivity => "Dot gain",
            Self::Underbase => "Underbase",
            Self::HighlightWhite => "Highlight white",
            Self::EmptyScreen => "Empty screen",
        }
    }
}

/// How much it matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// May show; worth a look.
    Caution,
    /// Will show, or the job cannot run like this.
    Fault,
}

impl Severity {
    /// In a word.
    pub fn label(self) -> &'static str {
        match self {
            Self::Caution => "Caution",
            Self::Fault => "Fault",
        }
    }
}

/// The number that carries a finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Number {
    /// What it counts.
    pub label: String,
    /// Its value.
    pub value: f64,
    /// Its unit ("mm", "%", "heads", ...); empty for a plain number.
    pub unit: &'static str,
    /// The limit that it passed, in the same unit.
    pub limit: f64,
}

impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let in_unit = |value: f64| {
            let text = if value.abs() < 10.0 { format!("{value:.1}") } else { format!("{value:.0}") };
            format!("{} {}", text.trim_end_matches(".0"), self.unit).trim_end().to_owned()
        };
        write!(f, "{}: {} (limit {})", self.label, in_unit(self.value), in_unit(self.limit))
    }
}

/// What an input rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// Read from the art or the screens.
    Screens,
    /// Set in the job.
    Job,
    /// Measured on a press run or with an instrument.
    Measured,
    /// From a published table.
    Published,
    /// Assumed: common practice or our own judgement.
    Assumed,
}

impl Basis {
    /// In words.
    pub fn label(self) -> &'static str {
        match self {
            Self::Screens => "from the screens",
            Self::Job => "set in the job",
            Self::Measured => "measured",
            Self::Published => "published",
            Self::Assumed => "assumed",
        }
    }
}

/// One input of a finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Input {
    /// What.
    pub name: &'static str,
    /// Its value with unit.
    pub value: String,
    /// What it rests on.
    pub basis: Basis,
}

impl std::fmt::Display for Input {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {} ({})", self.name, self.value, self.basis.label())
    }
}

impl Input {
    pub(super) fn new(name: &'static str, value: impl Into<String>, basis: Basis) -> Self {
        Self { name, value: value.into(), basis }
    }
}

/// Where on the print.
#[derive(Clone, PartialEq, Serialize)]
pub struct RiskArea {
    /// Box around it in mm from the top left of the print: left, top, width, height.
    pub region_mm: [f64; 4],
    /// Strength of the risk over the print, 0..255, at the survey's resolution.
    #[serde(skip)]
    pub map: Plane<u8>,
}

impl std::fmt::Debug for RiskArea {
    // The map's pixels would drown everything else.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("RiskArea").field("region_mm", &self.region_mm).finish_non_exhaustive()
    }
}

impl RiskArea {
    /// From a map whose pixels are `mm_per_px` wide; none if the map is empty. The box leaves
    /// out the thinnest 2 % of the risk on each side, so that one stray spot does not blow it up.
    pub fn of_map(map: Plane<u8>, mm_per_px: f64) -> Option<Self> {
        let (w, h) = (map.width(), map.height());
        let mut columns = vec![0u64; w];
        let mut rows = vec![0u64; h];
        for (y, row_sum) in rows.iter_mut().enumerate() {
            for (x, &v) in map.row(y).iter().enumerate() {
                columns[x] += u64::from(v);
                *row_sum += u64::from(v);
            }
        }
        let total: u64 = rows.iter().sum();
        if total == 0 {
            return None;
        }
        let ends = |sums: &[u64]| {
            let cut = total as f64 * 0.02;
            let edge = |it: &mut dyn Iterator<Item = (usize, &u64)>| {
                let mut run = 0.0;
                for (at, &v) in it {
                    run += v as f64;
                    if run > cut {
                        return at;
                    }
                }
                0
            };
            (edge(&mut sums.iter().enumerate()), edge(&mut sums.iter().enumerate().rev()))
        };
        let ((x0, x1), (y0, y1)) = (ends(&columns), ends(&rows));
        let mm = |a: usize| a as f64 * mm_per_px;
        Some(Self { region_mm: [mm(x0), mm(y0), mm(x1 + 1 - x0.min(x1)), mm(y1 + 1 - y0.min(y1))], map })
    }
}

/// Something that will go wrong on press.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// What it is about.
    pub kind: Kind,
    /// How much it matters.
    pub severity: Severity,
    /// What will happen, in one or two sentences.
    pub what: String,
    /// The number behind it.
    pub number: Number,
    /// Screens concerned, by name.
    pub screens: Vec<ScreenName>,
    /// Where, if it has a place.
    pub place: Option<RiskArea>,
    /// What it rests on.
    pub inputs: Vec<Input>,
    /// What would fix it, best first; each can be applied as it stands.
    pub fixes: Vec<Fix>,
}

impl Finding {
    /// Everything it says to people, in the order of a report: what will happen, the number, what it
    /// rests on, and the fixes.
    pub fn texts(&self) -> Vec<String> {
        let mut out = vec![self.kind.label().to_owned(), self.severity.label().to_owned(), self.what.clone()];
        out.push(self.number.to_string());
        out.extend(self.inputs.iter().map(Input::to_string));
        out.extend(self.fixes.iter().map(|fix| fix.label.clone()));
        out
    }
}
