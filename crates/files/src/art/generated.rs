//! Files made by code for the differential tests: pictures of all kinds and sizes, and writers of PNG and
//! TIFF that make every choice that the formats leave open. The writers are ours and share nothing with
//! the decoders, so what they were given is the truth that both ours and the library's answer are held to.

use std::collections::HashMap;

use miniz_oxide::deflate::core::{
    CompressionStrategy, CompressorOxide, TDEFLFlush, compress_to_output, create_comp_flags_from_zip_params,
};

/// Steele, Lea and Flood's SplitMix64: small, and the same everywhere.
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ self.0 >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ z >> 31
    }

    /// 0 to `below` - 1.
    pub(super) fn under(&mut self, below: usize) -> usize {
        (self.next() % below as u64) as usize
    }

    pub(super) fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.under(list.len())]
    }

    pub(super) fn once_in(&mut self, times: usize) -> bool {
        self.under(times) == 0
    }
}

/// Mostly small, some long and thin, a few large; every side from 1 to 5000.
pub(super) fn size(dice: &mut Dice, at: usize) -> [usize; 2] {
    match at % 100 {
        0 => [1 + dice.under(5000), 1 + dice.under(6)],
        1 => [1 + dice.under(6), 1 + dice.under(5000)],
        2 => [5000 - dice.under(3), 1 + dice.under(3)],
        3 => [1 + dice.under(3), 5000 - dice.under(3)],
        4 => [200 + dice.under(400), 200 + dice.under(400)],
        5 if at % 500 == 5 => [1500 + dice.under(1500), 900 + dice.under(400)],
        _ => [1 + dice.under(48), 1 + dice.under(48)],
    }
}

/// Samples of `bits` each, row by row, one to a number: flat, noise, gradients, discs, stripes, or rows that repeat.
pub(super) fn samples(dice: &mut Dice, [width, height]: [usize; 2], channels: usize, bits: u32) -> Vec<u16> {
    let full = ((1_u32 << bits) - 1) as u16;
    let flat: Vec<u16> = match dice.under(3) {
        0 => vec![full; channels],
        1 => vec![0; channels],
        _ => (0..channels).map(|_| dice.next() as u16 & full).collect(),
    };
    let kind = dice.under(7);
    let (a, b) = (1 + dice.under(9), 1 + dice.under(300));
    let mut out = Vec::with_capacity(width * height * channels);
    for y in 0..height {
        for x in 0..width {
            for (c, flat) in flat.iter().enumerate() {
                let value = match kind {
                    0 | 1 => *flat,
                    2 => dice.next() as u16,
                    3 => ((x * a + y * (c + 1)) * usize::from(full) / (width + height)) as u16,
                    4 if (x % b).abs_diff(b / 2).pow(2) + (y % b).abs_diff(b / 2).pow(2) < b * b / 9 => !*flat,
                    4 => *flat,
                    5 => (x / a * (c + 3)) as u16,
                    _ => ((x * x / a + y * 31 + c * 7) % 251) as u16,
                };
                out.push(value & full);
            }
        }
    }
    out
}

/// Samples packed into rows of bytes, each row beginning on a byte, 16 bits in the given order.
pub(super) fn packed(samples: &[u16], row: usize, bits: u32, little: bool) -> Vec<u8> {
    let mut out = Vec::new();
    for row in samples.chunks(row) {
        match bits {
            16 if little => out.extend(row.iter().flat_map(|v| v.to_le_bytes())),
            16 => out.extend(row.iter().flat_map(|v| v.to_be_bytes())),
            8 => out.extend(row.iter().map(|&v| v as u8)),
            _ => {
                for samples in row.chunks(8 / bits as usize) {
                    let byte = samples
                        .iter()
                        .enumerate()
                        .fold(0, |byte, (i, &v)| byte | (v as u8) << (8 - bits as usize * (i + 1)));
                    out.push(byte);
                }
            }
        }
    }
    out
}

/// Zlib's format with any level and strategy.
pub(super) fn zlib(bytes: &[u8], level: i32, strategy: CompressionStrategy) -> Vec<u8> {
    let mut out = Vec::new();
    let mut compressor = CompressorOxide::new(create_comp_flags_from_zip_params(level, 15, strategy as i32));
    compress_to_output(&mut compressor, bytes, TDEFLFlush::Finish, |part| {
        out.extend_from_slice(part);
        true
    });
    out
}

