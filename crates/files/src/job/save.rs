//! Saving: the whole container is written aside, flushed and renamed over the old file, which
//! stays beside it as the previous version.

use std::cell::RefCell;
use std::fs;
use std::io::{self, Seek, Write};
use std::path::{Path, PathBuf};

use strikeoff_core::job::ALGORITHM_VERSION;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::container::plain_name;
use super::grey;
use super::manifest::{
    ArtEntry, FORMAT, MANIFEST, Manifest, SCHEMA_VERSION, THUMBNAIL, VersionEntry, check_ranges, sha256,
};
use super::open::check_counts;
use super::quiet::Quiet;
use super::version::PackedScreens;
use super::{JobFile, JobFileError, Stamp};
use crate::disk::{folder_of, own_name};
use crate::limits::MAX_MANIFEST_BYTES;
use crate::{FileSet, WriteError, check_place, write_aside};

/// Where the version before the last save is kept: `heron.strikeoff` has
/// `heron.previous.strikeoff`.
pub fn previous_path(path: &Path) -> PathBuf {
    let extension = path.extension().map_or_else(|| super::JOB_EXTENSION.into(), |e| e.to_string_lossy());
    path.with_extension(format!("previous.{extension}"))
}

/// Saves a job. The file at `path` is the old one or the new one at every moment; an old one is
/// kept at [`previous_path`], of a link beside what it points to. Screens that no longer fit the job
/// are left out.
pub fn save_job(path: &Path, file: &JobFile) -> Result<(), JobFileError> {
    save_over(path, file, None)
}

/// The same, unless the file at `path` is not the one that was seen.
pub(super) fn save_over(path: &Path, file: &JobFile, seen: Option<Stamp>) -> Result<(), JobFileError> {
    let real = check_place(path)?;
    let members = Members::of(path, file)?;
    write_aside(&real, |out| {
        members.write(path, &mut *out)?;
        // Only when the new version is on the disk may it push the old one back.
        out.flush().and_then(|()| out.get_ref().sync_all()).map_err(|e| WriteError::io(path, e))?;
        if seen.is_some_and(|seen| seen != Stamp::of(&real)) {
            return Err(JobFileError::ChangedOnDisk { path: path.to_owned() });
        }
        keep_previous(&real)
    })
}

/// Writes a job as one file of a set. The old one is kept at [`previous_path`] here too.
pub fn job_into(set: &mut FileSet, name: &str, file: &JobFile) -> Result<(), JobFileError> {
    let place = set.folder().join(name);
    match fs::read(&place) {
        Ok(old) => set.stage(&previous_path(Path::new(name)).to_string_lossy())?.bytes(&old)?,
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        Err(source) => return Err(JobFileError::Read { path: place, source }),
    }
    let members = Members::of(&place, file)?;
    set.stage(name)?.fill(|out| members.write(&place, out))
}

/// Everything that goes into the container.
struct Members<'a> {
    file: &'a JobFile,
    json: Vec<u8>,
    art: String,
    pictures: Vec<(String, Vec<u8>)>,
    screens: Vec<PackedScreens>,
}

impl<'a> Members<'a> {
    fn of(path: &Path, file: &'a JobFile) -> Result<Self, JobFileError> {
        let other = |e: String| WriteError::io(path, io::Error::other(e));
        let art = format!("art/{}", plain_name(&file.art_name));
        let screens = file.fitting_screens().map(|kept| PackedScreens::pack(kept, "screens")).transpose();
        let screens = screens.map_err(other)?;
        let versions: Vec<_> = (file.versions.iter().enumerate())
            .map(|(at, v)| v.screens.as_ref().map(|s| s.moved(&format!("versions/{:02}", at + 1))))
            .collect();
        let pictures = grey::pack(std::iter::once(&file.job).chain(file.versions.iter().map(|v| &v.job)));
        let manifest = Manifest {
            format: FORMAT.to_owned(),
            schema_version: SCHEMA_VERSION,
            written_by: concat!("strikeoff ", env!("CARGO_PKG_VERSION")).to_owned(),
            algorithm_version: ALGORITHM_VERSION,
            art: ArtEntry { name: file.art_name.clone(), file: art.clone(), sha256: sha256(&file.art_bytes) },
            job: file.job.clone(),
            screens: screens.as_ref().map(|s| s.entry.clone()),
            thumbnail: file.thumbnail.as_ref().map(|_| THUMBNAIL.to_owned()),
            versions: (file.versions.iter().zip(&versions))
                .map(|(v, packed)| VersionEntry {
                    name: v.name.clone(),
                    note: v.note.clone(),
                    date: v.date.clone(),
                    job: v.job.clone(),
                    shop: v.shop.clone(),
                    screens: packed.as_ref().map(|s| s.entry.clone()),
                })
                .collect(),
            recovery_of: file.recovery_of.clone(),
        };
        let json = serde_json::to_vec_pretty(&manifest).map_err(|e| WriteError::io(path, e.into()))?;
        check_openable(&manifest, json.len()).map_err(|what| JobFileError::TooMuch { path: path.to_owned(), what })?;
        check_ranges(&manifest).map_err(|what| JobFileError::Beyond { path: path.to_owned(), what })?;
        let screens = screens.into_iter().chain(versions.into_iter().flatten()).collect();
        Ok(Self { file, json, art, pictures: pictures.map_err(other)?, screens })
    }

