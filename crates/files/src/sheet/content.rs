//! What the sheets say, gathered once and in words, so that PDF and HTML cannot disagree.

use strikeoff_core::color::Rgb8;
use strikeoff_core::facts::{Head, PICKED_UP, PressFacts, numbered_heads};
use strikeoff_core::findings::Outlook;
use strikeoff_core::halftone::Emulsion;
use strikeoff_core::ink::InkRole;
use strikeoff_core::job::{Job, RunRecord};
use strikeoff_core::names::same;
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::{Stop, proof_from_screens};
use strikeoff_core::raster::{Picture, Plane};
use strikeoff_core::screens::{Screen, ScreenName, Screens};
use strikeoff_core::sureness::sureness;
use strikeoff_core::tune::{Edit, edits};
use strikeoff_core::units::{MM_PER_INCH, Mm, Ppi};

/// One screen on the sheet.
pub struct ScreenRow {
    /// Number of the head it stands on.
    pub head: usize,
    /// Name of the screen.
    pub name: String,
    /// Name of the ink.
    pub ink: String,
    /// Colour of the solid over white.
    pub swatch: Rgb8,
    /// Whether the ink was measured.
    pub measured: bool,
    /// Mesh by name.
    pub mesh: String,
    /// Ruling, angle and dot shape.
    pub halftone: String,
    /// Mean coverage, percent.
    pub coverage: String,
    /// Its film among all films: "2 of 6".
    pub film: String,
    /// Grams a shirt: likely, and the range.
    pub each: String,
    /// Grams to mix.
    pub mix: String,
    /// Grams a run: likely, and the range.
    pub grams: String,
    /// Prints of the screen, one on the other.
    pub hits: u8,
    /// What follows on the press.
    pub after: &'static str,
    /// Shirts between looks at the ink.
    pub check_every: u32,
    /// The look after this screen.
    pub look: Picture,
}

