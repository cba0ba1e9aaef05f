//! `strikeoff make`: all that the shop makes of a job, into one folder: films, sheets, the proof picture.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use serde_json::json;
use strikeoff_core::findings::outlook;
use strikeoff_files::film::{FilmOptions, safe_name, write_films};
use strikeoff_files::profile::{Makes, ShopProfile};
use strikeoff_files::sheet::{SheetKind, SheetOf};
use strikeoff_files::text::missing_note;

use super::files::Files;
use super::sheet::{PaperName, for_press};
use crate::terminal::{Report, Terminal};

/// Folder of the films in the folder of the job.
const FILMS: &str = "films";

/// Write all that the shop profile asks for of a job: films, press sheet, client proof, lists, proof picture
#[derive(clap::Args)]
pub struct Args {
    /// The job file
    job: PathBuf,
    /// The folder; made if it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Paper of the sheets
    #[arg(long, value_enum, default_value = "a4")]
    paper: PaperName,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.job)
    }
}

/// Writes it, and says what it wrote.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let makes = ShopProfile::load()?.makes;
    let kinds = sheets(&makes);
    if !makes.film_tiff && !makes.film_pdf && kinds.is_empty() {
        bail!("the shop profile asks for nothing to be made; switch something on under \"makes\" in it");
    }
    let (file, done) = for_press(&args.job, terminal)?;
    let progress = terminal.progress();
    std::fs::create_dir_all(&args.out).with_context(|| format!("cannot make {}", args.out.display()))?;
    let mut wrote: Vec<(&str, PathBuf)> = Vec::new();
    let mut notes: Vec<String> = Vec::new();
    if makes.film_tiff || makes.film_pdf {
        let kept = args.files().kept(terminal.overwrite());
        let options = FilmOptions { tiff: makes.film_tiff, pdf: makes.film_pdf, keep: kept, ..FilmOptions::default() };
        let set = write_films(&file.job, &done.screens, &args.out.join(FILMS), &options, &progress)?;
        wrote.extend(set.films.iter().filter_map(|film| Some(("film", film.tiff.clone()?))));
        wrote.extend(set.pdf.clone().map(|pdf| ("films in one PDF", pdf)));
        notes.extend(set.found.into_iter().chain(missing_note(&set.missing)));
    }
    if !kinds.is_empty() {
        let title = if file.job.info.title.trim().is_empty() { &file.art_name } else { &file.job.info.title };
        // A sheet for each garment.
        let garments = file.job.garments().count();
        for at in 0..garments {
            let job = &file.job.seen_on(at);
            let screens = &*job.printed(&done.screens);
            let look = outlook(job, &done.prepared, screens, &progress)?;
            let of = SheetOf { job, prepared: &done.prepared, screens, outlook: &look };
            let on = if garments > 1 { format!(" {}", safe_name(&job.garment.name)) } else { String::new() };
            for &kind in &kinds {
                let path = args.out.join(format!("{}{on} {}.{}", safe_name(title), kind.title(), kind.endings()[0]));
                if !terminal.overwrite() && strikeoff_files::same_file(&path, &args.job) {
                    bail!("{} is the job itself and would be replaced; give another folder", path.display());
                }
                notes.extend(missing_note(&of.write(kind, &path, args.paper.into())?));
                wrote.push((kind.title(), path));
            }
        }
    }
    notes.dedup();
    report(&args.out, &wrote, &notes)
}

fn sheets(makes: &Makes) -> Vec<SheetKind> {
    let asked = |kind: &SheetKind| match kind {
        SheetKind::Press => makes.press_sheet,
        SheetKind::Client => makes.client_proof,
        SheetKind::Proof => makes.proof_picture,
        SheetKind::Inks => makes.ink_list,
        SheetKind::Screens => makes.screen_room_list,
    };
    SheetKind::ALL.into_iter().filter(asked).collect()
}

fn report(out: &Path, wrote: &[(&str, PathBuf)], notes: &[String]) -> anyhow::Result<Report> {
    let mut text = String::new();
    for (what, path) in wrote {
        writeln!(text, "{what:18} {}", path.display())?;
    }
    for note in notes {
        writeln!(text, "note: {note}")?;
    }
    let list: Vec<_> = wrote.iter().map(|(what, path)| json!({ "what": what, "file": path })).collect();
    Ok(Report { json: json!({ "folder": out, "wrote": list, "notes": notes }), text })
}
