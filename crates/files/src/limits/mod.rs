//! What is read and made at most, in one place: nobody has to trust a client's file or a job from
//! elsewhere. `docs/limits.md` lists the same for people. Where a number of things can add up, their sum is
//! bounded: pixels of a job, bytes of its members, screens, edits.
//!
//! Beside the fixed limits there is the machine: [`Budget`], by default half of its memory. What something
//! needs is known from headers and settings, and is held against both before any of it is made.

mod budget;
mod evaluation;

pub use budget::{Budget, MEMORY_VARIABLE, NotAnAmount, OverBudget, Tally};
pub use evaluation::{check_evaluation, check_print};
use strikeoff_core::bounds::table;
pub use strikeoff_core::prep::{MAX_PRINT_PIXELS, MAX_PRINT_SIDE_PX};
pub use strikeoff_core::screens::MAX_JOB_SCREENS;

/// Most pixels of art: decoded, at 8 bytes each, it stays under 1 GB.
pub const MAX_ART_PIXELS: usize = 115_000_000;
/// Most pixels on a side of art; the PNG reference library has the same limit by default.
pub const MAX_ART_SIDE_PX: usize = 1_000_000;
/// Most bytes that decoding a picture may hold at once, its pixels included and its file not. With the program
/// itself and a small print of it that stays under 1.5 GB.
pub const MAX_ART_BYTES: u64 = 1_275_000_000;
/// Largest file that is taken into memory as art.
pub const MAX_ART_FILE_BYTES: u64 = 1 << 30;
/// Most bytes of a colour profile or another tag in a picture's file, unpacked.
pub const MAX_TAG_BYTES: usize = 64 << 20;
/// Most scans of a JPEG: each is a pass over the whole picture.
pub const MAX_JPEG_SCANS: usize = 100;
/// Most pages of a file that are counted.
pub const MAX_PAGES: usize = 10_000;

/// Most members of a job's container.
pub const MAX_JOB_MEMBERS: usize = 4096;
/// Most bytes of a job's manifest, and so of all its names, notes, edits and versions.
pub const MAX_MANIFEST_BYTES: u64 = 8 << 20;
/// Most edits of a job.
pub const MAX_JOB_EDITS: usize = table::EDITS.most;
/// Most versions of a job.
pub const MAX_JOB_VERSIONS: usize = table::VERSIONS.most;
/// Most bytes of the thumbnail of a job.
pub const MAX_THUMBNAIL_BYTES: u64 = 4 << 20;
/// Most times that a member of a job may grow when it is unpacked; real pictures are stored as they are.
pub const MAX_INFLATION: u64 = 200;
/// Members may always grow to this many bytes.
pub const FREE_INFLATION_BYTES: u64 = 1 << 20;

#[cfg(test)]
mod tests {
    use super::*;

    /// The list for people has the numbers of the code.
    #[test]
    fn the_documentation_states_these_limits() {
        let list = include_str!("../../../../docs/limits.md");
        let grouped = |n: usize| {
            let digits = n.to_string();
            let from = |i: usize| if i > 0 && (digits.len() - i).is_multiple_of(3) { "," } else { "" };
            if n < 10_000 { digits } else { digits.char_indices().map(|(i, c)| format!("{}{c}", from(i))).collect() }
        };
        let million = |n: usize| format!("{} million", n / 1_000_000);
        let megabytes = |n: u64| format!("{} MB", n >> 20);
        for (what, value) in [
            ("pixels of a picture", million(MAX_ART_PIXELS)),
            ("pixels on a side", grouped(MAX_ART_SIDE_PX)),
            ("bytes of a picture's file", format!("{} GB", MAX_ART_FILE_BYTES >> 30)),
            ("pages of a file that are counted", grouped(MAX_PAGES)),
            ("bytes of a colour profile or another tag, unpacked", megabytes(MAX_TAG_BYTES as u64)),
            ("scans of a JPEG", grouped(MAX_JPEG_SCANS)),
            ("pixels of a print", million(MAX_PRINT_PIXELS)),
            ("pixels on a side of a print", grouped(MAX_PRINT_SIDE_PX)),
            ("members of a job file", grouped(MAX_JOB_MEMBERS)),
            ("bytes of its settings: all names, notes, edits and versions", megabytes(MAX_MANIFEST_BYTES)),
            ("edits of a job, and of each version", grouped(MAX_JOB_EDITS)),
            ("versions", grouped(MAX_JOB_VERSIONS)),
            ("screens of a job at any step, and stored screens", grouped(MAX_JOB_SCREENS)),
            ("screens of a separation", grouped(strikeoff_core::separate::MAX_SCREENS)),
            ("bytes of the thumbnail", megabytes(MAX_THUMBNAIL_BYTES)),
        ] {
            assert!(list.contains(&format!("| {what} | {value} |")), "docs/limits.md lacks: {what}, {value}");
        }
        let decoding = format!("| {} MB, and", MAX_ART_BYTES / 1_000_000);
        let growth = format!("| {MAX_INFLATION} times, or up to {}", megabytes(FREE_INFLATION_BYTES));
        assert!(list.contains(&decoding) && list.contains(&growth));
        assert!(list.contains(&format!("`{MEMORY_VARIABLE}=")));
    }
}
