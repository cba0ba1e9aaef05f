//! What a drawing may use, chosen by the picture that is to come out of it.

use std::time::Duration;

/// Limits on the process that draws one picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Memory that it may write to, its stack and its copy of the file included.
    pub memory_bytes: u64,
    /// Time of a processor's core.
    pub processor: Duration,
    /// Time by the clock: longer, as a machine may have other work; where the system counts no processor time,
    /// the same.
    pub clock: Duration,
}

impl Limits {
    /// Memory for the program, its fonts and a stack of 64 MB.
    const BASE_BYTES: u64 = 256 << 20;
    /// The picture has 4 bytes a pixel; each group, mask and filter that is open while it is drawn takes a picture
    /// of its own, and eight in all are more than client art was seen to open (own trials, no source).
    const BYTES_A_PIXEL: u64 = 32;
    /// Own choice: the page of a busy illustration takes a few seconds.
    const PROCESSOR: Duration = Duration::from_secs(45);
    const CLOCK: Duration = Duration::from_secs(if cfg!(unix) { 180 } else { 45 });

    /// For a picture of `longest_px` both ways out of a file of so many bytes.
    pub fn for_picture(longest_px: u32, file_bytes: u64) -> Self {
        let pixels = u64::from(longest_px).pow(2);
        let memory_bytes = Self::BASE_BYTES.saturating_add(pixels.saturating_mul(Self::BYTES_A_PIXEL));
        let memory_bytes = memory_bytes.saturating_add(file_bytes);
        Self { memory_bytes, processor: Self::PROCESSOR, clock: Self::CLOCK }
    }

    pub(super) fn too_much_memory(&self) -> String {
        format!("drawing it takes more than {} MB of memory", self.memory_bytes / 1_000_000)
    }

    pub(super) fn too_long(time: Duration) -> String {
        format!("drawing it takes more than {} seconds", time.as_secs())
    }
}