pub(super) fn any_zlib(dice: &mut Dice, bytes: &[u8]) -> Vec<u8> {
    use CompressionStrategy::{Default, Filtered, Fixed, HuffmanOnly, RLE};
    let strategy = dice.of(&[Default, Default, Filtered, HuffmanOnly, RLE, Fixed]);
    zlib(bytes, dice.under(11) as i32, strategy)
}

/// A PNG to be written: samples of `channels` (by colour type) and `bits` each.
pub(super) struct Png<'a> {
    pub size: [usize; 2],
    pub color_type: u8,
    pub bits: u32,
    pub samples: &'a [u16],
    pub interlaced: bool,
    /// PLTE and tRNS as they are to be.
    pub palette: Option<Vec<u8>>,
    pub clear: Option<Vec<u8>>,
}

impl Png<'_> {
    pub(super) fn channels(color_type: u8) -> usize {
        match color_type {
            0 | 3 => 1,
            2 => 3,
            4 => 2,
            _ => 4,
        }
    }

    /// With filters, compression and lengths of IDAT by the dice (PNG, third edition, clauses 5 to 11).
    pub(super) fn write(&self, dice: &mut Dice) -> Vec<u8> {
        let channels = Self::channels(self.color_type);
        let mut image = Vec::new();
        let filter = dice.under(7);
        for [left, top, right, down] in self.passes() {
            let columns: Vec<usize> = (left..self.size[0]).step_by(right).collect();
            if columns.is_empty() {
                continue;
            }
            let mut before = Vec::new();
            for y in (top..self.size[1]).step_by(down) {
                let at = |x: usize| (y * self.size[0] + x) * channels;
                let row: Vec<u16> = columns.iter().flat_map(|&x| &self.samples[at(x)..][..channels]).copied().collect();
                let row = packed(&row, row.len(), self.bits, false);
                let step = (channels * self.bits as usize).div_ceil(8);
                let filter = if filter > 4 { dice.under(5) as u8 } else { filter as u8 };
                image.push(filter);
                image.extend(filtered(filter, step, &before, &row));
                before = row;
            }
        }
        let image = any_zlib(dice, &image);
        let most = dice.of(&[1, 7, 100, 4096, 8192, 65_536, usize::MAX / 2]).max(image.len() / 2000);
        let mut parts = Vec::new();
        let mut rest = &image[..];
        while !rest.is_empty() {
            let length = if dice.once_in(20) { 0 } else { (1 + dice.under(most)).min(rest.len()) };
            parts.push(&rest[..length]);
            rest = &rest[length..];
        }
        self.with_image_data(&parts)
    }

    /// With these chunks IDAT.
    pub(super) fn with_image_data(&self, parts: &[&[u8]]) -> Vec<u8> {
        let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
        let [width, height] = self.size.map(|side| (side as u32).to_be_bytes());
        let kind = [self.bits as u8, self.color_type, 0, 0, u8::from(self.interlaced)];
        chunk(&mut file, b"IHDR", &[&width[..], &height, &kind].concat());
        self.palette.iter().for_each(|palette| chunk(&mut file, b"PLTE", palette));
        self.clear.iter().for_each(|clear| chunk(&mut file, b"tRNS", clear));
        parts.iter().for_each(|part| chunk(&mut file, b"IDAT", part));
        chunk(&mut file, b"IEND", &[]);
        file
    }

    /// First column and row and steps of each pass (clause 8).
    fn passes(&self) -> Vec<[usize; 4]> {
        match self.interlaced {
            false => vec![[0, 0, 1, 1]],
            true => {
                vec![[0, 0, 8, 8], [4, 0, 8, 8], [0, 4, 4, 8], [2, 0, 4, 4], [0, 2, 2, 4], [1, 0, 2, 2], [0, 1, 1, 2]]
            }
        }
    }
}

pub(crate) fn chunk(file: &mut Vec<u8>, name: &[u8; 4], body: &[u8]) {
    file.extend((body.len() as u32).to_be_bytes());
    let from = file.len();
    file.extend(name);
    file.extend(body);
    let mut crc = flate2::Crc::new();
    crc.update(&file[from..]);
    file.extend(crc.sum().to_be_bytes());
}

