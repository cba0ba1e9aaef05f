//! The program's allocator: the system's own, but pictures, planes and other blocks of 32 MB and more
//! come in large pages on Linux. A system gives each page when it is first touched; a picture of 21
//! megapixels is 42 000 pages of 4 KB or 82 of 2 MB, and taking the small ones costs more than decoding
//! or resampling it. Set by the program and by benches, never by a library:
//!
//! ```
//! #[global_allocator]
//! static MEMORY: strikeoff_memory::LargePages = strikeoff_memory::LargePages;
//! ```
#![expect(unsafe_code, reason = "an allocator; the system's calls do the work, see each block")]

use std::alloc::{GlobalAlloc, Layout, System};

/// The system's allocator with large pages for large blocks.
#[derive(Debug, Default, Clone, Copy)]
pub struct LargePages;

/// Blocks from this size on are mapped by themselves. The usual allocators do the same from here on at
/// the latest; they keep smaller ones to use again, which is better than new pages of any size.
pub const LARGE: usize = 32 << 20;

// SAFETY: blocks under LARGE are the system allocator's in every call; others are mappings of their own,
// found again by the same size, and neither kind unwinds.
unsafe impl GlobalAlloc for LargePages {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        match mapped::is_for(layout) {
            true => mapped::map(layout.size()),
            // SAFETY: the caller's promise about `layout` is passed on.
            false => unsafe { System.alloc(layout) },
        }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        match mapped::is_for(layout) {
            // A new mapping is zero.
            true => mapped::map(layout.size()),
            // SAFETY: as above.
            false => unsafe { System.alloc_zeroed(layout) },
        }
    }

    unsafe fn dealloc(&self, block: *mut u8, layout: Layout) {
        match mapped::is_for(layout) {
            // SAFETY: a block of that layout was mapped here.
            true => unsafe { mapped::unmap(block, layout.size()) },
            // SAFETY: a block of that layout is the system allocator's.
            false => unsafe { System.dealloc(block, layout) },
        }
    }

    unsafe fn realloc(&self, block: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        // SAFETY: the caller promises that `size` is not zero and fits an isize when rounded up.
        let new = unsafe { Layout::from_size_align_unchecked(size, layout.align()) };
        match [mapped::is_for(layout), mapped::is_for(new)] {
            // SAFETY: the system allocator's before and after.
            [false, false] => unsafe { System.realloc(block, layout, size) },
            // SAFETY: mapped before and after.
            [true, true] => unsafe { mapped::resize(block, layout.size(), size) },
            // SAFETY: a block of `new` is another than `block`, and both have the bytes that are copied.
            _ => unsafe {
                let to = self.alloc(new);
                if !to.is_null() {
                    to.copy_from_nonoverlapping(block, layout.size().min(size));
                    self.dealloc(block, layout);
                }
                to
            },
        }
    }
}

#[cfg(target_os = "linux")]
mod mapped {
    use std::alloc::Layout;
    use std::ffi::c_void;
    use std::ptr::null_mut;

    use rustix::mm::{Advice, MapFlags, MremapFlags, ProtFlags, madvise, mmap_anonymous, mremap, mremap_fixed, munmap};

    /// Size of a large page; where the machine has another, blocks are merely rounded up to this.
    const PAGE: usize = 2 << 20;

    pub fn is_for(layout: Layout) -> bool {
        layout.size() >= super::LARGE && layout.align() <= PAGE
    }

    fn whole(size: usize) -> usize {
        size.next_multiple_of(PAGE)
    }

    /// A zeroed block that begins and ends on large pages; null if the system has none.
    pub fn map(size: usize) -> *mut u8 {
        let size = whole(size);
        let room = size + PAGE;
        // SAFETY: a new anonymous mapping anywhere.
        let Ok(begin) =
            (unsafe { mmap_anonymous(null_mut(), room, ProtFlags::READ | ProtFlags::WRITE, MapFlags::PRIVATE) })
        else {
            return null_mut();
        };
        let before = begin.cast::<u8>().align_offset(PAGE);
        // SAFETY: what is given back lies in the new mapping and outside the block; advice changes no bytes. Either
        // may fail, which costs address space or speed alone.
        unsafe {
            let block = begin.cast::<u8>().add(before);
            if before > 0 {
                let _ = munmap(begin, before);
            }
            let _ = munmap(block.add(size).cast(), PAGE - before);
            let _ = madvise(block.cast::<c_void>(), size, Advice::LinuxHugepage);
            block
        }
    }

    /// # Safety
    /// `block` comes from [`map`] or [`resize`] with this size and is not used again.
    pub unsafe fn unmap(block: *mut u8, size: usize) {
        // SAFETY: by the caller. A failure would leave the mapping as it is, which is safe.
        let _ = unsafe { munmap(block.cast(), whole(size)) };
    }

