//! Where a write ends up: links are followed, so that a link in the place of a file stays one and
//! what it points to is replaced; and two names of one file are seen as that.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::WriteError;
use super::names::folder_of;

/// As many links as Linux follows (path_resolution(7)).
const MOST_LINKS: usize = 40;

/// The file that `path` stands for: itself, or what a link or a chain of links leads to, whether
/// that is there or not.
pub fn real_place(path: &Path) -> Result<PathBuf, WriteError> {
    let mut place = path.to_owned();
    for _ in 0..=MOST_LINKS {
        match fs::symlink_metadata(&place) {
            Ok(meta) if meta.is_symlink() => {
                let to = fs::read_link(&place).map_err(|e| WriteError::io(path, e))?;
                place = folder_of(&place).join(to);
            }
            Ok(_) => return Ok(place),
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(place),
            Err(error) => return Err(WriteError::io(path, error)),
        }
    }
    Err(WriteError::place(path, "it is a link that leads in a circle; remove the link or choose another name"))
}

/// The file that a write to `path` replaces or makes. Refused where no file can be: a folder, a
/// device, a link into nowhere.
pub fn check_place(path: &Path) -> Result<PathBuf, WriteError> {
    let real = real_place(path)?;
    let linked = real != path;
    let what = if linked { format!("it is a link to {}, and that", real.display()) } else { "it".to_owned() };
    match fs::metadata(&real) {
        Ok(meta) if meta.is_file() => return Ok(real),
        Ok(meta) if meta.is_dir() => {
            return Err(WriteError::place(path, format!("{what} is a folder; move it away or choose another name")));
        }
        Ok(_) => {
            return Err(WriteError::place(path, format!("{what} is a device or a pipe; give the name of a file")));
        }
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        Err(error) => return Err(WriteError::io(path, error)),
    }
    let folder = folder_of(&real);
    match fs::metadata(folder) {
        Ok(meta) if meta.is_dir() => Ok(real),
        Ok(_) => Err(WriteError::place(path, format!("{} is not a folder", folder.display()))),
        Err(error) if error.kind() == ErrorKind::NotFound => {
            let why = if linked {
                format!(
                    "it is a link to {}, whose folder does not exist; make that folder or remove the link",
                    real.display()
                )
            } else {
                format!("the folder {} does not exist; make it first", folder.display())
            };
            Err(WriteError::place(path, why))
        }
        Err(error) => Err(WriteError::io(path, error)),
    }
}

/// Whether two paths are one file: by any spelling, through links and as hard links. A file that is
/// not there yet is compared by where it would be.
pub fn same_file(a: &Path, b: &Path) -> bool {
    match (fs::metadata(a), fs::metadata(b)) {
        #[cfg(unix)]
        (Ok(of_a), Ok(of_b)) => {
            use std::os::unix::fs::MetadataExt;
            (of_a.dev(), of_a.ino()) == (of_b.dev(), of_b.ino())
        }
        _ => matches!((resting_place(a), resting_place(b)), (Some(a), Some(b)) if a == b),
    }
}

/// The one absolute path of a file that may not be there yet.
pub fn resting_place(path: &Path) -> Option<PathBuf> {
    let real = real_place(path).ok()?;
    match fs::canonicalize(&real) {
        Ok(whole) => Some(whole),
        Err(_) => Some(fs::canonicalize(folder_of(&real)).ok()?.join(real.file_name()?)),
    }
}

/// A number that tells a file from another in the same place.
#[cfg(unix)]
pub fn identity(meta: &fs::Metadata) -> u64 {
    use std::os::unix::fs::MetadataExt;
    meta.ino()
}

/// A number that tells a file from another in the same place.
#[cfg(not(unix))]
pub fn identity(_: &fs::Metadata) -> u64 {
    0
}

#[cfg(all(test, unix))]
mod tests {
    use std::os::unix::fs::symlink;

    use super::*;

    #[test]
    fn links_are_followed_to_the_file() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        fs::create_dir(at("server")).unwrap();
        fs::write(at("server/a.tif"), "a").unwrap();
        symlink("server/a.tif", at("one")).unwrap();
        symlink("one", at("two")).unwrap();
        symlink("server/new.tif", at("to-be")).unwrap();
        for name in ["one", "two"] {
            assert!(same_file(&check_place(&at(name)).unwrap(), &at("server/a.tif")), "{name}");
        }
        assert_eq!(check_place(&at("to-be")).unwrap(), at("server/new.tif"));
        assert!(same_file(&at("to-be"), &at("server/../server/new.tif")));
        assert!(!same_file(&at("to-be"), &at("one")));
    }

    #[test]
    fn places_without_a_file_are_refused_with_the_reason() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        symlink("round", at("about")).unwrap();
        symlink("about", at("round")).unwrap();
        symlink("gone/a.tif", at("nowhere")).unwrap();
        symlink(".", at("here")).unwrap();
        for (path, says) in [
            (at("round"), "leads in a circle"),
            (at("nowhere"), "whose folder does not exist"),
            (at("here"), "is a folder"),
            (dir.path().to_owned(), "it is a folder"),
            (at("no/a.tif"), "does not exist; make it first"),
            (PathBuf::from("/dev/null"), "is a device"),
        ] {
            let error = check_place(&path).unwrap_err().to_string();
            assert!(error.contains(says) && error.starts_with("cannot write "), "{error}");
        }
    }

    #[test]
    fn names_of_one_file_are_one_file() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        fs::write(at("a"), "a").unwrap();
        fs::write(at("b"), "a").unwrap();
        fs::hard_link(at("a"), at("hard")).unwrap();
        symlink("a", at("soft")).unwrap();
        let round = format!("../{}/a", dir.path().file_name().unwrap().display());
        for other in ["a", "hard", "soft", "./a", &round] {
            assert!(same_file(&at("a"), &at(other)), "{other}");
        }
        assert!(!same_file(&at("a"), &at("b")) && !same_file(&at("a"), &at("none")));
        assert!(same_file(&at("none"), &at("./none")));
    }
}
