//! Enlarging by a small trained net that repairs as it enlarges: `assets/enlarger/card.md` says what it was trained on
//! and how good it is.

mod bleed;
mod flow;
mod hold;
mod judge;
mod net;
#[cfg(test)]
mod plain;
mod repair;
mod weights;
mod winograd;

#[cfg(test)]
mod tests;

pub(super) use repair::repair;
pub use weights::WeightsError;

use crate::raster::Picture;

/// How damaged and how soft a picture is.
pub(super) fn found(picture: &Picture) -> Result<net::Condition, WeightsError> {
    Ok(judge::judge(&net::net()?.judge, picture))
}
