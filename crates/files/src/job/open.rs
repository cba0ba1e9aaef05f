//! Opening: the manifest and the art must be whole; caches that are not are left behind and
//! named in [`JobFile::lost`].

use std::path::Path;

use serde_json::Value;

use super::container::{Container, MemberError};
use super::grey::give_back;
use super::manifest::{FORMAT, MANIFEST, Manifest, SCHEMA_VERSION, ScreensEntry, sha256};
use super::version::PackedScreens;
use super::{JobFile, JobFileError, NamedVersion};

/// Most bytes of a manifest.
const MOST_MANIFEST: u64 = 32 << 20;
/// Most bytes of art.
const MOST_ART: u64 = 2 << 30;
/// Most bytes of a grey picture.
const MOST_PICTURE: u64 = 1 << 30;
/// Most bytes of a thumbnail.
const MOST_THUMBNAIL: u64 = 4 << 20;
/// Most pixels of a screen: what the preparation allows.
const MOST_PIXELS: usize = 400_000_000;

/// Opens a job file.
pub fn open_job(path: &Path) -> Result<JobFile, JobFileError> {
    let mut container = Container::open(path)?;
    let manifest = read_manifest(path, &mut container)?;
    let art_bytes = container.read(&manifest.art.file, MOST_ART).map_err(|e| member(path, "the art", e))?;
    if sha256(&art_bytes) != manifest.art.sha256 {
        return Err(damaged(path, "the art is not the one that was saved (its checksum differs)"));
    }
    let mut lost = Vec::new();
    let thumbnail = manifest.thumbnail.as_ref().and_then(|name| {
        container.read(name, MOST_THUMBNAIL).map_err(|e| lost.push(format!("the thumbnail was left out: {e}"))).ok()
    });
    let mut packed = |entry: ScreensEntry| read_screens(&mut container, entry);
    let screens = match manifest.screens.map(|entry| packed(entry).and_then(|p| p.unpack())) {
        Some(Ok(kept)) => Some(kept),
        Some(Err(why)) => {
            lost.push(format!("the stored screens were left out and will be made anew: {why}"));
            None
        }
        None => None,
    };
    let mut versions: Vec<NamedVersion> = (manifest.versions.into_iter())
        .map(|v| NamedVersion {
            screens: v.screens.and_then(|entry| match packed(entry) {
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
        })
        .collect();
    let mut job = manifest.job;
    let jobs = std::iter::once(&mut job).chain(versions.iter_mut().map(|v| &mut v.job));
    give_back(jobs, |name| container.read(name, MOST_PICTURE).map_err(|e| e.to_string()), &mut lost);
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

fn read_manifest(path: &Path, container: &mut Container) -> Result<Manifest, JobFileError> {
    let settings = |what: String| JobFileError::Settings { path: path.to_owned(), what };
    let bytes = match container.read(MANIFEST, MOST_MANIFEST) {
        Err(MemberError::Missing) => return Err(JobFileError::NotAJob { path: path.to_owned() }),
        other => other.map_err(|e| member(path, MANIFEST, e))?,
    };
    let value: Value = serde_json::from_slice(&bytes).map_err(|e| settings(format!("{MANIFEST} is not JSON ({e})")))?;
    // The version is looked at first: a later format may differ in everything else.
    if value.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(JobFileError::NotAJob { path: path.to_owned() });
    }
    match value.get("schema_version").and_then(Value::as_u64) {
        Some(found) if found > u64::from(SCHEMA_VERSION) => {
            return Err(JobFileError::Future { path: path.to_owned(), found, known: SCHEMA_VERSION });
        }
        Some(found) if found == u64::from(SCHEMA_VERSION) => {}
        _ => return Err(settings("schema_version must be a whole number from 1".to_owned())),
    }
    serde_json::from_slice(&bytes).map_err(|e| settings(e.to_string()))
}

fn read_screens(container: &mut Container, entry: ScreensEntry) -> Result<PackedScreens, String> {
    let (width, height) = (entry.width_px, entry.height_px);
    if width == 0 || height == 0 || width.saturating_mul(height) > MOST_PIXELS {
        return Err(format!("{width} x {height} pixels is no size for a screen"));
    }
    let most = (width * height * 2 + height) as u64 * 11 / 10 + (1 << 20);
    let pngs = (entry.list.iter())
        .map(|screen| container.read(&screen.file, most).map_err(|e| format!("screen \"{}\": {e}", screen.name)))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(PackedScreens { entry, pngs: pngs.into() })
}

fn damaged(path: &Path, what: impl Into<String>) -> JobFileError {
    JobFileError::Damaged { path: path.to_owned(), what: what.into() }
}

fn member(path: &Path, what: &str, error: MemberError) -> JobFileError {
    let text = format!("{what}: {error}");
    match error {
        MemberError::TooLarge(_) | MemberError::BadName => JobFileError::Unsafe { path: path.to_owned(), what: text },
        MemberError::Missing | MemberError::Damaged(_) => damaged(path, text),
    }
}
