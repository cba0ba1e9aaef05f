//! `strikeoff recipe`: grams of each component for a wanted colour, and what to add after a first drawdown.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use serde_json::{Value, json};
use strikeoff_core::color::{Lab, Rgb8, lab_d65_of_d50, linear_from_lab};
use strikeoff_core::findings::outlook;
use strikeoff_core::names::{same, short};
use strikeoff_core::recipe::{Amount, Asked, Batch, Bench, Component, InkRoom, Recipe, Wanted, correct, cost, recipe};
use strikeoff_core::units::Opacity;
use strikeoff_files::ink_room::read_ink_room;
use strikeoff_files::job::open_job;
use strikeoff_files::measured::read_colors;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::read_shelf;

use super::files::Files;
use super::values;
use crate::terminal::{Report, Terminal};

/// What is mixed, of what, and how much.
#[derive(clap::Args)]
#[command(group(clap::ArgGroup::new("wanted").required(true).args(["color", "ink", "sample"])))]
pub struct Args {
    /// The wanted colour: '#RRGGBB', or L,a,b as instruments give it (D50)
    #[arg(allow_hyphen_values = true)]
    color: Option<String>,
    /// The wanted colour is that of an ink, of the job if there is one, else of the shelf; it is to hide as well
    #[arg(long, value_name = "NAME")]
    ink: Option<String>,
    /// The wanted colour was measured: CGATS text or CxF, its first sample
    #[arg(long, value_name = "FILE")]
    sample: Option<PathBuf>,
    /// The ink room: JSON, or the instrument's file of its drawdowns (CGATS text, CxF)
    #[arg(long, value_name = "FILE", required = true)]
    components: PathBuf,
    /// Only these components
    #[arg(long, value_delimiter = ',', value_name = "NAME")]
    only: Vec<String>,
    /// Leave these components out
    #[arg(long, value_delimiter = ',', value_name = "NAME")]
    without: Vec<String>,
    /// A shelf with the ink (JSON); that of the shop profile if left out
    #[arg(long, value_name = "FILE")]
    shelf: Option<PathBuf>,
    /// The job that the ink is for: its garment, and grams for its run
    #[arg(long, value_name = "JOB")]
    job: Option<PathBuf>,
    /// Grams to mix; for the ink of a job the likely use of its run and what stays in the screen if left out
    #[arg(long)]
    grams: Option<f64>,
    /// Spare on top of the grams, in percent
    #[arg(long, default_value_t = 0.0, value_name = "PERCENT")]
    spare: f64,
    /// The scale's step: 1g, 0.1g
    #[arg(long, default_value = "1g", value_name = "STEP")]
    scale: String,
    /// What the colour is judged on: '#RRGGBB' or a house garment; a white card if left out
    #[arg(long)]
    over: Option<String>,
    /// Least opacity, 0 to 1
    #[arg(long)]
    opacity: Option<f64>,
    /// Thickness of the print in drawdowns
    #[arg(long, default_value_t = 1.0)]
    thickness: f64,
    /// Most components
    #[arg(long, default_value_t = 4)]
    most: usize,
    /// CIEDE2000 that one component more must gain
    #[arg(long, default_value_t = 0.3)]
    gain: f64,
    /// What the first drawdown came out as: '#RRGGBB', L,a,b (D50), or an instrument's file
    #[arg(long, value_name = "COLOUR or FILE", allow_hyphen_values = true)]
    measured: Option<String>,
    /// What was weighed for that drawdown, as NAME:GRAMS; the recipe's own amounts if left out
    #[arg(long, value_delimiter = ',', value_name = "NAME:GRAMS")]
    weighed: Vec<String>,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        let files = Files::read(&self.components).and_read(self.sample.as_deref());
        files.and_read(self.shelf.as_deref()).and_read(self.job.as_deref())
    }
}

/// What the recipe is for.
struct Order {
    name: String,
    wanted: Wanted,
    asked: Asked,
    step: f64,
}

/// Finds the recipe, and the correction if a drawdown was measured.
pub fn run(args: Args, terminal: &Terminal) -> Result<Report> {
    let (room, notes) = read_ink_room(&args.components)?;
    let room = chosen(room, &args.only, &args.without)?;
    let order = order(&args, terminal)?;
    let bench = Bench::new(&room, order.asked.ground, order.asked.thick)?;
    let found = recipe(&room, &order.wanted, &order.asked)?;
    let batch = Batch::weigh(&bench, &order.wanted, &found.parts, order.asked.grams, order.step);
    let mut report = told(&room, &order, &found, &batch, &bench);
    for note in &notes {
        report.text += &format!("note: {note}\n");
    }
    report.json["notes"] = json!(notes);
    if let Some(text) = &args.measured {
        let weighed = match args.weighed.is_empty() {
            true => batch.amounts.clone(),
            false => args.weighed.iter().map(|text| amount(&room, text)).collect::<Result<_>>()?,
        };
        let drawdown = measured(text)?;
        let fix = correct(&room, &bench, &weighed, &order.wanted, &drawdown, order.step)?;
        report.text += &format!("\nmeasured: {} from wanted (CIEDE2000)\n", places(fix.before));
        if fix.add.is_empty() {
            report.text += "nothing that could be added brings it nearer\n";
        } else {
            report.text += "add to the pot:\n";
            fix.add.iter().for_each(|a| report.text += &line(&room, a));
            report.text += &format!("then predicted {} from wanted\n", places(fix.after));
        }
        let add: Vec<Value> = fix.add.iter().map(|a| in_json(&room, a)).collect();
        report.json["correction"] = json!({ "add": add, "before": fix.before, "after": fix.after, "lab": fix.lab });
    }
    report.text += CAUTION;
    Ok(report)
}

