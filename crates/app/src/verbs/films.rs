//! `strikeoff films`: the job's screens as 1-bit films at true scale, a TIFF each and one PDF.

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use serde_json::json;
use strikeoff_core::bounds::table;
use strikeoff_core::halftone::{DotShape, Emulsion, Linearisation, SmallDots, SmallHoles};
use strikeoff_core::job::Job;
use strikeoff_core::moire::{AngleSet, angle_set};
use strikeoff_core::names::clean;
use strikeoff_core::press::DotGain;
use strikeoff_core::screens::Screens;
use strikeoff_core::units::{Coverage, Degrees, Dpi, Lpi, Mm};
use strikeoff_core::usage::Mesh;
use strikeoff_files::film::{FilmOptions, FilmSet, SpotDepth, TiffCompression, write_films};
use strikeoff_files::job::open_job;
use strikeoff_files::measured::wedge_table;
use strikeoff_files::profile::ShopProfile;

use super::files::Files;
use super::screens::screens_of;
use crate::terminal::{Report, Terminal};

/// Make films: one 1-bit TIFF per screen and a PDF with one page per screen
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Folder for the films; made if it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Resolution of the film printer, dots per inch; without it the job's
    #[arg(long)]
    dpi: Option<Dpi>,
    /// Its resolution down the film, where it differs, such as 1440 with --dpi 720
    #[arg(long, value_name = "DPI")]
    dpi_down: Option<Dpi>,
    /// Halftone ruling, such as 45lpi; without it the job's
    #[arg(long)]
    ruling: Option<Lpi>,
    /// Halftone angle in degrees, counter-clockwise; without it the job's
    #[arg(long, allow_negative_numbers = true)]
    angle: Option<Degrees>,
    /// Dot: round, euclidean, ellipse, ellipse:40,60 (joining tones), square, diamond, line, or
    /// with the size of a dot blue-noise:100um, diffusion:100um, index:0.3mm, index:85dpi
    #[arg(long)]
    dot: Option<DotShape>,
    /// What differs for one screen: its name, a colon, and any of ruling, angle, dot and mesh,
    /// such as "Ink black: 55lpi 22.5deg ellipse 305/34"; may be given several times
    #[arg(long = "screen", value_name = "NAME: WORDS")]
    screens: Vec<String>,
    /// Angles of all screens: "one" (the same), "spread" (three deep inks 30 degrees apart, the
    /// palest between), or "suggested" (those that do best with real dots on this art)
    #[arg(long, value_name = "SET")]
    angles: Option<String>,
    /// Smallest dot, or "mesh" for what each screen's mesh holds, and what becomes of smaller ones: thin (fewer
    /// dots, so that tones stay), keep, clip or lift, such as 3%:lift
    #[arg(long, value_name = "TONE:POLICY")]
    smallest: Option<String>,
    /// Largest dot and what becomes of larger ones (keep, clip, lift), such as 97%:clip
    #[arg(long, value_name = "TONE:POLICY")]
    largest: Option<String>,
    /// Gain that the films undo: "off", "job", points at 50 % such as 28, edge growth such as
    /// 60um, or a wedge file with a line "film,printed" in percent for each step
    #[arg(long, value_name = "CURVE")]
    compensate: Option<String>,
    /// The film printer's own tone: a wedge file with a line "sent,measured" in percent for each
    /// step; the films undo it
    #[arg(long, value_name = "FILE")]
    film_tone: Option<PathBuf>,
    /// Film around the print on each side, such as 0.5in or 12mm
    #[arg(long)]
    margin: Option<Mm>,
    /// Widest film that the film printer takes, such as 24in; wider films are turned
    #[arg(long, value_name = "WIDTH")]
    printer_width: Option<Mm>,
    /// Put all films on one length of roll of that width, as short as can be, with cut marks
    #[arg(long)]
    gang: bool,
    /// Emulsion down: turn the films left to right
    #[arg(long)]
    mirror: bool,
    /// Reversed films, clear where ink prints
    #[arg(long)]
    reverse: bool,
    /// How TIFF films are packed: g4 (CCITT Group 4), deflate or none
    #[arg(long, default_value = "g4", value_parser = ["g4", "deflate", "none"])]
    compression: String,
    /// Also write a composite PDF of the screens before halftone, one spot colour each
    #[arg(long)]
    composite: bool,
    /// Also write a TIFF with a channel a screen before halftone, 8 or 16 bits a sample; programs
    /// that know only CMYK show it wrong
    #[arg(long, value_name = "BITS", value_parser = ["8", "16"])]
    spots: Option<String>,
    /// Write no PDF
    #[arg(long)]
    no_pdf: bool,
    /// Write no TIFF
    #[arg(long)]
    no_tiff: bool,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        let curve = self.compensate.as_deref().map(Path::new).filter(|path| path.is_file());
        Files::read(&self.job).and_read(self.film_tone.as_deref()).and_read(curve)
    }
}

