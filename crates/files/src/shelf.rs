//! Ink shelves and garment colours: the house set that ships with the program, and the shop's own
//! from JSON. All house values are assumed (typical of ordinary opaque and process shop inks),
//! and marked so: `"measured": false`.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use strikeoff_core::ink::{Garment, Shelf, ShelfError};
use strikeoff_core::names::find;

/// A shelf that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ShelfFileError {
    /// The file cannot be read.
    #[error("cannot read the ink shelf {}: {source}", path.display())]
    Read {
        /// The shelf file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Not the JSON of a shelf.
    #[error("the ink shelf {} is not as expected: {source}; a shelf is {{\"inks\":[{{\"name\":\"..\",\"over_white\":\"#RRGGBB\",\"opacity\":0.75}}]}}", path.display())]
    Form {
        /// The shelf file.
        path: PathBuf,
        /// Where and what.
        source: serde_json::Error,
    },
    /// JSON of a shelf, but one that cannot serve.
    #[error("the ink shelf {} cannot be used: {source}", path.display())]
    Content {
        /// The shelf file.
        path: PathBuf,
        /// What is wrong.
        source: ShelfError,
    },
}

/// Reads a shop's shelf: `{"inks":[{"name":"..","over_white":"#RRGGBB","opacity":0.75}]}`.
pub fn read_shelf(path: &Path) -> Result<Shelf, ShelfFileError> {
    let text = fs::read(path).map_err(|source| ShelfFileError::Read { path: path.to_owned(), source })?;
    let shelf: Shelf =
        serde_json::from_slice(&text).map_err(|source| ShelfFileError::Form { path: path.to_owned(), source })?;
    shelf.check().map_err(|source| ShelfFileError::Content { path: path.to_owned(), source })?;
    Ok(shelf)
}

/// The shelf that ships with the program (`assets/shelf.json`).
pub fn house_shelf() -> &'static Shelf {
    static SHELF: OnceLock<Shelf> = OnceLock::new();
    SHELF.get_or_init(|| {
        serde_json::from_str(include_str!("../../../assets/shelf.json"))
            .unwrap_or_else(|error| unreachable!("assets/shelf.json: {error}"))
    })
}

/// The garment colours that ship with the program (`assets/garments.json`).
pub fn house_garments() -> &'static [Garment] {
    static GARMENTS: OnceLock<Vec<Garment>> = OnceLock::new();
    GARMENTS.get_or_init(|| {
        serde_json::from_str(include_str!("../../../assets/garments.json"))
            .unwrap_or_else(|error| unreachable!("assets/garments.json: {error}"))
    })
}

/// The house garment of a name; case, blanks, `-` and `_` make no difference.
pub fn house_garment(name: &str) -> Option<&'static Garment> {
    find(house_garments(), name, |garment| &garment.name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_core::ink::InkRole;

    #[test]
    fn the_house_shelf_is_whole_and_says_that_it_is_assumed() {
        let shelf = house_shelf();
        assert!(shelf.check().is_ok());
        assert!(shelf.inks.len() >= 36);
        assert!(shelf.inks.iter().all(|ink| !ink.measured));
        for role in [InkRole::Black, InkRole::White, InkRole::BaseWhite, InkRole::Process] {
            assert!(shelf.inks.iter().any(|ink| ink.role == role), "{role:?}");
        }
    }

    #[test]
    fn house_garments_have_their_own_names_and_know_what_is_white() {
        let garments = house_garments();
        assert!(garments.len() >= 16);
        for (at, garment) in garments.iter().enumerate() {
            assert!(garments[..at].iter().all(|other| other.name != garment.name), "{}", garment.name);
        }
        // Common practice, no source: only white and near-white fabric goes without a base.
        assert!(house_garment("white").is_some_and(Garment::is_white));
        assert!(house_garment("black").is_some_and(|g| !g.is_white()));
        assert!(house_garment("heather grey").is_some_and(|g| !g.is_white()));
    }

    #[test]
    fn a_bad_shelf_file_is_explained() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shelf.json");
        for (text, says) in [
            ("{\"inks\":[]}", "holds no inks"),
            ("{\"inks\":[{\"name\":\"A\",\"over_white\":\"red\",\"opacity\":0.5}]}", "#RRGGBB"),
            ("{\"inks\":[{\"name\":\"A\",\"over_white\":\"#FF0000\",\"opacity\":1.5}]}", "opacity"),
            ("[", "not as expected"),
        ] {
            std::fs::write(&path, text).unwrap();
            let error = read_shelf(&path).unwrap_err().to_string();
            assert!(error.contains(says), "{error}");
        }
        assert!(read_shelf(Path::new("/no/shelf.json")).unwrap_err().to_string().contains("cannot read"));
    }
}
