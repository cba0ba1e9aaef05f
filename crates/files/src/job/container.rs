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
use crate::limits::{Budget, FREE_INFLATION_BYTES, MAX_INFLATION, MAX_JOB_MEMBERS, OverBudget, Tally};

/// Why a member cannot be had.
#[derive(Debug)]
pub(super) enum MemberError {
    /// There is none of that name.
    Missing,
    /// It is damaged.
    Damaged(String),
    /// It is larger than it may be.
    TooLarge(u64),
    /// With what was read before it is more than the memory that may be used.
    OverBudget(OverBudget),
    /// Its name is not one of ours.
    BadName,
}

impl std::fmt::Display for MemberError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Missing => f.write_str("it is missing"),
            Self::Damaged(how) => write!(f, "it cannot be read ({how})"),
            Self::TooLarge(limit) => write!(f, "it unpacks to more than {} MB", (limit >> 20).max(1)),
            Self::OverBudget(over) => write!(f, "with it the job {over}"),
            Self::BadName => f.write_str("its name leads out of the job"),
        }
    }
}

/// An open container, and the sum of what was taken out of it.
pub(super) struct Container {
    archive: ZipArchive<BufReader<File>>,
    /// Bytes of members and of pictures unpacked from them, against the memory that may be used.
    pub held: Tally,
}

impl Container {
    pub fn open(path: &Path, budget: Budget) -> Result<Self, JobFileError> {
        let read = |source| JobFileError::Read { path: path.to_owned(), source };
        let file = File::open(path).map_err(read)?;
        if file.metadata().map_err(read)?.is_dir() {
            return Err(JobFileError::NotAJob { path: path.to_owned() });
        }
        if file.metadata().map_err(read)?.len() == 0 {
            return Err(JobFileError::Empty { path: path.to_owned() });
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
        if archive.len() > MAX_JOB_MEMBERS {
            let what = format!("it has {} members, more than {MAX_JOB_MEMBERS}", archive.len());
            return Err(JobFileError::Unsafe { path: path.to_owned(), what });
        }
        Ok(Self { archive, held: Tally::new(budget) })
    }

    /// A member's bytes, at most `limit`.
    pub fn member(&mut self, name: &str, limit: u64) -> Result<Vec<u8>, MemberError> {
        if !is_plain(name) {
            return Err(MemberError::BadName);
        }
        let member = self.archive.by_name(name).map_err(|error| match error {
            ZipError::FileNotFound => MemberError::Missing,
            other => MemberError::Damaged(other.to_string()),
        })?;
        let limit = limit.min(member.compressed_size().saturating_mul(MAX_INFLATION).max(FREE_INFLATION_BYTES));
        let most = limit.min(self.held.left());
        let mut bytes = Vec::new();
        let got = member.take(most + 1).read_to_end(&mut bytes);
        if bytes.len() as u64 > limit {
            return Err(MemberError::TooLarge(limit));
        }
        self.held.take(bytes.len() as u64).map_err(MemberError::OverBudget)?;
        got.map_err(|error| MemberError::Damaged(error.to_string()))?;
        Ok(bytes)
    }
}

/// Where members of a job come from, and what may be held of them.
pub(super) trait Members {
    /// A member's bytes.
    fn read(&mut self, name: &str) -> Result<Vec<u8>, String>;
    /// What has been read and unpacked so far.
    fn held(&mut self) -> &mut Tally;
}

impl Members for Container {
    fn read(&mut self, name: &str) -> Result<Vec<u8>, String> {
        self.member(name, u64::MAX - 1).map_err(|error| error.to_string())
    }

    fn held(&mut self) -> &mut Tally {
        &mut self.held
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
