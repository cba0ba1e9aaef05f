//! What a set of files holds, as a file of its own: names, sizes, SHA-256, and the settings they
//! were made with. It also lets the next set in the same folder clear away films of this one that
//! it does not replace, so that no old film is burned by mistake.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

/// Name of the manifest.
pub const MANIFEST_NAME: &str = "films.json";

/// One file of a set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ManifestFile {
    /// Name inside the folder.
    pub name: String,
    /// Its length.
    pub bytes: u64,
    /// SHA-256 in hexadecimal.
    pub sha256: String,
}

#[derive(Deserialize)]
struct Listed {
    files: Vec<ManifestFile>,
}

/// Describes a file.
pub fn describe(name: &str, path: &Path) -> io::Result<ManifestFile> {
    let mut file = File::open(path)?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 1 << 18];
    let mut bytes = 0;
    loop {
        let read = file.read(&mut buffer)?;
        if read == 0 {
            break;
        }
        hash.update(&buffer[..read]);
        bytes += read as u64;
    }
    let sha256 = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    Ok(ManifestFile { name: name.to_owned(), bytes, sha256 })
}

/// The manifest's text; `films` is an object whose entries say what the files are.
pub fn manifest(files: &[ManifestFile], films: &Value, settings: &Value) -> String {
    let mut all = json!({
        "made_by": concat!("Strikeoff ", env!("CARGO_PKG_VERSION")),
        "files": files,
        "settings": settings,
    });
    if let (Some(all), Some(films)) = (all.as_object_mut(), films.as_object()) {
        all.extend(films.iter().map(|(name, value)| (name.clone(), value.clone())));
    }
    format!("{all:#}\n")
}

/// Removes files that the folder's old manifest lists and the new set does not have. A file that
/// was changed since, or lies outside the folder, stays.
pub fn clear_replaced(folder: &Path, new: &[String]) {
    let Ok(text) = fs::read_to_string(folder.join(MANIFEST_NAME)) else { return };
    let Ok(old) = serde_json::from_str::<Listed>(&text) else { return };
    for file in old.files {
        let plain = Path::new(&file.name).components().count() == 1 && !file.name.contains(['/', '\\', ':']);
        let path = folder.join(&file.name);
        if plain && !new.contains(&file.name) && describe(&file.name, &path).is_ok_and(|now| now == file) {
            let _ = fs::remove_file(path);
        }
    }
}