/// Opens the job, makes the films and lists them.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let options = FilmOptions {
        pdf: !args.no_pdf,
        tiff: !args.no_tiff,
        compression: match args.compression.as_str() {
            "deflate" => TiffCompression::Deflate,
            "none" => TiffCompression::None,
            _ => TiffCompression::G4,
        },
        gang: args.gang,
        composite: args.composite,
        spots: args.spots.as_deref().map(|bits| if bits == "16" { SpotDepth::Sixteen } else { SpotDepth::Eight }),
        keep: args.files().kept(terminal.overwrite()),
    };
    if !(options.tiff || options.pdf || options.composite || options.spots.is_some()) {
        bail!("--no-tiff and --no-pdf leave nothing to write; drop one of them or add --composite or --spots");
    }
    let mut file = open_job(&args.job)?;
    let progress = terminal.progress();
    let screens = screens_of(&mut file, &progress)?;
    // What the line asks for holds for these films; the job file keeps its own settings.
    let job = &mut file.job;
    settle(job, &args, &screens)?;
    let mut notes = Vec::new();
    if let Some(set) = &args.angles {
        let known = AngleSet::ALL.map(AngleSet::name).join(", ");
        let set = AngleSet::ALL.into_iter().find(|known| known.name() == set.trim());
        let set = set.with_context(|| format!("--angles can be {known}"))?;
        let angles = angle_set(set, job, &screens);
        angles.apply(&screens, &mut job.film);
        if angles.risk > 0.0 {
            let risk = angles.risk * 100.0;
            notes.push(format!("these angles leave a moire risk of {risk:.0} %; \"strikeoff check\" says where"));
        }
    }
    for text in &args.screens {
        own_words(job, &screens, text)?;
    }
    job.check()?;
    let printer = ShopProfile::load()?.film_printer;
    if options.gang {
        // A roll is as wide as the shop's film printer takes, unless the job or the line says so.
        job.film.printer_width.get_or_insert(printer.width_mm);
    }
    let set = write_films(job, &screens, &args.out, &options, &progress)?;
    let too_wide = set.films.iter().find_map(|film| printer.note(film.size_mm));
    let too_wide = too_wide.filter(|_| job.film.printer_width.is_none());
    notes.extend(too_wide.clone());
    notes.extend(set.found.iter().chain(&set.notes).cloned());
    let mut report = report(job, &set, &notes);
    report.json["too_wide"] = json!(too_wide);
    Ok(report)
}

