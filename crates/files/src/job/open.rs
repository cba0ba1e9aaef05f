//! Opening: the manifest and the art must be whole; caches that are not are left behind and
//! named in [`JobFile::lost`].

use std::collections::BTreeSet;
use std::path::Path;

use serde::Deserialize;
use serde_json::Value;
use strikeoff_core::bounds;
use strikeoff_core::job::Job;

use super::container::{Container, MemberError};
use super::grey::give_back;
use super::manifest::{FORMAT, MANIFEST, Manifest, SCHEMA_VERSION, ScreensEntry, check, check_ranges, sha256};
use super::version::PackedScreens;
use super::{JobFile, JobFileError, NamedVersion};
use crate::limits::{
    Budget, MAX_ART_FILE_BYTES, MAX_JOB_EDITS, MAX_JOB_SCREENS, MAX_JOB_VERSIONS, MAX_MANIFEST_BYTES, MAX_PRINT_PIXELS,
    MAX_PRINT_SIDE_PX, MAX_THUMBNAIL_BYTES,
};

/// Opens a job file. Everything that is held of it at once, packed and unpacked, stays within half of the
/// machine's memory ([`Budget::of_machine`]).
pub fn open_job(path: &Path) -> Result<JobFile, JobFileError> {
    open_within(path, Budget::of_machine())
}

pub(super) fn open_within(path: &Path, budget: Budget) -> Result<JobFile, JobFileError> {
    let mut container = Container::open(path, budget)?;
    let manifest = read_manifest(path, &mut container)?;
    let jobs = || std::iter::once(&manifest.job).chain(manifest.versions.iter().map(|v| &v.job));
    check_counts(jobs()).map_err(|what| JobFileError::Unsafe { path: path.to_owned(), what })?;
    check_ranges(&manifest).map_err(|what| JobFileError::Settings { path: path.to_owned(), what })?;
    let art = container.member(&manifest.art.file, MAX_ART_FILE_BYTES);
    let art_bytes = art.map_err(|e| member(path, "the art", e))?;
    if sha256(&art_bytes) != manifest.art.sha256 {
        return Err(damaged(path, "the art is not the one that was saved (its checksum differs)"));
    }
    let mut lost = Vec::new();
    let thumbnail = manifest.thumbnail.as_ref().and_then(|name| {
        container
            .member(name, MAX_THUMBNAIL_BYTES)
            .map_err(|e| lost.push(format!("the thumbnail was left out: {e}")))
            .ok()
    });
    let mut named = BTreeSet::new();
    let screens = manifest.screens.map(|entry| {
        let packed = read_screens(&mut container, entry, &mut named)?;
        packed.unpack_within(&mut container.held)
    });
    let screens = match screens {
        Some(Ok(kept)) => Some(kept),
        Some(Err(why)) => {
            lost.push(format!("the stored screens were left out and will be made again: {why}"));
            None
        }
        None => None,
    };
    let mut versions: Vec<NamedVersion> = (manifest.versions.into_iter())
        .map(|v| NamedVersion {
            screens: v.screens.and_then(|entry| match read_screens(&mut container, entry, &mut named) {
                Ok(packed) => Some(packed),
                Err(why) => {
                    lost.push(format!("the stored screens of version \"{}\" were left out: {why}", v.name));
                    None
                }
            }),
            name: v.name,
            note: v.note,
            date: v.date,
            job: v.job,
            shop: v.shop,
        })
        .collect();
    let mut job = manifest.job;
    let jobs = std::iter::once(&mut job).chain(versions.iter_mut().map(|v| &mut v.job));
    give_back(jobs, &mut container, &mut lost);
    Ok(JobFile {
        job,
        art_name: manifest.art.name,
        art_bytes: art_bytes.into(),
        screens,
        thumbnail,
        versions,
        recovery_of: manifest.recovery_of,
        lost,
    })
}

/// A job for a list: its settings and small picture, read without its art and its screens.
#[derive(Debug, Clone, PartialEq)]
pub struct JobLook {
    /// What the user decided; grey pictures have no pixels.
    pub job: Job,
    /// File name of the art.
    pub art_name: String,
    /// A small picture of the proof as PNG, if it has one.
    pub thumbnail: Option<Vec<u8>>,
}

/// Looks into a job file.
pub fn look_at_job(path: &Path) -> Result<JobLook, JobFileError> {
    let mut container = Container::open(path, Budget::of_machine())?;
    let manifest = read_manifest(path, &mut container)?;
    check_ranges(&manifest).map_err(|what| JobFileError::Settings { path: path.to_owned(), what })?;
    let picture = manifest.thumbnail.as_ref().and_then(|name| container.member(name, MAX_THUMBNAIL_BYTES).ok());
    Ok(JobLook { job: manifest.job, art_name: manifest.art.name, thumbnail: picture })
}

