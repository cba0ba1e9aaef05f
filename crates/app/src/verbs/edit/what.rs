//! The edits as words of the command line: one subcommand a kind.

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Subcommand;
use strikeoff_core::names;
use strikeoff_core::screens::Screens;
use strikeoff_core::tune::{Curve, Edit, Place};
use strikeoff_core::units::{Coverage, MM_PER_INCH, Mm};
use strikeoff_files::job::read_grey;

use super::choices::{InkChoice, RegionChoice, SourceChoice, ink, place, point};

/// What is done to the screens. Coverage is written 0.05 or 5%, lengths with their unit, 0.2mm.
#[derive(Subcommand)]
pub enum What {
    /// Merge one screen into another: multiply their film values and drop the first
    Merge {
        /// The screen that goes
        from: String,
        /// The screen that stays
        into: String,
        /// How much each counts: 50% is plain multiply, less favours INTO, more favours FROM
        #[arg(long, default_value = "50%")]
        balance: Coverage,
    },
    /// Print a screen with another ink
    ReInk {
        /// The screen
        screen: String,
        /// Name of the new ink on the shelf
        ink: String,
        /// The shop's ink shelf (JSON); without it that of the shop profile
        #[arg(long, value_name = "FILE")]
        shelf: Option<PathBuf>,
        /// Separate all screens again for the new ink
        #[arg(long)]
        separate_again: bool,
    },
    /// Take a screen out
    Drop {
        /// The screen
        screen: String,
        /// Separate the other screens again to make up for it
        #[arg(long)]
        separate_again: bool,
    },
    /// Set the print order, first down first; screens not named follow as they stand
    Order {
        /// Names of screens
        #[arg(value_delimiter = ',', required = true)]
        screens: Vec<String>,
    },
    /// Take light tones out of a screen, make dark ones solid, clear the background
    Trim {
        /// The screen
        screen: String,
        /// Coverage below this becomes none
        #[arg(long, default_value = "0")]
        below: Coverage,
        /// Coverage from here on becomes solid
        #[arg(long, default_value = "100%")]
        above: Coverage,
        /// Width of tone over which each end fades in; 0 is hard
        #[arg(long, default_value = "0")]
        soft: Coverage,
        /// Clear the screen where the artwork's background is
        #[arg(long)]
        background: bool,
    },
    /// Bend the tones by a smooth curve through points
    Curve {
        /// The screen
        screen: String,
        /// Points in percent of coverage, before:after, rising: 0:0 50:42 100:100
        #[arg(required = true, num_args = 2.., value_parser = point)]
        points: Vec<[f64; 2]>,
    },
    /// Stretch the tones between two coverages over the whole range
    ToneRange {
        /// The screen
        screen: String,
        /// This coverage and less becomes none
        #[arg(long, default_value = "0")]
        none: Coverage,
        /// This coverage and more becomes solid
        #[arg(long, default_value = "100%")]
        solid: Coverage,
        /// What the middle between them becomes
        #[arg(long, default_value = "50%")]
        middle: Coverage,
    },
    /// Add points to the middle tones, none at the ends
    Gain {
        /// The screen
        screen: String,
        /// Points at 50 %, -25 to 25
        #[arg(allow_hyphen_values = true)]
        points: f64,
    },
    /// Multiply the coverage
    Density {
        /// The screen
        screen: String,
        /// Factor, 0 to 10
        factor: f64,
    },
    /// Turn ink and no ink round
    Invert {
        /// The screen
        screen: String,
    },
    /// Pull every edge back
    Choke {
        /// The screen
        screen: String,
        /// How far, 0.2mm
        by: Mm,
    },
    /// Push every edge out
    Spread {
        /// The screen
        screen: String,
        /// How far, 0.2mm
        by: Mm,
    },
    /// Clear islands of ink smaller than an area
    Specks {
        /// The screen
        screen: String,
        /// Smallest area that is kept, in square millimetres
        #[arg(value_name = "MM2")]
        under: f64,
        /// Least coverage that counts as ink
        #[arg(long, default_value = "5%")]
        at: Coverage,
    },
    /// Fill holes smaller than an area to what is around them
    Pinholes {
        /// The screen
        screen: String,
        /// Smallest area that stays open, in square millimetres
        #[arg(value_name = "MM2")]
        under: f64,
        /// Coverage below which a spot counts as open
        #[arg(long, default_value = "50%")]
        at: Coverage,
    },
    /// Soften
    Soften {
        /// The screen
        screen: String,
        /// Standard deviation on the print, 0.2mm
        by: Mm,
    },
    /// Sharpen
    Sharpen {
        /// The screen
        screen: String,
        /// Standard deviation of the mask on the print, 0.2mm
        by: Mm,
        /// Strength, 0 to 5
        #[arg(long, default_value_t = 1.0)]
        strength: f64,
    },
    /// Keep a screen's ink inside a region only
    MaskRegion {
        /// The screen
        screen: String,
        #[command(flatten)]
        region: RegionChoice,
        /// Keep what is outside instead
        #[arg(long)]
        outside: bool,
        /// Width of the soft edge on the print
        #[arg(long, default_value = "0mm")]
        soft_edge: Mm,
    },
    /// Keep a screen's ink only where another screen prints
    Mask {
        /// The screen
        screen: String,
        /// The other screen
        by: String,
    },
    /// Take a screen's ink out where another screen prints
    KnockOut {
        /// The screen
        screen: String,
        /// The other screen
        by: String,
        /// How far the two still overlap
        #[arg(long, default_value = "0mm")]
        overlap: Mm,
    },
    /// Take another screen's coverage off this one's
    Subtract {
        /// The screen
        screen: String,
        /// The other screen
        by: String,
        /// Share of it
        #[arg(long, default_value = "100%")]
        share: Coverage,
    },
    /// Exchange what two screens print; inks and places stay
    Swap {
        /// One
        a: String,
        /// The other
        b: String,
    },
    /// Copy a screen, printed right after it
    Copy {
        /// The screen
        screen: String,
        /// Name of the copy
        name: String,
        #[command(flatten)]
        ink: InkChoice,
    },
    /// Set how often a screen prints, one hit on the other
    Hits {
        /// The screen
        screen: String,
        /// 1 to 4
        hits: u8,
    },
    /// Move a range of tones to a screen of its own, printed right after
    Split {
        /// The screen
        screen: String,
        /// Name of the new screen
        name: String,
        #[command(flatten)]
        ink: InkChoice,
        /// Lightest tone that moves
        #[arg(long)]
        from: Coverage,
        /// Darkest tone that moves
        #[arg(long, default_value = "100%")]
        to: Coverage,
        /// Width of tone over which both share the ink
        #[arg(long, default_value = "10%")]
        soft: Coverage,
    },
    /// Make a screen from the artwork, printed last
    FromArt {
        /// Name of the new screen
        name: String,
        #[command(flatten)]
        ink: InkChoice,
        #[command(flatten)]
        source: SourceChoice,
    },
    /// Add a screen; the others are separated again with it, or stay
    Add {
        #[command(flatten)]
        ink: InkChoice,
        /// Name of the new screen; the ink's if left out
        #[arg(long)]
        name: Option<String>,
        /// Where it prints: in the usual place, first after an underbase, or last
        #[arg(long, value_name = "PLACE", default_value = "usual", value_parser = place)]
        place: Place,
        /// Leave the other screens as they are: a first black is then made from the artwork's
        /// shadows and edges, any other ink brings the proof as near as it can
        #[arg(long)]
        keep_others: bool,
    },
    /// Take a screen's ink out of the artwork's background, from the picture's edge inwards
    ClearBackground {
        /// The screen
        screen: String,
        /// Distance in OKLab that still counts as the edge's colour
        #[arg(long, default_value_t = 0.045)]
        tolerance: f64,
        /// Width over which ink comes back inside the background's border
        #[arg(long, default_value = "0mm")]
        soft_edge: Mm,
    },
    /// Make a screen from a grey picture, stretched over the print, printed last
    Import {
        /// Name of the new screen
        name: String,
        /// The picture; it is kept in the job
        picture: PathBuf,
        #[command(flatten)]
        ink: InkChoice,
        /// Light makes ink; else black is solid, as on a film
        #[arg(long)]
        light: bool,
    },
    /// Show the list of edits, and which of them cannot be applied
    List,
    /// Switch an edit on again
    On {
        /// Its number in the list
        number: usize,
    },
    /// Switch an edit off; it stays in the list
    Off {
        /// Its number in the list
        number: usize,
    },
    /// Apply an edit earlier or later
    Move {
        /// Its number in the list
        number: usize,
        /// Its new number
        to: usize,
    },
    /// Take an edit out of the list
    Delete {
        /// Its number in the list
        number: usize,
    },
    /// Fix an edit that cannot be applied
    Fix {
        /// Its number in the list
        number: usize,
        /// Which of the fixes that the list offers
        #[arg(default_value_t = 1)]
        choice: usize,
    },
}

