//! Minutes and money: what a job takes in the shop, what that costs, and the price that follows. All of it is
//! arithmetic on the shop's own times and prices; where one is not stated, a usual figure stands in and is named as
//! assumed.

mod pricing;
mod quotation;
mod rates;
mod screen_costs;
mod work;

pub use pricing::{Money, Pricing};
pub use quotation::{Line, Quote, quote};
pub use rates::{ASSUMED_PACES, Pace, RATES, Rate, Rates};
pub use screen_costs::{ScreenPrice, screen_prices};
pub use work::{Work, WorkOfScreen};
