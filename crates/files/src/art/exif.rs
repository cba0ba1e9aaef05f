//! Orientation and resolution from Exif metadata (CIPA DC-008).

use ::exif::{In, Reader, Tag};
use strikeoff_core::prep::Turn;
use strikeoff_core::units::{MM_PER_INCH, Ppi};

use super::resolution::{aspect, sensible};

/// What an Exif block says.
pub(super) struct Said {
    /// How the picture is meant to lie.
    pub turn: Turn,
    /// Resolution across.
    pub ppi: Option<Ppi>,
    /// Across against down.
    pub aspect: f64,
}

/// What a picture's Exif block says; broken blocks say nothing.
pub(super) fn read(block: &[u8]) -> Said {
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    let Ok(exif) = reader.read_raw(block.to_vec()).or_else(|e| e.distill_partial_result(|_| {})) else {
        return Said { turn: Turn::default(), ppi: None, aspect: 1.0 };
    };
    let number = |tag| exif.get_field(tag, In::PRIMARY).and_then(|f| f.value.get_uint(0));
    let turn = number(Tag::Orientation).map_or_else(Turn::default, |o| Turn::from_exif(o as u16));
    let ratio = |tag| match exif.get_field(tag, In::PRIMARY).map(|f| &f.value) {
        Some(::exif::Value::Rational(list)) => list.first().map(|r| r.to_f64()),
        _ => None,
    };
    let (across, down) = (ratio(Tag::XResolution), ratio(Tag::YResolution));
    let ppi = across.and_then(|v| match number(Tag::ResolutionUnit).unwrap_or(2) {
        2 => sensible(v),
        3 => sensible(v * MM_PER_INCH / 10.0),
        _ => None,
    });
    let aspect = across.zip(down).map_or(1.0, |(across, down)| aspect(across, down));
    Said { turn, ppi, aspect }
}
