//! A quote: minutes and cost line by line, the price, and what of it is assumed.

use serde::Serialize;

use super::rates::{Rate, Rates, rate};
use super::work::Work;
use crate::usage::shirts_with_spares;

/// A part of the work.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    /// What it is.
    pub what: String,
    /// Minutes that it takes; none for what is only bought.
    pub minutes: f64,
    /// What it costs, in whole smallest coins.
    pub cost: f64,
}

/// A quote for so many shirts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quote {
    /// Good shirts.
    pub quantity: u32,
    /// Shirts printed, misprints included.
    pub printed: u32,
    /// The work, in its order.
    pub lines: Vec<Line>,
    /// Minutes of all lines.
    pub minutes: f64,
    /// Cost of all lines.
    pub cost: f64,
    /// Cost of a shirt, in whole smallest coins.
    pub cost_each: f64,
    /// Price of a shirt, rounded as the shop rounds.
    pub price_each: f64,
    /// Price of all.
    pub price: f64,
    /// Profit as a share of the price.
    pub margin: f64,
    /// Profit as a share of the cost.
    pub mark_up: f64,
    /// Figures that the shop has not stated, with what is assumed for them.
    pub assumed: Vec<String>,
}

/// Minutes, cost and price of a job for so many shirts.
pub fn quote(work: &Work, rates: &Rates, quantity: u32) -> Quote {
    let printed = shirts_with_spares(quantity, work.spoilage);
    let lines = lines(work, rates, printed);
    let minutes = lines.iter().map(|line| line.minutes).sum();
    let cost = rates.money.round(lines.iter().map(|line| line.cost).sum());
    let (pricing, _) = rates.pricing();
    let shirts = f64::from(quantity.max(1));
    let price_each = rates.money.round_price(pricing.price(cost / shirts));
    let price = rates.money.round(price_each * f64::from(quantity));
    let share = |of: f64| if of > 0.0 { (price - cost) / of } else { 0.0 };
    Quote {
        quantity,
        printed,
        minutes,
        cost,
        cost_each: rates.money.round(cost / shirts),
        price_each,
        price,
        margin: share(price),
        mark_up: share(cost),
        assumed: assumed(work, rates),
        lines,
    }
}

/// The work in its order. What costs nothing and takes no time is left out.
fn lines(work: &Work, rates: &Rates, printed: u32) -> Vec<Line> {
    let (screens, flashes) = (work.screens.len() as f64, work.flashes() as f64);
    let of = |rate: Rate| rate.of(rates);
    let (room, press) = (of(rate::screen_room_hour) / 60.0, of(rate::press_hour) / 60.0);
    let shirts = f64::from(printed);
    let (pace, _) = rates.shirts_an_hour(work.heads(), work.flashes());
    let films = screens * of(rate::film_min);
    let exposing = screens * of(rate::expose_min);
    let set_up = screens * of(rate::set_up_min) + flashes * of(rate::flash_min);
    let printing = shirts / pace * 60.0;
    let ink = |screen: &super::WorkOfScreen| {
        let grams = screen.ink_g * shirts + work.left_in_screen_g;
        grams / 1000.0 * screen.price_per_kg.unwrap_or_else(|| of(rate::ink_kg))
    };
    let line = |what: String, minutes: f64, cost: f64| Line { what, minutes, cost: rates.money.round(cost) };
    let screens_made = screens * of(rate::screen_price) + exposing * room;
    [
        line("Films".into(), films, screens * of(rate::film_price) + films * room),
        line("Screens".into(), exposing, screens_made),
        line("Set-up on press".into(), set_up, set_up * press),
        line(format!("Printing, {pace} shirts an hour"), printing, printing * press),
        line("Ink".into(), 0.0, work.screens.iter().map(ink).sum()),
        line("Blank garments".into(), 0.0, shirts * of(rate::blank)),
    ]
    .into_iter()
    .filter(|line| line.minutes > 0.0 || line.cost != 0.0)
    .collect()
}

