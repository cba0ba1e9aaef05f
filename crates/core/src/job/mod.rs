//! The job: everything the user decided, as data. Job and art together give every output, always
//! the same on any number of threads; pixels are caches.

mod acts;
mod cache;
mod compare;
mod costs;
mod date;
mod decisions;
mod evaluate;
mod garments;
mod ink_sets;
mod inputs;
mod needs;
mod run_record;
mod sizes;
mod ticket;

pub use acts::Act;
pub use cache::{Cache, Level, evaluate_with};
pub use compare::{Comparison, Remake, ScreenDifference, SettingDifference, compare};
pub use costs::{Cost, Costs, InkCost, MergeCost, Mixed, ScreenCost, Trial, costs};
pub use date::{Date, DateError};
pub use decisions::{Job, dots_of_screen};
pub use evaluate::{ALGORITHM_VERSION, Evaluated, JobError, evaluate};
pub use garments::{AlsoOn, GarmentUse};
pub use ink_sets::{InkSet, InkSets, InkSetsError, ink_sets};
pub use inputs::{AlsoInputs, GroundInputs, MeetingInputs, ScreenInputs};
pub use needs::Needs;
pub use run_record::{OnPress, RunRecord, ScreenRun, ScreenRunError, refills_of};
pub use sizes::{SizeCount, SizesError, read_sizes, write_sizes};
pub use ticket::JobInfo;
