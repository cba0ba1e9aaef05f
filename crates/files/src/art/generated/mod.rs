//! Files made by code for the differential tests: pictures of all kinds and sizes, and writers of PNG and
//! TIFF that make every choice that the formats leave open. The writers are ours and share nothing with
//! the decoders, so what they were given is the truth that both ours and the library's answer are held to.

pub(crate) mod png;
mod tiff;

use miniz_oxide::deflate::core::{
    CompressionStrategy, CompressorOxide, TDEFLFlush, compress_to_output, create_comp_flags_from_zip_params,
};

pub(super) use png::Png;
pub(super) use tiff::{Layout, Tiff};

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
