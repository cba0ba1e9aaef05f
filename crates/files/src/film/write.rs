//! The film set of a job: one TIFF per screen and a PDF with one page per screen, all or nothing.

use std::io;
use std::path::{Path, PathBuf};

use serde_json::json;
use strikeoff_core::halftone::Emulsion;
use strikeoff_core::job::Job;
use strikeoff_core::screens::{ScreenName, Screens};
use strikeoff_core::units::MM_PER_INCH;
use strikeoff_core::{Cancelled, Progress};

use super::composite::{READERS_NOTE, write_composite, write_composite_proof};
use super::g4::BitString;
use super::gang::{cut_marks, roll_words};
use super::label::{gain_line, job_line, label, missing_letters};
use super::layout::{Measures, ScreenSet};
use super::options::{FilmError, FilmFile, FilmOptions, FilmSet, Roll};
use super::page::FilmPage;
use super::pdf::PdfFile;
use super::plan::{
    COMPOSITE_NAME, COMPOSITE_PROOF_NAME, FilmPlan, MANIFEST_NAME, PDF_NAME, PlannedPage, SPOTS_NAME, plan_films,
};
use super::rows::{BAND_ROWS, Forms, encode_bands, part_of};
use super::spots::{SPOTS_NOTE, write_spots};
use super::tiff::{TiffCompression, TiffInfo, TiffWriter};
use crate::text::{missing_note, plain};
use crate::{FileSet, WriteError};

/// Makes the films of a job's screens in `folder`, which is made if it is missing.
pub fn write_films(
    job: &Job,
    screens: &Screens,
    folder: &Path,
    options: &FilmOptions,
    progress: &Progress,
) -> Result<FilmSet, FilmError> {
    let plan = plan_films(job, screens, options)?;
    let mut set = FileSet::begin(folder, "film set", &options.keep)?;
    set.check(plan.files.iter().map(|file| file.name.as_str()))?;
    check_space(&plan, folder)?;
    let mut films = write_all(job, screens, &plan, (&mut set, ""), options, progress)?;
    // From here on it is a matter of moments, so a late wish to stop still leaves nothing.
    progress.step("films", 1.0)?;
    films.found = set.put_in_place()?.1;
    let FilmSet { films: list, roll, pdf, composite, composite_proof, spots, .. } = &mut films;
    let tiffs = list.iter_mut().map(|f| &mut f.tiff).chain(roll.iter_mut().map(|r| &mut r.tiff));
    for path in tiffs.chain([pdf, composite, composite_proof, spots]).flatten() {
        *path = folder.join(&*path);
    }
    Ok(films)
}

/// The same as a part of a larger set, in its folder `inside`. Paths are names in that folder.
pub fn films_into(
    job: &Job,
    screens: &Screens,
    (set, inside): (&mut FileSet, &str),
    options: &FilmOptions,
    progress: &Progress,
) -> Result<FilmSet, FilmError> {
    let plan = plan_films(job, screens, options)?;
    write_all(job, screens, &plan, (set, &format!("{inside}/")), options, progress)
}

/// Refuses to start where the disk cannot hold the films.
fn check_space(plan: &FilmPlan, folder: &Path) -> Result<(), FilmError> {
    let needed = plan.least_bytes();
    match fs4::available_space(folder) {
        Ok(free) if free < needed => Err(FilmError::NoSpace {
            folder: folder.to_owned(),
            needed_mb: needed.div_ceil(1_000_000),
            free_mb: free / 1_000_000,
        }),
        // Where the system does not tell, writing itself will.
        _ => Ok(()),
    }
}