const CAUTION: &str = "Follow the data sheet of every ink and pigment for handling, most load and cure, and cure a test before the run.\n";

/// The room with some components only; those that others are let down in stay known.
fn chosen(mut room: InkRoom, only: &[String], without: &[String]) -> Result<InkRoom> {
    for name in only.iter().chain(without) {
        room.find(name)?;
    }
    let listed = |names: &[String], c: &Component| names.iter().any(|name| same(name, &c.name));
    let kept = |c: &Component| (only.is_empty() || listed(only, c)) && !listed(without, c);
    let bases: Vec<String> = room
        .components
        .iter()
        .filter(|c| kept(c))
        .flat_map(|c| &c.drawdowns)
        .filter_map(|d| d.within.clone())
        .collect();
    if let Some(base) = room.components.iter().find(|c| !kept(c) && listed(&bases, c)) {
        bail!(
            "\"{}\" is what others are let down in; without it they are not known: keep it in the list",
            short(&base.name)
        );
    }
    room.components.retain(kept);
    room.check()?;
    Ok(room)
}

fn order(args: &Args, terminal: &Terminal) -> Result<Order> {
    let step: f64 = args.scale.trim().trim_end_matches(['g', 'G']).trim().parse().unwrap_or(0.0);
    if !(0.001..=1000.0).contains(&step) {
        bail!("\"{}\" is no step of a scale; write 1g or 0.1g", short(&args.scale));
    }
    if !(0.0..=1000.0).contains(&args.spare)
        || !(0.01..=100.0).contains(&args.thickness)
        || !(0.0..=100.0).contains(&args.gain)
    {
        bail!("the spare must be 0 to 1000 percent, the thickness 0.01 to 100 drawdowns, the gain 0 to 100");
    }
    let mut asked = Asked { thick: args.thickness, most: args.most, gain: args.gain, ..Asked::default() };
    let mut grams = args.grams;
    let (name, mut wanted) = match (&args.color, &args.sample, &args.ink) {
        (Some(text), ..) => (text.clone(), color(text)?),
        (None, Some(path), _) => sample(path)?,
        (None, None, Some(name)) => {
            let (ink, needs) = ink(args, name, terminal)?;
            grams = grams.or(needs);
            (ink.name.clone(), Wanted::of_linear(ink.reflectance_over_white()).with_opacity(ink.opacity))
        }
        (None, None, None) => bail!("give a colour, --ink or --sample"),
    };
    if let Some(opacity) = args.opacity {
        wanted = wanted.with_opacity(Opacity::new(opacity)?);
    }
    if let Some(text) = &args.over {
        asked.ground = values::garment(text)?.reflectance();
    }
    let grams = grams.context("say how much to mix with --grams, or which job's ink it is with --job and --ink")?;
    if !(grams > 0.0 && grams <= 1e6) {
        bail!("the grams to mix must be above 0 to 1000000, not {grams}");
    }
    asked.grams = grams * (1.0 + args.spare / 100.0);
    Ok(Order { name, wanted, asked, step })
}

/// The ink of a name and, in a job, the grams that its run needs.
fn ink(args: &Args, name: &str, terminal: &Terminal) -> Result<(strikeoff_core::ink::Ink, Option<f64>)> {
    let Some(path) = &args.job else {
        let shelf = match &args.shelf {
            Some(path) => read_shelf(path)?,
            None => ShopProfile::load()?.shelf,
        };
        return Ok((shelf.find(name)?.clone(), None));
    };
    let mut file = open_job(path)?;
    let progress = terminal.progress();
    let done = file.evaluated_for_press(&progress)?;
    let screens: Vec<_> = done.screens.list.iter().filter(|s| same(&s.ink.name, name)).collect();
    let Some(first) = screens.first() else {
        let names: Vec<_> = done.screens.list.iter().map(|s| format!("\"{}\"", s.ink.name)).collect();
        bail!("the job has no ink \"{}\"; it has {}", short(name), names.join(", "));
    };
    let look = outlook(&file.job, &done.prepared, &done.screens, &progress)?;
    let uses = look.facts.ink.iter().filter(|i| screens.iter().any(|s| s.name == i.screen));
    Ok((first.ink.clone(), Some(uses.map(|i| i.mix_g).sum())))
}

