//! CCITT T.6 (Group 4) encoding of film rows, ink as black runs. Changes of colour are found a
//! word at a time. A band of rows is coded on its own thread; its first row is coded twice,
//! against white (a TIFF strip begins so) and against the row above (a PDF stream goes on so),
//! and the rest is shared, so that both files come from one pass.

use std::sync::OnceLock;

use fax::maps::{black, white};
use strikeoff_core::halftone::BitRow;

/// A string of bits, most significant first; the last byte is padded with zeros.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BitString {
    bytes: Vec<u8>,
    /// Bits not yet in `bytes`, the lowest `waiting` of `acc`.
    acc: u64,
    waiting: u32,
}

impl BitString {
    /// Adds the lowest `len` bits of `code`; at most 32.
    #[inline(always)]
    fn put(&mut self, code: u32, len: u32) {
        self.acc = self.acc << len | u64::from(code);
        self.waiting += len;
        if self.waiting >= 32 {
            self.waiting -= 32;
            self.bytes.extend_from_slice(&((self.acc >> self.waiting) as u32).to_be_bytes());
        }
    }

    /// Adds another string behind this one.
    pub fn append(&mut self, other: &Self) {
        let mut words = other.bytes.chunks_exact(4);
        for word in &mut words {
            self.put(u32::from_be_bytes([word[0], word[1], word[2], word[3]]), 32);
        }
        for &byte in words.remainder() {
            self.put(u32::from(byte), 8);
        }
        if other.waiting > 0 {
            self.put((other.acc & ((1 << other.waiting) - 1)) as u32, other.waiting);
        }
    }

    /// Takes the whole bytes out, leaving what does not fill one.
    pub fn drain_bytes(&mut self) -> Vec<u8> {
        while self.waiting >= 8 {
            self.waiting -= 8;
            self.bytes.push((self.acc >> self.waiting) as u8);
        }
        std::mem::take(&mut self.bytes)
    }

    /// Ends a T.6 block: EOFB, then zeros to a whole byte.
    pub fn finish_block(&mut self) -> Vec<u8> {
        self.put(1, 12);
        self.put(1, 12);
        let pad = (8 - self.waiting % 8) % 8;
        self.put(0, pad);
        self.drain_bytes()
    }
}

/// A coded band of rows.
#[derive(Debug, Clone, Default)]
pub struct Band {
    /// The first row against white.
    pub first_alone: BitString,
    /// The first row against the row above the band.
    pub first_joined: BitString,
    /// The other rows.
    pub rest: BitString,
}

/// Codes rows one after another.
#[derive(Debug)]
pub struct Encoder {
    width: u32,
    above: Vec<u32>,
    current: Vec<u32>,
}

/// Sentinels behind a row's changes: enough for every look-ahead.
const SENTINELS: usize = 4;

impl Encoder {
    /// Rows of `width` pixels, the imaginary row above all white.
    pub fn new(width: usize) -> Self {
        let width = width as u32;
        Self { width, above: vec![width; SENTINELS], current: Vec::new() }
    }

    /// Makes `row` the row above the next one.
    pub fn set_above(&mut self, row: &BitRow) {
        find_changes(row, self.width, &mut self.above);
    }

    /// Makes the row above white.
    pub fn set_above_white(&mut self) {
        self.above.clear();
        self.above.resize(SENTINELS, self.width);
    }

    /// Codes `row`; it becomes the row above.
    pub fn encode(&mut self, row: &BitRow, out: &mut BitString) {
        find_changes(row, self.width, &mut self.current);
        encode_changes(&self.above, &self.current, self.width, out);
        std::mem::swap(&mut self.above, &mut self.current);
    }
}

/// Positions where the colour differs from the pixel to the left (white before the first), then
/// sentinels at the width. Bits past the width must be 0.
fn find_changes(row: &BitRow, width: u32, changes: &mut Vec<u32>) {
    changes.clear();
    let mut before = 0u64;
    for (at, &word) in row.iter().enumerate() {
        let mut edges = word ^ (word << 1 | before);
        before = word >> 63;
        let base = (at * 64) as u32;
        while edges != 0 {
            changes.push(base + edges.trailing_zeros());
            edges &= edges - 1;
        }
    }
    // Ink up to the right edge shows as a change at the width when padding follows.
    while changes.last().is_some_and(|&last| last >= width) {
        changes.pop();
    }
    changes.resize(changes.len() + SENTINELS, width);
}

/// The two-dimensional coding procedure of T.6, clause 2.2.5, on lists of changes. Even entries
/// turn to black, odd ones to white.
fn encode_changes(above: &[u32], current: &[u32], width: u32, out: &mut BitString) {
    let runs = run_codes();
    let (mut a0, mut i, mut b) = (0u32, 0usize, 0usize);
    while a0 < width {
        let a1 = current[i.min(current.len() - 1)];
        let b1 = above[b];
        let b2 = above[b + 1];
        if b2 < a1 {
            out.put(0b0001, 4);
            a0 = b2;
            b += 2;
        } else {
            let distance = a1.wrapping_sub(b1).wrapping_add(3);
            if distance <= 6 {
                let (code, len) = VERTICAL[distance as usize];
                out.put(code, len);
                a0 = a1;
                i += 1;
                // The colour turned: the change before b1 may now be the one to look at.
                b = if b > 0 { b - 1 } else { b + 1 };
            } else {
                let a2 = current[(i + 1).min(current.len() - 1)];
                out.put(0b001, 3);
                let color = i & 1;
                put_run(out, &runs[color], a1 - a0);
                put_run(out, &runs[1 - color], a2 - a1);
                a0 = a2;
                i += 2;
            }
        }
        while above[b] <= a0 && above[b] < width {
            b += 2;
        }
    }
}

