//! The client's picture with its resolution, and how finely it is looked at.

use super::Picture;
use crate::units::Ppi;

/// The client's picture, decoded to the working space.
#[derive(Debug, Clone, PartialEq)]
pub struct Art {
    /// Its pixels.
    pub picture: Picture,
    /// Resolution the file states, or a sane default: gives the art's own physical size.
    pub ppi: Ppi,
}

/// How finely a job is evaluated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// At the working resolution: what films are made from.
    Full,
    /// At a lower resolution for looking: the longer side has at most `longest_px` pixels.
    Proxy {
        /// Most pixels on the longer side.
        longest_px: usize,
    },
}
