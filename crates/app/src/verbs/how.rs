//! How a picture is separated, as options of `strikeoff separate`: the method with what it has of
//! its own, how inks share the work, and the whites.

use anyhow::{Context, bail};
use clap::ValueEnum;
use strikeoff_core::halftone::dot_side;
use strikeoff_core::ink::InkRole;
use strikeoff_core::job::Job;
use strikeoff_core::separate::{BlackPlace, Method, SpotEdges, SpotInks};
use strikeoff_core::units::{Coverage, Mm};

use super::values;

/// A method by its short name.
#[derive(Clone, Copy, ValueEnum)]
enum MethodName {
    /// Tones on every screen, halftoned
    Process,
    /// Flat areas, an ink each
    Spot,
    /// Square dots of one ink each
    Index,
}

#[derive(Clone, Copy, ValueEnum)]
enum PlaceOfBlack {
    /// Before the colours, after the underbase
    First,
    /// After the colours
    Last,
}

/// How it is separated.
#[derive(clap::Args)]
pub struct How {
    /// The method
    #[arg(long, value_enum, default_value = "process", help_heading = "Method")]
    method: MethodName,
    /// Spot art: mix flat colours from layers and tints instead of one ink each
    #[arg(long, help_heading = "Method")]
    layers: bool,
    /// Spot art: make every pixel none or solid
    #[arg(long, help_heading = "Method")]
    hard_edges: bool,
    /// Spot art: how far light inks reach under darker ones printed later [default: 0.15mm]
    #[arg(long, value_name = "LENGTH", help_heading = "Method")]
    trap: Option<Mm>,
    /// Spot art: least share of the print that makes a flat colour, as 0.1% [default: 0.1%]
    #[arg(long, value_name = "SHARE", help_heading = "Method")]
    least_area: Option<Coverage>,
    /// Index: size of the dots, as 180dpi (dots an inch) or 0.14mm [default: 180dpi]
    #[arg(long, value_name = "SIZE", value_parser = dot_side, help_heading = "Method")]
    dots: Option<Mm>,
    /// Index: scatter a second ink over flat areas too, where one ink alone comes near
    #[arg(long, help_heading = "Method")]
    mix_flat: bool,
    /// How far black replaces the others: 0 for detail in the shadows, 100% every grey [default: 50%]
    #[arg(long, value_name = "SHARE", help_heading = "Sharing")]
    black_strength: Option<Coverage>,
    /// How few inks may share a spot [default: 25%]
    #[arg(long, value_name = "SHARE", help_heading = "Sharing")]
    cleanliness: Option<Coverage>,
    /// Most ink on a spot in percent, hits counted [default: 300]
    #[arg(long, value_name = "PERCENT", help_heading = "Sharing")]
    most_ink: Option<f64>,
    /// How much more an error of hue counts [default: 50%]
    #[arg(long, value_name = "SHARE", help_heading = "Sharing")]
    hue_keeping: Option<Coverage>,
    /// Let black print before or after the colours, wherever --inks has it
    #[arg(long, value_enum, help_heading = "Sharing")]
    black: Option<PlaceOfBlack>,
    /// Underbase: how far it stays behind edges [default: 0.2mm]
    #[arg(long, value_name = "LENGTH", help_heading = "Whites")]
    base_choke: Option<Mm>,
    /// The same for a second base [default: 0.35mm]
    #[arg(long, value_name = "LENGTH", help_heading = "Whites")]
    second_choke: Option<Mm>,
    /// Underbase: how willingly it goes under tones that could do with less [default: 50%]
    #[arg(long, value_name = "SHARE", help_heading = "Whites")]
    base_strength: Option<Coverage>,
    /// Print an underbase on a white garment too
    #[arg(long, help_heading = "Whites")]
    base_on_white: bool,
    /// Print the underbase under these screens only
    #[arg(long, value_name = "NAME,...", help_heading = "Whites")]
    base_under: Option<String>,
    /// Highlight white: lightness L* at which it begins [default: 45]
    #[arg(long, value_name = "L", help_heading = "Whites")]
    white_from: Option<f64>,
    /// Highlight white: lightness L* from which it may be solid [default: 95]
    #[arg(long, value_name = "L", help_heading = "Whites")]
    white_full: Option<f64>,
    /// Highlight white: chroma at which it has faded out [default: 60]
    #[arg(long, value_name = "C", help_heading = "Whites")]
    white_chroma: Option<f64>,
}

impl How {
    /// Puts the options into a job whose screens are planned.
    pub fn apply(&self, job: &mut Job) -> anyhow::Result<()> {
        let method = match self.method {
            MethodName::Process => Method::SimulatedProcess,
            MethodName::Spot => Method::SpotArt,
            MethodName::Index => Method::Index,
        };
        let of_spot = [
            ("--layers", self.layers),
            ("--hard-edges", self.hard_edges),
            ("--trap", self.trap.is_some()),
            ("--least-area", self.least_area.is_some()),
        ];
        if let Some((option, _)) = of_spot.iter().find(|(_, given)| *given && method != Method::SpotArt) {
            bail!("{option} belongs to spot art; add --method spot or leave it out");
        }
        if self.dots.is_some() && method != Method::Index {
            bail!("--dots belongs to index separation; add --method index or leave it out");
        }
        if self.mix_flat && method != Method::Index {
            bail!("--mix-flat belongs to index separation; add --method index or leave it out");
        }
        job.separation.index.keep_flat = !self.mix_flat;
        if let Some(dot) = self.dots {
            job.set_index_dot(dot);
        }
        job.set_method(method);
        let plan = &mut job.separation;
        if self.layers {
            plan.spot.inks = SpotInks::Layers;
        }
        if self.hard_edges {
            plan.spot.edges = SpotEdges::Hard;
        }
        set(&mut plan.spot.trap_mm, self.trap);
        set(&mut plan.spot.least_share, self.least_area.map(Coverage::get));
        set(&mut plan.black_strength, self.black_strength.map(Coverage::get));
        set(&mut plan.cleanliness, self.cleanliness.map(Coverage::get));
        set(&mut plan.total_ink_limit, self.most_ink.map(|percent| percent / 100.0));
        set(&mut plan.hue_keeping, self.hue_keeping.map(Coverage::get));
        set(&mut plan.underbase.choke_mm, self.base_choke);
        set(&mut plan.underbase.second_choke_mm, self.second_choke);
        set(&mut plan.underbase.strength, self.base_strength.map(Coverage::get));
        plan.underbase.on_white |= self.base_on_white;
        set(&mut plan.highlight.starts_at_l, self.white_from);
        set(&mut plan.highlight.full_at_l, self.white_full);
        set(&mut plan.highlight.max_chroma, self.white_chroma);
        if let Some(place) = self.black {
            if !plan.screens.iter().any(|s| s.ink.role == InkRole::Black) {
                bail!("--black: there is no black among the inks");
            }
            plan.place_black(match place {
                PlaceOfBlack::First => BlackPlace::First,
                PlaceOfBlack::Last => BlackPlace::Last,
            });
        }
        if let Some(names) = &self.base_under {
            let names = values::names(names);
            let known = names.iter().map(|name| super::separate::planned(job, name).context("--base-under"));
            let places = known.collect::<anyhow::Result<Vec<_>>>()?;
            let under = places.into_iter().map(|at| job.separation.screens[at].name.clone()).collect();
            job.separation.underbase.under = Some(under);
        }
        Ok(())
    }
}

fn set<T>(to: &mut T, given: Option<T>) {
    if let Some(value) = given {
        *to = value;
    }
}
