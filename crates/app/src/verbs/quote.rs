//! `strikeoff quote`: minutes, cost and price of a job for quantities, by the times and prices of the shop profile.

use std::fmt::Write as _;
use std::path::PathBuf;

use anyhow::bail;
use serde_json::json;
use strikeoff_core::bounds::table;
use strikeoff_core::findings::outlook;
use strikeoff_core::quote::{Quote, Rates, ScreenPrice, Work, quote, screen_prices};
use strikeoff_files::profile::ShopProfile;

use super::files::Files;
use super::sheet::for_press;
use crate::terminal::{Report, Terminal};

/// Say what a job takes in minutes and money, and its price
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Quantities, as 50,150,300; the job's own if left out
    #[arg(long, value_name = "SHIRTS,...", value_delimiter = ',')]
    quantity: Vec<u32>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job)
    }
}

/// Works it out.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let (file, done) = for_press(&args.job, terminal)?;
    let look = outlook(&file.job, &done.prepared, &done.screens, &terminal.progress())?;
    let rates = ShopProfile::load()?.rates;
    let quantities = if args.quantity.is_empty() { vec![file.job.info.quantity] } else { args.quantity };
    if quantities.contains(&0) {
        bail!("a quote for no shirts says nothing; give --quantity, as 50,150,300, or a quantity on the ticket");
    }
    for &quantity in &quantities {
        table::QUANTITY.check(f64::from(quantity))?;
    }
    let work = Work::of(&file.job, &look.facts);
    let quotes: Vec<Quote> = quantities.iter().map(|&quantity| quote(&work, &rates, quantity)).collect();
    let screens = screen_prices(&work, &rates, quantities[0]);
    let text = in_words(&quotes, &screens, &rates)?;
    Ok(Report { json: json!({ "quotes": quotes, "screens": screens, "money": rates.money }), text })
}

fn in_words(quotes: &[Quote], screens: &[ScreenPrice], rates: &Rates) -> anyhow::Result<String> {
    let money = &rates.money;
    let mut text = String::new();
    for quote in quotes {
        let Quote { quantity, printed, minutes, .. } = quote;
        writeln!(
            text,
            "{quantity} shirts ({printed} printed): {} each, {} in all; {minutes:.0} min, cost {} ({} each), margin {:.1} %",
            money.words(quote.price_each),
            money.words(quote.price),
            money.words(quote.cost),
            money.words(quote.cost_each),
            quote.margin * 100.0
        )?;
        for line in &quote.lines {
            let minutes = if line.minutes > 0.0 { format!("{:.0} min", line.minutes) } else { String::new() };
            writeln!(text, "  {:32} {minutes:>9}  {:>14}", line.what, money.words(line.cost))?;
        }
    }
    if let [first, ..] = quotes {
        writeln!(text, "without a screen, {} shirts take less:", first.quantity)?;
        for screen in screens {
            writeln!(text, "  {:32} {:>5.0} min  {:>14}", screen.screen, screen.minutes, money.words(screen.cost))?;
        }
        if !first.assumed.is_empty() {
            writeln!(text, "assumed, as the shop profile does not say: {}", first.assumed.join("; "))?;
        }
    }
    Ok(text.trim_end().to_owned())
}
