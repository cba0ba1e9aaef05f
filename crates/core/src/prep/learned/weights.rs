//! The weights file: `assets/enlarger/card.md` lays it out. It is part of the program, and is checked all the
//! same when it is first used.

use std::collections::HashMap;

use serde::Deserialize;
use sha2::{Digest, Sha256};

/// The file.
pub(super) const FILE: &[u8] = include_bytes!("../../../../../assets/enlarger/enlarger.weights");

const MAGIC: &[u8; 8] = b"ENLARGER";
const VERSION: u32 = 1;
/// Letters, version, length of the header.
const FIXED: usize = 16;
const CHECKSUM: usize = 32;

/// Why weights cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WeightsError {
    /// Other letters, or too short to hold any.
    #[error("the repairing enlarger's weights are no weights file; install the program again")]
    Other,
    /// Another layout.
    #[error("the repairing enlarger's weights have layout {0}, and this program reads 1; install the program again")]
    Version(u32),
    /// Cut short or changed.
    #[error("the repairing enlarger's weights are damaged: their checksum does not match; install the program again")]
    Damaged,
    /// A net of another shape.
    #[error("the repairing enlarger's weights do not fit the program: {0}; install the program again")]
    Shape(String),
}

#[derive(Deserialize)]
struct Listed {
    name: String,
    shape: Vec<usize>,
    at: usize,
}

#[derive(Deserialize)]
struct Header {
    channels: usize,
    layers: usize,
    scales: Vec<usize>,
    terms: usize,
    numbers: usize,
    tensors: Vec<Listed>,
}

/// What the file holds.
#[derive(Debug)]
pub(super) struct Weights {
    /// Body layers.
    pub layers: usize,
    tensors: HashMap<String, (Vec<usize>, Vec<f32>)>,
}

impl Weights {
    /// Reads and checks a file.
    pub(super) fn read(file: &[u8]) -> Result<Self, WeightsError> {
        if file.len() < FIXED + CHECKSUM || file[..8] != MAGIC[..] {
            return Err(WeightsError::Other);
        }
        let number = |at: usize| u32::from_le_bytes([file[at], file[at + 1], file[at + 2], file[at + 3]]);
        if number(8) != VERSION {
            return Err(WeightsError::Version(number(8)));
        }
        let (held, checksum) = file.split_at(file.len() - CHECKSUM);
        if Sha256::digest(held)[..] != *checksum {
            return Err(WeightsError::Damaged);
        }
        let shape = |what: &str| WeightsError::Shape(what.to_owned());
        let body = FIXED + number(12) as usize;
        let header = held.get(FIXED..body).ok_or_else(|| shape("the header is longer than the file"))?;
        let header: Header = serde_json::from_slice(header).map_err(|e| WeightsError::Shape(e.to_string()))?;
        if (header.channels, header.terms, &header.scales[..]) != (super::net::CHANNELS, super::net::TERMS, &[2, 3, 4])
        {
            return Err(shape("it is a net of another kind"));
        }
        let numbers: Vec<f32> =
            held[body..].chunks_exact(2).map(|two| half(u16::from_le_bytes([two[0], two[1]]))).collect();
        if held.len() - body != 2 * header.numbers {
            return Err(shape("it holds another count of numbers than it says"));
        }
        let mut tensors = HashMap::new();
        for Listed { name, shape, at } in header.tensors {
            let values = numbers.get(at..at + shape.iter().product::<usize>());
            let values = values.ok_or_else(|| WeightsError::Shape(format!("{name} is not all there")))?.to_vec();
            tensors.insert(name, (shape, values));
        }
        Ok(Self { layers: header.layers, tensors })
    }

    /// The numbers of a tensor of this shape.
    pub(super) fn take(&mut self, name: &str, shape: &[usize]) -> Result<Vec<f32>, WeightsError> {
        match self.tensors.remove(name) {
            Some((found, values)) if found == shape => Ok(values),
            Some((found, _)) => Err(WeightsError::Shape(format!("{name} is {found:?}, not {shape:?}"))),
            None => Err(WeightsError::Shape(format!("{name} is missing"))),
        }
    }
}

/// A 16-bit float (IEEE 754 binary16) that is no infinity.
fn half(bits: u16) -> f32 {
    let (exponent, fraction) = (i32::from(bits >> 10 & 31), f32::from(bits & 1023));
    let size = match exponent {
        0 => fraction * 2f32.powi(-24),
        _ => (1024.0 + fraction) * 2f32.powi(exponent - 25),
    };
    if bits >> 15 == 1 { -size } else { size }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_of_the_program_is_whole() {
        let weights = Weights::read(FILE).unwrap();
        assert_eq!(weights.layers, 14);
        assert_eq!(weights.tensors.values().map(|(_, v)| v.len()).sum::<usize>(), 110_316);
    }

    #[test]
    fn halves_read_as_the_standard_says() {
        // IEEE 754 binary16: one, a third (nearest), the smallest and largest numbers.
        for (bits, value) in [(0x3c00, 1.0), (0x3555, 0.333_251_95), (0x0001, 5.960_464_5e-8), (0x7bff, 65504.0)] {
            assert_eq!((half(bits), half(bits | 0x8000)), (value, -value));
        }
    }

    #[test]
    fn a_broken_file_is_refused_in_one_sentence() {
        let changed = |change: &dyn Fn(&mut Vec<u8>)| {
            let mut file = FILE.to_vec();
            change(&mut file);
            Weights::read(&file).unwrap_err()
        };
        let signed = |file: &mut Vec<u8>| {
            let end = file.len() - CHECKSUM;
            let sum = Sha256::digest(&file[..end]);
            file[end..].copy_from_slice(&sum);
        };
        assert_eq!(changed(&|file| file.truncate(20)), WeightsError::Other);
        assert_eq!(changed(&|file| file[0] = b'e'), WeightsError::Other);
        assert_eq!(changed(&|file| file[8] = 2), WeightsError::Version(2));
        assert_eq!(changed(&|file| file.truncate(100_000)), WeightsError::Damaged);
        assert_eq!(changed(&|file| file[60_000] ^= 1), WeightsError::Damaged);
        let longer = changed(&|file| {
            file.extend_from_slice(&[0; 4]);
            signed(file);
        });
        assert!(matches!(longer, WeightsError::Shape(_)));
        for error in [WeightsError::Other, WeightsError::Version(2), WeightsError::Damaged, longer] {
            assert!(error.to_string().ends_with("install the program again"), "{error}");
        }
    }
}
