//! Tools that look and do not judge: where the print lies on the shirt, the shirt on a good day and a bad one, a tint through its mesh
//! close up, other print orders, and the same screens on other garments.

mod close_up;
mod day;
mod order;
pub mod shirt;
mod swap;

pub use close_up::moire_close_up;
pub use day::{DotsOnTheDay, Drift, Drifted, bad_day, on_the_day};
pub use order::{OrderMark, search_orders};
pub use swap::{GarmentSwap, swap_garments};