/// The edit, with screens under the names that the job has for them; none for words about the list.
pub fn edit_of(what: What, screens: &Screens) -> anyhow::Result<Edit> {
    let known = |name: &str| find(screens, name);
    Ok(match what {
        What::Merge { from, into, balance } => {
            let (from, into) = (known(&from)?, known(&into)?);
            if from == into {
                bail!("\"{from}\" cannot be merged into itself; name two screens");
            }
            Edit::Merge { from, into, balance }
        }
        What::ReInk { screen, ink: name, shelf, separate_again } => {
            Edit::ReInk { screen: known(&screen)?, ink: ink(&name, shelf.as_ref())?, resolve: separate_again }
        }
        What::Drop { screen, separate_again } => {
            if screens.list.len() == 1 {
                bail!("\"{screen}\" is the only screen; a job needs one");
            }
            Edit::Drop { screen: known(&screen)?, resolve: separate_again }
        }
        What::Order { screens: names } => {
            let names = names.iter().map(|n| known(n.trim())).collect::<Result<Vec<_>, _>>()?;
            if let Some(twice) = names.iter().enumerate().find(|(at, name)| names[..*at].contains(name)) {
                bail!("the order names \"{}\" twice", twice.1);
            }
            Edit::Order { screens: names }
        }
        What::Trim { screen, below, above, soft, background } => {
            if below.get() == 0.0 && above.get() == 1.0 && !background {
                bail!("nothing to trim: give --below, --above, --background or several");
            }
            Edit::Trim { screen: known(&screen)?, below, above, soft, background }
        }
        What::Curve { screen, points } => Edit::Curve { screen: known(&screen)?, curve: Curve::new(points)? },
        What::ToneRange { screen, none, solid, middle } => {
            Edit::Levels { screen: known(&screen)?, none, solid, middle }
        }
        What::Gain { screen, points } => Edit::Gain { screen: known(&screen)?, points },
        What::Density { screen, factor } => Edit::Density { screen: known(&screen)?, factor },
        What::Invert { screen } => Edit::Invert { screen: known(&screen)? },
        What::Choke { screen, by } => Edit::Choke { screen: known(&screen)?, by_mm: by },
        What::Spread { screen, by } => Edit::Spread { screen: known(&screen)?, by_mm: by },
        What::Specks { screen, under, at } => Edit::Specks { screen: known(&screen)?, under_mm2: under, at },
        What::Pinholes { screen, under, at } => Edit::Pinholes { screen: known(&screen)?, under_mm2: under, at },
        What::Soften { screen, by } => Edit::Blur { screen: known(&screen)?, radius_mm: by },
        What::Sharpen { screen, by, strength } => {
            Edit::Sharpen { screen: known(&screen)?, radius_mm: by, amount: strength }
        }
        What::MaskRegion { screen, region, outside, soft_edge } => {
            let side_mm = |px: usize| px as f64 / screens.ppi.get() * MM_PER_INCH;
            let region = region.region([side_mm(screens.width), side_mm(screens.height)]);
            Edit::MaskRegion { screen: known(&screen)?, region, outside, feather_mm: soft_edge }
        }
        What::Mask { screen, by } => Edit::MaskByScreen { screen: known(&screen)?, by: known(&by)? },
        What::KnockOut { screen, by, overlap } => {
            Edit::KnockOut { screen: known(&screen)?, by: known(&by)?, overlap_mm: overlap }
        }
        What::Subtract { screen, by, share } => {
            Edit::Subtract { screen: known(&screen)?, by: known(&by)?, amount: share }
        }
        What::Swap { a, b } => Edit::Swap { a: known(&a)?, b: known(&b)? },
        What::Copy { screen, name, ink } => Edit::Copy { screen: known(&screen)?, name, ink: ink.find()? },
        What::Hits { screen, hits } => Edit::Hits { screen: known(&screen)?, hits },
        What::Split { screen, name, ink, from, to, soft } => {
            let screen = known(&screen)?;
            // Without another ink the tones stay in the screen's own.
            let own = || screens.position(&screen).map(|at| screens.list[at].ink.clone());
            let ink = ink.find()?.or_else(own).context("the screen has no ink")?;
            Edit::Split { screen, name, ink, from, to, soft }
        }
        What::FromArt { name, ink, source } => Edit::FromArt { name, ink: ink.needed()?, source: source.source() },
        What::Add { ink, name, place, keep_others } => {
            let ink = ink.needed()?;
            Edit::Add { name: name.unwrap_or_else(|| ink.name.clone()), ink, place, resolve: !keep_others }
        }
        What::ClearBackground { screen, tolerance, soft_edge } => {
            Edit::ClearBackground { screen: known(&screen)?, tolerance, feather_mm: soft_edge }
        }
        What::Import { name, picture, ink, light } => {
            Edit::Import { name, ink: ink.needed()?, picture: read_grey(&picture)?, light }
        }
        What::List
        | What::On { .. }
        | What::Off { .. }
        | What::Move { .. }
        | What::Delete { .. }
        | What::Fix { .. } => {
            unreachable!("words about the list are done before")
        }
    })
}

/// A screen by name, or by its ink's; case, blanks, `-` and `_` are ignored as on the shelf.
fn find(screens: &Screens, name: &str) -> anyhow::Result<String> {
    let list = &screens.list;
    match names::find(list, name, |s| &s.name).or_else(|| names::find(list, name, |s| &s.ink.name)) {
        Some(screen) => Ok(screen.name.clone()),
        None => {
            let names: Vec<_> = screens.list.iter().map(|s| s.name.as_str()).collect();
            bail!("the job has no screen \"{name}\"; it has {}", names.join(", "))
        }
    }
}

impl What {
    /// The picture that it reads.
    pub fn picture(&self) -> Option<&Path> {
        match self {
            Self::Import { picture, .. } => Some(picture),
            _ => None,
        }
    }

    /// The ink shelf that it reads, if it is not the shop's.
    pub fn shelf(&self) -> Option<&Path> {
        match self {
            Self::ReInk { shelf, .. } => shelf.as_deref(),
            Self::Copy { ink, .. }
            | Self::Split { ink, .. }
            | Self::FromArt { ink, .. }
            | Self::Add { ink, .. }
            | Self::Import { ink, .. } => ink.shelf(),
            _ => None,
        }
    }
}
