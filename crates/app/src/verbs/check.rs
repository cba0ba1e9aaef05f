//! `strikeoff check`: what will go wrong on press, and the plain facts beside it.

use std::path::PathBuf;

use anyhow::Result;
use serde_json::json;
use strikeoff_core::facts::numbered_heads;
use strikeoff_core::findings::{Finding, Outlook, outlook};
use strikeoff_core::preview::{OrderMark, search_orders};
use strikeoff_core::screens::joined;
use strikeoff_files::job::open_job;

use super::files::Files;
use super::on::On;
use crate::terminal::{Report, Terminal};

/// Say what will go wrong on press
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    #[command(flatten)]
    on: On,
    /// Judge other print orders too (base first and last white last stay in place)
    #[arg(long)]
    orders: bool,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job)
    }
}

/// Checks the job.
pub fn run(args: Args, terminal: &Terminal) -> Result<Report> {
    let mut file = open_job(&args.job)?;
    let progress = terminal.progress();
    let mut done = file.evaluated_for_press(&progress)?;
    let job = args.on.seen(&file.job, &mut done.screens)?;
    let look = outlook(&job, &done.prepared, &done.screens, &progress)?;
    let mut report = json!({ "job": args.job, "findings": look.findings, "facts": look.facts });
    let mut text = in_words(&look);
    if args.orders {
        let (present, best) = search_orders(&job, &done.prepared, &done.screens, 5, &progress)?;
        text += &format!("Present order: {}\n", mark_in_words(&present));
        for mark in &best {
            text += &format!("  {}: {}\n", joined(&mark.order), mark_in_words(mark));
        }
        report["orders"] = json!({ "present": present, "best": best });
    }
    Ok(Report { json: report, text })
}

fn mark_in_words(mark: &OrderMark) -> String {
    let flashes = if mark.flashes == 1 { "flash" } else { "flashes" };
    format!("dE 2000 of {:.2} from the art, pick-up {:.1}, {} {flashes}", mark.delta_e, mark.pick_up, mark.flashes)
}

fn in_words(look: &Outlook) -> String {
    let mut text = String::new();
    if look.findings.is_empty() {
        text += "Nothing to fix.\n";
    }
    for finding in &look.findings {
        text += &one(finding);
    }
    let facts = &look.facts;
    text += &format!("\n{}\n", facts.resolution);
    text += "Screen                    mesh     x ruling   coverage   film   likely g a shirt\n";
    for (screen, ink) in facts.screens.iter().zip(&facts.ink) {
        text += &format!(
            "{:24}  {:7}  {:6.1}   {:7.1} %  {:5.1} %  {:.2} ({:.2} to {:.2})\n",
            screen.screen,
            screen.mesh,
            screen.mesh_to_ruling,
            screen.mean_coverage * 100.0,
            screen.mean_film * 100.0,
            ink.g_per_shirt.likely,
            ink.g_per_shirt.low,
            ink.g_per_shirt.high
        );
    }
    text += &format!("Heads: {}\n", numbered_heads(&facts.heads).join(", "));
    for screen in &facts.screens {
        let fringe = match screen.fringe_from_mm {
            Some(mm) => format!("a gap or fringe shows from {mm:.1} mm out of register"),
            None => "no gap or fringe up to 0.5 mm out of register".to_owned(),
        };
        text += &format!("{}: {fringe}; advised mesh {} ({})\n", screen.screen, screen.advised_mesh, screen.advice);
    }
    if let Some(worst) = facts.gain.first() {
        text += &format!(
            "Dot gain: watch {} first; ten points shift colours by dE {:.1} on average\n",
            worst.screen, worst.mean
        );
    }
    let mix: f64 = facts.ink.iter().map(|i| i.mix_g).sum();
    let costs: Vec<f64> = facts.ink.iter().filter_map(|i| i.cost).collect();
    if facts.shirts > 0 {
        let often = facts.ink.iter().map(|i| i.check_every_shirts).min().unwrap_or(0);
        text += &format!("Ink for {} shirts: mix {mix:.0} g in all, check every {often} shirts", facts.shirts);
        if !costs.is_empty() {
            text += &format!(", {:.2} for the {} priced screens", costs.iter().sum::<f64>(), costs.len());
        }
        text += "\n";
    }
    text += &format!("{}\n", facts.optics);
    for caution in &facts.cautions {
        text += &format!("Caution: {caution}\n");
    }
    text
}

fn one(finding: &Finding) -> String {
    let weight = finding.severity.label().to_uppercase();
    let mut text = format!("{weight}  {}: {}\n", finding.kind.label(), finding.what);
    text += &format!("         {}\n", finding.number);
    for input in &finding.inputs {
        text += &format!("         {input}\n");
    }
    for fix in &finding.fixes {
        text += &format!("      -> {}\n", fix.label);
    }
    text
}