/// Clause 9, by its definitions; `before` is empty above the first row.
fn filtered(filter: u8, step: usize, before: &[u8], row: &[u8]) -> Vec<u8> {
    let at = |row: &[u8], i: Option<usize>| i.and_then(|i| row.get(i).copied()).map_or(0, i32::from);
    (0..row.len())
        .map(|i| {
            let (a, b) = (at(row, i.checked_sub(step)), at(before, Some(i)));
            let c = at(before, i.checked_sub(step));
            let guess = match filter {
                0 => 0,
                1 => a,
                2 => b,
                3 => (a + b) / 2,
                _ => {
                    let p = a + b - c;
                    let (pa, pb, pc) = ((p - a).abs(), (p - b).abs(), (p - c).abs());
                    if pa <= pb && pa <= pc {
                        a
                    } else if pb <= pc {
                        b
                    } else {
                        c
                    }
                }
            };
            (i32::from(row[i]) - guess) as u8
        })
        .collect()
}

/// How a TIFF is laid out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    pub little: bool,
    /// 1 none, 5 LZW, 8 Deflate, 32773 PackBits.
    pub compression: u16,
    /// Horizontal differences.
    pub differences: bool,
    pub planar: bool,
    /// Rows of a strip, or width and height of a tile.
    pub strip: usize,
    pub tile: Option<[usize; 2]>,
}

/// A TIFF to be written: whole numbers of `bits` each.
pub(super) struct Tiff<'a> {
    pub size: [usize; 2],
    pub channels: usize,
    pub bits: u32,
    pub photometric: u16,
    /// Whether the last channel is coverage that is not multiplied in.
    pub alpha: bool,
    pub samples: &'a [u16],
    pub layout: Layout,
}

impl Tiff<'_> {
    /// TIFF, revision 6: header, strips or tiles, and one directory at the end.
    pub(super) fn write(&self, dice: &mut Dice) -> Vec<u8> {
        let Layout { little, tile, planar, .. } = self.layout;
        let chunk_size = tile.unwrap_or([self.size[0], self.layout.strip]);
        let mut file = if little { b"II*\0\0\0\0\0".to_vec() } else { b"MM\0*\0\0\0\0".to_vec() };
        let (mut places, mut lengths) = (Vec::new(), Vec::new());
        for plane in 0..if planar { self.channels } else { 1 } {
            for top in (0..self.size[1]).step_by(chunk_size[1]) {
                for left in (0..self.size[0]).step_by(chunk_size[0]) {
                    let bytes = self.compressed(dice, plane, left, top, chunk_size);
                    places.push(file.len() as u32);
                    lengths.push(bytes.len() as u32);
                    file.extend(bytes);
                    // Directories and their values begin on words.
                    file.resize(file.len().next_multiple_of(2), 0);
                }
            }
        }
        let directory = self.directory(places, lengths, chunk_size);
        let number = |v: u32| if little { v.to_le_bytes() } else { v.to_be_bytes() };
        let short = |v: u16| if little { v.to_le_bytes() } else { v.to_be_bytes() };
        let mut entries = Vec::new();
        for (tag, values) in &directory {
            // SHORT where all values are small, LONG otherwise.
            let small = values.iter().all(|&v| v < 65_536);
            let mut bytes: Vec<u8> = match small {
                true => values.iter().flat_map(|&v| short(v as u16)).collect(),
                false => values.iter().flat_map(|&v| number(v)).collect(),
            };
            entries.extend([short(*tag), short(if small { 3 } else { 4 })].concat());
            entries.extend(number(values.len() as u32));
            if bytes.len() > 4 {
                let place = file.len() as u32;
                file.append(&mut bytes);
                file.resize(file.len().next_multiple_of(2), 0);
                bytes = number(place).to_vec();
            }
            bytes.resize(4, 0);
            entries.extend(bytes);
        }
        let place = number(file.len() as u32);
        file[4..8].copy_from_slice(&place);
        file.extend(short(directory.len() as u16));
        file.extend(entries);
        file.extend([0; 4]);
        file
    }

    fn directory(&self, places: Vec<u32>, lengths: Vec<u32>, chunk_size: [usize; 2]) -> Vec<(u16, Vec<u32>)> {
        let Layout { tile, planar, compression, differences, .. } = self.layout;
        let mut directory = vec![
            (256, vec![self.size[0] as u32]),
            (257, vec![self.size[1] as u32]),
            (258, vec![self.bits; self.channels]),
            (259, vec![compression.into()]),
            (262, vec![self.photometric.into()]),
            (277, vec![self.channels as u32]),
            (284, vec![if planar { 2 } else { 1 }]),
            (317, vec![if differences { 2 } else { 1 }]),
        ];
        if self.alpha {
            directory.push((338, vec![2]));
        }
        match tile {
            Some(_) => {
                let [width, height] = chunk_size.map(|side| vec![side as u32]);
                directory.extend([(322, width), (323, height), (324, places), (325, lengths)]);
            }
            None => directory.extend([(273, places), (278, vec![self.layout.strip as u32]), (279, lengths)]),
        }
        directory.sort();
        directory
    }

    /// One strip or tile; beyond the picture's edge a tile is filled with anything, a strip ends.
    fn compressed(&self, dice: &mut Dice, plane: usize, left: usize, top: usize, size: [usize; 2]) -> Vec<u8> {
        let Layout { little, compression, differences, planar, tile, .. } = self.layout;
        let step = if planar { 1 } else { self.channels };
        let rows = if tile.is_some() { size[1] } else { size[1].min(self.size[1] - top) };
        let mut samples = Vec::with_capacity(size[0] * rows * step);
        for y in top..top + rows {
            for x in left..left + size[0] {
                let inside = x < self.size[0] && y < self.size[1];
                let pixel = inside.then(|| &self.samples[(y * self.size[0] + x) * self.channels..][..self.channels]);
                match pixel {
                    Some(pixel) if planar => samples.push(pixel[plane]),
                    Some(pixel) => samples.extend(pixel),
                    None => samples.extend(vec![dice.under(2) as u16; step]),
                }
            }
        }
        let row = size[0] * step;
        if differences {
            let mask = ((1_u32 << self.bits) - 1) as u16;
            for row in samples.chunks_mut(row) {
                (step..row.len()).rev().for_each(|i| row[i] = row[i].wrapping_sub(row[i - step]) & mask);
            }
        }
        let bytes = packed(&samples, row, self.bits, little);
        match compression {
            5 => lzw(&bytes),
            8 => any_zlib(dice, &bytes),
            32_773 => bytes.chunks(packed(&samples[..row], row, self.bits, little).len()).flat_map(packbits).collect(),
            _ => bytes,
        }
    }
}

