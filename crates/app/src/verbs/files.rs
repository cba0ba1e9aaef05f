//! The files that a verb reads and writes, looked at in one place before it begins: none of its
//! outputs is a folder, a device or a link into nowhere, and none is one of its inputs.

use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::bail;
use strikeoff_files::job::{Claim, JobFile, open_job, recovery_folder};
use strikeoff_files::{check_place, same_file};

/// How long a verb waits for another program that is changing the same job.
const PATIENCE: Duration = Duration::from_secs(5);

/// What a verb reads and writes.
#[derive(Default)]
pub struct Files {
    reads: Vec<PathBuf>,
    writes: Vec<PathBuf>,
    /// The job that it changes where it lies.
    changes: Option<PathBuf>,
    /// A file that may be anything but an input.
    makes: Option<PathBuf>,
}

impl Files {
    /// A verb that reads this file.
    pub fn read(path: &Path) -> Self {
        Self::default().and_read(Some(path))
    }

    /// It reads that file too, if there is one.
    pub fn and_read(mut self, path: Option<&Path>) -> Self {
        self.reads.extend(path.map(Path::to_owned));
        self
    }

    /// It writes that file.
    pub fn write(mut self, path: &Path) -> Self {
        self.writes.push(path.to_owned());
        self
    }

    /// It writes that file, whose folder it may have to make and which may be a device.
    pub fn make(mut self, path: &Path) -> Self {
        self.makes = Some(path.to_owned());
        self
    }

    /// It changes `job`: the file itself, or into `out`.
    pub fn change(self, job: &Path, out: Option<&Path>) -> Self {
        match out.filter(|out| !same_file(job, out)) {
            Some(out) => self.and_read(Some(job)).write(out),
            None => Self { changes: Some(out.unwrap_or(job).to_owned()), ..self },
        }
    }

    /// Inputs that a set of files must not replace.
    pub fn kept(&self, overwrite: bool) -> Vec<PathBuf> {
        if overwrite { Vec::new() } else { self.reads.clone() }
    }

    /// Refuses what cannot be written, and an input among the outputs unless that was requested.
    pub fn check(&self, overwrite: bool) -> anyhow::Result<()> {
        for path in self.writes.iter().chain(&self.changes) {
            check_place(path)?;
        }
        for out in self.writes.iter().chain(&self.changes).chain(&self.makes) {
            let Some(input) = self.reads.iter().find(|input| same_file(input, out)).filter(|_| !overwrite) else {
                continue;
            };
            let same = if input == out { String::new() } else { format!("the same file as {} and ", input.display()) };
            bail!(
                "{} is {same}what this verb reads, and would be replaced; give another name, or add --overwrite",
                out.display()
            );
        }
        Ok(())
    }
}

/// A job that is being changed, and where it goes.
pub struct Changing {
    /// The job.
    pub file: JobFile,
    out: PathBuf,
    claim: Claim,
}

impl Changing {
    /// Opens `job` for changing, itself or into `out`. Nobody else changes it until it is saved.
    pub fn open(job: &Path, out: Option<&Path>) -> anyhow::Result<Self> {
        let out = out.unwrap_or(job).to_owned();
        // Before it is read: what somebody saves from here on is seen.
        let claim = Claim::take(&out, recovery_folder().as_deref(), PATIENCE)?;
        Ok(Self { file: open_job(job)?, out, claim })
    }

    /// Where it goes.
    pub fn out(&self) -> &Path {
        &self.out
    }

    /// Saves it.
    pub fn save(&mut self) -> anyhow::Result<()> {
        self.file.job.give_angles();
        Ok(self.claim.save(&self.file)?)
    }
}

/// Claims a job file that a verb is about to create.
pub fn claim(path: &Path) -> anyhow::Result<Claim> {
    Ok(Claim::take(path, recovery_folder().as_deref(), PATIENCE)?)
}

/// Saves a new job, unless somebody has the file.
pub fn save_new(path: &Path, file: &JobFile) -> anyhow::Result<()> {
    Ok(claim(path)?.save(file)?)
}