fn read_manifest(path: &Path, container: &mut Container) -> Result<Manifest, JobFileError> {
    let settings = |what: String| JobFileError::Settings { path: path.to_owned(), what };
    let bytes = match container.member(MANIFEST, MAX_MANIFEST_BYTES) {
        Err(MemberError::Missing) => return Err(JobFileError::NotAJob { path: path.to_owned() }),
        other => other.map_err(|e| member(path, MANIFEST, e))?,
    };
    // The version is looked at first: a later format may differ in everything else.
    let head: Head = serde_json::from_slice(&bytes).map_err(|e| settings(format!("{MANIFEST} is not JSON ({e})")))?;
    if head.format.as_ref().and_then(Value::as_str) != Some(FORMAT) {
        return Err(JobFileError::NotAJob { path: path.to_owned() });
    }
    match head.schema_version.as_ref().and_then(Value::as_u64) {
        Some(found) if found > u64::from(SCHEMA_VERSION) => {
            return Err(JobFileError::Future { path: path.to_owned(), found, known: SCHEMA_VERSION });
        }
        Some(found) if found == u64::from(SCHEMA_VERSION) => {}
        _ => return Err(settings("schema_version must be a whole number from 1".to_owned())),
    }
    // What cannot be read at all is most often a number beyond its range: the schema says so better.
    let better = |_: &serde_json::Error| check(&serde_json::from_slice(&bytes).ok()?).err().map(|e| e.to_string());
    serde_json::from_slice(&bytes).map_err(|e| settings(better(&e).unwrap_or_else(|| e.to_string())))
}

/// The two members that every version of the manifest has; the rest is passed over without a copy.
#[derive(Deserialize)]
struct Head {
    format: Option<Value>,
    schema_version: Option<Value>,
}

/// Refuses more versions and edits than a job may have.
pub(super) fn check_counts<'a>(jobs: impl Iterator<Item = &'a Job>) -> Result<(), String> {
    let mut versions = 0;
    for (at, job) in jobs.enumerate() {
        if job.edits.len() > MAX_JOB_EDITS {
            return Err(format!("it has {} edits, more than {MAX_JOB_EDITS}", job.edits.len()));
        }
        versions = at;
    }
    if versions > MAX_JOB_VERSIONS {
        return Err(format!("it has {versions} versions, more than {MAX_JOB_VERSIONS}"));
    }
    Ok(())
}

/// The PNGs of screens. `named` are the members that screens have named so far: each belongs to one.
fn read_screens(
    container: &mut Container,
    entry: ScreensEntry,
    named: &mut BTreeSet<String>,
) -> Result<PackedScreens, String> {
    let (width, height) = (entry.width_px, entry.height_px);
    let most_px = width.saturating_mul(height);
    if most_px == 0 || most_px > MAX_PRINT_PIXELS || width.max(height) > MAX_PRINT_SIDE_PX {
        return Err(format!("{width} x {height} pixels is no size for a screen"));
    }
    if entry.list.len() > MAX_JOB_SCREENS {
        return Err(format!("{} screens are more than the {MAX_JOB_SCREENS} that a job may have", entry.list.len()));
    }
    bounds::check(&entry).map_err(|e| e.to_string())?;
    if let Some(twice) = entry.list.iter().find(|screen| !named.insert(screen.file.clone())) {
        return Err(format!("two screens name the same picture {}", twice.file));
    }
    let most = (width * height * 2 + height) as u64 * 11 / 10 + (1 << 20);
    let pngs = (entry.list.iter())
        .map(|screen| container.member(&screen.file, most).map_err(|e| format!("screen \"{}\": {e}", screen.name)))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(PackedScreens { entry, pngs: pngs.into() })
}

fn damaged(path: &Path, what: impl Into<String>) -> JobFileError {
    JobFileError::Damaged { path: path.to_owned(), what: what.into() }
}

fn member(path: &Path, what: &str, error: MemberError) -> JobFileError {
    let text = format!("{what}: {error}");
    match error {
        MemberError::TooLarge(_) | MemberError::OverBudget(_) | MemberError::BadName => {
            JobFileError::Unsafe { path: path.to_owned(), what: text }
        }
        MemberError::Missing | MemberError::Damaged(_) => damaged(path, text),
    }
}
