//! Times and prices of a shop. What it has not stated is absent, and a usual figure stands in, named as assumed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::pricing::{Money, Pricing};
use crate::bounds::{Bound, table};

/// Shirts an hour that a press makes with so many heads in use and so many flashes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pace {
    /// Heads in use up to which it holds, flashes and cool-downs included.
    #[schemars(transform = table::HEADS.schema())]
    pub heads: u8,
    /// Flashes up to which it holds.
    #[schemars(transform = table::FLASHES.schema())]
    pub flashes: u8,
    /// Shirts an hour.
    #[schemars(transform = table::SHIRTS_AN_HOUR.schema())]
    pub shirts_an_hour: f64,
}

const fn pace(heads: u8, flashes: u8, shirts_an_hour: f64) -> Pace {
    Pace { heads, flashes, shirts_an_hour }
}

/// Paces where the shop has stated none: an automatic press, assumed, no source.
pub const ASSUMED_PACES: [Pace; 5] =
    [pace(4, 0, 500.0), pace(8, 0, 420.0), pace(8, 1, 360.0), pace(12, 2, 300.0), pace(64, 64, 240.0)];

/// One of a shop's figures: what it is called, its unit, its range, and what is assumed where it is not stated.
#[derive(Debug, Clone, Copy)]
pub struct Rate {
    /// As sentences and fields name it.
    pub name: &'static str,
    /// Its unit: "min", "an hour", "each", "a kg"; empty for a share.
    pub unit: &'static str,
    /// Usual, assumed, no source.
    pub assumed: f64,
    /// Its range.
    pub bound: Bound,
    /// What the shop stated.
    pub stated: fn(&Rates) -> Option<f64>,
    /// States it, or takes it back.
    pub state: fn(&mut Rates, Option<f64>),
}

impl Rate {
    /// The shop's figure, or the assumed one.
    pub fn of(&self, rates: &Rates) -> f64 {
        (self.stated)(rates).unwrap_or(self.assumed)
    }

    /// Name, figure and unit, and that it is assumed if it is: "set up a screen 10 min (assumed)".
    pub fn words(&self, rates: &Rates) -> String {
        let value = self.of(rates);
        let value = (value * 1e6).round() / 1e6;
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        let assumed = if (self.stated)(rates).is_none() { " (assumed)" } else { "" };
        format!("{} {value}{unit}{assumed}", self.name)
    }
}

