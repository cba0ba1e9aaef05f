//! What can still be had from a damaged job: members are looked for by their signatures, whatever
//! the table of contents says, and settings are read part by part. Every loss is named.

use std::collections::BTreeMap;
use std::fs;
use std::io::{Cursor, Read};
use std::path::Path;

use schemars::JsonSchema;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use strikeoff_core::bounds::{check, table};
use strikeoff_core::ink::Garment;
use strikeoff_core::job::Job;
use strikeoff_core::names::clean;
use strikeoff_core::reorder::ShopState;
use zip::read::read_zipfile_from_stream;

use super::container::Members;
use super::grey::give_back;
use super::manifest::{MANIFEST, THUMBNAIL, sha256};
use super::{JobFile, JobFileError, NamedVersion};
use crate::limits::{
    Budget, FREE_INFLATION_BYTES, MAX_ART_FILE_BYTES, MAX_INFLATION, MAX_JOB_EDITS, MAX_JOB_MEMBERS, MAX_JOB_VERSIONS,
    MAX_MANIFEST_BYTES, Tally,
};

/// Opens what is left of a damaged job. [`JobFile::lost`] lists what is not. Fails only when there
/// is nothing: neither settings nor art. The file and what is found in it stay within half of the machine's
/// memory together.
pub fn recover_job(path: &Path) -> Result<JobFile, JobFileError> {
    recover_within(path, Budget::of_machine())
}

pub(super) fn recover_within(path: &Path, budget: Budget) -> Result<JobFile, JobFileError> {
    let read = |source| JobFileError::Read { path: path.to_owned(), source };
    let mut held = Tally::new(budget);
    let length = fs::metadata(path).map_err(read)?.len();
    held.take(length).map_err(|over| JobFileError::Unsafe { path: path.to_owned(), what: format!("it {over}") })?;
    let mut lost = Vec::new();
    let mut salvaged = Salvaged { members: members(&fs::read(path).map_err(read)?, &mut held), held };
    let members = &salvaged.members;
    let json = members.get(MANIFEST).filter(|bytes| bytes.len() as u64 <= MAX_MANIFEST_BYTES);
    let manifest: Value = match json.map(|bytes| serde_json::from_slice(bytes)) {
        Some(Ok(value)) => value,
        Some(Err(error)) => {
            lost.push(format!("all settings ({MANIFEST} is not JSON: {error})"));
            Value::Null
        }
        None => {
            lost.push(format!("all settings ({MANIFEST} cannot be read)"));
            Value::Null
        }
    };
    let (art_name, art_bytes) = art(&manifest, members, &mut lost);
    if manifest.is_null() && art_bytes.is_empty() {
        let what = "neither its settings nor its artwork can be read".to_owned();
        return Err(JobFileError::Damaged { path: path.to_owned(), what });
    }
    let mut job = job(&manifest["job"], &mut lost);
    give_back(std::iter::once(&mut job), &mut salvaged, &mut lost);
    lost.push("the stored screens; they are made again".to_owned());
    let mut versions = Vec::new();
    for version in first(&manifest["versions"], MAX_JOB_VERSIONS, "versions", &mut lost) {
        let name = clean(version["name"].as_str().unwrap_or("unnamed"), table::VERSION_NAME.most);
        let mut gone = vec!["its screens".to_owned()];
        let mut state = self::job(&version["job"], &mut gone);
        give_back(std::iter::once(&mut state), &mut salvaged, &mut gone);
        lost.extend(gone.into_iter().map(|what| format!("of the version \"{name}\": {what}")));
        let text = |key: &str, most| clean(version[key].as_str().unwrap_or_default(), most);
        versions.push(NamedVersion {
            note: text("note", table::NOTE.most),
            date: text("date", table::DATE.most),
            job: state,
            shop: serde_json::from_value::<Box<ShopState>>(version["shop"].clone())
                .ok()
                .filter(|shop| check(shop).is_ok()),
            screens: None,
            name,
        });
    }
    let mut file = JobFile::new(job, art_name, art_bytes);
    file.thumbnail = salvaged.members.remove(THUMBNAIL);
    file.versions = versions;
    file.lost = lost;
    Ok(file)
}

/// Members that were found, and what is held of them.
struct Salvaged {
    members: BTreeMap<String, Vec<u8>>,
    held: Tally,
}

impl Members for Salvaged {
    fn read(&mut self, name: &str) -> Result<Vec<u8>, String> {
        let found = self.members.get(name).ok_or("it is missing")?;
        self.held.take(found.len() as u64).map_err(|over| format!("with it the job {over}"))?;
        Ok(found.clone())
    }

    fn held(&mut self) -> &mut Tally {
        &mut self.held
    }
}

