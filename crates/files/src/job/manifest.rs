//! The manifest of a job file, `job.json`: what `docs/job-format.md` describes.

use std::sync::LazyLock;
use strikeoff_core::screens::ScreenName;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use strikeoff_core::bounds::{OutOfBounds, check as check_bounds, check_against, table};
use strikeoff_core::ink::Ink;
use strikeoff_core::job::Job;
use strikeoff_core::reorder::ShopState;
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Manifest {
    /// What the file is.
    #[schemars(extend("const" = "strikeoff-job"))]
    pub format: String,
    /// Version of this description.
    #[schemars(extend("const" = 1))]
    #[schemars(transform = table::SCHEMA.schema())]
    pub schema_version: u32,
    /// Program version that wrote it, for people.
    #[schemars(transform = table::PROGRAM.schema())]
    pub written_by: String,
    /// Version of the computation from art to screens in the program that wrote the file.
    #[schemars(transform = table::ALGORITHM.schema())]
    pub algorithm_version: u32,
    /// The art as received.
    pub art: ArtEntry,
    /// What the user decided.
    pub job: Job,
    /// The stored screens, a cache.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screens: Option<ScreensEntry>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    /// Member: a small picture of the proof.
    #[schemars(transform = table::MEMBER.schema())]
    pub thumbnail: Option<String>,
    /// Named states, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(transform = table::VERSIONS.schema())]
    pub versions: Vec<VersionEntry>,
    /// Only in a recovery file: where the job it belongs to was opened from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("maxLength" = 32_768))]
    pub recovery_of: Option<std::path::PathBuf>,
}

/// A named state of the job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct VersionEntry {
    #[schemars(transform = table::VERSION_NAME.schema())]
    pub name: String,
    #[serde(default)]
    #[schemars(transform = table::NOTE.schema())]
    pub note: String,
    #[serde(default)]
    #[schemars(transform = table::DATE.schema())]
    pub date: String,
    pub job: Job,
    /// What the shop had when this state was printed; absent: it was not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shop: Option<Box<ShopState>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screens: Option<ScreensEntry>,
}

/// The art as received.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ArtEntry {
    /// File name as received.
    #[schemars(transform = table::FILE_NAME.schema())]
    pub name: String,
    /// Member that holds its bytes: relative, `/` between parts, no part `.` or `..`.
    #[schemars(extend("pattern" = r"^[^/\\:]+(/[^/\\:]+)*$", "maxLength" = 500))]
    pub file: String,
    /// SHA-256 of the bytes, lower-case hexadecimal.
    #[schemars(extend("pattern" = "^[0-9a-f]{64}$"))]
    pub sha256: String,
}

/// The cached screens.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ScreensEntry {
    #[schemars(transform = table::SIDE_PX.schema())]
    pub width_px: usize,
    #[schemars(transform = table::SIDE_PX.schema())]
    pub height_px: usize,
    pub ppi: Ppi,
    /// Algorithm version that made them.
    #[schemars(transform = table::ALGORITHM.schema())]
    pub algorithm_version: u32,
    /// Fingerprint of the settings and art they were made from.
    #[schemars(transform = table::FINGERPRINT.schema())]
    pub made_from: String,
    /// In print order.
    #[schemars(transform = table::SCREENS.schema())]
    pub list: Vec<ScreenEntry>,
}

/// One cached screen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ScreenEntry {
    pub name: ScreenName,
    pub ink: Ink,
    #[schemars(transform = table::HITS.schema())]
    pub hits: u8,
    /// Member: 16-bit grey PNG in film sense (ink black).
    #[schemars(extend("pattern" = r"^[^/\\:]+(/[^/\\:]+)*$", "maxLength" = 500))]
    pub file: String,
}

/// JSON Schema (2020-12) of the manifest, as `docs/job.schema.json` publishes it.
pub fn job_schema() -> serde_json::Value {
    let settings = schemars::generate::SchemaSettings::draft2020_12();
    let mut schema = settings.into_generator().into_root_schema_for::<Manifest>().to_value();
    schema["$id"] = "https://strikeoff.invalid/job.schema.json".into();
    schema["title"] = "Manifest (job.json) of a Strikeoff job file, schema version 1".into();
    schema
}

/// Holds a manifest as read to the ranges of its schema.
pub(super) fn check(manifest: &serde_json::Value) -> Result<(), OutOfBounds> {
    static SCHEMA: LazyLock<serde_json::Value> = LazyLock::new(job_schema);
    check_against(manifest, &SCHEMA)
}

/// Holds a manifest to its ranges, stored screens aside, which are a cache.
pub(super) fn check_ranges(manifest: &Manifest) -> Result<(), String> {
    let texts = [(table::PROGRAM, &manifest.written_by), (table::FILE_NAME, &manifest.art.name)];
    let versions = manifest.versions.iter();
    let of_versions =
        versions.clone().flat_map(|v| [(table::VERSION_NAME, &v.name), (table::NOTE, &v.note), (table::DATE, &v.date)]);
    if let Some(what) = texts.into_iter().chain(of_versions).find_map(|(bound, text)| bound.fault(text)) {
        return Err(what);
    }
    table::ALGORITHM.check(manifest.algorithm_version.into()).map_err(|e| e.to_string())?;
    manifest.job.check().map_err(|e| e.to_string())?;
    for (version, shop) in versions.clone().filter_map(|v| Some((v, v.shop.as_deref()?))) {
        let name = &version.name;
        check_bounds(shop).map_err(|e| format!("what the shop had when version \"{name}\" was printed: {e}"))?;
    }
    versions
        .map(|v| (v, v.job.check()))
        .try_for_each(|(v, done)| done.map_err(|e| format!("version \"{}\": {e}", v.name)))
}

/// SHA-256 in lower-case hexadecimal.
pub(super) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Fingerprint of what screens are made from: the job's inputs to them, and the art.
pub(super) fn fingerprint(job: &Job, art_sha256: &str) -> String {
    let parts = serde_json::json!({ "art": art_sha256, "inputs": job.screen_inputs() });
    let mut text = String::new();
    canonical(&parts, &mut text);
    sha256(text.as_bytes())
}

/// JSON without spaces, keys in alphabetical order whatever map the JSON library was built with.
fn canonical(value: &serde_json::Value, out: &mut String) {
    use serde_json::Value::{Array, Object};
    match value {
        Object(map) => {
            let mut entries: Vec<_> = map.iter().collect();
            entries.sort_by(|a, b| a.0.cmp(b.0));
            out.push('{');
            for (at, (key, value)) in entries.into_iter().enumerate() {
                out.push_str(if at == 0 { "" } else { "," });
                out.push_str(&serde_json::Value::from(key.as_str()).to_string());
                out.push(':');
                canonical(value, out);
            }
            out.push('}');
        }
        Array(list) => {
            out.push('[');
            for (at, value) in list.iter().enumerate() {
                out.push_str(if at == 0 { "" } else { "," });
                canonical(value, out);
            }
            out.push(']');
        }
        leaf => out.push_str(&leaf.to_string()),
    }
}