    /// Writes the container.
    fn write<W: Write + Seek>(&self, path: &Path, out: W) -> Result<(), JobFileError> {
        let failed = RefCell::new(None);
        let checked = |done: zip::result::ZipResult<()>| match (failed.take(), done) {
            (Some(error), _) => Err(WriteError::io(path, error)),
            (None, Err(error)) => Err(WriteError::io(path, error.into())),
            (None, Ok(())) => Ok(()),
        };
        let mut zip = ZipWriter::new(Quiet::new(out, &failed));
        // Everything but the manifest is compressed already; stored, it can be found again even
        // in a damaged file. A fixed date keeps equal jobs equal byte for byte.
        let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        let deflated = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        let mut put = |name: &str, options: SimpleFileOptions, bytes: &[u8]| {
            let large = options.large_file(bytes.len() as u64 >= u64::from(u32::MAX));
            checked(zip.start_file(name, large).and_then(|()| Ok(zip.write_all(bytes)?)))
        };
        put(MANIFEST, deflated, &self.json)?;
        put(&self.art, stored, &self.file.art_bytes)?;
        for (member, png) in &self.pictures {
            put(member, stored, png)?;
        }
        if let Some(thumbnail) = &self.file.thumbnail {
            put(THUMBNAIL, stored, thumbnail)?;
        }
        for packed in &self.screens {
            for (screen, png) in packed.entry.list.iter().zip(packed.pngs.iter()) {
                put(&screen.file, stored, png)?;
            }
        }
        let done = zip.finish().and_then(|mut out| Ok(out.flush()?));
        Ok(checked(done)?)
    }
}

/// Refuses what could not be opened again.
fn check_openable(manifest: &Manifest, json_bytes: usize) -> Result<(), String> {
    check_counts(std::iter::once(&manifest.job).chain(manifest.versions.iter().map(|v| &v.job)))?;
    if json_bytes as u64 > MAX_MANIFEST_BYTES {
        return Err(format!("its settings take more than {} MB", MAX_MANIFEST_BYTES >> 20));
    }
    Ok(())
}

