//! The screens themselves, before any halftone: continuous grey in film sense.

use std::path::{Path, PathBuf};

use serde_json::json;
use strikeoff_core::Progress;
use strikeoff_core::screens::Screens;

use super::FilmError;
use super::names::numbered_name;
use crate::FileSet;
use crate::picture::film_png;

/// Name of the manifest of screen pictures.
pub const SCREENS_MANIFEST: &str = "screens.json";

/// Screen pictures that were written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScreenPictures {
    /// A file a screen, in print order.
    pub files: Vec<PathBuf>,
    /// What there is to know.
    pub notes: Vec<String>,
}

/// Writes each screen as a 16-bit grey PNG, ink black on white, named in print order
/// (`01-black.png`), and `screens.json` with their sums. All files come at once or none. None of
/// the files in `keep` is replaced.
pub fn write_screen_pictures(
    screens: &Screens,
    folder: &Path,
    keep: &[PathBuf],
    progress: &Progress,
) -> Result<ScreenPictures, FilmError> {
    if screens.list.is_empty() || screens.width == 0 || screens.height == 0 {
        return Err(FilmError::NoScreens);
    }
    let mut set = FileSet::begin(folder, "set of screens", keep)?;
    let names: Vec<String> = (0..screens.list.len()).map(|at| file_name(screens, at)).collect();
    set.check(names.iter().map(String::as_str).chain([SCREENS_MANIFEST]))?;
    write_all(screens, &mut set, "", progress)?;
    let (_, notes) = set.put_in_place()?;
    Ok(ScreenPictures { files: names.iter().map(|name| folder.join(name)).collect(), notes })
}

/// The same as a part of a larger set, in its folder `inside`.
pub fn screens_into(screens: &Screens, set: &mut FileSet, inside: &str, progress: &Progress) -> Result<(), FilmError> {
    write_all(screens, set, &format!("{inside}/"), progress)
}

fn file_name(screens: &Screens, at: usize) -> String {
    format!("{}.png", numbered_name(at + 1, &screens.list[at].ink.name))
}

fn write_all(screens: &Screens, set: &mut FileSet, inside: &str, progress: &Progress) -> Result<(), FilmError> {
    let mut list = Vec::new();
    for (at, screen) in screens.list.iter().enumerate() {
        progress.step("screens", at as f32 / screens.list.len() as f32)?;
        let name = file_name(screens, at);
        set.stage(&format!("{inside}{name}"))?.bytes(&film_png(&screen.coverage, screens.ppi))?;
        list.push(json!({ "screen": screen.name, "ink": screen.ink.name, "file": name }));
    }
    set.manifest(&format!("{inside}{SCREENS_MANIFEST}"), &json!({ "screens": list, "ppi": screens.ppi }))?;
    progress.step("screens", 1.0)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use strikeoff_core::units::Ppi;

    #[test]
    fn no_screens_leave_no_folder() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("out");
        let none = Screens { width: 0, height: 0, ppi: Ppi::new(300.0).unwrap(), list: vec![] };
        assert!(write_screen_pictures(&none, &folder, &[], &Progress::none()).is_err());
        assert!(!folder.exists());
    }
}