/// Takes over what holds for all screens.
fn settle(job: &mut Job, args: &Args, screens: &Screens) -> anyhow::Result<()> {
    let film = &mut job.film;
    film.dpi = args.dpi.unwrap_or(film.dpi);
    film.dpi_down = args.dpi_down.or(film.dpi_down);
    film.printer_width = args.printer_width.or(film.printer_width);
    // Asked for all screens, so no screen keeps its own.
    for screen in &screens.list {
        film.change_own(&screen.name, |own| {
            own.ruling = own.ruling.filter(|_| args.ruling.is_none());
            own.angle = own.angle.filter(|_| args.angle.is_none());
            own.dot = own.dot.filter(|_| args.dot.is_none());
        });
    }
    film.ruling = args.ruling.unwrap_or(film.ruling);
    if let Some(angle) = args.angle {
        film.angle = angle;
        film.share_one_angle();
    }
    film.dot = args.dot.unwrap_or(film.dot);
    if let Some(text) = &args.smallest {
        let (tone, word) = limit(text).context("--smallest")?;
        film.limits.smallest = tone;
        film.limits.below = match word.as_deref().unwrap_or("thin") {
            "thin" => SmallDots::Thin,
            "keep" => SmallDots::Keep,
            "clip" => SmallDots::Clip,
            "lift" => SmallDots::Lift,
            other => bail!("--smallest: \"{other}\" is no way with small dots; it can be thin, keep, clip or lift"),
        };
    }
    if let Some(text) = &args.largest {
        let (tone, word) = limit(text).context("--largest")?;
        film.limits.largest =
            tone.context("--largest: \"mesh\" says the smallest dot alone; give a tone, such as 97%")?;
        film.limits.above = match word.as_deref().unwrap_or("lift") {
            "keep" => SmallHoles::Keep,
            "clip" => SmallHoles::Clip,
            "lift" => SmallHoles::Lift,
            other => bail!("--largest: \"{other}\" is no way with small holes; it can be keep, clip or lift"),
        };
    }
    film.margin = args.margin.unwrap_or(film.margin);
    if args.mirror {
        film.emulsion = Emulsion::Down;
    }
    film.reverse |= args.reverse;
    if let Some(path) = &args.film_tone {
        let (name, points) = wedge(path, "--film-tone")?;
        film.linearisation = Some(Linearisation { name, points });
    }
    if let Some(curve) = &args.compensate {
        match curve.as_str() {
            "off" => job.press.compensate = false,
            "job" => job.press.compensate = true,
            other => {
                job.press.compensate = true;
                job.press.gain = gain(other)?;
            }
        }
    }
    Ok(())
}

/// One screen's own settings: `Ink black: 55lpi 22.5deg ellipse 305/34`.
fn own_words(job: &mut Job, screens: &Screens, text: &str) -> anyhow::Result<()> {
    // A name may hold a colon itself: the longest name that fits is meant.
    let found = screens
        .list
        .iter()
        .filter_map(|screen| {
            let (name, words) = text.split_at_checked(screen.name.len())?;
            let words = words.trim_start().strip_prefix(':')?;
            (screen.name == *name).then_some((screen.name.clone(), words))
        })
        .max_by_key(|(name, _)| name.len());
    let Some((name, words)) = found else {
        let known: Vec<_> = screens.list.iter().map(|s| s.name.as_str()).collect();
        bail!(
            "--screen \"{text}\" begins with no screen of this job and a colon; its screens are: {}",
            known.join(", ")
        );
    };
    for word in words.split_whitespace() {
        let lower = word.to_lowercase();
        if lower.contains('/') && !lower.ends_with("/cm") {
            let mesh = Mesh::named(word).with_context(|| format!("--screen \"{text}\""))?;
            job.run.meshes.insert(name.clone(), mesh);
        } else if lower.ends_with("lpi") || lower.ends_with("/cm") {
            let ruling: Lpi = lower.parse().with_context(|| format!("--screen \"{text}\""))?;
            job.film.change_own(&name, |own| own.ruling = Some(ruling));
        } else if lower.starts_with(|c: char| c.is_ascii_digit() || c == '-') {
            let angle: Degrees = lower.parse().with_context(|| format!("--screen \"{text}\""))?;
            job.film.change_own(&name, |own| own.angle = Some(angle));
        } else {
            let dot: DotShape = lower.parse().with_context(|| format!("--screen \"{text}\""))?;
            job.film.change_own(&name, |own| own.dot = Some(dot));
        }
    }
    Ok(())
}

/// A tone and what becomes of those beyond it: `3%:lift`, or `mesh:thin` for what each screen's mesh holds.
fn limit(text: &str) -> anyhow::Result<(Option<Coverage>, Option<String>)> {
    let (tone, word) = match text.split_once(':') {
        Some((tone, word)) => (tone, Some(word.trim().to_lowercase())),
        None => (text, None),
    };
    let tone = if tone.trim().eq_ignore_ascii_case("mesh") { None } else { Some(tone.parse()?) };
    Ok((tone, word))
}

