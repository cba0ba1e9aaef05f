//! The shop profile: what is the same for every job of a shop. Kept as JSON in the platform's
//! configuration folder, carried to another computer by export and import.

mod hand;
mod makes;
mod state;
mod stock;

pub use makes::Makes;
pub use stock::Stock;

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use strikeoff_core::bounds::{check, table};
use strikeoff_core::fingerprint::Fingerprint;
use strikeoff_core::ink::{Garment, Shelf};
use strikeoff_core::job::Job;
use strikeoff_core::names::{find, short};
use strikeoff_core::press::DotGain;
use strikeoff_core::quote::Rates;
use strikeoff_core::separate::{Method, ScreenPart, SpotInks};
use strikeoff_core::units::{Degrees, Dpi, Mm};
use strikeoff_core::usage::Mesh;
pub use strikeoff_core::usage::MeshDefaults;

use crate::shelf::house_shelf;
use crate::{WriteError, write_aside};

/// Version of the profile's form.
pub const PROFILE_VERSION: u32 = 1;

/// A shop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ShopProfile {
    /// Form of the file; [`PROFILE_VERSION`].
    pub profile_version: u32,
    /// Name of the shop, for sheets.
    #[schemars(transform = table::SHOP_NAME.schema())]
    pub shop: String,
    /// Heads on the press, flashes and cool-downs included. Default 8.
    #[schemars(transform = table::HEADS.schema())]
    pub heads: u8,
    /// Platens at hand, the usual one first. Default: one of 406 x 559 mm (16 x 22 in, common
    /// practice, no source).
    #[schemars(transform = table::PLATENS.schema())]
    pub platens: Vec<Platen>,
    /// Default mesh by use.
    pub mesh: MeshDefaults,
    /// The shop's meshes. Default none named: the shelf of usual ones.
    #[schemars(transform = table::MESHES.schema())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub meshes: Vec<Mesh>,
    /// Angles that the shop's films can have. Default none named: any.
    #[schemars(transform = table::ANGLES.schema())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub angles: Vec<Degrees>,
    /// The film printer.
    pub film_printer: FilmPrinter,
    /// Gain curves measured in this shop, the usual one first.
    #[schemars(transform = table::GAIN_CURVES.schema())]
    pub gain_curves: Vec<DotGain>,
    /// Fingerprints of the shop's presses, the latest first.
    #[schemars(transform = table::FINGERPRINTS.schema())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fingerprints: Vec<Fingerprint>,
    /// Times and prices, for quotes. What is not stated is assumed.
    pub rates: Rates,
    /// What is made of a job at once.
    pub makes: Makes,
    /// The shop's inks. Default: the house shelf, all values assumed.
    pub shelf: Shelf,
    /// What there is of the inks, and how the shop prints them.
    #[schemars(transform = table::INKS.schema())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stock: Vec<Stock>,
    /// The shop's garments; those of the house if there are none.
    #[schemars(transform = table::GARMENTS.schema())]
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub garments: Vec<Garment>,
}

/// A platen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Platen {
    /// As the shop calls it.
    #[schemars(transform = table::PLATEN_NAME.schema())]
    pub name: String,
    /// Largest print across.
    #[schemars(transform = table::PRINT_WIDTH.schema())]
    pub width_mm: Mm,
    /// Largest print down.
    #[schemars(transform = table::PRINT_HEIGHT.schema())]
    pub height_mm: Mm,
}

/// The film printer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct FilmPrinter {
    /// Widest film. Default 432 mm (17 in).
    #[schemars(transform = table::PRINTER_WIDTH.schema())]
    pub width_mm: Mm,
    /// Resolution. Default 720 dpi.
    pub dpi: Dpi,
}

impl Default for FilmPrinter {
    fn default() -> Self {
        Self { width_mm: mm(431.8), dpi: Dpi::new(720.0).unwrap_or_else(|_| unreachable!()) }
    }
}

