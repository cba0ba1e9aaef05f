//! `strikeoff suggest`: which method suits the art, which inks from the shelf, for how many screens,
//! and why.

use std::fmt::Write as _;
use std::path::PathBuf;
use std::sync::Arc;

use anyhow::{Context, anyhow};
use serde_json::json;
use strikeoff_core::ink::{Ink, InkRole};
use strikeoff_core::job::ink_sets;
use strikeoff_core::separate::{InkRequest, LEAST_GAIN, LEAST_P95_GAIN, MethodAdvice, Quality, advise_method};
use strikeoff_core::units::Lpi;
use strikeoff_files::begin::{ReceivedFile, begin_job};
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::read_shelf;

use super::files::Files;
use super::size::Size;
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
    /// Lets a set have transparent process inks beside opaque ones
    #[arg(long)]
    process_with_opaque: bool,
    #[command(flatten)]
    size: Size,
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
    let profile = ShopProfile::load()?;
    let own_shelf = args.shelf.as_deref().map(read_shelf).transpose()?;
    let shelf = own_shelf.as_ref().unwrap_or(&profile.shelf);
    let progress = terminal.progress();
    let picture = ReceivedFile::read(&args.art, 1, &progress)?;
    let request = InkRequest {
        screens: args.screens,
        pinned: args.pin,
        banned: args.ban,
        process_with_opaque: args.process_with_opaque,
    };
    let mut job = begin_job(&picture.name, garment, [], &profile, |_| Ok::<(), anyhow::Error>(()))?;
    args.size.apply(&mut job, &profile)?;
    if args.size.is_open() && !profile.platens.is_empty() {
        profile.fit_platen(&mut job, None).map_err(|error| anyhow!(error))?;
    }
    job.film.ruling = args.ruling;
    let art = Arc::new(picture.received.art);
    let advice = advise_method(&art.picture);
    let found = ink_sets(&job, &art, shelf, &request, None, &progress)?;
    let chosen = found.sets.get(found.chosen).context("no ink of the shelf prints this artwork; add inks")?;
    let inks = &chosen.choice.inks;
    let mut text = method_words(&advice);
    writeln!(text, "\nFor {} screens on {}, in print order:", inks.len(), job.garment.name)?;
    for (ink, reason) in inks.iter().zip(&chosen.choice.reasons) {
        let covers = reason.coverage * 100.0;
        let prints = if ink.role == InkRole::BaseWhite { "lies under" } else { "prints" };
        let (name, brings) = (&ink.name, reason.brings);
        writeln!(text, "  {name:<20} {covers:>5.1} %  {prints} {}, without it {brings:+.2}", reason.prints)?;
    }
    writeln!(text, "\nscreens  mean   p95  over 5  inks   (CIEDE2000 of the print against the art)")?;
    for set in &found.sets {
        let (q, inks) = (set.quality, &set.choice.inks);
        let share = q.share_over_5 * 100.0;
        writeln!(text, "{:>7} {:>5.2} {:>5.1} {share:>5.1} %  {}", inks.len(), q.mean, q.p95, names(inks))?;
    }
    let most = found.sets.last().map_or(0, |set| set.choice.inks.len());
    if most < found.tried {
        writeln!(
            text,
            "Up to {} screens were tried: more than {most} take less than {LEAST_GAIN} off the mean and less than \
             {LEAST_P95_GAIN:.0} off the p95.",
            found.tried
        )?;
    }
    let assumed = inks.iter().filter(|ink| !ink.measured).count();
    if assumed > 0 {
        writeln!(text, "\n{assumed} of these inks are described by assumed values, not measured ones.")?;
    }
    let quality = |q: &Quality| json!({"mean": q.mean, "p95": q.p95, "share_over_5": q.share_over_5});
    let inks = |inks: &[Ink]| inks.iter().map(|i| i.name.clone()).collect::<Vec<_>>();
    let json = json!({
        "method": advice,
        "garment": job.garment.color.to_string(),
        "screens": inks(&chosen.choice.inks),
        "delta_e2000": quality(&chosen.quality),
        "assumed_inks": assumed,
        "reasons": chosen.choice.reasons,
        "tried": found.tried,
        "curve": found.sets.iter().map(|set| json!({
            "count": set.choice.inks.len(), "screens": inks(&set.choice.inks), "delta_e2000": quality(&set.quality),
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
