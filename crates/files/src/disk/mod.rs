//! How files get to the disk: whole or not at all, alone or as a set, through links, and with
//! nothing left behind for good by a program that was killed.

mod aside;
mod commit;
mod error;
mod journal;
mod lock;
mod look;
mod manifest;
mod names;
mod place;
mod set;
mod steps;
mod sweep;

pub use aside::{write_aside, write_bytes};
pub(crate) use commit::is_plain;
pub use error::WriteError;
pub(crate) use lock::FileLock;
pub use look::look;
pub use manifest::{ManifestFile, SetState, verify};
pub(crate) use names::{JOB_LOCK, folder_of, own_name};
pub use place::{check_place, same_file};
pub(crate) use place::{identity, resting_place};
pub use set::{FileSet, Growing};
pub(crate) use sweep::sweep;

#[cfg(test)]
mod killed;
