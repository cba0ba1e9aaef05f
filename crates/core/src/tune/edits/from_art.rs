//! A screen read from the art.

use super::super::edit::zero_mm;
use super::super::{Source, TuneError};
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::ink::Ink;
use crate::screens::NewName;
use crate::units::Mm;

edit! {
    /// Make a screen from the artwork, printed last.
    pub struct FromArt {
        /// Name of the new screen.
        name: NewName,
        /// Its ink.
        ink: Ink,
        /// What of the artwork prints.
        source: Source,
    }
}

impl Kind for FromArt {
    const LABEL: &'static str = "Screen from art";
    const MENU: Menu = Menu::NewScreen;

    fn words(&self) -> String {
        let name = &self.name;
        match &self.source {
            Source::Lightness { light: true } => format!("{name} from light tones"),
            Source::Lightness { .. } => format!("{name} from dark tones"),
            Source::ColorRange { color, .. } => format!("{name} from the colour {color}"),
            Source::Edges { .. } => format!("{name} from edges"),
            Source::Shadows { .. } => format!("{name} from shadows and edges"),
        }
    }

    fn check(&self) -> Result<(), String> {
        self.source.check()
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let coverage = self.source.read(on.prepared, on.progress)?;
        on.push(&self.name, &self.ink, coverage)
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let of = |wish: &str, source| Self { name: (start.free)(wish), ink: start.ink.clone(), source };
        let range = Source::ColorRange { color: start.ink.over_white, reach: 0.06, soft: 0.08 };
        let lines = Source::Edges { width_mm: Mm::new(0.5).unwrap_or_else(|_| zero_mm()), strength: 2.0 };
        vec![
            ("From the art's dark tones", of("Dark tones", Source::Lightness { light: false })),
            ("From the art's light tones", of("Light tones", Source::Lightness { light: true })),
            ("From a colour of the art", of("Colour range", range)),
            ("From the art's shadows and edges", of("Shadows", Source::shadows())),
            ("From the art's edges", of("Edges", lines)),
        ]
    }
}
