//! What each screen costs in minutes and money: what the job would take less without it.

use serde::Serialize;

use super::quotation::quote;
use super::rates::Rates;
use super::work::Work;
use crate::screens::ScreenName;

/// What a job would take less without a screen and the flash behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScreenPrice {
    /// The screen.
    pub screen: ScreenName,
    /// Minutes.
    pub minutes: f64,
    /// Cost.
    pub cost: f64,
}

/// Of every screen, for so many shirts.
pub fn screen_prices(work: &Work, rates: &Rates, quantity: u32) -> Vec<ScreenPrice> {
    let whole = quote(work, rates, quantity);
    let price = |name: &ScreenName| {
        let less = quote(&work.without(name), rates, quantity);
        ScreenPrice {
            screen: name.clone(),
            minutes: whole.minutes - less.minutes,
            cost: rates.money.round(whole.cost - less.cost),
        }
    };
    work.screens.iter().map(|screen| price(&screen.name)).collect()
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::quote::{Pace, WorkOfScreen};

    #[test]
    fn a_screen_costs_its_film_its_set_up_its_ink_and_the_pace_it_takes() {
        let screen = |name: &str, flash| WorkOfScreen {
            name: name.into(),
            ink_g: 2.0,
            price_per_kg: None,
            flash,
            cool_down: false,
        };
        let work = Work {
            screens: vec![screen("base", true), screen("red", false), screen("black", false)],
            left_in_screen_g: 100.0,
            weighed: false,
            spoilage: 0.0,
        };
        let pace = |heads, flashes, shirts_an_hour| Pace { heads, flashes, shirts_an_hour };
        let rates = Rates { paces: vec![pace(3, 0, 600.0), pace(9, 0, 300.0), pace(9, 9, 300.0)], ..Rates::default() };
        let prices = screen_prices(&work, &rates, 300);
        // Red: a film (4 and 5 min at 25), a screen (5 and 15 min at 25), 10 min of set-up at 60, 700 g at 18 a kg.
        let own = 4.0 + 5.0 + 20.0 / 60.0 * 25.0 + 10.0 + 0.7 * 18.0;
        assert_abs_diff_eq!(prices[1].cost, own, epsilon = 0.02);
        assert_abs_diff_eq!(prices[1].minutes, 30.0, epsilon = 1e-9);
        // The base takes its flash along, and without it the press runs at twice the pace: 30 min less.
        assert_abs_diff_eq!(prices[0].minutes, 30.0 + 5.0 + 30.0, epsilon = 1e-9);
        assert_abs_diff_eq!(prices[0].cost, own + 35.0, epsilon = 0.02);
    }
}
