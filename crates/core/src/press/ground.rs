//! What screens are printed on.

use super::PrintModel;
use crate::ink::Garment;
use crate::units::Lpi;

/// What screens are printed on and how: all of a job that its print needs besides the screens.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// The garment.
    pub garment: &'a Garment,
    /// The print model.
    pub press: &'a PrintModel,
    /// The job's ruling, for gain that follows the edge of the dots.
    pub ruling: Lpi,
}
