//! The screens themselves, before any halftone: continuous grey in film sense.

use std::path::{Path, PathBuf};

use strikeoff_core::Progress;
use strikeoff_core::screens::Screens;

use super::FilmError;
use super::names::numbered_name;
use super::set_aside::SetAside;
use crate::picture::write_film_png;

/// Writes each screen as a 16-bit grey PNG, ink black on white, named in print order
/// (`01-black.png`). All files come at once or none.
pub fn write_screen_pictures(screens: &Screens, folder: &Path, progress: &Progress) -> Result<Vec<PathBuf>, FilmError> {
    if screens.list.is_empty() || screens.width == 0 || screens.height == 0 {
        return Err(FilmError::NoScreens);
    }
    let set = SetAside::new(folder)?;
    let mut names = Vec::new();
    for (index, screen) in screens.list.iter().enumerate() {
        progress.step("screens", index as f32 / screens.list.len() as f32)?;
        let name = format!("{}.png", numbered_name(index + 1, &screen.name));
        write_film_png(&set.path(&name), &screen.coverage, screens.ppi)?;
        names.push(name);
    }
    Ok(set.place(&names)?)
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
        assert!(write_screen_pictures(&none, &folder, &Progress::none()).is_err());
        assert!(!folder.exists());
    }
}
