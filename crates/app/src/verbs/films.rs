//! `strikeoff films`: the job's screens as 1-bit films at true scale, a TIFF each and one PDF.

use std::path::PathBuf;

use anyhow::{Context, bail};
use serde_json::json;
use strikeoff_core::halftone::Emulsion;
use strikeoff_core::press::DotGain;
use strikeoff_core::units::{Coverage, Degrees, Dpi, Lpi, Mm};
use strikeoff_files::film::{FilmOptions, write_films};
use strikeoff_files::job::open_job;
use strikeoff_files::profile::ShopProfile;

use super::screens::screens_of;
use crate::terminal::{Report, Terminal};

/// Make films: a 1-bit TIFF a screen and a PDF with a page a screen
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// Folder for the films; made if it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Resolution of the film printer, dots per inch; without it the job's
    #[arg(long)]
    dpi: Option<f64>,
    /// Its resolution down the film, where it differs, such as 1440 with --dpi 720
    #[arg(long, value_name = "DPI")]
    dpi_down: Option<f64>,
    /// Halftone ruling, such as 45lpi; without it the job's
    #[arg(long)]
    ruling: Option<String>,
    /// Halftone angle in degrees, counter-clockwise; without it the job's
    #[arg(long, allow_negative_numbers = true)]
    angle: Option<f64>,
    /// Dot shape: round, euclidean, ellipse, ellipse:40,60 (joining tones), square, diamond, line
    #[arg(long)]
    dot: Option<String>,
    /// Gain that the films undo: "off", "job", points at 50 % such as 28, edge growth such as
    /// 60um, or a wedge file with a line "film,printed" in percent for each step
    #[arg(long, value_name = "CURVE")]
    compensate: Option<String>,
    /// Film around the print on each side, such as 0.5in or 12mm
    #[arg(long)]
    margin: Option<String>,
    /// Emulsion down: turn the films left to right
    #[arg(long)]
    mirror: bool,
    /// Reversed films, clear where ink prints
    #[arg(long)]
    reverse: bool,
    /// Also write a composite PDF of the screens before halftone, one spot colour each
    #[arg(long)]
    composite: bool,
    /// Write no PDF
    #[arg(long)]
    no_pdf: bool,
    /// Write no TIFF
    #[arg(long, conflicts_with = "no_pdf")]
    no_tiff: bool,
}

/// Opens the job, makes the films and lists them.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let options = FilmOptions { pdf: !args.no_pdf, tiff: !args.no_tiff, composite: args.composite };
    let mut file = open_job(&args.job)?;
    let progress = terminal.progress();
    let screens = screens_of(&mut file, &progress)?;
    // What the line asks for holds for these films; the job file keeps its own settings.
    let job = &mut file.job;
    if let Some(dpi) = args.dpi {
        job.film.dpi = Dpi::new(dpi).context("--dpi")?;
    }
    if let Some(ruling) = &args.ruling {
        let number = ruling.trim().trim_end_matches("lpi").trim();
        let number = number.parse().with_context(|| format!("--ruling {ruling}: write it as 45lpi"))?;
        job.film.ruling = Lpi::new(number).context("--ruling")?;
    }
    if let Some(angle) = args.angle {
        job.film.angle = Degrees::new(angle).context("--angle")?;
    }
    if let Some(dot) = &args.dot {
        job.film.dot = dot.parse()?;
    }
    if let Some(margin) = &args.margin {
        job.film.margin = length(margin).context("--margin")?;
    }
    if let Some(dpi) = args.dpi_down {
        job.film.dpi_down = Some(Dpi::new(dpi).context("--dpi-down")?);
    }
    if args.mirror {
        job.film.emulsion = Emulsion::Down;
    }
    job.film.reverse |= args.reverse;
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
    let set = write_films(job, &screens, &args.out, &options, &progress)?;
    let mut text = String::new();
    for film in &set.films {
        let [w, h] = film.size_mm;
        let name = film.tiff.as_ref().map_or_else(|| film.screen.clone(), |path| path.display().to_string());
        text += &format!("{name}  {w:.1} x {h:.1} mm  {}\n", film.ink);
    }
    for film in set.films.iter().filter(|film| !film.label_lost.is_empty()) {
        text += &format!("note: no room on film \"{}\" for: {}\n", film.screen, film.label_lost.join(" "));
    }
    let printer = ShopProfile::load()?.film_printer;
    let too_wide = set.films.iter().find_map(|film| printer.note(film.size_mm));
    if let Some(note) = &too_wide {
        text += &format!("note: {note}\n");
    }
    if let Some(pdf) = &set.pdf {
        text += &format!("{}  {} pages\n", pdf.display(), set.films.len());
    }
    if let Some(composite) = &set.composite {
        text += &format!("{}\n", composite.display());
    }
    let gain = if job.press.compensate { job.press.gain.describe() } else { "off".into() };
    text +=
        &format!("{} lpi at {} degrees, {} dpi, compensation: {gain}\n", job.film.ruling, job.film.angle, job.film.dpi);
    let json = json!({
        "films": set.films, "pdf": set.pdf, "composite": set.composite, "files": set.files, "dpi": job.film.dpi, "ruling_lpi": job.film.ruling,
        "angle_degrees": job.film.angle, "compensation": gain, "too_wide": too_wide,
    });
    Ok(Report { json, text })
}

/// A length with its unit: `0.5in` or `12mm`; a bare number is millimetres.
fn length(text: &str) -> anyhow::Result<Mm> {
    let text = text.trim();
    let number = |part: &str| part.trim().parse::<f64>().with_context(|| format!("\"{text}\": write 0.5in or 12mm"));
    Ok(match text.strip_suffix("in") {
        Some(part) => Mm::from_inches(number(part)?)?,
        None => Mm::new(number(text.strip_suffix("mm").unwrap_or(text))?)?,
    })
}

/// A gain from the command line: points, edge growth or a wedge file.
fn gain(text: &str) -> anyhow::Result<DotGain> {
    if let Ok(points) = text.parse::<f64>() {
        if !(0.0..=50.0).contains(&points) {
            bail!("--compensate {text}: points gained at 50 % must be 0 to 50");
        }
        return Ok(DotGain::AtHalf { points });
    }
    if let Some(growth) = text.strip_suffix("um").and_then(|n| n.trim().parse::<f64>().ok()) {
        if !(0.0..=500.0).contains(&growth) {
            bail!("--compensate {text}: edge growth must be 0 to 500 um");
        }
        return Ok(DotGain::Edge { growth_um: growth });
    }
    let path = PathBuf::from(text);
    let wedge = std::fs::read_to_string(&path).with_context(|| {
        format!("--compensate {text}: not off, job, points, micrometres (60um) or a readable wedge file")
    })?;
    let mut points = Vec::new();
    for (at, line) in wedge.lines().enumerate().filter(|(_, l)| !l.trim().is_empty() && !l.starts_with('#')) {
        let step = line.split_once(',').and_then(|(film, printed)| {
            let share = |n: &str| n.trim().parse::<f64>().ok().and_then(|n| Coverage::new(n / 100.0).ok());
            Some((share(film)?, share(printed)?))
        });
        let step = step.with_context(|| {
            format!("{}, line {}: each step is \"film,printed\" in percent, such as 50,72", path.display(), at + 1)
        })?;
        points.push(step);
    }
    if points.len() < 2 {
        bail!("{}: a wedge needs at least two steps", path.display());
    }
    let name = path.file_stem().map_or_else(|| text.to_owned(), |n| n.to_string_lossy().into_owned());
    Ok(DotGain::Measured { name, points })
}
