//! Pixels in memory: one-channel planes and colour pictures. Resolution is carried by the
//! structs that own them; a plane is only numbers in rows.

mod picture;
mod plane;

pub use picture::{Picture, Rgba16};
pub use plane::Plane;

/// Full scale of a 16-bit coverage or colour value.
pub const FULL: u16 = u16::MAX;
