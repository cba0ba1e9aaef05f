//! What a set of files holds, as a file of its own: names, sizes, SHA-256, and the settings they
//! were made with. It also lets the next set in the same folder clear away files of this one that
//! it does not replace, so that no old film is burned by mistake.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::WriteError;
use super::commit::is_plain;
use super::look::look;

/// One file of a set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ManifestFile {
    /// Name inside the folder of the manifest.
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
    // Opening a pipe would wait for its other end.
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::other("not a file"));
    }
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

/// The manifest's text; `more` is an object whose entries say what the files are.
pub fn compose(files: &[ManifestFile], more: &Value) -> String {
    let mut all = json!({ "made_by": concat!("Strikeoff ", env!("CARGO_PKG_VERSION")), "files": files });
    if let (Some(all), Some(more)) = (all.as_object_mut(), more.as_object()) {
        all.extend(more.iter().map(|(name, value)| (name.clone(), value.clone())));
    }
    format!("{all:#}\n")
}

/// The files that a manifest lists, if it is there and can be read.
fn listed(path: &Path) -> io::Result<Vec<ManifestFile>> {
    let listed: Listed = serde_json::from_slice(&fs::read(path)?)?;
    match listed.files.iter().find(|file| !is_plain(&file.name)) {
        Some(file) => Err(io::Error::other(format!("\"{}\" leads out of the folder", file.name))),
        None => Ok(listed.files),
    }
}

/// Names inside `root` of the files that go when the manifest `name` is replaced: those that it
/// lists and that are as they were written.
pub fn replaced(root: &Path, name: &str) -> Vec<String> {
    let folder = &name[..name.rfind('/').map_or(0, |at| at + 1)];
    let files = listed(&root.join(name)).unwrap_or_default();
    let whole = |file: &ManifestFile| is_whole(&root.join(folder), file);
    files.iter().filter(|file| whole(file)).map(|file| format!("{folder}{}", file.name)).collect()
}

fn is_whole(folder: &Path, file: &ManifestFile) -> bool {
    let path = folder.join(&file.name);
    let length = fs::metadata(&path).map(|meta| meta.len());
    length.is_ok_and(|bytes| bytes == file.bytes) && describe(&file.name, &path).is_ok_and(|now| now == *file)
}

/// A set in a folder, held against its manifests.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetState {
    /// Manifests in the folder.
    pub manifests: Vec<String>,
    /// Files that are as they were written.
    pub whole: Vec<String>,
    /// Files that are not, with what is wrong.
    pub wrong: Vec<String>,
    /// What a set that was stopped half way left, and what was done about it.
    pub found: Vec<String>,
}

/// Looks at a folder of films, screens or the demo: finishes a set that was stopped half way, and
/// compares every file with the sum in its manifest.
pub fn verify(folder: &Path) -> Result<SetState, WriteError> {
    let found = look(folder)?;
    let mut state = SetState { manifests: Vec::new(), whole: Vec::new(), wrong: Vec::new(), found };
    for name in crate::MANIFESTS {
        let path = folder.join(name);
        if !path.exists() {
            continue;
        }
        state.manifests.push(name.to_owned());
        match listed(&path) {
            Err(error) => state.wrong.push(format!("{name} cannot be read ({error})")),
            Ok(files) => {
                for file in files {
                    if is_whole(folder, &file) {
                        state.whole.push(file.name);
                    } else if folder.join(&file.name).exists() {
                        state.wrong.push(format!("{} is not as it was written", file.name));
                    } else {
                        state.wrong.push(format!("{} is missing", file.name));
                    }
                }
            }
        }
    }
    Ok(state)
}