fn color(text: &str) -> Result<Wanted> {
    if let Ok(color) = text.parse::<Rgb8>() {
        return Ok(Wanted::of_linear(color.linear()));
    }
    let parts: Vec<f64> = text.split(',').filter_map(|v| v.trim().parse().ok()).collect();
    match parts[..] {
        [l, a, b] if (0.0..=100.0).contains(&l) && a.abs() <= 150.0 && b.abs() <= 150.0 => {
            let [l, a, b] = lab_d65_of_d50([l, a, b]).map(|v| v as f32);
            Ok(Wanted::of_lab(Lab::new(l, a, b)))
        }
        _ => bail!("\"{}\" is no colour; write #RRGGBB, or L,a,b as instruments give it", short(text)),
    }
}

fn sample(path: &Path) -> Result<(String, Wanted)> {
    let readings = read_colors(path).with_context(|| path.display().to_string())?;
    let first = readings.into_iter().next().context("the file has no samples")?;
    let [l, a, b] = first.lab.map(|v| v as f32);
    let wanted = first.spectrum.map_or_else(|| Wanted::of_lab(Lab::new(l, a, b)), Wanted::of_spectrum);
    Ok((first.name, wanted))
}

fn measured(text: &str) -> Result<Wanted> {
    let path = Path::new(text);
    if path.is_file() { Ok(sample(path)?.1) } else { color(text) }
}

fn amount(room: &InkRoom, text: &str) -> Result<Amount> {
    let parsed = text.rsplit_once(':').and_then(|(name, grams)| Some((name, grams.trim().parse::<f64>().ok()?)));
    match parsed {
        Some((name, grams)) if grams > 0.0 && grams <= 1e6 => Ok(Amount { component: room.find(name.trim())?, grams }),
        _ => bail!("\"{}\" is no weighed amount; write NAME:GRAMS", short(text)),
    }
}

fn told(room: &InkRoom, order: &Order, found: &Recipe, batch: &Batch, bench: &Bench) -> Report {
    let parts = batch.parts();
    let lab = bench.lab(&parts);
    let hex = |lab: [f64; 3]| {
        let [l, a, b] = lab.map(|v| v as f32);
        Rgb8::from_linear(linear_from_lab(Lab::new(l, a, b)))
    };
    let mut text = format!("{}: {} of {}\n", order.name, grams(batch.grams), count(batch.amounts.len()));
    batch.amounts.iter().for_each(|a| text += &line(room, a));
    text += &format!(
        "wanted {}, predicted {}: {} apart (CIEDE2000); with weighings 2 % off 19 of 20 mixes stay within {} of the prediction\n",
        hex(order.wanted.lab),
        hex(lab),
        places(batch.miss),
        places(found.spread)
    );
    text += &format!("opacity {:.2}\n", bench.opacity(&parts));
    if !found.mixed {
        text += "this colour cannot be mixed from these components as it is wanted; the recipe is the nearest\n";
    }
    let priced = match cost(room, &batch.amounts) {
        Ok(price) => {
            text += &format!("cost {price:.2}\n");
            json!(price)
        }
        Err(without) if without.len() < batch.amounts.len() => {
            text += &format!("no cost: {} has no price\n", without.join(", "));
            Value::Null
        }
        Err(_) => Value::Null,
    };
    if bench.bands() == strikeoff_core::recipe::Bands::Linear {
        text += "computed in three bands from colours, an assumption: measured drawdowns come nearer\n";
    }
    let amounts: Vec<Value> = batch.amounts.iter().map(|a| in_json(room, a)).collect();
    let json = json!({
        "wanted": { "name": order.name, "lab": order.wanted.lab, "color": hex(order.wanted.lab) },
        "predicted": { "lab": lab, "color": hex(lab), "opacity": bench.opacity(&parts) },
        "delta_e2000": batch.miss,
        "spread": found.spread,
        "mixed": found.mixed,
        "by_count": found.by_count,
        "grams": batch.grams,
        "amounts": amounts,
        "cost": priced,
    });
    Report { json, text }
}

fn count(components: usize) -> String {
    if components == 1 { "one component".to_owned() } else { format!("{components} components") }
}

fn places(v: f64) -> String {
    format!("{v:.2}")
}

fn grams(g: f64) -> String {
    let text = format!("{g:.3}");
    format!("{} g", text.trim_end_matches('0').trim_end_matches('.'))
}

fn line(room: &InkRoom, amount: &Amount) -> String {
    let component = &room.components[amount.component];
    let left = if component.leftover_g.is_some() { "  (left over)" } else { "" };
    format!("  {:>10}  {}{left}\n", grams(amount.grams), component.name)
}

fn in_json(room: &InkRoom, amount: &Amount) -> Value {
    json!({ "component": room.components[amount.component].name, "grams": amount.grams })
}