macro_rules! rates {
    ($($(#[$doc:meta])* $field:ident: $name:literal, $unit:literal, $assumed:literal, $bound:ident;)*) => {
        /// Times and prices of a shop.
        #[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
        #[serde(default, deny_unknown_fields)]
        pub struct Rates {
            $(
                $(#[$doc])*
                #[schemars(transform = table::$bound.schema())]
                #[serde(skip_serializing_if = "Option::is_none")]
                pub $field: Option<f64>,
            )*
            /// Shirts an hour by heads and flashes, the narrowest case first; empty: assumed.
            #[schemars(transform = table::PACES.schema())]
            #[serde(skip_serializing_if = "Vec::is_empty")]
            pub paces: Vec<Pace>,
            /// What is put on the cost; absent: a margin of 40 % of the price, assumed.
            #[serde(skip_serializing_if = "Option::is_none")]
            pub pricing: Option<Pricing>,
            /// Currency and rounding.
            pub money: Money,
        }

        /// Every figure, in the order of the work.
        pub const RATES: &[Rate] = &[$(Rate {
            name: $name,
            unit: $unit,
            assumed: $assumed,
            bound: table::$bound,
            stated: |rates| rates.$field,
            state: |rates, value| rates.$field = value,
        }),*];

        #[allow(non_upper_case_globals, dead_code, reason = "named as the fields are; misprints are the job's own")]
        pub(super) mod rate {
            use super::{Place, RATES, Rate};
            $(pub(in crate::quote) const $field: Rate = RATES[Place::$field as usize];)*
        }

        #[allow(non_camel_case_types, dead_code, reason = "named as the fields are")]
        enum Place { $($field),* }
    };
}

rates! {
    /// Minutes to output and check a film. Absent: 5, assumed.
    film_min: "output a film", "min", 5.0, WORK_MINUTES;
    /// Price of a film. Absent: 4, assumed.
    film_price: "a film", "each", 4.0, SHOP_PRICE;
    /// Minutes to coat, expose and wash out a screen. Absent: 15, assumed.
    expose_min: "coat and expose a screen", "min", 15.0, WORK_MINUTES;
    /// Emulsion, tape and reclaiming of a screen. Absent: 5, assumed.
    screen_price: "emulsion, tape and reclaiming of a screen", "each", 5.0, SHOP_PRICE;
    /// Screen room and film room an hour. Absent: 25, assumed.
    screen_room_hour: "the screen room", "an hour", 25.0, SHOP_PRICE;
    /// Minutes to set up a screen on press and bring it into register. Absent: 10, assumed.
    set_up_min: "set up a screen on press", "min", 10.0, WORK_MINUTES;
    /// Minutes to set up a flash. Absent: 5, assumed.
    flash_min: "set up a flash", "min", 5.0, WORK_MINUTES;
    /// Press with its crew an hour. Absent: 60, assumed.
    press_hour: "the press with its crew", "an hour", 60.0, SHOP_PRICE;
    /// Price of ink a kilogram, for screens that have no price of their own. Absent: 18, assumed.
    ink_kg: "ink", "a kg", 18.0, SHOP_PRICE;
    /// Price of a blank garment. Absent: 3, assumed.
    blank: "a blank garment", "each", 3.0, SHOP_PRICE;
    /// Misprints, a fraction of the run, for new jobs. Absent: 0.03, assumed.
    spoilage: "misprints, of the run", "", 0.03, SPOILAGE;
}

impl Rates {
    /// Shirts an hour with so many heads in use and so many flashes: the first pace that has both, or the last;
    /// and whether it is the shop's own.
    pub fn shirts_an_hour(&self, heads: usize, flashes: usize) -> (f64, bool) {
        let own = !self.paces.is_empty();
        let paces = if own { self.paces.as_slice() } else { &ASSUMED_PACES };
        let fits = |pace: &&Pace| usize::from(pace.heads) >= heads && usize::from(pace.flashes) >= flashes;
        let pace = paces.iter().find(fits).or(paces.last()).copied().unwrap_or(ASSUMED_PACES[4]);
        (pace.shirts_an_hour, own)
    }

    /// What is put on the cost, and whether the shop said so.
    pub fn pricing(&self) -> (Pricing, bool) {
        (self.pricing.unwrap_or(Pricing::Margin(0.40)), self.pricing.is_some())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_stated_is_assumed_and_says_so() {
        let mut rates = Rates::default();
        assert_eq!(serde_json::to_value(&rates).unwrap(), serde_json::json!({"money": Money::default()}));
        for rate in RATES {
            rate.bound.check(rate.assumed).unwrap();
            assert!(rate.words(&rates).ends_with("(assumed)"), "{}", rate.words(&rates));
            (rate.state)(&mut rates, Some(2.5));
            assert_eq!((rate.stated)(&rates), Some(2.5), "{}", rate.name);
        }
        assert_eq!(rate::set_up_min.words(&rates), "set up a screen on press 2.5 min");
        assert_eq!((rate::blank.stated)(&rates), rates.blank);
    }

    #[test]
    fn the_pace_follows_heads_and_flashes() {
        let mut rates = Rates::default();
        assert_eq!(rates.shirts_an_hour(4, 0), (500.0, false));
        assert_eq!(rates.shirts_an_hour(4, 1), (360.0, false));
        assert_eq!(rates.shirts_an_hour(90, 90), (240.0, false));
        rates.paces = vec![pace(6, 1, 300.0), pace(10, 2, 200.0)];
        assert_eq!(rates.shirts_an_hour(5, 1), (300.0, true));
        assert_eq!(rates.shirts_an_hour(5, 2), (200.0, true));
        assert_eq!(rates.shirts_an_hour(12, 0), (200.0, true), "beyond the last one it is the last one's");
    }
}
