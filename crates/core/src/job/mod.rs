//! The job: everything the user decided, as data. Job and art together give every output, always
//! the same on any number of threads; pixels are caches.

mod cache;
mod compare;
mod costs;
mod decisions;
mod evaluate;
mod inputs;
mod needs;

pub use cache::{Cache, Level, evaluate_with};
pub use compare::{Comparison, Remake, ScreenDifference, SettingDifference, compare};
pub use costs::{Act, Cost, Costs, MergeCost, Mixed, ScreenCost, costs};
pub use decisions::{Job, JobInfo};
pub use evaluate::{ALGORITHM_VERSION, Evaluated, JobError, evaluate};
pub use inputs::{GroundInputs, ScreenInputs};
pub use needs::Needs;