/// Everything that a sheet says.
pub struct Content {
    /// Name of the job, or "Untitled job".
    pub title: String,
    /// Client, order, day due, version and date: what is stated of them.
    pub head: Vec<(&'static str, String)>,
    /// What is printed, on what, where and how many: a row each, what is stated of it.
    pub facts: Vec<(&'static str, String)>,
    /// Garment, quantity and sizes as the client ordered them, as far as they are stated.
    pub ordered: Vec<String>,
    /// Colour of the fabric.
    pub fabric: Rgb8,
    /// Print size in mm.
    pub print_mm: [f64; 2],
    /// The same in words, both units.
    pub print_size: String,
    /// Where on the garment it prints, in words.
    pub place: String,
    /// Distance from the collar in mm.
    pub below_collar: Mm,
    /// Screens in print order.
    pub screens: Vec<ScreenRow>,
    /// Dot gain, compensation and choke, with what they rest on.
    pub settings: Vec<String>,
    /// What the ink list says below its table.
    pub ink_notes: Vec<String>,
    /// What the screen-room list says below its table.
    pub screen_notes: Vec<String>,
    /// Film and expected printed percents of the step wedge.
    pub wedge: Vec<(u8, u8)>,
    /// What to watch on press.
    pub watch: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Runs so far, the latest first.
    pub runs: Vec<String>,
    /// The finished print.
    pub proof: Picture,
}

/// Longest side of the pictures on a sheet, in pixels.
const PICTURE_PX: usize = 900;

impl Content {
    /// Gathers it from a job, its screens and its outlook.
    pub fn new(job: &Job, prepared: &Prepared, screens: &Screens, outlook: &Outlook) -> Self {
        let facts = &outlook.facts;
        let small = shrink(screens, PICTURE_PX);
        let look = |upto: usize| {
            let shown: Vec<&str> = small.list[..upto].iter().map(|s| s.name.as_str()).collect();
            proof_from_screens(&small, &job.ground(), |name| shown.contains(&name))
        };
        let rows = (0..screens.list.len()).map(|at| row(job, &screens.list[at], facts, at, look(at + 1))).collect();
        let info = &job.info;
        let (head, ordered) = info.stated().into_iter().partition(|(what, _)| HEAD.contains(what));
        let [w, h] = prepared.print_size_mm;
        let print_size = format!("{w:.0} x {h:.0} mm ({:.2} x {:.2} in)", w / MM_PER_INCH, h / MM_PER_INCH);
        Self {
            title: if info.title.trim().is_empty() { "Untitled job".to_owned() } else { info.title.trim().to_owned() },
            head,
            facts: rows_of_facts(job, facts, &ordered, &print_size),
            ordered: what_was_ordered(job, ordered),
            fabric: job.garment.color,
            print_mm: [w, h],
            place: place(job),
            print_size,
            below_collar: job.run.below_collar_mm,
            screens: rows,
            settings: settings(job, screens, facts),
            ink_notes: ink_notes(job, facts),
            screen_notes: screen_notes(job, screens),
            wedge: wedge(job),
            watch: watch(outlook),
            cautions: facts.cautions.clone(),
            runs: info.runs.iter().rev().map(RunRecord::line).collect(),
            proof: look(screens.list.len()),
        }
    }

    /// What people named or wrote: reported whole where letters of it are missing.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let named = |(what, _): &&(&str, String)| ["Garment", "Sizes", "Placement", "Notes"].contains(what);
        let job = self.head.iter().chain(self.facts.iter().filter(named)).map(|(_, text)| text);
        let screens = self.screens.iter().flat_map(|row| [&row.name, &row.ink, &row.mesh]);
        std::iter::once(&self.title).chain(job).chain(screens).map(String::as_str)
    }
}

/// What of a ticket stands at the head of a sheet.
const HEAD: [&str; 5] = ["Client", "Order", "Due", "Version", "Date"];

/// What the client ordered, without what only the shop needs or nobody stated.
fn what_was_ordered(job: &Job, stated: Vec<(&'static str, String)>) -> Vec<String> {
    let (name, fabric) = (&job.garment.name, job.garment.fabric.as_deref());
    let garment = fabric.map_or(name.clone(), |fabric| format!("{name}, {fabric}"));
    let asked = stated.into_iter().filter(|(what, _)| ["Quantity", "Sizes", "Notes"].contains(what));
    let asked = asked.map(|(what, text)| if what == "Notes" { text } else { format!("{what} {text}") });
    std::iter::once(format!("Garment {garment}")).chain(asked).collect()
}

/// Where it prints: in the shop's words, and below the collar.
fn place(job: &Job) -> String {
    let below = job.run.below_collar_mm;
    let below = format!("{:.0} mm ({:.1} in) below the collar", below.get(), below.inches());
    match job.info.placement.trim() {
        "" => format!("centred, {below}"),
        words => format!("{words}, {below}"),
    }
}

fn rows_of_facts(
    job: &Job,
    facts: &PressFacts,
    stated: &[(&'static str, String)],
    print_size: &str,
) -> Vec<(&'static str, String)> {
    let color = job.garment.color.to_string();
    let name = &job.garment.name;
    let name = if same(name, &color) { color } else { format!("{name} ({color})") };
    let garment = job.garment.fabric.as_deref().map_or(name.clone(), |fabric| format!("{name}, {fabric}"));
    let said = |what: &str| stated.iter().find(|(of, _)| *of == what).map(|(_, text)| text.clone());
    let quantity = job.info.quantity;
    let spares = facts.shirts.saturating_sub(quantity);
    let quantity = (quantity > 0).then(|| format!("{quantity} and {spares} spares: {} shirts", facts.shirts));
    [
        ("Garment", Some(garment)),
        ("Sizes", said("Sizes")),
        ("Quantity", quantity),
        ("Print size", Some(print_size.to_owned())),
        ("Placement", Some(place(job))),
        ("Artwork", Some(facts.resolution.clone())),
        ("Heads", Some(numbered_heads(&facts.heads).join("  ·  "))),
        ("Notes", said("Notes")),
    ]
    .into_iter()
    .filter_map(|(what, text)| Some((what, text?)))
    .collect()
}

fn row(job: &Job, screen: &Screen, facts: &PressFacts, at: usize, look: Picture) -> ScreenRow {
    let (fact, ink) = (&facts.screens[at], &facts.ink[at]);
    let head = facts.heads.iter().position(|h| *h == Head::Screen(screen.name.clone())).unwrap_or(at) + 1;
    ScreenRow {
        head,
        name: screen.name.to_string(),
        ink: screen.ink.name.clone(),
        swatch: screen.ink.over_white,
        measured: screen.ink.measured,
        mesh: fact.mesh.clone(),
        halftone: format!("{:.0} lpi / {}° / {}", fact.ruling_lpi, short(fact.angle_deg), dot_name(job, &screen.name)),
        coverage: format!("{:.1} %", fact.mean_coverage * 100.0),
        film: format!("{} of {}", at + 1, facts.screens.len()),
        each: format!("{:.1} g ({:.1} to {:.1})", ink.g_per_shirt.likely, ink.g_per_shirt.low, ink.g_per_shirt.high),
        mix: format!("{:.0} g", ink.mix_g),
        grams: format!("{:.0} g ({:.0} to {:.0})", ink.run_g.likely, ink.run_g.low, ink.run_g.high),
        hits: screen.hits,
        after: match job.press.stops.get(&screen.name) {
            _ if at + 1 == facts.screens.len() => "dryer",
            Some(Stop::Flash) => "flash",
            Some(Stop::FlashAndCoolDown) => "flash, cool-down",
            None => "wet on wet",
        },
        check_every: ink.check_every_shirts,
        look,
    }
}

fn short(value: f64) -> String {
    format!("{value:.1}").trim_end_matches(".0").to_owned()
}

fn dot_name(job: &Job, screen: &ScreenName) -> String {
    job.film.of_screen(screen).2.name().replace('-', " ")
}

fn settings(job: &Job, screens: &Screens, facts: &PressFacts) -> Vec<String> {
    let mut out = vec![format!(
        "Dot gain: {}; films {}.",
        job.press.gain.describe(),
        if job.press.compensate { "carry its inverse" } else { "are not compensated" }
    )];
    if screens.list.iter().any(|s| s.ink.role == InkRole::BaseWhite) {
        out.push(format!("Underbase choked by {} mm (set in the job).", job.separation.underbase.choke_mm));
    }
    for edit in job.edits.iter().filter(|e| e.on).map(|e| &e.edit) {
        match edit {
            Edit::Choke(edits::Choke { screen, by_mm }) => {
                out.push(format!("{screen} choked by {by_mm} mm (set in the job)."))
            }
            Edit::Spread(edits::Spread { screen, by_mm }) => {
                out.push(format!("{screen} spread by {by_mm} mm (set in the job)."))
            }
            _ => {}
        }
    }
    match sureness(job, screens) {
        Some(Ok(sure)) => out.push(format!("Measured press: {}.", sure.describe())),
        Some(Err(why)) => out.push(format!("How sure colours are is not known: {why}.")),
        None => {}
    }
    out.push(format!("Films: {} dpi. Register expected within {} mm (assumed).", job.film.dpi, job.run.register_mm));
    out.push(meshes(job, screens));
    out.push(format!("Wet on wet keeps {:.0} % of an ink's opacity (assumed).", job.press.wet_on_wet.get() * 100.0));
    out.push(format!("Wet pick-up: {:.0} % of the ink below ends up in the ink above (assumed).", PICKED_UP * 100.0));
    out.push(facts.optics.clone());
    out.extend(ink_notes(job, facts));
    out
}

fn meshes(job: &Job, screens: &Screens) -> String {
    let mut meshes: Vec<&strikeoff_core::usage::Mesh> = screens.list.iter().map(|s| job.run.mesh_of(&s.name)).collect();
    meshes.dedup_by(|a, b| a.name == b.name);
    let meshes: Vec<String> = meshes
        .iter()
        .map(|m| format!("{} is {:.0} threads an inch, {:.0} a cm", m.name, m.threads_per_inch, m.threads_per_cm()))
        .collect();
    format!("Mesh: {}.", meshes.join("; "))
}

/// What the grams rest on, and what is to be mixed in all.
fn ink_notes(job: &Job, facts: &PressFacts) -> Vec<String> {
    let rests_on = match job.run.ink.weighed_g_per_shirt {
        Some(g) => format!("Ink use from one weighed shirt: {g:.1} g (measured)."),
        None => {
            "Ink use from mesh volume and usual factors (assumed); weigh a shirt before and after to narrow it.".into()
        }
    };
    let mix: f64 = facts.ink.iter().map(|i| i.mix_g).sum();
    let costs: Vec<f64> = facts.ink.iter().filter_map(|i| i.cost).collect();
    let cost = match costs.len() {
        0 => String::new(),
        n => format!("; {:.2} for the {n} priced", costs.iter().sum::<f64>()),
    };
    let mix = format!(
        "Ink to mix, likely use and {:.0} g left in each screen: {mix:.0} g in all{cost}.",
        job.run.ink.left_in_screen_g
    );
    vec![rests_on, mix]
}

/// How many screens of each mesh, which side of the film lies on the emulsion, and what the meshes are.
fn screen_notes(job: &Job, screens: &Screens) -> Vec<String> {
    let mut counted: Vec<(&str, usize)> = Vec::new();
    for screen in &screens.list {
        let mesh = job.run.mesh_of(&screen.name).name.as_str();
        match counted.iter_mut().find(|(name, _)| *name == mesh) {
            Some((_, count)) => *count += 1,
            None => counted.push((mesh, 1)),
        }
    }
    let counted: Vec<String> = counted.iter().map(|(mesh, count)| format!("{count} of {mesh}")).collect();
    let emulsion = match job.film.emulsion {
        Emulsion::Up => "emulsion up",
        Emulsion::Down => "emulsion down (mirrored)",
    };
    let sense = if job.film.reverse { ", negative" } else { "" };
    let down = job.film.dpi_down.filter(|down| *down != job.film.dpi).map(|down| format!(" x {down}"));
    vec![
        format!("Screens: {}.", counted.join(", ")),
        format!("Films: {}{} dpi, {emulsion}{sense}.", job.film.dpi, down.unwrap_or_default()),
        meshes(job, screens),
    ]
}

fn wedge(job: &Job) -> Vec<(u8, u8)> {
    let curve = job.press.gain.curve(job.film.ruling);
    [2, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 98]
        .map(|film| (film, (curve.print(f32::from(film) / 100.0) * 100.0).round() as u8))
        .to_vec()
}

fn watch(outlook: &Outlook) -> Vec<String> {
    let mut out: Vec<String> = outlook.findings.iter().map(|f| format!("{}: {}", f.severity.label(), f.what)).collect();
    if let Some(worst) = outlook.facts.gain.first() {
        out.push(format!(
            "Watch the gain of {} first: ten points more or less shift colours by dE {:.1} on average (dE 2000; 2 is just seen).",
            worst.screen, worst.mean
        ));
    }
    if let Some(refill) = outlook.facts.ink.iter().min_by_key(|i| i.check_every_shirts) {
        out.push(format!(
            "Look at the ink every {} shirts; {} runs low first.",
            refill.check_every_shirts, refill.screen
        ));
    }
    out
}

/// The screens at a size for looking: block means.
pub fn shrink(screens: &Screens, longest_px: usize) -> Screens {
    let block = screens.width.max(screens.height).div_ceil(longest_px).max(1);
    let (w, h) = (screens.width.div_ceil(block).max(1), screens.height.div_ceil(block).max(1));
    let mean = |plane: &Plane<u16>| {
        Plane::from_fn(w, h, |x, y| {
            let (mut sum, mut n) = (0u64, 0u64);
            for v in y * block..((y + 1) * block).min(plane.height()) {
                for &p in &plane.row(v)[x * block..((x + 1) * block).min(plane.width())] {
                    sum += u64::from(p);
                    n += 1;
                }
            }
            (sum / n.max(1)) as u16
        })
    };
    Screens {
        width: w,
        height: h,
        ppi: Ppi::new((screens.ppi.get() / block as f64).max(1.0)).unwrap_or(screens.ppi),
        list: (screens.list.iter())
            .map(|s| Screen { name: s.name.clone(), ink: s.ink.clone(), hits: s.hits, coverage: mean(&s.coverage) })
            .collect(),
    }
}
