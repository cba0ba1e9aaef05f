//! How films are screened: what the user decides, in physical units.

use crate::screens::ScreenName;
use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{DeviceGrid, DotShape};
use crate::bounds::table;
use crate::units::{Coverage, Degrees, Dpi, Lpi, MM_PER_INCH, Mm};

/// Which side of the film carries the image when it reads right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Emulsion {
    /// Reads right with the emulsion towards you: the usual film for a screen.
    #[default]
    Up,
    /// Reads right with the emulsion away from you: the image is mirrored.
    Down,
}

/// What becomes of dots that are too small.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SmallDots {
    /// Fewer of them, each as large as the smallest: tones stay, scattered evenly over the grid. Lines and dots
    /// of one size stay as they are.
    #[default]
    Thin,
    /// They stay as they are.
    Keep,
    /// They are left out.
    Clip,
    /// They are brought up to the smallest.
    Lift,
}

/// What becomes of tones whose holes are too small.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SmallHoles {
    /// They stay as they are.
    #[default]
    Keep,
    /// They become solid.
    Clip,
    /// They are brought down to the largest dot. Solid stays solid.
    Lift,
}

/// The smallest and largest dot a film carries, as film coverage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct DotLimits {
    /// Smallest dot. Default none: the smallest that always holds on the screen's mesh at its ruling.
    pub smallest: Option<Coverage>,
    /// What becomes of smaller ones. Default thin.
    pub below: SmallDots,
    /// Largest dot. Default 0.97 (common practice, depends on mesh and ruling).
    pub largest: Coverage,
    /// What becomes of larger ones. Default keep.
    pub above: SmallHoles,
}

impl Default for DotLimits {
    fn default() -> Self {
        let largest = Coverage::new(0.97).unwrap_or_else(|_| unreachable!());
        Self { smallest: None, below: SmallDots::default(), largest, above: SmallHoles::default() }
    }
}

/// The limits of one screen's dots.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScreenDots {
    /// Film coverage of the smallest dot.
    pub smallest: f32,
    /// What becomes of smaller ones.
    pub below: SmallDots,
    /// Film coverage of the largest dot.
    pub largest: f32,
    /// What becomes of larger ones.
    pub above: SmallHoles,
}

/// The largest smallest dot that a mesh asks for; on a mesh that holds even less, tones would come apart.
const MOST_SMALLEST: f64 = 0.15;

impl ScreenDots {
    /// All tones as they are.
    pub const ALL: Self = Self { smallest: 0.0, below: SmallDots::Keep, largest: 1.0, above: SmallHoles::Keep };
}

impl DotLimits {
    /// Those of a screen whose mesh holds every dot from a film coverage on, in dots of a shape.
    pub fn of_screen(&self, holds_from: f64, shape: DotShape) -> ScreenDots {
        let smallest = self.smallest.map_or(holds_from.min(MOST_SMALLEST), Coverage::get) as f32;
        let whole = shape.size_mm().is_some() || shape == DotShape::Line;
        let below = if whole && self.below == SmallDots::Thin { SmallDots::Keep } else { self.below };
        ScreenDots { smallest, below, largest: self.largest.get() as f32, above: self.above }
    }
}

/// A film printer's own tone, from a measured wedge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Linearisation {
    /// Name of the wedge, printed on the film.
    #[schemars(transform = table::CURVE_NAME.schema())]
    pub name: String,
    /// Coverage sent to the printer and coverage measured on its film; 0 and 1 are implied.
    #[schemars(transform = table::STEPS.schema())]
    pub points: Vec<(Coverage, Coverage)>,
}

/// How the screens of a job come to their angles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum AngleRule {
    /// Each has its own, and a new screen gets one that is free: colour holds when register does not.
    #[default]
    Apart,
    /// All have the job's angle, a habit of the trade that asks least of the mesh: colour moves with register.
    One,
}

/// Where a screen differs from the rest of the job.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ScreenFilm {
    /// Its ruling.
    pub ruling: Option<Lpi>,
    /// Its angle.
    pub angle: Option<Degrees>,
    /// Its dot.
    pub dot: Option<DotShape>,
}

/// Film settings of a job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct FilmSettings {
    /// Film printer resolution. Default 720 dpi.
    pub dpi: Dpi,
    /// Its resolution down the film, where it differs (720 x 1440). Default none: the same.
    pub dpi_down: Option<Dpi>,
    /// Ruling. Default 45 lpi.
    pub ruling: Lpi,
    /// Whether screens have angles of their own. Default apart.
    pub angles: AngleRule,
    /// The angle that all screens share, or from which they stand apart. Default 22.5 degrees.
    pub angle: Degrees,
    /// Angles that the shop's films can have, to choose from and to be advised. Default none named: any.
    #[schemars(transform = table::ANGLES.schema())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub angles_at_hand: Vec<Degrees>,
    /// Dot shape. Default round.
    pub dot: DotShape,
    /// What differs, by screen name.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[schemars(transform = table::SCREEN_NAME.keys())]
    pub screens: BTreeMap<ScreenName, ScreenFilm>,
    /// Smallest and largest dot.
    pub limits: DotLimits,
    /// The film printer's measured tone. Default none: taken as linear.
    pub linearisation: Option<Linearisation>,
    /// Widest film that the film printer takes. Wider films are turned by a right angle; those
    /// that do not fit either way are refused. Default none: any width.
    #[schemars(transform = table::PRINTER_WIDTH.schema())]
    pub printer_width: Option<Mm>,
    /// Emulsion side. Default up: right-reading.
    pub emulsion: Emulsion,
    /// Reversed film, clear where ink prints, for direct exposure. Default false.
    pub reverse: bool,
    /// Film around the print on each side. Default 12.7 mm (half an inch).
    #[schemars(transform = table::MARGIN.schema())]
    pub margin: Mm,
    /// Registration marks, centre lines and crop corners. Default true.
    pub marks: bool,
    /// A label that names job, screen and settings. Default true.
    pub label: bool,
    /// A step wedge of uncompensated tones. Default true.
    pub wedge: bool,
}