    /// A block of another size with the same bytes, as far as both go; null leaves the old one as it is.
    ///
    /// # Safety
    /// `block` comes from [`map`] or this with `old`, and is not used again unless null is given.
    pub unsafe fn resize(block: *mut u8, old: usize, new: usize) -> *mut u8 {
        let (old, new) = (whole(old), whole(new));
        if old == new {
            return block;
        }
        // SAFETY: the whole mapping is named, and only its end moves.
        if unsafe { mremap(block.cast(), old, new, MremapFlags::empty()) }.is_ok() {
            return block;
        }
        let to = if new > old { map(new) } else { null_mut() };
        if to.is_null() {
            return to;
        }
        // SAFETY: the pages of the old mapping replace those at the beginning of the new one, which is longer.
        match unsafe { mremap_fixed(block.cast(), old, old, MremapFlags::MAYMOVE, to.cast()) } {
            Ok(_) => to,
            Err(_) => {
                // SAFETY: made above, and nobody has it.
                unsafe { unmap(to, new) };
                null_mut()
            }
        }
    }
}

/// Elsewhere all blocks are the system allocator's.
#[cfg(not(target_os = "linux"))]
mod mapped {
    use std::alloc::Layout;

    pub fn is_for(_: Layout) -> bool {
        false
    }

    pub fn map(_: usize) -> *mut u8 {
        std::ptr::null_mut()
    }

    pub unsafe fn unmap(_: *mut u8, _: usize) {}

    pub unsafe fn resize(_: *mut u8, _: usize, _: usize) -> *mut u8 {
        std::ptr::null_mut()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[global_allocator]
    static MEMORY: LargePages = LargePages;

    const PIECE: usize = 1 << 20;

    fn marked(bytes: &[u8]) -> bool {
        bytes.iter().step_by(4093).enumerate().all(|(i, &b)| b == (i % 251) as u8)
    }

    fn mark(bytes: &mut [u8]) {
        bytes.iter_mut().step_by(4093).enumerate().for_each(|(i, b)| *b = (i % 251) as u8);
    }

    #[test]
    fn blocks_grow_and_shrink_over_the_limit_and_keep_their_bytes() {
        let mut bytes: Vec<u8> = vec![0; LARGE - PIECE];
        mark(&mut bytes);
        for size in [LARGE, LARGE + 1, 2 * LARGE + 5, 9 * LARGE, 3 * LARGE + PIECE / 3, LARGE, LARGE - 3 * PIECE] {
            let kept = bytes.len().min(size);
            if size > bytes.len() {
                bytes.reserve_exact(size - bytes.len());
                assert!(marked(&bytes), "to {size}");
                bytes.resize(size, 0);
                assert!(bytes[kept..].iter().all(|&b| b == 0));
            } else {
                bytes.truncate(size);
                bytes.shrink_to_fit();
            }
            assert!(marked(&bytes[..kept]), "to {size}");
            mark(&mut bytes);
        }
    }

    #[test]
    fn zeroed_blocks_are_zero_after_others_were_freed() {
        for _ in 0..4 {
            let mut bytes: Vec<u8> = vec![0; LARGE + PIECE];
            assert!(bytes.iter().all(|&b| b == 0));
            bytes.fill(7);
        }
        let layout = Layout::from_size_align(LARGE, 1 << 22).unwrap();
        // SAFETY: the layout has a size, and the block is freed with it. More aligned than a large page.
        unsafe {
            let block = std::alloc::alloc(layout);
            assert!(!block.is_null() && block.addr().is_multiple_of(1 << 22));
            std::alloc::dealloc(block, layout);
        }
    }

    #[test]
    fn many_threads_take_and_give_back() {
        std::thread::scope(|scope| {
            for seed in 0..4usize {
                scope.spawn(move || {
                    for turn in 0..6 {
                        let mut bytes: Vec<u8> = vec![0; LARGE + (seed * 7 + turn) * 100_003];
                        mark(&mut bytes);
                        let copy = bytes.clone();
                        drop(bytes);
                        assert!(marked(&copy));
                    }
                });
            }
        });
    }

    /// The pages are large where the system gives such on demand (the kernel's
    /// Documentation/admin-guide/mm/transhuge.rst: `enabled`, and AnonHugePages of a mapping).
    #[cfg(target_os = "linux")]
    #[test]
    fn the_system_gives_large_pages() {
        let on = std::fs::read_to_string("/sys/kernel/mm/transparent_hugepage/enabled").unwrap_or_default();
        if !(on.contains("[madvise]") || on.contains("[always]")) {
            return;
        }
        // Memory in pieces may leave few large pages to one block; none to any of eight is a fault of this file.
        let blocks: Vec<Vec<u8>> = (0..8).map(|_| vec![1; 2 * LARGE]).collect();
        let large: usize = blocks.iter().map(|bytes| large_kb(bytes.as_ptr().addr())).sum();
        assert!(large > 0, "none of {} MB in large pages", 16 * (LARGE >> 20));
    }

    /// Kilobytes in large pages of the mapping that holds an address.
    #[cfg(target_os = "linux")]
    fn large_kb(at: usize) -> usize {
        let maps = std::fs::read_to_string("/proc/self/smaps").unwrap();
        let mut inside = false;
        for line in maps.lines() {
            let range = line.split(' ').next().and_then(|r| r.split_once('-'));
            if let Some((from, to)) = range
                && let (Ok(from), Ok(to)) = (usize::from_str_radix(from, 16), usize::from_str_radix(to, 16))
            {
                inside = (from..to).contains(&at);
            } else if let Some(kb) = line.strip_prefix("AnonHugePages:").filter(|_| inside) {
                return kb.trim().trim_end_matches(" kB").parse().unwrap();
            }
        }
        panic!("no mapping holds the block");
    }
}