impl FilmPrinter {
    /// What to say of a film that is too wide for the printer either way round; none if it fits.
    pub fn note(&self, film_mm: [f64; 2]) -> Option<String> {
        let (narrow, widest) = (film_mm[0].min(film_mm[1]), self.width_mm.get());
        // Film is cut with half a millimetre to spare.
        (narrow > widest + 0.5).then(|| {
            format!(
                "the films are {narrow:.0} mm across and the film printer takes {widest:.0} mm; print smaller, set a \
                 smaller margin, or change the printer in the shop profile"
            )
        })
    }
}

impl Default for ShopProfile {
    fn default() -> Self {
        Self {
            profile_version: PROFILE_VERSION,
            shop: String::new(),
            heads: 8,
            platens: vec![Platen { name: "Standard".into(), width_mm: mm(406.4), height_mm: mm(558.8) }],
            mesh: MeshDefaults::default(),
            meshes: Vec::new(),
            angles: Vec::new(),
            film_printer: FilmPrinter::default(),
            gain_curves: vec![DotGain::default()],
            fingerprints: Vec::new(),
            rates: Rates::default(),
            makes: Makes::default(),
            shelf: house_shelf().clone(),
            stock: Vec::new(),
            garments: Vec::new(),
        }
    }
}

fn mm(value: f64) -> Mm {
    Mm::new(value).unwrap_or_else(|_| unreachable!())
}

/// A profile cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum ProfileError {
    /// The system refused to read it.
    #[error("cannot read the shop profile {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Not the JSON of a profile.
    #[error("the shop profile {} is not as expected: {what}", path.display())]
    Form {
        /// The file.
        path: PathBuf,
        /// Where and what.
        what: String,
    },
    /// The platform names no configuration folder.
    #[error("this computer names no configuration folder; export the profile to a file of your choice instead")]
    NoFolder,
    /// Writing failed.
    #[error(transparent)]
    Write(#[from] WriteError),
}

impl ShopProfile {
    /// Where this computer keeps the profile.
    pub fn home() -> Result<PathBuf, ProfileError> {
        let dirs = directories::ProjectDirs::from("", "", "strikeoff").ok_or(ProfileError::NoFolder)?;
        Ok(dirs.config_dir().join("shop.json"))
    }

    /// The profile of this computer; the default if none has been saved yet.
    pub fn load() -> Result<Self, ProfileError> {
        let path = Self::home()?;
        match fs::exists(&path) {
            Ok(false) => Ok(Self::default()),
            _ => Self::import(&path),
        }
    }