/// Writes the files and their manifest; `inside` is what their names in the set begin with.
fn write_all(
    job: &Job,
    screens: &Screens,
    plan: &FilmPlan,
    (set, inside): (&mut FileSet, &str),
    options: &FilmOptions,
    progress: &Progress,
) -> Result<FilmSet, FilmError> {
    // Composite and spot channels take a small part of the time.
    let extra = 0.08 * f32::from(u8::from(options.composite) + u8::from(options.spots.is_some()));
    let mut from = 1.0 - extra;
    let mut films = write_pages(job, screens, plan, (set, inside), options, &progress.part(0.0, from))?;
    if options.composite {
        let file = set.stage(&format!("{inside}{COMPOSITE_NAME}"))?;
        write_composite(job, screens, file, &progress.part(from, from + 0.08))?;
        films.composite = Some(PathBuf::from(COMPOSITE_NAME));
        write_composite_proof(job, screens, set.stage(&format!("{inside}{COMPOSITE_PROOF_NAME}"))?)?;
        films.composite_proof = Some(PathBuf::from(COMPOSITE_PROOF_NAME));
        films.notes.push(READERS_NOTE.to_owned());
        films.notes.push(format!("{COMPOSITE_NAME} holds {}", super::spots::COVERAGE_NOTE));
        from += 0.08;
    }
    if let Some(depth) = options.spots {
        let file = set.stage(&format!("{inside}{SPOTS_NAME}"))?;
        write_spots(job, screens, depth, file, &progress.part(from, from + 0.08))?;
        films.spots = Some(PathBuf::from(SPOTS_NAME));
        films.notes.push(SPOTS_NOTE.to_owned());
        films.notes.push(format!("{SPOTS_NAME} holds {}", super::spots::COVERAGE_NOTE));
    }
    if options.tiff || options.pdf {
        films.missing = missing_letters(job, screens);
        films.notes.extend(missing_note(&films.missing));
    }
    let settings = json!({ "film": job.film, "press_gain": gain_line(job), "garment": job.garment, "info": job.info });
    let more = json!({ "films": films.films, "roll": films.roll, "notes": films.notes, "settings": settings });
    films.files = set.manifest(&format!("{inside}{MANIFEST_NAME}"), &more)?;
    Ok(films)
}

/// Writes the films themselves: TIFFs as they come, and the PDF beside them.
fn write_pages(
    job: &Job,
    screens: &Screens,
    plan: &FilmPlan,
    (set, inside): (&mut FileSet, &str),
    options: &FilmOptions,
    progress: &Progress,
) -> Result<FilmSet, FilmError> {
    let mut made = FilmSet {
        films: Vec::new(),
        roll: None,
        pdf: None,
        composite: None,
        composite_proof: None,
        spots: None,
        notes: Vec::new(),
        missing: Vec::new(),
        files: Vec::new(),
        found: Vec::new(),
    };
    let pdf_file = options.pdf.then(|| set.stage(&format!("{inside}{PDF_NAME}"))).transpose()?;
    let mut each = |pdf: &mut Option<PdfFile<&mut dyn io::Write>>, pdf_path: &Path| -> Result<(), FilmError> {
        if !options.tiff && pdf.is_none() {
            return Ok(());
        }
        for (index, planned) in plan.pages.iter().enumerate() {
            let at = |index: usize| index as f32 / plan.pages.len() as f32;
            let part = part_of(progress, "films", at(index), at(index + 1));
            let sets: Vec<ScreenSet> =
                planned.films.iter().map(|f| ScreenSet::new(job, &screens.list[f.screen], f.sideways)).collect();
            let (page, films) = build_page(job, screens, planned, &sets, plan.ganged);
            let info = tiff_info(job, screens, planned, &page, options.compression);
            let mut tiff_name = None;
            if options.tiff {
                let name = format!("{}.tif", planned.stem);
                let file = set.stage(&format!("{inside}{name}"))?;
                let path = file.place().to_owned();
                file.fill(|out| {
                    let wrap = |e| WriteError::io(&path, e);
                    let mut tiff = TiffWriter::new(out).map_err(wrap)?;
                    write_page(&page, &info, Some(&mut tiff), pdf.as_mut(), (&path, pdf_path), part)?;
                    tiff.finish(|d, offsets, lengths| info.fill(d, offsets, lengths)).map_err(wrap)?;
                    Ok::<(), FilmError>(())
                })?;
                tiff_name = Some(PathBuf::from(name));
            } else {
                write_page::<io::Cursor<Vec<u8>>>(&page, &info, None, pdf.as_mut(), (pdf_path, pdf_path), part)?;
            }
            let area = planned.size_px[0] * planned.size_px[1];
            let used = films.iter().map(|f| f.width_px * f.height_px).sum::<usize>() as f64 / area as f64;
            made.films.extend(films);
            if plan.ganged {
                made.roll = Some(Roll { tiff: tiff_name, size_mm: planned.size_mm, used });
            } else if let Some(film) = made.films.last_mut() {
                film.tiff = tiff_name;
            }
        }
        Ok(())
    };
    match pdf_file {
        None => each(&mut None, Path::new(PDF_NAME))?,
        Some(file) => {
            let path = file.place().to_owned();
            file.fill(|out| {
                let wrap = |e| WriteError::io(&path, e);
                let mut pdf = Some(PdfFile::new(out as &mut dyn io::Write).map_err(wrap)?);
                each(&mut pdf, &path)?;
                if let Some(pdf) = pdf {
                    pdf.finish(&plain(&job_line(job)), "").map_err(wrap)?;
                }
                Ok::<(), FilmError>(())
            })?;
            made.pdf = Some(PathBuf::from(PDF_NAME));
        }
    }
    Ok(made)
}

