//! The manifest of a job file, `job.json`: what `docs/job-format.md` describes.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use strikeoff_core::ink::Ink;
use strikeoff_core::job::Job;
use strikeoff_core::units::Ppi;

/// Version of the container and its manifest. A program opens its own version and refuses later
/// ones.
pub const SCHEMA_VERSION: u32 = 1;
/// What `format` says.
pub(super) const FORMAT: &str = "strikeoff-job";
/// Name of the manifest in the container.
pub(super) const MANIFEST: &str = "job.json";
/// Name of the thumbnail in the container.
pub(super) const THUMBNAIL: &str = "thumbnail.png";

/// `job.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Manifest {
    pub format: String,
    pub schema_version: u32,
    /// Program version that wrote it, for people.
    pub written_by: String,
    pub algorithm_version: u32,
    pub art: ArtEntry,
    pub job: Job,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screens: Option<ScreensEntry>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thumbnail: Option<String>,
}

/// The art as received.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ArtEntry {
    /// File name as received.
    pub name: String,
    /// Member that holds its bytes.
    pub file: String,
    /// SHA-256 of the bytes, lower-case hexadecimal.
    pub sha256: String,
}

/// The cached screens.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ScreensEntry {
    pub width_px: usize,
    pub height_px: usize,
    pub ppi: Ppi,
    /// Algorithm version that made them.
    pub algorithm_version: u32,
    /// Fingerprint of the settings and art they were made from.
    pub made_from: String,
    /// In print order.
    pub list: Vec<ScreenEntry>,
}

/// One cached screen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ScreenEntry {
    pub name: String,
    pub ink: Ink,
    pub hits: u8,
    /// Member: 16-bit grey PNG in film sense (ink black).
    pub file: String,
}

/// SHA-256 in lower-case hexadecimal.
pub(super) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Fingerprint of what screens are made from: every part of the job that reaches them, and the
/// art. Title, client and film printer do not.
pub(super) fn fingerprint(job: &Job, art_sha256: &str) -> String {
    let parts = serde_json::json!({
        "garment": job.garment,
        "prep": job.prep,
        "separation": job.separation,
        "edits": job.edits,
        "press": job.press,
        "ruling": job.film.ruling,
        "art": art_sha256,
    });
    sha256(parts.to_string().as_bytes())
}
