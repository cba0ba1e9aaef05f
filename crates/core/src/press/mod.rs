//! The print model: layers of ink on a garment, dot gain, hits, flashes, how dots meet, and the proof that
//! follows. Proof, separation and findings all read colour from here, so they agree.

mod composite;
mod curve;
#[cfg(test)]
mod curve_checks;
mod gain;
mod ground;
mod layer;
mod layers;
mod meeting;
mod model;
mod neugebauer;
mod optics;
mod overprints;
mod proof;
mod stack;

pub use composite::Composite;
pub use gain::{DotGain, GainCurve};
pub use ground::Ground;
pub use layer::Layer;
pub use meeting::{CELL_SIDE, DotGrids, FillOrder, Lattice, Meeting, MeetingTable, Meetings, Pair, pairs_on_a_lattice};
pub use model::{PrintModel, Stop, WetPair};
pub use neugebauer::{effective_area, neugebauer};
pub use optics::Optics;
pub(crate) use proof::Prover;
pub use proof::{art_on_garment, proof_from_screens};
pub use stack::Stack;