/// Lays the films of a page out.
fn build_page<'a>(
    job: &Job,
    screens: &'a Screens,
    planned: &PlannedPage,
    sets: &'a [ScreenSet],
    ganged: bool,
) -> (FilmPage<'a>, Vec<FilmFile>) {
    let device = job.film.device();
    let dpi = [device.x_dpi.get(), device.y_dpi.get()];
    let mut page = FilmPage {
        width_px: planned.size_px[0],
        height_px: planned.size_px[1],
        fields: Vec::new(),
        shapes: Vec::new(),
        films: Vec::new(),
        between: Vec::new(),
        dpi,
        mirrored: job.film.emulsion == Emulsion::Down,
        reversed: job.film.reverse,
    };
    let to_mm = |px: [usize; 2]| [0, 1].map(|axis| px[axis] as f64 / dpi[axis] * MM_PER_INCH);
    let mut films = Vec::new();
    let mut areas_mm = Vec::new();
    for (film, set) in planned.films.iter().zip(sets) {
        let screen = &screens.list[film.screen];
        let measures = Measures::new(&job.film, screens, film.sideways);
        let label_lost = set.put(job, (screen, film.screen, screens.list.len()), &measures, film.at_px, &mut page);
        let [width_px, height_px] = measures.page_px();
        let ([x, y], [w, h]) = (to_mm(film.at_px), to_mm([width_px, height_px]));
        areas_mm.push([x, y, w, h]);
        films.push(FilmFile {
            screen: screen.name.clone(),
            ink: screen.ink.name.clone(),
            garments: serves(job, &screen.name),
            tiff: None,
            width_px,
            height_px,
            size_mm: measures.film_mm(),
            turned: film.sideways,
            on_roll_mm: ganged.then_some([x, y]),
            label_lost: label_lost.iter().map(|line| plain(line)).collect(),
        });
    }
    if ganged {
        cut_marks(&areas_mm, planned.size_mm, &mut page.between);
        let [w, h] = planned.size_mm;
        roll_words(&format!("{}: {} films on {w:.0} x {h:.0} mm", job_line(job), films.len()), &mut page.between);
    }
    (page, films)
}