    /// Saves it as the profile of this computer.
    pub fn save(&self) -> Result<(), ProfileError> {
        let path = Self::home()?;
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(|e| WriteError::io(folder, e))?;
        }
        self.export(&path)
    }

    /// Reads a profile from a file and checks it.
    pub fn import(path: &Path) -> Result<Self, ProfileError> {
        let text = fs::read(path).map_err(|source| ProfileError::Read { path: path.to_owned(), source })?;
        let form = |what: String| ProfileError::Form { path: path.to_owned(), what };
        let profile: Self = serde_json::from_slice(&text).map_err(|e| form(e.to_string()))?;
        profile.check().map_err(form)?;
        Ok(profile)
    }

    /// Writes it to a file.
    pub fn export(&self, path: &Path) -> Result<(), ProfileError> {
        self.check().map_err(|what| ProfileError::Form { path: path.to_owned(), what })?;
        let json = serde_json::to_vec_pretty(self).map_err(|e| WriteError::io(path, e.into()))?;
        write_aside(path, |out| out.write_all(&json).map_err(|e| WriteError::io(path, e)))?;
        Ok(())
    }

    /// Gives a new job the shop's defaults: heads, misprints, gain curve, meshes, film printer.
    pub fn apply_to(&self, job: &mut Job) {
        job.run.heads = self.heads;
        self.give_choices(job);
        job.run.ink.spoilage = self.rates.spoilage.unwrap_or(job.run.ink.spoilage);
        if let Some(gain) = self.gain_curves.first() {
            job.press.gain = gain.clone();
        }
        job.film.dpi = self.film_printer.dpi;
        job.run.mesh = self.usual_mesh(job);
        let parts = job.separation.parts(job.garment.is_white());
        for screen in &job.separation.screens {
            if let Some(threads) = self.stock_of(&screen.ink.name).and_then(|stock| stock.mesh_tpi) {
                job.run.meshes.insert(screen.name.clone(), self.mesh_near(threads, &job.run.mesh));
            }
        }
        for (screen, part) in job.separation.screens.iter().zip(parts) {
            // Said of the screen even where it is that of the colours now: theirs may change.
            let colours = [self.mesh.halftone_tpi, self.mesh.solid_tpi];
            if part == ScreenPart::Underbase && colours != [self.mesh.underbase_tpi; 2] {
                let underbase = self.mesh_near(self.mesh.underbase_tpi, &job.run.mesh);
                job.run.meshes.entry(screen.name.clone()).or_insert(underbase);
            }
        }
    }

    /// The mesh of the shop's shelf for the colours of a job: by its method, they print solid or in dots.
    fn usual_mesh(&self, job: &Job) -> Mesh {
        let solid = job.separation.method == Method::SpotArt && job.separation.spot.inks == SpotInks::OneEach;
        self.mesh_near(if solid { self.mesh.solid_tpi } else { self.mesh.halftone_tpi }, &job.run.mesh)
    }

    /// Changes how a job is separated; its mesh goes along where it is the shop's usual one.
    pub fn change_method(&self, job: &mut Job, change: impl FnOnce(&mut Job)) {
        let usual = self.usual_mesh(job) == job.run.mesh;
        change(job);
        if usual {
            job.run.mesh = self.usual_mesh(job);
        }
    }

    /// Makes a platen the largest print of a job: the one named, or the usual one, which is the
    /// first. An error says which there are.
    pub fn fit_platen(&self, job: &mut Job, name: Option<&str>) -> Result<(), String> {
        let found = match name {
            Some(name) => find(&self.platens, name, |platen| &platen.name),
            None => self.platens.first(),
        };
        let Some(platen) = found else {
            let known: Vec<_> = self.platens.iter().map(|p| format!("\"{}\"", p.name)).collect();
            let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
            return Err(format!(
                "the shop profile has no platen \"{}\"; it has {known}",
                name.map_or_else(|| "of any name".to_owned(), short)
            ));
        };
        (job.prep.max_width_mm, job.prep.max_height_mm) = (Some(platen.width_mm), Some(platen.height_mm));
        Ok(())
    }

    fn check(&self) -> Result<(), String> {
        if self.profile_version > PROFILE_VERSION {
            return Err(format!(
                "it has form {}, this program reads up to {PROFILE_VERSION}; use the program that wrote it",
                self.profile_version
            ));
        }
        check(self).map_err(|e| e.to_string())?;
        if let Some(print) = self.fingerprints.iter().find(|print| !print.is_whole()) {
            return Err(format!(
                "the fingerprint \"{}\" does not fit together; take it out, or read its print again",
                short(&print.name)
            ));
        }
        self.shelf.check().map_err(|e| e.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_profile_travels_as_json() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shop.json");
        let mut profile = ShopProfile { shop: "Harbour Prints".into(), heads: 10, ..ShopProfile::default() };
        profile.gain_curves.push(DotGain::Edge { growth_um: 55.0 });
        profile.export(&path).unwrap();
        assert_eq!(ShopProfile::import(&path).unwrap(), profile);
    }

    #[test]
    fn a_new_job_takes_the_shops_defaults() {
        let garment = || strikeoff_core::ink::Garment::of_color("#202020".parse().unwrap());
        let mut job = Job::new(garment());
        let inks = ["Base white", "Brick red"].map(|name| house_shelf().find(name).unwrap().clone());
        job.separation = strikeoff_core::separate::SeparationSettings::for_inks(inks);
        let mut profile = ShopProfile { heads: 6, ..ShopProfile::default() };
        profile.film_printer.dpi = Dpi::new(1440.0).unwrap();
        profile.rates.spoilage = Some(0.05);
        profile.gain_curves = vec![DotGain::Edge { growth_um: 41.0 }];
        profile.mesh = MeshDefaults { halftone_tpi: 305.0, underbase_tpi: 160.0, ..MeshDefaults::default() };
        profile.platens.push(Platen { name: "Youth".into(), width_mm: mm(300.0), height_mm: mm(360.0) });
        profile.apply_to(&mut job);
        assert_eq!((job.run.heads, job.film.dpi.get(), job.run.ink.spoilage), (6, 1440.0, 0.05));
        assert_eq!(job.press.gain, DotGain::Edge { growth_um: 41.0 });
        assert_eq!(job.run.mesh_of(&"Brick red".into()).threads_per_inch, 305.0);
        assert!((job.run.mesh_of(&"Base white".into()).threads_per_inch - 160.0).abs() < 10.0);
        // Spot art prints solid: the coarser mesh, until the method or the mesh is chosen otherwise.
        profile.change_method(&mut job, |job| job.set_method(Method::SpotArt));
        assert!((job.run.mesh_of(&"Brick red".into()).threads_per_inch - 156.0).abs() < 10.0);
        profile.change_method(&mut job, |job| job.separation.spot.inks = SpotInks::Layers);
        assert_eq!(job.run.mesh_of(&"Brick red".into()).threads_per_inch, 305.0);
        job.run.mesh = profile.mesh_near(110.0, &job.run.mesh);
        profile.change_method(&mut job, |job| job.separation.spot.inks = SpotInks::OneEach);
        assert!((job.run.mesh_of(&"Brick red".into()).threads_per_inch - 110.0).abs() < 10.0);
        profile.fit_platen(&mut job, Some("youth")).unwrap();
        assert_eq!(job.prep.max_width_mm, Some(mm(300.0)));
        profile.fit_platen(&mut job, None).unwrap();
        assert_eq!(job.prep.max_height_mm, Some(mm(558.8)));
        assert_eq!(profile.film_printer.note([400.0, 600.0]), None);
        assert_eq!(profile.film_printer.note([600.0, 431.0]), None, "turned, it fits");
        assert!(profile.film_printer.note([440.0, 600.0]).unwrap().contains("440 mm across"));
        let error = profile.fit_platen(&mut job, Some("Sleeve")).unwrap_err();
        assert!(error.contains("\"Standard\", \"Youth\""), "{error}");
    }

    #[test]
    fn parts_that_are_missing_take_defaults_and_nonsense_is_explained() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shop.json");
        fs::write(&path, r#"{"heads": 6}"#).unwrap();
        let read = ShopProfile::import(&path).unwrap();
        assert_eq!((read.heads, &read.shelf), (6, house_shelf()));
        for (text, says) in [
            (r#"{"rates": {"press_hour": -1}}"#, "a price must be 0 to"),
            (r#"{"rates": {"pricing": {"margin": 1}}}"#, "the margin must be 0 to 0.95"),
            (r#"{"heads": 0}"#, "heads of the press must be 1 to"),
            (r#"{"heads": "six"}"#, "not as expected"),
            (r#"{"profile_version": 7}"#, "reads up to 1"),
            (r#"{"mesh": {"halftone_tpi": 2}}"#, "threads of a mesh must be 10 to 700 an inch"),
            (r#"{"platens": [{"name": "A", "width_mm": 0, "height_mm": 10}]}"#, "print width must be 1 to"),
            (r#"{"shelf": {"inks": []}}"#, "no inks"),
            ("[", "not as expected"),
        ] {
            fs::write(&path, text).unwrap();
            let error = ShopProfile::import(&path).unwrap_err().to_string();
            assert!(error.contains(says), "{error}");
        }
    }
}
