//! The working space and the two spaces we judge colour in. Everything physical (ink, light)
//! is linear sRGB with D65 white; OKLab carries the solver's distance and CIELAB the reports.
//! Thin over `palette`, which holds the constants and is tested against published tables.

mod difference;
mod hex;
mod spectrum;
mod steps;
mod transfer;
mod words;

pub use difference::{Lab, Oklab, ciede2000, lab_from_linear, linear_from_lab, linear_from_oklab, oklab_from_linear};
pub use hex::{ColorError, Rgb8};
pub use spectrum::{BANDS, FIRST_NM, STEP_NM, Spectrum, linear_of_spectrum, spectrum_of_linear, xyz_of_spectrum};
pub use steps::{D50, difference, difference_steps, lab_d65_of_d50, lab_of_shares, shares_of_lab};
pub use transfer::{encode, encode_u16, linear_from_u16, linearize};
pub use words::color_words;

/// Linear-light RGB (sRGB primaries, D65), nominally 0..=1.
pub type LinRgb = [f32; 3];
