//! What a shop makes of a job at once.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a shop makes of a job at once. Default: all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Makes {
    /// A TIFF film a screen.
    pub film_tiff: bool,
    /// One PDF of all films.
    pub film_pdf: bool,
    /// The press sheet.
    pub press_sheet: bool,
    /// The client proof.
    pub client_proof: bool,
    /// The proof picture.
    pub proof_picture: bool,
    /// The ink list.
    pub ink_list: bool,
    /// The screen-room list.
    pub screen_room_list: bool,
}

impl Default for Makes {
    fn default() -> Self {
        Self {
            film_tiff: true,
            film_pdf: true,
            press_sheet: true,
            client_proof: true,
            proof_picture: true,
            ink_list: true,
            screen_room_list: true,
        }
    }
}

impl Makes {
    /// What can be made, each with its switch.
    pub fn switches(&mut self) -> [(&'static str, &mut bool); 7] {
        [
            ("films, a TIFF each", &mut self.film_tiff),
            ("films in one PDF", &mut self.film_pdf),
            ("press sheet", &mut self.press_sheet),
            ("client proof", &mut self.client_proof),
            ("proof picture", &mut self.proof_picture),
            ("ink list", &mut self.ink_list),
            ("screen-room list", &mut self.screen_room_list),
        ]
    }
}
