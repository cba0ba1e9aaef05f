//! From the art as received to a picture at working resolution and print size, and what is to
//! be known about it there.

mod background;
mod blocks;
mod content;
mod enlarge;
mod facts;
mod learned;
mod noise;
mod orient;
mod prepare;
mod redrawn;
mod resample;
mod resized;
#[cfg(test)]
mod samples;
mod separable;
mod settings;
mod sharpen;
mod sized;
mod soft;
mod specks;
mod straighten;
mod transfer;
mod turn;
mod wear;
mod windows;

pub use background::{BackgroundSettings, BackgroundWay, FoundBackground, find_background};
pub(crate) use background::{alike, edge_color, flood};
pub use blocks::{Blocking, find_blocking};
pub use content::find_content;
pub use facts::{Fineness, PrintFacts, print_facts};
pub use learned::WeightsError;
pub use prepare::{ENLARGED_FROM, PrepError, Prepared, as_received, prepare, print_px, stray_specks, whole_art};
pub use redrawn::outlines;
pub use resized::resized;
pub use settings::{CropBox, Enlarging, PrepSettings, PrintArea};
pub use sized::{MAX_PRINT_PIXELS, MAX_PRINT_SIDE_PX};
pub use soft::{SoftEdges, find_soft_edges};
pub use specks::{Speck, SpeckSettings};
pub use turn::Turn;
pub use wear::Wear;
