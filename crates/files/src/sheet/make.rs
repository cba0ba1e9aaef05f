//! What can be made of a job beside its films, by one way for window and verbs: both write the same bytes.

use std::path::Path;

use strikeoff_core::findings::Outlook;
use strikeoff_core::job::Job;
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::proof_from_screens;
use strikeoff_core::raster::Picture;
use strikeoff_core::screens::Screens;

use super::canvas::{Paper, SheetPdf};
use super::client_proof::client_proof_pdf;
use super::content::{Content, shrink};
use super::html::press_sheet_html;
use super::lists::{ink_list_pdf, screen_room_pdf};
use super::press_sheet::press_sheet_pdf;
use crate::picture::{PictureError, write_picture};
use crate::text::Missing;
use crate::{WriteError, write_bytes};

/// What is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SheetKind {
    /// For the press: placement, heads, screens, what to watch.
    Press,
    /// For the client's eyes, with a line to sign.
    Client,
    /// The shirt as it will look, a picture.
    Proof,
    /// For who mixes inks.
    Inks,
    /// For who exposes screens.
    Screens,
}

/// Everything that a sheet is made from.
#[derive(Debug, Clone, Copy)]
pub struct SheetOf<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its art at print size.
    pub prepared: &'a Prepared,
    /// Its screens at full size.
    pub screens: &'a Screens,
    /// Its findings and facts.
    pub outlook: &'a Outlook,
}

/// Why a sheet was not written.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    /// The name says no form that this sheet has.
    #[error("{} {kind} is {forms}; end the name of {path} in {endings}", if kind.starts_with('i') { "an" } else { "a" })]
    Form {
        /// Its title.
        kind: &'static str,
        /// What it can be.
        forms: &'static str,
        /// The name that was given.
        path: String,
        /// How names end.
        endings: String,
    },
    /// The pages cannot be made; one sentence.
    #[error("{0}")]
    Page(String),
    /// The picture was not written.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// The system refused.
    #[error(transparent)]
    Write(#[from] WriteError),
}

impl SheetKind {
    /// All, in the order they are offered.
    pub const ALL: [Self; 5] = [Self::Press, Self::Client, Self::Proof, Self::Inks, Self::Screens];

    /// As the window and reports call it.
    pub fn title(self) -> &'static str {
        match self {
            Self::Press => "press sheet",
            Self::Client => "client proof",
            Self::Proof => "proof picture",
            Self::Inks => "ink list",
            Self::Screens => "screen-room list",
        }
    }

    /// How names of its files may end, the usual one first.
    pub fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Press => &["pdf", "html", "htm"],
            Self::Proof => &["png", "tif", "tiff"],
            Self::Client | Self::Inks | Self::Screens => &["pdf"],
        }
    }

    /// Whether its file is a picture and has no pages.
    pub fn is_picture(self) -> bool {
        self == Self::Proof
    }

    /// Refuses a name of another form than it has.
    pub fn check_name(self, path: &Path) -> Result<(), SheetError> {
        let ending = ending(path);
        if self.endings().contains(&ending.as_str()) {
            return Ok(());
        }
        let forms = match self {
            Self::Press => "a PDF or an HTML file",
            Self::Proof => "a PNG or a TIFF",
            Self::Client | Self::Inks | Self::Screens => "a PDF",
        };
        let endings: Vec<String> = self.endings().iter().take(2).map(|ending| format!(".{ending}")).collect();
        let (kind, path) = (self.title(), path.display().to_string());
        Err(SheetError::Form { kind, forms, path, endings: endings.join(" or ") })
    }

    /// Its pages.
    ///
    /// # Errors
    /// A sentence if the pages cannot be written as PDF, or for a picture, which has none.
    pub fn pdf(self, content: &Content, paper: Paper) -> Result<SheetPdf, String> {
        match self {
            Self::Press => press_sheet_pdf(content, paper),
            Self::Client => client_proof_pdf(content, paper),
            Self::Inks => ink_list_pdf(content, paper),
            Self::Screens => screen_room_pdf(content, paper),
            Self::Proof => Err("a proof picture has no pages".to_owned()),
        }
    }
}

fn ending(path: &Path) -> String {
    path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default()
}

impl SheetOf<'_> {
    /// What it says, gathered.
    pub fn content(&self) -> Content {
        Content::new(self.job, self.prepared, self.screens, self.outlook)
    }

    /// The shirt as it will look.
    pub fn proof(&self) -> Picture {
        proof_from_screens(self.screens, &self.job.ground(), |_| true)
    }

    /// The same, small, for a look before it is written.
    pub fn small_proof(&self, longest_px: usize) -> Picture {
        proof_from_screens(&shrink(self.screens, longest_px), &self.job.ground(), |_| true)
    }

    /// Writes a sheet; gives the letters that no font has.
    pub fn write(&self, kind: SheetKind, path: &Path, paper: Paper) -> Result<Vec<Missing>, SheetError> {
        kind.check_name(path)?;
        if kind.is_picture() {
            write_picture(path, &self.proof(), self.screens.ppi)?;
            return Ok(Vec::new());
        }
        let content = self.content();
        if ending(path) == "pdf" {
            let SheetPdf { bytes, missing } = kind.pdf(&content, paper).map_err(SheetError::Page)?;
            write_bytes(path, &bytes)?;
            return Ok(missing);
        }
        write_bytes(path, press_sheet_html(&content).as_bytes())?;
        Ok(Vec::new())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_of_another_form_is_refused_with_what_to_write() {
        for (kind, name, says) in [
            (
                SheetKind::Press,
                "sheet.doc",
                "a press sheet is a PDF or an HTML file; end the name of sheet.doc in .pdf or .html",
            ),
            (SheetKind::Client, "proof.html", "a client proof is a PDF; end the name of proof.html in .pdf"),
            (
                SheetKind::Proof,
                "proof.pdf",
                "a proof picture is a PNG or a TIFF; end the name of proof.pdf in .png or .tif",
            ),
            (SheetKind::Inks, "inks", "an ink list is a PDF; end the name of inks in .pdf"),
        ] {
            assert_eq!(kind.check_name(Path::new(name)).unwrap_err().to_string(), says);
        }
        for kind in SheetKind::ALL {
            for ending in kind.endings() {
                kind.check_name(Path::new(&format!("a.{}", ending.to_uppercase()))).unwrap();
            }
        }
    }
}
