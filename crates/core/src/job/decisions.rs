//! Everything the user decided, as data.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use std::collections::BTreeSet;

use super::{AlsoOn, JobInfo};
use crate::bounds::{self, OutOfBounds, table};
use crate::halftone::{AngleRule, DotShape, FilmSettings, ScreenDots};
use crate::ink::{Garment, Ink};
use crate::prep::PrepSettings;
use crate::press::{Ground, PrintModel};
use crate::screens::ScreenName;
use crate::separate::{Method, SeparationSettings};
use crate::tune::EditEntry;
use crate::units::{Mm, Ppi};
use crate::usage::{Mesh, PressRun};

/// Everything the user decided.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Who it is for.
    #[serde(default)]
    pub info: JobInfo,
    /// What it is printed on.
    pub garment: Garment,
    /// Screens that do not print on it but on a further garment, by name.
    #[schemars(transform = table::NAMED_SCREENS.schema())]
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub leaves_out: BTreeSet<ScreenName>,
    /// Further garments that the same films print on. Default none.
    #[schemars(transform = table::ALSO_ON.schema())]
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also_on: Vec<AlsoOn>,
    /// How the art is prepared.
    #[serde(default)]
    pub prep: PrepSettings,
    /// How it is separated.
    #[serde(default)]
    pub separation: SeparationSettings,
    /// What was changed on the screens afterwards, in order.
    #[schemars(transform = table::EDITS.schema())]
    #[serde(default)]
    pub edits: Vec<EditEntry>,
    /// What the press makes of the screens: the print model.
    #[serde(default)]
    pub press: PrintModel,
    /// The press and the run: what changes no screen.
    #[serde(default)]
    pub run: PressRun,
    /// How films are screened.
    #[serde(default)]
    pub film: FilmSettings,
}

impl Job {
    /// A job with defaults on a garment.
    pub fn new(garment: Garment) -> Self {
        Self {
            info: JobInfo::default(),
            garment,
            leaves_out: BTreeSet::new(),
            also_on: Vec::new(),
            prep: PrepSettings::default(),
            separation: SeparationSettings::default(),
            edits: Vec::new(),
            press: PrintModel::default(),
            run: PressRun::default(),
            film: FilmSettings::default(),
        }
    }

    /// Holds every number, text and list to its range ([`bounds::table`]), and the quantity to the sizes. What
    /// is beyond it is neither evaluated nor saved.
    pub fn check(&self) -> Result<(), OutOfBounds> {
        bounds::check(self)?;
        self.garments_agree().map_err(OutOfBounds::said)?;
        self.info.agrees().map_err(OutOfBounds::said)
    }

    /// The limits of a screen's dots on its film.
    pub fn dots_of(&self, screen: &ScreenName) -> ScreenDots {
        dots_of_screen(&self.film, &self.run, screen)
    }

    /// What its screens are printed on, and how: the first garment.
    pub fn ground(&self) -> Ground<'_> {
        self.ground_of(0)
    }

    /// The screens that it makes, with their inks where they are known before it is evaluated.
    pub fn screens_and_inks(&self) -> Vec<(ScreenName, Option<&Ink>)> {
        let planned = self.separation.screens.iter().map(|s| (s.name.clone(), Some(&s.ink)));
        let added = self.edits.iter().filter(|entry| entry.on).filter_map(|entry| entry.edit.adds());
        planned.chain(added.map(|name| (name.clone(), None))).collect()
    }

    /// All inks that it names, in its separation and in edits that bring one, to be changed.
    pub fn inks_mut(&mut self) -> impl Iterator<Item = &mut Ink> {
        let planned = self.separation.screens.iter_mut().map(|screen| &mut screen.ink);
        planned.chain(self.edits.iter_mut().filter_map(|entry| entry.edit.ink_mut()))
    }

    /// Gives screens that have no angle of their own one that is free, where the job wants them apart.
    pub fn give_angles(&mut self) {
        let mut film = std::mem::take(&mut self.film);
        film.give_angles(&self.screens_and_inks());
        self.film = film;
    }

    /// The same for screens that it does not have yet: where the job wants them apart, they will be.
    pub fn ground_for_new_screens(&self) -> Ground<'_> {
        let ground = self.ground();
        match self.film.angles {
            AngleRule::Apart => Ground { meetings: None, ..ground },
            AngleRule::One => ground,
        }
    }

    /// Chooses a method. Films of an index separation carry its square dots as they are; films of
    /// another method that had such dots get round ones. Flat shapes are not sharpened, which would move
    /// their edges: sharpening goes along where it is the usual one.
    pub fn set_method(&mut self, method: Method) {
        let usual = |method| if method == Method::SpotArt { 0.0 } else { PrepSettings::default().sharpen_amount };
        if self.prep.sharpen_amount == usual(self.separation.method) {
            self.prep.sharpen_amount = usual(method);
        }
        self.separation.method = method;
        self.film.dot = match self.film.dot {
            _ if method == Method::Index => DotShape::Index { size_mm: self.separation.index.dot_mm },
            DotShape::Index { .. } => DotShape::Round,
            dot => dot,
        };
    }

    /// Chooses the size of index dots, on the films too.
    pub fn set_index_dot(&mut self, dot_mm: Mm) {
        self.separation.index.dot_mm = dot_mm;
        self.set_method(self.separation.method);
    }

    /// The preparation with the working resolution that the method needs: dots of an index
    /// separation have a whole number of pixels.
    pub fn working_prep(&self) -> PrepSettings {
        let mut prep = self.prep.clone();
        if self.separation.method == Method::Index {
            let ppi = self.separation.index.working_ppi(prep.ppi.get());
            prep.ppi = Ppi::new(ppi).unwrap_or(prep.ppi);
        }
        prep
    }
}

/// The limits of a screen's dots: where the film settings name no smallest, what its mesh holds. A print that is
/// there to be measured keeps every tone.
pub fn dots_of_screen(film: &FilmSettings, run: &PressRun, screen: &ScreenName) -> ScreenDots {
    if run.calibration {
        return ScreenDots::ALL;
    }
    let (ruling, _, dot) = film.of_screen(screen);
    let holds_from = Mesh::tone_of_dot(run.mesh_of(screen).safe_dot_um(), ruling);
    film.limits.of_screen(holds_from, dot)
}