impl Default for FilmSettings {
    fn default() -> Self {
        Self {
            dpi: Dpi::new(720.0).unwrap_or_else(|_| unreachable!()),
            dpi_down: None,
            ruling: Lpi::new(45.0).unwrap_or_else(|_| unreachable!()),
            angles: AngleRule::default(),
            angle: Degrees::new(22.5).unwrap_or_else(|_| unreachable!()),
            angles_at_hand: Vec::new(),
            dot: DotShape::Round,
            screens: BTreeMap::new(),
            limits: DotLimits::default(),
            linearisation: None,
            printer_width: None,
            emulsion: Emulsion::Up,
            reverse: false,
            margin: Mm::new(12.7).unwrap_or_else(|_| unreachable!()),
            marks: true,
            label: true,
            wedge: true,
        }
    }
}

impl FilmSettings {
    /// Ruling, angle and dot of a screen.
    pub fn of_screen(&self, name: &ScreenName) -> (Lpi, Degrees, DotShape) {
        let own = self.own(name);
        (
            own.and_then(|s| s.ruling).unwrap_or(self.ruling),
            own.and_then(|s| s.angle).unwrap_or(self.angle),
            own.and_then(|s| s.dot).unwrap_or(self.dot),
        )
    }

    /// What differs for a screen.
    pub fn own(&self, name: &ScreenName) -> Option<&ScreenFilm> {
        self.screens.get(name)
    }

    /// Changes what differs for a screen; what no longer differs from the job is dropped.
    pub fn change_own(&mut self, name: &ScreenName, change: impl FnOnce(&mut ScreenFilm)) {
        let mut own = self.screens.remove(name).unwrap_or_default();
        change(&mut own);
        own.ruling = own.ruling.filter(|ruling| *ruling != self.ruling);
        // Apart, the screen that stands at the job's angle says so.
        own.angle = own.angle.filter(|angle| self.angles == AngleRule::Apart || *angle != self.angle);
        own.dot = own.dot.filter(|dot| *dot != self.dot);
        if own != ScreenFilm::default() {
            self.screens.insert(name.clone(), own);
        }
    }

    /// The film printer's dots.
    pub fn device(&self) -> DeviceGrid {
        DeviceGrid { x_dpi: self.dpi, y_dpi: self.dpi_down.unwrap_or(self.dpi) }
    }

    /// The ruling at which round dots have as much edge as a screen's dots have, for the gain
    /// that follows the edge. A pattern of squares of side d whose neighbours differ in a share p
    /// has 2 p / d of edge for each area, round dots at 50 % and L lines 2 L sqrt(pi / 2); for
    /// blue noise at 50 % p is 0.63 (a test measures it).
    pub fn gain_ruling(&self, name: &ScreenName) -> Lpi {
        let (ruling, _, dot) = self.of_screen(name);
        match dot.size_mm() {
            None => ruling,
            Some(size) => {
                let per_mm = EDGE_SHARE / size.get().max(1e-3) / (std::f64::consts::PI / 2.0).sqrt();
                Lpi::new((per_mm * MM_PER_INCH).clamp(5.0, 300.0)).unwrap_or(ruling)
            }
        }
    }

    /// Ruling, angle and dot of a screen in a few words, as on its film.
    pub fn describe(&self, name: &ScreenName) -> String {
        let (ruling, angle, dot) = self.of_screen(name);
        match dot {
            DotShape::BlueNoise { size_mm } => format!("blue noise, {:.0} um dots", size_mm.get() * 1000.0),
            DotShape::Diffusion { size_mm } => format!("error diffusion, {:.0} um dots", size_mm.get() * 1000.0),
            DotShape::Index { size_mm } => format!("index, {size_mm} mm dots"),
            dot => format!("{ruling} lpi, {angle} deg, {} dot", dot.name()),
        }
    }
}

/// Share of neighbours that differ in blue noise at 50 %.
pub(super) const EDGE_SHARE: f64 = 0.63;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_longer_differs_is_dropped() {
        let mut film = FilmSettings::default();
        let angle = Degrees::new(52.5).unwrap();
        film.change_own(&"Gold".into(), |own| own.angle = Some(angle));
        film.change_own(&"GOLD".into(), |own| own.ruling = Some(Lpi::new(55.0).unwrap()));
        assert_eq!(film.screens.len(), 1);
        assert_eq!(film.of_screen(&"gold".into()), (Lpi::new(55.0).unwrap(), angle, DotShape::Round));
        film.change_own(&"gold".into(), |own| {
            *own = ScreenFilm { ruling: Some(Lpi::new(45.0).unwrap()), ..Default::default() }
        });
        assert!(film.screens.is_empty());
    }
}