/// VL3, VL2, VL1, V0, VR1, VR2, VR3.
const VERTICAL: [(u32, u32); 7] =
    [(0b0000010, 7), (0b000010, 6), (0b010, 3), (0b1, 1), (0b011, 3), (0b000011, 6), (0b0000011, 7)];

/// Code and length of each run of 0..=2623 pixels, make-up and terminating code together.
type RunCodes = Vec<(u32, u32)>;

fn run_codes() -> &'static [RunCodes; 2] {
    static CODES: OnceLock<[RunCodes; 2]> = OnceLock::new();
    CODES.get_or_init(|| {
        [&white::ENTRIES, &black::ENTRIES].map(|entries| {
            let single = |run: usize| {
                let bits = entries[if run >= 64 { 63 + run / 64 } else { run }].1;
                (u32::from(bits.data), u32::from(bits.len))
            };
            (0..2560 + 64)
                .map(|run| {
                    let (end, end_len) = single(run % 64);
                    if run < 64 {
                        return (end, end_len);
                    }
                    let (start, start_len) = single(run / 64 * 64);
                    (start << end_len | end, start_len + end_len)
                })
                .collect()
        })
    })
}

fn put_run(out: &mut BitString, codes: &RunCodes, mut run: u32) {
    while run >= 2560 + 64 {
        // The make-up code of 2560 alone, common to both colours.
        out.put(0b0000_0001_1111, 12);
        run -= 2560;
    }
    let (code, len) = codes[run as usize];
    out.put(code, len);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn row_of(pixels: &[bool]) -> Vec<u64> {
        let mut row = vec![0u64; pixels.len().div_ceil(64)];
        for (x, _) in pixels.iter().enumerate().filter(|(_, ink)| **ink) {
            row[x / 64] |= 1 << (x % 64);
        }
        row
    }

    fn decode(bytes: &[u8], width: usize, height: usize) -> Vec<Vec<bool>> {
        let mut rows = Vec::new();
        fax::decoder::decode_g4(bytes.iter().copied(), width as u32, Some(height as u32), |changes| {
            rows.push(fax::decoder::pels(changes, width as u32).map(|c| c == fax::Color::Black).collect::<Vec<_>>());
        });
        rows
    }

    fn encode(rows: &[Vec<bool>], width: usize) -> Vec<u8> {
        let mut encoder = Encoder::new(width);
        let mut out = BitString::default();
        for row in rows {
            encoder.encode(&row_of(row), &mut out);
        }
        out.finish_block()
    }

    #[test]
    fn the_published_vector_is_met() {
        // libtiff 4.5: 20 x 8 pixels, ink in columns 0..4, ink as black runs.
        let rows = vec![(0..20).map(|x| x < 5).collect::<Vec<_>>(); 8];
        assert_eq!(encode(&rows, 20), [0x26, 0xa7, 0xff, 0xff, 0xf8, 0x00, 0x80, 0x08]);
        // The same with ink as white runs.
        let rows = vec![(0..20).map(|x| x >= 5).collect::<Vec<_>>(); 8];
        assert_eq!(encode(&rows, 20), [0x38, 0x18, 0xff, 0xfc, 0x00, 0x40, 0x04]);
    }

    #[test]
    fn very_long_runs_use_repeated_make_up_codes() {
        for width in [2559usize, 2560, 2623, 2624, 5200, 20_000] {
            let rows = vec![(0..width).map(|x| x == width / 2).collect::<Vec<_>>(), vec![true; width]];
            assert_eq!(decode(&encode(&rows, width), width, 2), rows, "{width}");
        }
    }

    proptest! {
        /// Rows drawn as runs, as films have them, against an independent decoder.
        #[test]
        fn an_independent_decoder_gives_the_bits_back(
            width in 1usize..400, runs in proptest::collection::vec(proptest::collection::vec(0usize..40, 1..20), 1..12),
        ) {
            let rows: Vec<Vec<bool>> = runs.iter().map(|runs| {
                let mut row: Vec<bool> = runs.iter().enumerate()
                    .flat_map(|(i, &n)| std::iter::repeat_n(i % 2 == 1, n)).take(width).collect();
                row.resize(width, false);
                row
            }).collect();
            prop_assert_eq!(decode(&encode(&rows, width), width, rows.len()), rows);
        }

        #[test]
        fn strings_join_bit_by_bit(a in proptest::collection::vec((0u32..4096, 1u32..13), 0..20), b in proptest::collection::vec((0u32..4096, 1u32..13), 0..20)) {
            let put = |list: &[(u32, u32)], out: &mut BitString| for &(code, len) in list { out.put(code & ((1 << len) - 1), len) };
            let (mut whole, mut left, mut right) = (BitString::default(), BitString::default(), BitString::default());
            put(&a, &mut whole);
            put(&b, &mut whole);
            put(&a, &mut left);
            put(&b, &mut right);
            left.append(&right);
            prop_assert_eq!(left.finish_block(), whole.finish_block());
        }
    }
}
