//! Writing so that a file is there whole or not at all: into a temporary file beside the target,
//! flushed to the disk, then renamed over it. Through a link, the file that it points to is the
//! target.

use std::fs;
use std::io::{BufWriter, Write};
use std::path::Path;

use super::WriteError;
use super::names::{folder_of, own_name};
use super::place::check_place;
use super::sweep::sweep;

/// Writes `path` through `fill`; on any error nothing of the new file is left. Folders above
/// `path` must exist.
pub fn write_aside<E: From<WriteError>>(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<&fs::File>) -> Result<(), E>,
) -> Result<(), E> {
    let wrap = |source| WriteError::io(path, source);
    let real = check_place(path)?;
    let folder = folder_of(&real);
    sweep(folder);
    let mut builder = tempfile::Builder::new();
    let begins = own_name();
    builder.prefix(&begins).suffix(".tmp");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As for any new file; the user's mask takes away what it takes away.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let aside = builder.tempfile_in(folder).map_err(wrap)?;
    // Held as long as it is written, so that nobody takes it for a left-over. Where there are no
    // locks its age says so.
    let _ = aside.as_file().lock();
    let mut out = BufWriter::with_capacity(1 << 18, aside.as_file());
    fill(&mut out)?;
    out.flush().map_err(wrap)?;
    drop(out);
    aside.as_file().sync_all().map_err(wrap)?;
    keep_mode(&real, aside.as_file()).map_err(wrap)?;
    aside.persist(&real).map_err(|e| wrap(e.error))?;
    sync_folder(folder);
    Ok(())
}

/// Gives a new file the permissions of the one that it replaces.
pub fn keep_mode(old: &Path, new: &fs::File) -> std::io::Result<()> {
    #[cfg(unix)]
    if let Ok(meta) = fs::metadata(old) {
        use std::os::unix::fs::PermissionsExt;
        new.set_permissions(fs::Permissions::from_mode(meta.permissions().mode() & 0o777))?;
    }
    let _ = (old, new);
    Ok(())
}

/// Makes renames in a folder durable where the system allows it.
pub fn sync_folder(folder: &Path) {
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}

/// Writes `bytes` to `path`, whole or not at all.
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    write_aside(path, |out| out.write_all(bytes).map_err(|e| WriteError::io(path, e)))
}

#[cfg(test)]
mod tests {
    use std::io;

    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.txt");
        write_bytes(&path, b"old").unwrap();
        let failed = write_aside(&path, |out| {
            out.write_all(b"new").unwrap();
            Err(WriteError::io(&path, io::Error::other("disk full")))
        });
        assert!(failed.unwrap_err().to_string().contains("disk full"));
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_missing_folder_is_named() {
        let error = write_bytes(Path::new("/no/such/folder/a.txt"), b"").unwrap_err();
        assert!(error.to_string().contains("/no/such/folder/a.txt"), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_and_what_it_points_to_is_replaced_beside_it() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        fs::create_dir(at("server")).unwrap();
        fs::create_dir(at("desk")).unwrap();
        fs::write(at("server/a.png"), "old").unwrap();
        fs::set_permissions(at("server/a.png"), fs::Permissions::from_mode(0o640)).unwrap();
        symlink("../server/a.png", at("desk/a.png")).unwrap();
        symlink("a.png", at("desk/again.png")).unwrap();
        symlink("../server/new.png", at("desk/new.png")).unwrap();
        for (name, there) in
            [("desk/a.png", "server/a.png"), ("desk/again.png", "server/a.png"), ("desk/new.png", "server/new.png")]
        {
            write_aside(&at(name), |out| {
                let hidden = |folder: &str| {
                    fs::read_dir(at(folder))
                        .unwrap()
                        .flatten()
                        .filter(|e| e.file_name().to_string_lossy().starts_with('.'))
                        .count()
                };
                assert_eq!(
                    (hidden("server"), hidden("desk")),
                    (1, 0),
                    "it grows beside the file, so that it can be renamed"
                );
                out.write_all(name.as_bytes()).map_err(|e| WriteError::io(&at(name), e))
            })
            .unwrap();
            assert!(fs::symlink_metadata(at(name)).unwrap().is_symlink());
            assert_eq!(fs::read_to_string(at(there)).unwrap(), name);
        }
        assert_eq!(fs::metadata(at("server/a.png")).unwrap().permissions().mode() & 0o777, 0o640);
    }
}