/// Gives the present file a second name, so that replacing it does not lose it. A link costs
/// nothing; where the file system has none, it is copied aside.
fn keep_previous(path: &Path) -> Result<(), JobFileError> {
    if !path.is_file() {
        return Ok(());
    }
    let previous = check_place(&previous_path(path))?;
    let wrap = |source| WriteError::io(&previous, source);
    let aside =
        tempfile::Builder::new().prefix(&own_name()).suffix(".tmp").tempdir_in(folder_of(&previous)).map_err(wrap)?;
    let link = aside.path().join("previous");
    if fs::hard_link(path, &link).is_err() {
        fs::copy(path, &link).map_err(wrap)?;
    }
    fs::rename(&link, &previous).map_err(wrap)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use strikeoff_core::color::Rgb8;
    use strikeoff_core::ink::{Garment, Ink, InkRole};
    use strikeoff_core::job::Job;
    use strikeoff_core::raster::Plane;
    use strikeoff_core::screens::{Screen, Screens};
    use strikeoff_core::tune::{Edit, EditEntry, edits};
    use strikeoff_core::units::{Opacity, Ppi};

    use super::*;
    use crate::job::{ScreensFrom, open_job};

    fn sample() -> JobFile {
        let ink = Ink {
            name: "Marsh green".into(),
            over_white: "#3E6B4F".parse::<Rgb8>().unwrap(),
            opacity: Opacity::new(0.7).unwrap(),
            role: InkRole::Color,
            measured: false,
            spectra: None,
        };
        let mut job = Job::new(Garment::of_color("#FFFFFF".parse().unwrap()));
        job.edits.push(EditEntry {
            on: true,
            edit: Edit::Drop(edits::Drop { screen: "Old rose".into(), separate_again: false }),
        });
        let coverage = Plane::from_fn(64, 48, |x, y| (x * 997 + y * 13) as u16);
        let list = vec![Screen { name: "Marsh green".into(), ink, hits: 2, coverage }];
        let mut file = JobFile::new(job, "../heron.png", b"not really a picture".to_vec());
        file.keep_screens(Screens { width: 64, height: 48, ppi: Ppi::new(300.0).unwrap(), list });
        file.thumbnail = Some(b"thumb".to_vec());
        file
    }

    #[test]
    fn a_job_comes_back_as_it_was_saved() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("heron.strikeoff");
        let file = sample();
        save_job(&path, &file).unwrap();
        let back = open_job(&path).unwrap();
        assert_eq!(back, file);
        assert_eq!(back.screens_from(), ScreensFrom::Stored);
        // The same job makes the same bytes.
        let first = fs::read(&path).unwrap();
        save_job(&path, &back).unwrap();
        assert_eq!(fs::read(&path).unwrap(), first);
    }

    #[test]
    fn the_version_before_is_kept_and_screens_that_do_not_fit_are_left_out() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("heron.strikeoff");
        let mut file = sample();
        save_job(&path, &file).unwrap();
        file.job.info.title = "Lantern fair".into();
        assert_eq!(file.screens_from(), ScreensFrom::Stored, "a title reaches no screen");
        file.job.edits.clear();
        assert_eq!(file.screens_from(), ScreensFrom::Made);
        save_job(&path, &file).unwrap();
        assert_eq!(open_job(&path).unwrap().screens, None);
        assert_eq!(open_job(&previous_path(&path)).unwrap(), sample());
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2, "nothing else is left behind");
    }

    #[test]
    fn screens_of_another_algorithm_are_kept_and_named() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("heron.strikeoff");
        let mut file = sample();
        file.screens.as_mut().unwrap().algorithm_version = ALGORITHM_VERSION + 3;
        save_job(&path, &file).unwrap();
        let back = open_job(&path).unwrap();
        let from = back.screens_from();
        assert_eq!(from, ScreensFrom::StoredByOther { stored: ALGORITHM_VERSION + 3, program: ALGORITHM_VERSION });
        assert!(from.note().unwrap().contains("kept"));
        assert_eq!(back.fitting_screens(), file.fitting_screens());
    }

    #[test]
    fn versions_keep_settings_and_screens() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("heron.strikeoff");
        let mut file = sample();
        file.keep_version("Client proof 1", "teal was too light", "3 May").unwrap();
        assert!(file.keep_version("client PROOF 1", "", "").is_err());
        file.job.edits.clear();
        file.keep_version("As printed", "", "").unwrap();
        save_job(&path, &file).unwrap();
        let back = open_job(&path).unwrap();
        assert_eq!(back.versions.len(), 2);
        let proof = back.version("client proof 1").unwrap();
        assert_eq!((&proof.job, &proof.screens), (&sample().job, &sample().screens));
        assert_eq!(proof.screens_from(), ScreensFrom::Stored);
        assert_eq!(back.version("as printed").unwrap().screens, None, "it had none that fitted");
        assert!(back.version("third").unwrap_err().to_string().contains("\"Client proof 1\", \"As printed\""));
    }

    #[test]
    fn art_names_cannot_lead_out_and_come_back_as_received() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.strikeoff");
        save_job(&path, &sample()).unwrap();
        let zip = zip::ZipArchive::new(fs::File::open(&path).unwrap()).unwrap();
        let names: Vec<_> = zip.file_names().map(|n| n.unwrap().into_owned()).collect();
        assert_eq!(names, ["job.json", "art/heron.png", "thumbnail.png", "screens/01.png"]);
        assert_eq!(open_job(&path).unwrap().art_name, "../heron.png");
    }

    #[test]
    fn a_save_that_cannot_be_keeps_the_old_file_and_its_previous() {
        let path = Path::new("/no/such/folder/a.strikeoff");
        let error = save_job(path, &sample()).unwrap_err().to_string();
        assert!(error.contains("cannot write /no/such/folder/a.strikeoff"), "{error}");
    }
}
