//! Orientation and resolution from Exif metadata (CIPA DC-008).

use ::exif::{In, Reader, Tag};
use strikeoff_core::prep::Turn;
use strikeoff_core::units::{MM_PER_INCH, Ppi};

use super::resolution::sensible;

/// What a picture's Exif block says; broken blocks say nothing.
pub(super) fn read(block: &[u8]) -> (Turn, Option<Ppi>) {
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    let Ok(exif) = reader.read_raw(block.to_vec()).or_else(|e| e.distill_partial_result(|_| {})) else {
        return (Turn::default(), None);
    };
    let number = |tag| exif.get_field(tag, In::PRIMARY).and_then(|f| f.value.get_uint(0));
    let turn = number(Tag::Orientation).map_or_else(Turn::default, |o| Turn::from_exif(o as u16));
    let value = match exif.get_field(Tag::XResolution, In::PRIMARY).map(|f| &f.value) {
        Some(::exif::Value::Rational(list)) => list.first().map(|r| r.to_f64()),
        _ => None,
    };
    let ppi = value.and_then(|v| match number(Tag::ResolutionUnit).unwrap_or(2) {
        2 => sensible(v),
        3 => sensible(v * MM_PER_INCH / 10.0),
        _ => None,
    });
    (turn, ppi)
}
