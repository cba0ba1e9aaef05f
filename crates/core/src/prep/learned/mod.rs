//! Enlarging by a small trained net that repairs as it enlarges: `assets/enlarger/card.md` says what it was trained on
//! and how good it is.

mod flow;
mod judge;
mod net;
#[cfg(test)]
mod plain;
mod weights;
mod winograd;

#[cfg(test)]
mod tests;

pub use net::Told;
pub use weights::WeightsError;
