//! The print model: layers of ink on a garment, dot gain, hits, flashes, and the proof that
//! follows. Proof, separation and findings all read colour from here, so they agree.

mod composite;
mod curve;
mod gain;
mod layer;
mod layers;
mod neugebauer;
mod optics;
mod proof;
mod settings;
mod stack;

pub use composite::Composite;
pub use gain::{DotGain, GainCurve};
pub use layer::Layer;
pub use neugebauer::{effective_area, neugebauer};
pub use optics::Optics;
pub(crate) use proof::Prover;
pub use proof::{art_on_garment, proof_from_screens};
pub use settings::{PressSettings, Stop};
pub use stack::Stack;
