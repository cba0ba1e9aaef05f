//! Sizes and how many shirts of each, as a client orders them: `S 20, M 60; Navy: M 12`.

use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::names::{same, short};

/// Shirts of one size of one garment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeCount {
    /// The garment as the client calls it; absent: the job's.
    #[schemars(transform = table::GARMENT_NAME.schema())]
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub garment: String,
    /// The size as the label has it: "M", "youth L", "38".
    #[schemars(transform = table::SIZE_NAME.schema())]
    pub size: String,
    /// Shirts of it.
    #[schemars(transform = table::SIZE_COUNT.schema())]
    pub shirts: u32,
}

/// Sizes that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{what}; write size and number, as in \"S 20, M 60\", and other garments after a semicolon: \"S 20; Navy: M 12\""
)]
pub struct SizesError {
    what: String,
}

fn wrong(what: impl Into<String>) -> SizesError {
    SizesError { what: what.into() }
}

/// Reads sizes: commas between sizes, semicolons between garments. Nothing is no sizes.
pub fn read_sizes(text: &str) -> Result<Vec<SizeCount>, SizesError> {
    let mut list: Vec<SizeCount> = Vec::new();
    for part in text.split(';').map(str::trim).filter(|part| !part.is_empty()) {
        let (garment, sizes) = part.rsplit_once(':').map_or(("", part), |(garment, sizes)| (garment.trim(), sizes));
        if let Some(fault) = table::GARMENT_NAME.fault(garment) {
            return Err(wrong(fault));
        }
        for one in sizes.split(',').map(str::trim) {
            let one = read_one(garment, one)?;
            if list.iter().any(|there| there.size == one.size && same(&there.garment, &one.garment)) {
                return Err(wrong(format!("size {} stands there twice", short(&one.size))));
            }
            list.push(one);
        }
    }
    if list.len() > table::SIZES.most {
        return Err(wrong(format!("{} sizes are more than {}", list.len(), table::SIZES.most)));
    }
    let shirts: u64 = list.iter().map(|one| u64::from(one.shirts)).sum();
    table::QUANTITY.check(shirts as f64).map_err(|error| wrong(error.what().to_owned()))?;
    Ok(list)
}

fn read_one(garment: &str, text: &str) -> Result<SizeCount, SizesError> {
    let (size, count) = text.rsplit_once(char::is_whitespace).unwrap_or((text, ""));
    let size = size.trim();
    let count = count.strip_prefix(['x', 'X']).unwrap_or(count);
    match count.parse::<u32>() {
        _ if text.is_empty() => Err(wrong("a size is missing")),
        Ok(0) => Err(wrong(format!("size {} has no shirts", short(size)))),
        Ok(shirts) if !size.is_empty() => {
            if let Some(fault) = table::SIZE_NAME.fault(size) {
                return Err(wrong(fault));
            }
            Ok(SizeCount { garment: garment.to_owned(), size: size.to_owned(), shirts })
        }
        _ => Err(wrong(format!("\"{}\" is not a size with a number of shirts", short(text)))),
    }
}

/// Sizes as [`read_sizes`] takes them.
pub fn write_sizes(list: &[SizeCount]) -> String {
    let mut out = String::new();
    let mut garment = "";
    for (at, one) in list.iter().enumerate() {
        let other = !same(garment, &one.garment) || (garment.is_empty() != one.garment.is_empty());
        match at {
            0 => {}
            _ if other => out += "; ",
            _ => out += ", ",
        }
        if other && !one.garment.is_empty() {
            let _ = write!(out, "{}: ", one.garment);
        }
        garment = &one.garment;
        let _ = write!(out, "{} {}", one.size, one.shirts);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_read_as_they_are_written() {
        let text = "S 20, M 60, youth L 4; Navy: M 12, XL 3";
        let list = read_sizes(text).unwrap();
        assert_eq!(list.iter().map(|one| one.shirts).sum::<u32>(), 99);
        assert_eq!(list[2].size, "youth L");
        assert_eq!(write_sizes(&list), text);
        assert_eq!(write_sizes(&read_sizes(" S  x20 ,38 5; ").unwrap()), "S 20, 38 5");
        assert_eq!(read_sizes("  ").unwrap(), []);
        // Back to the job's own garment after another.
        let back = read_sizes("Navy: M 12").unwrap().into_iter().chain(read_sizes("S 1").unwrap()).collect::<Vec<_>>();
        assert_eq!(read_sizes("Navy: M 12; Red: S 1").unwrap().len(), back.len());
        for (bad, says) in [
            ("S", "not a size with a number"),
            ("S, M 20", "not a size with a number"),
            ("S twenty", "not a size with a number"),
            ("20", "not a size with a number"),
            ("S -4", "not a size with a number"),
            ("S 0", "no shirts"),
            ("S 20,, M 60", "a size is missing"),
            ("S 20, S 5", "twice"),
            ("S 9000000, M 9000000", "the number of shirts must be"),
        ] {
            let said = read_sizes(bad).unwrap_err().to_string();
            assert!(said.contains(says) && said.contains("S 20, M 60"), "{bad}: {said}");
        }
    }
}