/// Every member that can be read whole, by name; of two the first. What does not fit into memory is left
/// out, and counts all the same: a file cannot keep the search busy by unpacking the same again.
pub(super) fn members(bytes: &[u8], held: &mut Tally) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut at = 0;
    while found.len() < MAX_JOB_MEMBERS
        && let Some(next) = bytes[at..].windows(4).position(|w| w == b"PK\x03\x04")
    {
        at += next;
        let mut rest = Cursor::new(&bytes[at..]);
        let mut used = 4;
        if let Ok(Some(mut member)) = read_zipfile_from_stream(&mut rest) {
            let name = member.name().map(|n| n.into_owned());
            let most = member.compressed_size().saturating_mul(MAX_INFLATION).max(FREE_INFLATION_BYTES);
            let limit = MAX_ART_FILE_BYTES.min(most).min(held.left());
            let mut content = Vec::new();
            let whole = (&mut member).take(limit + 1).read_to_end(&mut content).is_ok();
            let fits = content.len() as u64 <= limit;
            let taken = held.take((content.len() as u64).min(held.left())).is_ok();
            if let (Ok(name), true) = (name, whole && fits && taken) {
                used = (member.compressed_size() as usize).max(4);
                found.entry(name).or_insert(content);
            }
        }
        at += used.min(bytes.len() - at);
    }
    found
}

fn art(manifest: &Value, members: &BTreeMap<String, Vec<u8>>, lost: &mut Vec<String>) -> (String, Vec<u8>) {
    let entry = &manifest["art"];
    let named = entry["file"].as_str().and_then(|file| members.get_key_value(file));
    let found = named.or_else(|| members.iter().find(|(name, _)| name.starts_with("art/")));
    let name = |file: &str| file.rsplit('/').next().unwrap_or("art").to_owned();
    match found {
        None => {
            lost.push("the artwork; give the job the client's file again".to_owned());
            (entry["name"].as_str().unwrap_or("art").to_owned(), Vec::new())
        }
        Some((file, bytes)) => {
            if entry["sha256"].as_str().is_some_and(|sum| sum != sha256(bytes)) {
                lost.push("parts of the artwork (its checksum differs); compare it with the client's file".to_owned());
            }
            (entry["name"].as_str().map_or_else(|| name(file), str::to_owned), bytes.clone())
        }
    }
}

/// The settings part by part; an edit that cannot be read is left out by itself.
fn job(value: &Value, lost: &mut Vec<String>) -> Job {
    let garment = part::<Garment>(&value["garment"], "the garment (white is taken)", lost);
    let white = || Garment::of_color(strikeoff_core::color::Rgb8::from_linear([1.0; 3]));
    let mut job = Job::new(garment.unwrap_or_else(white));
    take(value, "info", &mut job.info, lost);
    take(value, "prep", &mut job.prep, lost);
    take(value, "separation", &mut job.separation, lost);
    take(value, "press", &mut job.press, lost);
    take(value, "run", &mut job.run, lost);
    take(value, "film", &mut job.film, lost);
    for (at, edit) in first(&value["edits"], MAX_JOB_EDITS, "edits", lost).iter().enumerate() {
        job.edits.extend(part(edit, &format!("edit {}", at + 1), lost));
    }
    job
}

/// The first `most` of a list; the rest is lost and named.
fn first<'a>(list: &'a Value, most: usize, what: &str, lost: &mut Vec<String>) -> &'a [Value] {
    let all = list.as_array().map_or(&[][..], Vec::as_slice);
    if all.len() > most {
        lost.push(format!("{} {what} beyond the {most} that a job may have", all.len() - most));
    }
    &all[..all.len().min(most)]
}

/// A part of the settings, if it is there and can be read.
fn take<T: Settings>(job: &Value, name: &str, target: &mut T, lost: &mut Vec<String>) {
    let value = &job[name];
    if value.is_null() {
        if !job.is_null() {
            lost.push(format!("the settings \"{name}\" (they are missing)"));
        }
    } else if let Some(read) = part(value, &format!("the settings \"{name}\""), lost) {
        *target = read;
    }
}

fn part<T: Settings>(value: &Value, what: &str, lost: &mut Vec<String>) -> Option<T> {
    let read = serde_json::from_value::<T>(value.clone()).map_err(|e| e.to_string());
    let held = read.and_then(|read| check(&read).map(|()| read).map_err(|e| e.to_string()));
    held.map_err(|error| lost.push(format!("{what}: {error}"))).ok()
}

/// A part of the settings: read from JSON and held to its ranges.
trait Settings: DeserializeOwned + Serialize + JsonSchema + 'static {}

impl<T: DeserializeOwned + Serialize + JsonSchema + 'static> Settings for T {}