fn tiff_info(
    job: &Job,
    screens: &Screens,
    planned: &PlannedPage,
    page: &FilmPage<'_>,
    compression: TiffCompression,
) -> TiffInfo {
    let count = screens.list.len();
    let on_page: Vec<_> = planned.films.iter().map(|f| (f.screen, &screens.list[f.screen])).collect();
    let words: Vec<String> = on_page
        .iter()
        .map(|(index, screen)| {
            let words = label(job, screen, *index, count);
            plain(&format!("{}; {}; {}", words.heading, words.left.join("; "), words.right.join("; ")))
        })
        .collect();
    let inks: Vec<&str> = on_page.iter().map(|(_, screen)| screen.ink.name.as_str()).collect();
    TiffInfo {
        compression,
        width_px: page.width_px,
        height_px: page.height_px,
        x_dpi: page.dpi[0],
        y_dpi: page.dpi[1],
        rows_per_strip: BAND_ROWS,
        document: plain(&job_line(job)),
        description: words.join("\n"),
        page_name: inks.join(", "),
        page: if on_page.len() == 1 { (on_page[0].0 as u16, count as u16) } else { (0, 1) },
    }
}

/// Screens and codes one page into the files requested.
fn write_page<W: io::Write + io::Seek>(
    page: &FilmPage<'_>,
    info: &TiffInfo,
    mut tiff: Option<&mut TiffWriter<W>>,
    mut pdf: Option<&mut PdfFile<&mut dyn io::Write>>,
    (tiff_path, pdf_path): (&Path, &Path),
    progress: impl Fn(f32) -> Result<(), Cancelled>,
) -> Result<(), FilmError> {
    let tiff_wrap = |e| WriteError::io(tiff_path, e);
    let pdf_wrap = |e| WriteError::io(pdf_path, e);
    let mut open_stream = None;
    if let Some(pdf) = pdf.as_mut() {
        let picture = pdf.new_ref();
        // Ink is T.6 black; in DeviceGray sample 0 is black, which is what BlackIs1 false gives
        // (7.4.6, table 11), so the film prints positive.
        let dictionary = format!(
            "/Type /XObject /Subtype /Image /Width {w} /Height {h} /BitsPerComponent 1 /ColorSpace /DeviceGray \
             /Filter /CCITTFaxDecode /DecodeParms <</K -1 /Columns {w} /Rows {h} /BlackIs1 false>>",
            w = page.width_px,
            h = page.height_px
        );
        open_stream = Some((picture, pdf.begin_stream(picture, &dictionary).map_err(pdf_wrap)?));
    }
    let in_g4 = info.compression == TiffCompression::G4;
    let forms = Forms {
        g4: pdf.is_some() || (tiff.is_some() && in_g4),
        packed: (tiff.is_some() && !in_g4).then_some(info.compression),
    };
    let mut joined = BitString::default();
    encode_bands::<FilmError>(page, forms, progress, |band| {
        if let Some(tiff) = tiff.as_mut() {
            if in_g4 {
                let mut strip = band.g4.first_alone.clone();
                strip.append(&band.g4.rest);
                tiff.strip(&strip.finish_block()).map_err(tiff_wrap)?;
            } else {
                tiff.strip(&band.packed).map_err(tiff_wrap)?;
            }
        }
        if let Some(pdf) = pdf.as_mut() {
            joined.append(&band.g4.first_joined);
            joined.append(&band.g4.rest);
            pdf.stream_bytes(&joined.drain_bytes()).map_err(pdf_wrap)?;
        }
        Ok(())
    })?;
    if let (Some(pdf), Some((picture, stream))) = (pdf, open_stream) {
        pdf.stream_bytes(&joined.finish_block()).map_err(pdf_wrap)?;
        pdf.end_stream(stream).map_err(pdf_wrap)?;
        let points = |px: usize, dpi: f64| px as f64 / dpi * 72.0;
        pdf.picture_page(points(page.width_px, info.x_dpi), points(page.height_px, info.y_dpi), picture)
            .map_err(pdf_wrap)?;
    }
    Ok(())
}
/// Names of the garments that a screen prints on.
fn serves(job: &Job, screen: &ScreenName) -> Vec<String> {
    let serves = job.serves(screen);
    job.garments().enumerate().filter(|(at, _)| serves.contains(at)).map(|(_, garment)| garment.name.clone()).collect()
}
