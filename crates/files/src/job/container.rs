//! Reading members of a job's zip container from a file that nobody has to trust: sizes are
//! limited while inflating, whatever the headers claim, and nothing is ever unpacked to disk, so
//! a member's name leads nowhere.

use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

use zip::ZipArchive;
use zip::result::ZipError;

use super::JobFileError;
use crate::disk::is_plain;

/// Most members a job may have.
const MOST_MEMBERS: usize = 4096;
/// Most times a member may grow when inflated; real pictures are stored as they are.
const MOST_INFLATION: u64 = 200;
/// Small members may inflate as they like up to this many bytes.
const SMALL: u64 = 1 << 20;

/// Why a member cannot be had.
#[derive(Debug)]
pub(super) enum MemberError {
    /// There is none of that name.
    Missing,
    /// It is damaged.
    Damaged(String),
    /// It is larger than it may be.
    TooLarge(u64),
    /// Its name is not one of ours.
    BadName,
}

impl std::fmt::Display for MemberError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Missing => f.write_str("it is missing"),
            Self::Damaged(how) => write!(f, "it cannot be read ({how})"),
            Self::TooLarge(limit) => write!(f, "it unpacks to more than {} MB", (limit >> 20).max(1)),
            Self::BadName => f.write_str("its name leads out of the job"),
        }
    }
}

/// An open container.
pub(super) struct Container {
    archive: ZipArchive<BufReader<File>>,
}

impl Container {
    pub fn open(path: &Path) -> Result<Self, JobFileError> {
        let read = |source| JobFileError::Read { path: path.to_owned(), source };
        let file = File::open(path).map_err(read)?;
        if file.metadata().map_err(read)?.is_dir() {
            return Err(JobFileError::NotAJob { path: path.to_owned() });
        }
        let mut reader = BufReader::new(file);
        let mut magic = [0; 4];
        if reader.read_exact(&mut magic).is_err() || magic != *b"PK\x03\x04" {
            return Err(JobFileError::NotAJob { path: path.to_owned() });
        }
        let archive = ZipArchive::new(reader).map_err(|error| match error {
            ZipError::Io(source) if source.kind() != std::io::ErrorKind::UnexpectedEof => read(source),
            other => JobFileError::Damaged {
                path: path.to_owned(),
                what: format!("its table of contents cannot be read ({other})"),
            },
        })?;
        if archive.len() > MOST_MEMBERS {
            let what = format!("it has {} members, more than {MOST_MEMBERS}", archive.len());
            return Err(JobFileError::Unsafe { path: path.to_owned(), what });
        }
        Ok(Self { archive })
    }

    /// A member's bytes, at most `limit`.
    pub fn read(&mut self, name: &str, limit: u64) -> Result<Vec<u8>, MemberError> {
        if !is_plain(name) {
            return Err(MemberError::BadName);
        }
        let member = self.archive.by_name(name).map_err(|error| match error {
            ZipError::FileNotFound => MemberError::Missing,
            other => MemberError::Damaged(other.to_string()),
        })?;
        let limit = limit.min(member.compressed_size().saturating_mul(MOST_INFLATION).max(SMALL));
        let mut bytes = Vec::new();
        let got = member.take(limit + 1).read_to_end(&mut bytes);
        if bytes.len() as u64 > limit {
            return Err(MemberError::TooLarge(limit));
        }
        got.map_err(|error| MemberError::Damaged(error.to_string()))?;
        Ok(bytes)
    }
}

/// A received file name without folders and odd characters, for use inside the container.
pub(super) fn plain_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let kept: String = last
        .chars()
        .map(|c| if c.is_control() || matches!(c, ':' | '*' | '?' | '"' | '<' | '>' | '|') { '_' } else { c })
        .collect();
    if is_plain(&kept) { kept } else { "art".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_lead_out_are_not_plain() {
        for bad in ["", "/etc/passwd", "../up", "a/../../b", "a//b", "C:\\x", "a\\..\\b", "./a"] {
            assert!(!is_plain(bad), "{bad}");
        }
        assert!(is_plain("art/heron (2).png"));
        assert_eq!(plain_name("../../up/heron.png"), "heron.png");
        assert_eq!(plain_name("C:\\in\\heron?.png"), "heron_.png");
        assert_eq!(plain_name(".."), "art");
    }
}
