//! A writer that keeps its first error to itself and then takes everything: a zip writer that is
//! dropped after an error finishes its file all the same, and prints that it cannot.

use std::cell::RefCell;
use std::io::{self, ErrorKind, Seek, SeekFrom, Write};

/// The writer. Its error is where the caller looks for it.
pub struct Quiet<'a, W> {
    inner: W,
    at: u64,
    failed: &'a RefCell<Option<io::Error>>,
}

impl<'a, W: Write + Seek> Quiet<'a, W> {
    pub fn new(inner: W, failed: &'a RefCell<Option<io::Error>>) -> Self {
        Self { inner, at: 0, failed }
    }

    /// Does something with the writer, unless that has failed before.
    fn on_inner<T>(&mut self, does: impl FnOnce(&mut W) -> io::Result<T>) -> Option<io::Result<T>> {
        if self.failed.borrow().is_some() {
            return None;
        }
        match does(&mut self.inner) {
            Err(error) if error.kind() != ErrorKind::Interrupted => {
                *self.failed.borrow_mut() = Some(error);
                None
            }
            done => Some(done),
        }
    }
}

impl<W: Write + Seek> Write for Quiet<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let taken = self.on_inner(|inner| inner.write(bytes)).unwrap_or(Ok(bytes.len()))?;
        self.at += taken as u64;
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.on_inner(Write::flush).unwrap_or(Ok(()))
    }
}

impl<W: Write + Seek> Seek for Quiet<'_, W> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let instead = match to {
            SeekFrom::Start(at) => at,
            SeekFrom::Current(by) => self.at.saturating_add_signed(by),
            SeekFrom::End(_) => self.at,
        };
        self.at = self.on_inner(|inner| inner.seek(to)).unwrap_or(Ok(instead))?;
        Ok(self.at)
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use zip::ZipWriter;
    use zip::write::SimpleFileOptions;

    use super::*;

    /// Takes so many bytes and then no more.
    struct Full(Cursor<Vec<u8>>, usize);

    impl Write for Full {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            if self.0.position() as usize + bytes.len() > self.1 {
                return Err(ErrorKind::StorageFull.into());
            }
            self.0.write(bytes)
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    impl Seek for Full {
        fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
            self.0.seek(to)
        }
    }

    #[test]
    fn a_zip_file_on_a_full_disk_ends_without_an_error_of_its_own() {
        let mut rooms = [0, 0];
        for room in 0..2000 {
            let failed = RefCell::new(None);
            let mut zip = ZipWriter::new(Quiet::new(Full(Cursor::new(Vec::new()), room), &failed));
            for name in ["a", "b"] {
                zip.start_file(name, SimpleFileOptions::default()).unwrap();
                zip.write_all(&[7; 300]).unwrap();
            }
            // Finishing is what dropping it does too.
            let whole = zip.finish().unwrap().inner.0.into_inner();
            let error = failed.into_inner();
            rooms[usize::from(error.is_some())] += 1;
            match error {
                Some(error) => assert_eq!(error.kind(), ErrorKind::StorageFull),
                None => assert_eq!(zip::ZipArchive::new(Cursor::new(whole)).unwrap().len(), 2),
            }
        }
        assert!(rooms[0] > 100 && rooms[1] > 100, "{rooms:?}");
    }
}