/// What of it the shop has not stated, with the figure that stands in.
fn assumed(work: &Work, rates: &Rates) -> Vec<String> {
    let used = [
        rate::film_min,
        rate::film_price,
        rate::expose_min,
        rate::screen_price,
        rate::screen_room_hour,
        rate::set_up_min,
        rate::press_hour,
        rate::blank,
    ];
    let mut used: Vec<Rate> = used.into();
    if work.flashes() > 0 {
        used.push(rate::flash_min);
    }
    if work.screens.iter().any(|screen| screen.price_per_kg.is_none()) {
        used.push(rate::ink_kg);
    }
    let mut out: Vec<String> =
        used.iter().filter(|rate| (rate.stated)(rates).is_none()).map(|rate| rate.words(rates)).collect();
    if rates.spoilage.is_none() && work.spoilage == rate::spoilage.assumed {
        out.push(format!("misprints, {} % of the run (assumed)", work.spoilage * 100.0));
    }
    if !work.weighed && work.screens.iter().any(|screen| screen.ink_g > 0.0) {
        out.push("grams of ink by mesh volume and usual factors (assumed)".to_owned());
    }
    let (pace, own) = rates.shirts_an_hour(work.heads(), work.flashes());
    if !own {
        let flashes = match work.flashes() {
            1 => "1 flash".to_owned(),
            many => format!("{many} flashes"),
        };
        out.push(format!("{pace} shirts an hour on {} heads with {flashes} (assumed)", work.heads()));
    }
    let (pricing, own) = rates.pricing();
    if !own {
        out.push(format!("{} (assumed)", pricing.words()));
    }
    out
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::quote::{Money, Pace, Pricing, WorkOfScreen};

    fn screen(name: &str, ink_g: f64, flash: bool) -> WorkOfScreen {
        WorkOfScreen { name: name.into(), ink_g, price_per_kg: None, flash, cool_down: false }
    }

    /// Everything stated as costing nothing.
    fn free() -> Rates {
        let mut rates = Rates::default();
        super::super::RATES.iter().for_each(|rate| (rate.state)(&mut rates, Some(0.0)));
        rates
    }

    /// "numbers by the books (screen printing)", T-Shirt Forums, thread 58965
    /// (www.t-shirtforums.com/threads/numbers-by-the-books-screen-printing.58965): 100 shirts of one colour on one
    /// side; 6 hours of set-up and 50 shirts an hour at $40 an hour, shirts at $3.00: 8 hours, $300.00 for shirts and
    /// $320.00 for the time make $620.00, $6.20 a shirt, $9.30 with a mark-up of 50 %.
    #[test]
    fn a_published_job_of_a_hundred_shirts_comes_out_to_the_cent() {
        let rates = Rates {
            set_up_min: Some(360.0),
            press_hour: Some(40.0),
            blank: Some(3.0),
            paces: vec![Pace { heads: 1, flashes: 0, shirts_an_hour: 50.0 }],
            pricing: Some(Pricing::MarkUp(0.5)),
            ..free()
        };
        let work = Work { screens: vec![screen("one colour", 0.0, false)], ..Work::default() };
        let quote = quote(&work, &rates, 100);
        assert_eq!(quote.minutes, 480.0);
        let cost = |what: &str| quote.lines.iter().filter(|l| l.what.starts_with(what)).map(|l| l.cost).sum::<f64>();
        assert_eq!(cost("Blank"), 300.0);
        assert_eq!(cost("Set-up") + cost("Printing"), 320.0);
        assert_eq!((quote.cost, quote.cost_each, quote.price_each, quote.price), (620.0, 6.20, 9.30, 930.0));
        assert_abs_diff_eq!(quote.mark_up, 0.5, epsilon = 1e-12);
        assert_eq!(quote.assumed, Vec::<String>::new());
    }

    /// A job costed by direct materials, direct labour and applied overhead, from a question-and-answer site of
    /// accounting exercises (qammunity.org/11570314): materials $633, labour $231, 2 hours with $18 of overhead each
    /// make $900; with a mark-up of 30 % the price is $1,170. Labour and overhead are the press hour here.
    #[test]
    fn a_published_job_cost_sheet_comes_out_to_the_cent() {
        let rates = Rates {
            film_price: Some(633.0),
            set_up_min: Some(120.0),
            press_hour: Some(231.0 / 2.0 + 18.0),
            pricing: Some(Pricing::MarkUp(0.3)),
            ..free()
        };
        let work = Work { screens: vec![screen("job", 0.0, false)], ..Work::default() };
        let rates = Rates { paces: vec![Pace { heads: 1, flashes: 0, shirts_an_hour: 1e9 }], ..rates };
        let quote = quote(&work, &rates, 1);
        assert_eq!((quote.cost, quote.price), (900.0, 1170.0));
    }

    #[test]
    fn lines_add_up_and_misprints_are_bought_and_printed() {
        let work = Work {
            screens: vec![screen("base", 3.0, true), screen("red", 1.0, false)],
            left_in_screen_g: 100.0,
            weighed: false,
            spoilage: 0.03,
        };
        let rates = Rates { money: Money { price_step: 0.05, ..Money::default() }, ..Rates::default() };
        let quotes = [50, 150, 300].map(|quantity| quote(&work, &rates, quantity));
        for quote in &quotes {
            assert_abs_diff_eq!(quote.lines.iter().map(|l| l.cost).sum::<f64>(), quote.cost, epsilon = 1e-9);
            let steps = quote.price_each / 0.05;
            assert_abs_diff_eq!(steps, steps.round(), epsilon = 1e-9);
            assert_abs_diff_eq!(quote.margin, 0.40, epsilon = 0.005);
            assert_eq!(quote.assumed.len(), 14, "{:?}", quote.assumed);
        }
        assert_eq!(quotes[1].printed, 155);
        let ink = quotes[1].lines.iter().find(|l| l.what == "Ink").unwrap();
        assert_abs_diff_eq!(ink.cost, 18.0 * (4.0 * 155.0 + 200.0) / 1000.0, epsilon = 0.005);
        assert!(quotes[0].price_each > quotes[1].price_each && quotes[1].price_each > quotes[2].price_each);
        // A price of the ink's own counts before the shop's.
        let mut own = work.clone();
        own.screens[1].price_per_kg = Some(100.0);
        assert!(quote(&own, &rates, 150).cost > quotes[1].cost);
    }
}
