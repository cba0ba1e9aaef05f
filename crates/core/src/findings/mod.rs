//! What will go wrong on press, one file a finding. [`check_job`] gives them worst first, and
//! nothing when nothing matters; [`outlook`] adds the plain facts of a press sheet.

mod build_up;
mod finding;
mod fine_detail;
mod fix;
mod gain;
mod grey_levels;
mod heads;
mod hold;
mod ink_cuts;
mod inputs;
mod lost_dots;
mod lost_tint;
mod moire;
mod outlook;
mod print_order;
mod registration;
mod resolution;
mod shadows;
mod steadiness;
mod thin;
mod wet_on_wet;
mod whites;
mod words;

pub use finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
pub use fix::{Change, Fix};
pub use outlook::{Outlook, check_job, outlook};
