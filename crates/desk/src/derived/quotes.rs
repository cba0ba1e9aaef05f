//! Minutes and money of the job as it stands, by the shop's times and prices.

use strikeoff_core::Progress;
use strikeoff_core::findings::Outlook;
use strikeoff_core::job::Job;
use strikeoff_core::quote::{Quote, Rates, ScreenPrice, Work, quote, screen_prices};
use strikeoff_core::screens::ScreenName;

use super::slot::Outcome;
use crate::session::{Same, Value};

/// What quotes follow from.
#[derive(Clone, PartialEq)]
pub struct QuotesKey {
    /// Facts of the job: ink, heads.
    pub outlook: Same<Outlook>,
    /// The job.
    pub job: Value<Job>,
    /// The shop's times and prices.
    pub rates: Rates,
    /// How many shirts; the first is what screens are priced for.
    pub quantities: Vec<u32>,
}

/// Quotes, and what each screen costs.
pub struct Quotes {
    /// One for each quantity.
    pub list: Vec<Quote>,
    /// Of each screen, for the first quantity.
    pub screens: Vec<ScreenPrice>,
    /// The rates that they rest on.
    pub rates: Rates,
}

impl Quotes {
    /// What a screen costs.
    pub fn of(&self, screen: &ScreenName) -> Option<&ScreenPrice> {
        self.screens.iter().find(|price| price.screen == *screen)
    }
}

/// Works them out.
pub fn work_out(key: &QuotesKey) -> impl FnOnce(&mut (), &Progress) -> Outcome<Quotes> + use<> {
    let key = key.clone();
    move |(), _| {
        let work = Work::of(&key.job, &key.outlook.facts);
        let list: Vec<Quote> = key.quantities.iter().map(|&shirts| quote(&work, &key.rates, shirts)).collect();
        let first = key.quantities.first().copied().unwrap_or(1);
        let screens = screen_prices(&work, &key.rates, first);
        Some(Ok(Quotes { list, screens, rates: key.rates }))
    }
}

/// Quantities as typed, "50, 150, 300"; those that are none are passed over. With nothing typed the ticket's, and
/// usual ones beside it.
pub fn quantities(typed: &str, job: &Job) -> Vec<u32> {
    let mut list: Vec<u32> = typed.split([',', ';', ' ']).filter_map(|word| word.parse().ok()).collect();
    list.retain(|&shirts| shirts > 0 && shirts <= 10_000_000);
    list.truncate(12);
    if list.is_empty() {
        let own = Some(job.info.quantity).filter(|&shirts| shirts > 0);
        list.extend(own.into_iter().chain([50, 150, 300].into_iter().filter(|&shirts| Some(shirts) != own)));
    }
    list
}
