//! Names of the hidden files that a write needs for a while. Each begins with [`PREFIX`] and says
//! on which computer it was made, so that a left-over can be known from work in progress:
//!
//! | name | what it is |
//! |---|---|
//! | `.strikeoff-HOST-RANDOM.tmp` | one file that is being written |
//! | `.strikeoff-HOST-RANDOM.set`, `.going`, `.back` | the journal of a set: being made, being put in place, being taken back |
//! | `.strikeoff-HOST-RANDOM-N.new`, `.old` | file N of that set, and what was in its place |
//! | `.strikeoff.lock` | held while a set is put in place |
//! | `.strikeoff.job-NAME.lock` | held while the job of that name is open for changing |

use std::path::Path;
use std::sync::OnceLock;

use sha2::{Digest, Sha256};

/// How every such name begins.
pub const PREFIX: &str = ".strikeoff-";
/// How the lock of a job begins that lies beside it.
pub const JOB_LOCK: &str = ".strikeoff.job-";
/// The lock of a folder.
pub const FOLDER_LOCK: &str = ".strikeoff.lock";

/// The folder that a path lies in.
pub fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Eight letters that stand for this computer.
pub fn host() -> &'static str {
    static HOST: OnceLock<String> = OnceLock::new();
    HOST.get_or_init(|| {
        let sum = Sha256::digest(gethostname::gethostname().as_encoded_bytes());
        sum.iter().take(4).map(|byte| format!("{byte:02x}")).collect()
    })
}

/// How names of this computer begin.
pub fn own_name() -> String {
    format!("{PREFIX}{}-", host())
}

/// Whether a hidden name was made on this computer.
pub fn is_own(name: &str) -> bool {
    name.starts_with(&own_name())
}
