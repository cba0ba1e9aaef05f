//! `strikeoff suggest`: which method suits the art, which inks from the shelf, for how many screens,
//! and what each is worth.

use std::fmt::Write as _;
use std::path::PathBuf;

use serde_json::json;
use strikeoff_core::ink::Ink;
use strikeoff_core::press::{Ground, PrintModel};
use strikeoff_core::separate::{
    InkRequest, MethodAdvice, Quality, SeparationSettings, advise_method, screen_worth, suggest,
};
use strikeoff_core::units::Lpi;
use strikeoff_files::art::read_art;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::read_shelf;

use super::files::Files;
use super::values;
use crate::terminal::{Report, Terminal};

/// What to choose for.
#[derive(clap::Args)]
pub struct Args {
    /// The client's picture
    art: PathBuf,
    /// Colour of the garment as #RRGGBB, or the name of a house garment
    #[arg(long, value_name = "COLOUR")]
    garment: String,
    /// Screens to fill, an underbase counted
    #[arg(long, value_name = "N", default_value_t = 6)]
    screens: usize,
    /// Ink shelf (JSON); that of the shop profile if left out
    #[arg(long, value_name = "FILE")]
    shelf: Option<PathBuf>,
    /// Ink that must be in; may be repeated or hold several names with commas
    #[arg(long, value_name = "INK", value_delimiter = ',')]
    pin: Vec<String>,
    /// Ink that must stay out; may be repeated or hold several names with commas
    #[arg(long, value_name = "INK", value_delimiter = ',')]
    ban: Vec<String>,
    /// Ruling the films will have
    #[arg(long, value_name = "LPI", default_value = "45")]
    ruling: Lpi,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.art).and_read(self.shelf.as_deref())
    }
}

/// Chooses and weighs.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let garment = values::garment(&args.garment)?;
    let shelf = &match &args.shelf {
        Some(path) => read_shelf(path)?,
        None => ShopProfile::load()?.shelf,
    };
    let art = read_art(&args.art)?;
    let ruling = args.ruling;
    let request = InkRequest { screens: args.screens, pinned: args.pin, banned: args.ban };
    let (settings, press) = (SeparationSettings::default(), PrintModel::default());
    let ground = Ground { garment: &garment, press: &press, ruling };
    let progress = terminal.progress();
    let found = suggest(&art.picture, &ground, shelf, &request, &settings, &progress)?;
    let chosen = SeparationSettings { screens: found.chosen.screens(), ..settings };
    let worth = screen_worth(&art.picture, &ground, shelf, &chosen, &progress)?;

    let advice = advise_method(&art.picture);
    let mut text = method_words(&advice);
    writeln!(
        text,
        "\nFor {} screens on {}, in print order: {}",
        found.chosen.inks.len(),
        garment.name,
        names(&found.chosen.inks)
    )?;
    writeln!(text, "\nscreens  mean   p95  over 5  inks   (CIEDE2000 of the estimated print against the art)")?;
    for choice in &found.curve {
        let q = choice.quality;
        writeln!(
            text,
            "{:>7} {:>5.2} {:>5.1} {:>5.1} %  {}",
            choice.inks.len(),
            q.mean,
            q.p95,
            q.share_over_5 * 100.0,
            names(&choice.inks)
        )?;
    }
    writeln!(text, "\nWithout a screen, the others solved again (with all: mean {:.2}):", worth.now.mean)?;
    for cost in &worth.drops {
        writeln!(text, "  {:<20} mean {:>5.2}  p95 {:>5.1}", cost.screen, cost.quality.mean, cost.quality.p95)?;
    }
    writeln!(text, "\nCheapest merges of two screens into one shared ink:")?;
    let mut merges: Vec<_> = worth.merges.iter().collect();
    merges.sort_by(|a, b| a.tint.1.mean.total_cmp(&b.tint.1.mean));
    for merge in merges.iter().take(5) {
        let shared =
            merge.shelf_ink.as_ref().map_or_else(String::new, |(ink, q)| format!("{} {:.2}, ", ink.name, q.mean));
        let [a, b] = &merge.screens;
        writeln!(text, "  {a} + {b}: {shared}mixed {} {:.2}", merge.tint.0.over_white, merge.tint.1.mean)?;
    }
    let assumed = found.chosen.inks.iter().filter(|ink| !ink.measured).count();
    if assumed > 0 {
        writeln!(text, "\n{assumed} of these inks are described by assumed values, not measured ones.")?;
    }
    let quality = |q: &Quality| json!({"mean": q.mean, "p95": q.p95, "share_over_5": q.share_over_5});
    let inks = |inks: &[Ink]| inks.iter().map(|i| i.name.clone()).collect::<Vec<_>>();
    let json = json!({
        "method": advice,
        "garment": garment.color.to_string(),
        "screens": inks(&found.chosen.inks),
        "delta_e2000": quality(&found.chosen.quality),
        "assumed_inks": assumed,
        "curve": found.curve.iter().map(|c| json!({
            "count": c.inks.len(), "screens": inks(&c.inks), "delta_e2000": quality(&c.quality),
        })).collect::<Vec<_>>(),
        "drop": worth.drops.iter().map(|d| json!({
            "screen": d.screen, "delta_e2000": quality(&d.quality),
        })).collect::<Vec<_>>(),
        "merge": worth.merges.iter().map(|m| json!({
            "screens": m.screens,
            "shelf_ink": m.shelf_ink.as_ref().map(|(ink, q)| json!({"ink": ink.name, "delta_e2000": quality(q)})),
            "tint": {"over_white": m.tint.0.over_white.to_string(), "opacity": m.tint.0.opacity.get(), "delta_e2000": quality(&m.tint.1)},
        })).collect::<Vec<_>>(),
    });
    Ok(Report { json, text })
}

fn method_words(advice: &MethodAdvice) -> String {
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let mut text = format!("{}. {}\n", advice.method.label(), advice.reason);
    text += &format!(
        "  flat areas {}, gradients {}, outlines and texture {}; {} of the pixels have one of 16 colours",
        percent(advice.flat_share),
        percent(advice.gradient_share),
        percent(advice.busy_share),
        percent(advice.few_colors_share)
    );
    match advice.edge_width_px {
        Some(px) => text += &format!("; edges are {px:.1} pixels wide\n"),
        None => text += "\n",
    }
    text
}

fn names(inks: &[Ink]) -> String {
    inks.iter().map(|ink| ink.name.as_str()).collect::<Vec<_>>().join(", ")
}
