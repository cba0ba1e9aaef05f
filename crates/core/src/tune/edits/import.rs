//! A screen from a grey picture.

use super::super::grey::fitted;
use super::super::{GreyPicture, TuneError};
use super::kind::Kind;
use super::{Menu, On};
use crate::ink::Ink;
use crate::screens::NewName;
use crate::raster::FULL;

edit! {
    /// Make a screen from a grey picture, stretched over the print, printed last.
    pub struct Import {
        /// Name of the new screen.
        name: NewName,
        /// The picture; it is kept in the job.
        picture: GreyPicture,
        /// Its ink.
        ink: Ink,
        /// Print the picture's light tones; else black is solid, as on a film.
        #[serde(default)]
        print_light_tones: bool,
    }
}

impl Kind for Import {
    const LABEL: &'static str = "Grey picture";
    const MENU: Menu = Menu::NewScreen;

    fn words(&self) -> String {
        format!("{} from {}", self.name, self.picture.file)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let pixels = self.picture.pixels().ok_or_else(|| TuneError::NoPicture {
            number: on.number,
            screen: self.name.screen().clone(),
            file: self.picture.file.clone(),
        })?;
        let mut coverage = fitted(pixels, on.screens.width, on.screens.height, on.progress)?;
        if !self.print_light_tones {
            coverage.apply(|v| FULL - v);
        }
        on.push(&self.name, &self.ink, coverage)
    }
}
