//! The usual print order: base whites, then colours from light to dark, blacks, other whites.

use std::cmp::Ordering;

use super::{Garment, Ink, InkRole};
use crate::color::lab_from_linear;

/// Where an ink stands in the usual print order; what prints first is least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualRank {
    group: u8,
    lightness: f32,
}

impl UsualRank {
    /// Of an ink. A white that is the only one lies under the colours of a dark garment: `white_under`.
    pub fn of(ink: &Ink, white_under: bool) -> Self {
        let group = match ink.role {
            InkRole::BaseWhite => 0,
            InkRole::White if white_under => 0,
            InkRole::Color | InkRole::Process => 1,
            InkRole::Black => 2,
            InkRole::White => 3,
        };
        Self { group, lightness: lab_from_linear(ink.reflectance_over_white()).l }
    }

    /// Whether it prints among the whites that lie under the colours.
    pub fn is_base(self) -> bool {
        self.group == 0
    }
}

impl Eq for UsualRank {}

impl PartialOrd for UsualRank {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for UsualRank {
    fn cmp(&self, other: &Self) -> Ordering {
        self.group.cmp(&other.group).then(other.lightness.total_cmp(&self.lightness))
    }
}

impl Ink {
    /// Whether it is a white of either kind.
    pub fn is_white(&self) -> bool {
        matches!(self.role, InkRole::White | InkRole::BaseWhite)
    }
}

/// Puts inks in the usual print order. With a single white on a garment that is not white, that white
/// goes under the colours.
pub fn usual_order(inks: &mut [Ink], garment: &Garment) {
    let lone_white = inks.iter().filter(|ink| ink.is_white()).count() == 1;
    inks.sort_by_key(|ink| UsualRank::of(ink, lone_white && !garment.is_white()));
}