fn report(job: &Job, set: &FilmSet, notes: &[String]) -> Report {
    let mut text = String::new();
    for film in &set.films {
        let [w, h] = film.size_mm;
        let name = film.tiff.as_ref().map_or_else(|| film.screen.to_string(), |path| path.display().to_string());
        let turned = if film.turned { ", turned" } else { "" };
        let how = job.film.describe(&film.screen);
        text += &format!("{name}  {w:.1} x {h:.1} mm{turned}  {}, {how}\n", film.ink);
    }
    for film in set.films.iter().filter(|film| !film.label_lost.is_empty()) {
        text += &format!("note: no room on film \"{}\" for: {}\n", film.screen, film.label_lost.join(" "));
    }
    if let Some(roll) = &set.roll {
        let [w, h] = roll.size_mm;
        let name = roll.tiff.as_ref().map_or_else(|| "roll".into(), |path| path.display().to_string());
        text += &format!("{name}  {w:.0} x {h:.0} mm of roll, {:.0} % of it film\n", roll.used * 100.0);
    }
    if let Some(pdf) = &set.pdf {
        let pages = if set.roll.is_some() { 1 } else { set.films.len() };
        text += &format!("{}  {pages} {}\n", pdf.display(), if pages == 1 { "page" } else { "pages" });
    }
    for path in [&set.composite, &set.composite_proof, &set.spots].into_iter().flatten() {
        text += &format!("{}\n", path.display());
    }
    for note in notes {
        text += &format!("note: {note}\n");
    }
    let gain = if job.press.compensate { job.press.gain.describe() } else { "off".into() };
    text += &format!("{} dpi, compensation: {gain}\n", job.film.dpi);
    let screens: Vec<_> = set
        .films
        .iter()
        .map(|film| {
            let (ruling, angle, dot) = job.film.of_screen(&film.screen);
            json!({
                "screen": film.screen, "ruling_lpi": ruling, "angle_degrees": angle, "dot": dot.to_string(),
                "mesh": job.run.mesh_of(&film.screen).name,
            })
        })
        .collect();
    let json = json!({
        "films": set.films, "roll": set.roll, "pdf": set.pdf, "composite": set.composite,
        "composite_proof": set.composite_proof, "spots": set.spots,
        "files": set.files, "screens": screens, "notes": notes, "dpi": job.film.dpi,
        "ruling_lpi": job.film.ruling, "angle_degrees": job.film.angle, "compensation": gain,
    });
    Report { json, text }
}

/// A gain from the command line: points, edge growth or a wedge file.
fn gain(text: &str) -> anyhow::Result<DotGain> {
    let option = || format!("--compensate {text}");
    if let Ok(points) = text.parse::<f64>() {
        table::GAIN_AT_HALF.check(points).with_context(option)?;
        return Ok(DotGain::AtHalf { points });
    }
    if let Some(growth_um) = text.strip_suffix("um").and_then(|n| n.trim().parse::<f64>().ok()) {
        table::EDGE_GROWTH.check(growth_um).with_context(option)?;
        return Ok(DotGain::Edge { growth_um });
    }
    let path = PathBuf::from(text);
    if !path.is_file() {
        bail!("--compensate {text}: not off, job, points, micrometres (60um) or a readable wedge file");
    }
    let (name, points) = wedge(&path, "--compensate")?;
    Ok(DotGain::Measured { name, points })
}

/// A wedge file: its name and its steps, two percents to a line.
fn wedge(path: &Path, option: &str) -> anyhow::Result<(String, Vec<(Coverage, Coverage)>)> {
    let text = std::fs::read_to_string(path).with_context(|| format!("{option}: cannot read {}", path.display()))?;
    let wedge = wedge_table(&text).with_context(|| format!("{option} {}", path.display()))?;
    let name = path.file_stem().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    Ok((clean(&name, table::CURVE_NAME.most), wedge.points))
}
