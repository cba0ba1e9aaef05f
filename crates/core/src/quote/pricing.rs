//! From cost to price: margin or mark-up, the shop's currency and its rounding.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;

/// What is put on the cost.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Pricing {
    /// Profit as a share of the price: price = cost / (1 - margin).
    Margin(#[schemars(transform = table::MARGIN_SHARE.schema())] f64),
    /// Profit as a share of the cost: price = cost x (1 + mark-up).
    MarkUp(#[schemars(transform = table::MARK_UP.schema())] f64),
}

impl Pricing {
    /// The price of what costs so much, not rounded.
    pub fn price(self, cost: f64) -> f64 {
        match self {
            Self::Margin(share) => cost / (1.0 - share),
            Self::MarkUp(share) => cost * (1.0 + share),
        }
    }

    /// In words: "a margin of 40 % of the price".
    pub fn words(self) -> String {
        let percent = |share: f64| (share * 1000.0).round() / 10.0;
        match self {
            Self::Margin(share) => format!("a margin of {} % of the price", percent(share)),
            Self::MarkUp(share) => format!("a mark-up of {} % of the cost", percent(share)),
        }
    }
}

/// How the shop writes and rounds money.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Money {
    /// The currency as the shop writes it, "USD" or "€"; empty: not written.
    #[schemars(transform = table::CURRENCY.schema())]
    pub currency: String,
    /// Decimals of the currency. Default 2.
    #[schemars(transform = table::CURRENCY_DECIMALS.schema())]
    pub decimals: u8,
    /// Step to which the price of a shirt is rounded, to the nearest. Default 0.01.
    #[schemars(transform = table::PRICE_STEP.schema())]
    pub price_step: f64,
}

impl Default for Money {
    fn default() -> Self {
        Self { currency: String::new(), decimals: 2, price_step: 0.01 }
    }
}

impl Money {
    /// A sum in whole smallest coins, halves away from none.
    pub fn round(&self, sum: f64) -> f64 {
        let coins = 10f64.powi(i32::from(self.decimals));
        nearest(sum * coins) / coins
    }

    /// The price of a shirt at the shop's step.
    pub fn round_price(&self, price: f64) -> f64 {
        self.round(nearest(price / self.price_step) * self.price_step)
    }

    /// As the shop writes it: "USD 1,240.50".
    pub fn words(&self, sum: f64) -> String {
        let text = format!("{:.*}", usize::from(self.decimals), self.round(sum).abs());
        let (whole, part) = text.split_once('.').map_or((text.as_str(), ""), |(whole, part)| (whole, part));
        let mut grouped = String::new();
        for (at, digit) in whole.chars().enumerate() {
            if at > 0 && (whole.len() - at).is_multiple_of(3) {
                grouped.push(',');
            }
            grouped.push(digit);
        }
        let point = if part.is_empty() { "" } else { "." };
        let sign = if self.round(sum) < 0.0 { "-" } else { "" };
        let blank = if self.currency.is_empty() { "" } else { " " };
        format!("{}{blank}{sign}{grouped}{point}{part}", self.currency)
    }
}

/// To the nearest whole, halves away from none; what floating point leaves a hair under a half counts as one.
fn nearest(value: f64) -> f64 {
    (value + value.signum() * 1e-9 * value.abs().max(1.0)).round()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// AccountingCoach, "What is the difference between gross margin and markup?"
    /// (www.accountingcoach.com/blog/gross-margin-markup): what costs $8 and is sold for $10 has a gross margin of
    /// 20 % of the price and a mark-up of 25 % of the cost.
    #[test]
    fn margin_and_mark_up_are_told_apart() {
        let money = Money::default();
        assert_eq!(money.round_price(Pricing::Margin(0.20).price(8.0)), 10.0);
        assert_eq!(money.round_price(Pricing::MarkUp(0.25).price(8.0)), 10.0);
        // 20 % put on the cost is not 20 % of the price.
        assert_eq!(money.round_price(Pricing::MarkUp(0.20).price(8.0)), 9.60);
    }

    #[test]
    fn money_is_written_and_rounded_as_the_shop_has_it() {
        let money = Money { currency: "USD".into(), ..Money::default() };
        assert_eq!(money.words(1_240.5), "USD 1,240.50");
        assert_eq!(money.words(-3.005), "USD -3.01");
        assert_eq!(Money { decimals: 0, ..Money::default() }.words(1_234_567.4), "1,234,567");
        assert_eq!(money.round(2.675), 2.68, "halves go up whatever binary fractions make of them");
        let fives = Money { price_step: 0.05, ..Money::default() };
        assert_eq!([7.524, 7.525, 7.58].map(|price| fives.round_price(price)), [7.5, 7.55, 7.6]);
    }
}
