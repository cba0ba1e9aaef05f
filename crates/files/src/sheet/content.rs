//! What the sheets say, gathered once and in words, so that PDF and HTML cannot disagree.

use strikeoff_core::color::Rgb8;
use strikeoff_core::facts::{Head, PICKED_UP, PressFacts, numbered_heads};
use strikeoff_core::findings::Outlook;
use strikeoff_core::ink::InkRole;
use strikeoff_core::job::Job;
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
    /// Client, version and date as the user wrote them.
    pub client: String,
    /// Version.
    pub version: String,
    /// Date.
    pub date: String,
    /// Garment in words.
    pub garment: String,
    /// Garment, quantity and sizes as the client ordered them, as far as they are stated.
    pub ordered: Vec<String>,
    /// Colour of the fabric.
    pub fabric: Rgb8,
    /// Sizes of the run.
    pub sizes: String,
    /// Quantity and spares.
    pub quantity: String,
    /// Print size in mm.
    pub print_mm: [f64; 2],
    /// The same in words, both units.
    pub print_size: String,
    /// Distance from the collar in mm.
    pub below_collar: Mm,
    /// Resolution and what it means.
    pub resolution: String,
    /// Screens in print order.
    pub screens: Vec<ScreenRow>,
    /// Heads in words.
    pub heads: String,
    /// Dot gain, compensation and choke, with what they rest on.
    pub settings: Vec<String>,
    /// Film and expected printed percents of the step wedge.
    pub wedge: Vec<(u8, u8)>,
    /// What to watch on press.
    pub watch: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Runs so far.
    pub history: Vec<String>,
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
        let color = job.garment.color.to_string();
        let name = &job.garment.name;
        let name = if same(name, &color) { color } else { format!("{name} ({color})") };
        let fabric = job.garment.fabric.as_deref();
        let garment = format!("{name}, {}", fabric.unwrap_or("fabric not stated"));
        // What the client ordered, without what only the shop needs or nobody stated.
        let mut ordered =
            vec![format!("Garment {}", fabric.map_or(name.clone(), |fabric| format!("{name}, {fabric}")))];
        if info.quantity > 0 {
            ordered.push(format!("Quantity {}", info.quantity));
        }
        if !info.sizes.trim().is_empty() {
            ordered.push(format!("Sizes {}", info.sizes.trim()));
        }
        let [w, h] = prepared.print_size_mm;
        Self {
            title: or(&info.title, "Untitled job"),
            client: or(&info.client, "not stated"),
            version: or(&info.version, "1"),
            date: or(&info.date, "not stated"),
            garment,
            ordered,
            fabric: job.garment.color,
            sizes: or(&info.sizes, "not stated"),
            quantity: if info.quantity == 0 {
                "not stated".to_owned()
            } else {
                format!("{} and {} spares: {} shirts", info.quantity, facts.shirts - info.quantity, facts.shirts)
            },
            print_mm: [w, h],
            print_size: format!("{w:.0} x {h:.0} mm ({:.2} x {:.2} in)", w / MM_PER_INCH, h / MM_PER_INCH),
            below_collar: job.run.below_collar_mm,
            resolution: facts.resolution.clone(),
            screens: rows,
            heads: numbered_heads(&facts.heads).join("  ·  "),
            settings: settings(job, screens, facts),
            wedge: wedge(job),
            watch: watch(outlook),
            cautions: facts.cautions.clone(),
            history: info.history.clone(),
            proof: look(screens.list.len()),
        }
    }

    /// What people named or wrote: reported whole where letters of it are missing.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let job = [&self.title, &self.client, &self.version, &self.date, &self.garment, &self.sizes];
        let screens = self.screens.iter().flat_map(|row| [&row.name, &row.ink, &row.mesh]);
        job.into_iter().chain(screens).map(String::as_str)
    }
}

fn or(text: &str, instead: &str) -> String {
    if text.trim().is_empty() { instead.to_owned() } else { text.trim().to_owned() }
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
    let mut meshes: Vec<&strikeoff_core::usage::Mesh> = screens.list.iter().map(|s| job.run.mesh_of(&s.name)).collect();
    meshes.dedup_by(|a, b| a.name == b.name);
    let meshes: Vec<String> = meshes
        .iter()
        .map(|m| format!("{} is {:.0} threads an inch, {:.0} a cm", m.name, m.threads_per_inch, m.threads_per_cm()))
        .collect();
    out.push(format!("Mesh: {}.", meshes.join("; ")));
    out.push(format!("Wet on wet keeps {:.0} % of an ink's opacity (assumed).", job.press.wet_on_wet.get() * 100.0));
    out.push(format!("Wet pick-up: {:.0} % of the ink below ends up in the ink above (assumed).", PICKED_UP * 100.0));
    out.push(facts.optics.clone());
    out.push(match job.run.ink.weighed_g_per_shirt {
        Some(g) => format!("Ink use from one weighed shirt: {g:.1} g (measured)."),
        None => {
            "Ink use from mesh volume and usual factors (assumed); weigh a shirt before and after to narrow it.".into()
        }
    });
    let mix: f64 = facts.ink.iter().map(|i| i.mix_g).sum();
    let costs: Vec<f64> = facts.ink.iter().filter_map(|i| i.cost).collect();
    let cost = match costs.len() {
        0 => String::new(),
        n => format!("; {:.2} for the {n} priced", costs.iter().sum::<f64>()),
    };
    out.push(format!(
        "Ink to mix, likely use and {:.0} g left in each screen: {mix:.0} g in all{cost}.",
        job.run.ink.left_in_screen_g
    ));
    out
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
