//! Writes PNG with every choice that the format leaves open.

use super::{Dice, any_zlib, packed};

/// A PNG to be written: samples of `channels` (by colour type) and `bits` each.
pub(in crate::art) struct Png<'a> {
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
    pub(in crate::art) fn channels(color_type: u8) -> usize {
        match color_type {
            0 | 3 => 1,
            2 => 3,
            4 => 2,
            _ => 4,
        }
    }

    /// With filters, compression and lengths of IDAT by the dice (PNG, third edition, clauses 5 to 11).
    pub(in crate::art) fn write(&self, dice: &mut Dice) -> Vec<u8> {
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
    pub(in crate::art) fn with_image_data(&self, parts: &[&[u8]]) -> Vec<u8> {
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