/// Section 13: codes of 9 to 12 bits, highest bit first, one bit more after entries 511, 1023 and 2047.
fn lzw(bytes: &[u8]) -> Vec<u8> {
    let (mut out, mut held, mut bits) = (Vec::new(), 0_u32, 0);
    let mut put = |code: u16, width: u32| {
        held = held << width | u32::from(code);
        bits += width;
        while bits >= 8 {
            bits -= 8;
            out.push((held >> bits) as u8);
        }
        held &= (1 << bits) - 1;
    };
    let mut table: HashMap<(u16, u8), u16> = HashMap::new();
    let (mut next, mut width) = (258_u16, 9);
    put(256, width);
    let mut prefix: Option<u16> = None;
    for &byte in bytes {
        let Some(code) = prefix else {
            prefix = Some(byte.into());
            continue;
        };
        if let Some(&longer) = table.get(&(code, byte)) {
            prefix = Some(longer);
            continue;
        }
        put(code, width);
        table.insert((code, byte), next);
        next += 1;
        prefix = Some(byte.into());
        match next {
            512 | 1024 | 2048 => width += 1,
            4094 => {
                put(256, width);
                table.clear();
                (next, width) = (258, 9);
            }
            _ => {}
        }
    }
    if let Some(code) = prefix {
        put(code, width);
        // It counts as an entry too.
        match next + 1 {
            512 | 1024 | 2048 => width += 1,
            4094 => {
                put(256, width);
                width = 9;
            }
            _ => {}
        }
    }
    put(257, width);
    put(0, 7);
    out
}

/// Section 9, one row: runs of equal bytes and of different ones.
fn packbits(row: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut at = 0;
    while at < row.len() {
        let run = row[at..].iter().take(128).take_while(|&&v| v == row[at]).count();
        if run > 1 {
            out.extend([(1 - run as i32) as i8 as u8, row[at]]);
            at += run;
        } else {
            let rest = &row[at..];
            let length =
                (1..rest.len().min(128)).find(|&i| rest.get(i + 1) == Some(&rest[i])).unwrap_or(rest.len().min(128));
            out.push(length as u8 - 1);
            out.extend(&rest[..length]);
            at += length;
        }
    }
    out
}
