//! Pixels in memory: one-channel planes and what moves their edges, colour pictures, and the art.
//! Resolution is carried by the structs that own them; a plane is only numbers in rows.

mod art;
mod morphology;
mod picture;
mod places;
mod plane;

pub use art::{Art, Detail};
pub use morphology::{choke, choke_from_border_in_place, choke_in_place, spread, spread_in_place};
pub use picture::{Picture, Rgba16};
pub(crate) use places::spread_places;
pub use plane::Plane;

/// Full scale of a 16-bit coverage or colour value.
pub const FULL: u16 = u16::MAX;
