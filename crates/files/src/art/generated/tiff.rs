//! Writes TIFF with every choice that the format leaves open.

use std::collections::HashMap;

use super::{Dice, any_zlib, packed};

/// How a TIFF is laid out.
#[derive(Debug, Clone, Copy)]
pub(in crate::art) struct Layout {
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
pub(in crate::art) struct Tiff<'a> {
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
    pub(in crate::art) fn write(&self, dice: &mut Dice) -> Vec<u8> {
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
