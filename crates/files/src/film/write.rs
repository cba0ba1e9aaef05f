//! The film set of a job: a TIFF a screen and a PDF with a page a screen, all or nothing.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde_json::json;
use strikeoff_core::halftone::Emulsion;
use strikeoff_core::job::Job;
use strikeoff_core::screens::Screens;
use strikeoff_core::units::MM_PER_INCH;
use strikeoff_core::{Cancelled, Progress};

use super::composite::write_composite;
use super::g4::BitString;
use super::gang::{cut_marks, roll_words};
use super::label::{gain_line, job_line, label};
use super::layout::{Measures, ScreenSet};
use super::manifest::{MANIFEST_NAME, clear_replaced, describe, manifest};
use super::options::{FilmError, FilmFile, FilmOptions, FilmSet, Roll};
use super::page::FilmPage;
use super::pdf::PdfFile;
use super::plan::{COMPOSITE_NAME, FilmPlan, PDF_NAME, PlannedPage, SPOTS_NAME, plan_films};
use super::rows::{BAND_ROWS, Wanted, encode_bands, part_of};
use super::set_aside::SetAside;
use super::spots::{SPOTS_NOTE, write_spots};
use super::tiff::{TiffCompression, TiffInfo, TiffWriter};
use crate::{WriteError, write_aside};

/// Makes the films of a job's screens in `folder`, which is made if it is missing.
pub fn write_films(
    job: &Job,
    screens: &Screens,
    folder: &Path,
    options: &FilmOptions,
    progress: &Progress,
) -> Result<FilmSet, FilmError> {
    let plan = plan_films(job, screens, options)?;
    let set_aside = SetAside::new(folder)?;
    check_space(&plan, folder)?;
    let (mut set, mut names) = write_all(job, screens, &plan, &set_aside, options, progress)?;
    for name in &names {
        let path = set_aside.path(name);
        set.files.push(describe(name, &path).map_err(|e| WriteError::io(&path, e))?);
    }
    let settings = json!({ "film": job.film, "press_gain": gain_line(job), "garment": job.garment, "info": job.info });
    let films = json!({ "films": set.films, "roll": set.roll, "notes": set.notes });
    let path = set_aside.path(MANIFEST_NAME);
    fs::write(&path, manifest(&set.files, &films, &settings)).map_err(|e| WriteError::io(&path, e))?;
    names.push(MANIFEST_NAME.to_owned());
    // From here on it is a matter of moments, so a late wish to stop still leaves nothing.
    progress.step("films", 1.0)?;
    clear_replaced(folder, &names);
    set_aside.place(&names)?;
    let FilmSet { films, roll, pdf, composite, spots, .. } = &mut set;
    let tiffs = films.iter_mut().map(|f| &mut f.tiff).chain(roll.iter_mut().map(|r| &mut r.tiff));
    for path in tiffs.chain([pdf, composite, spots]).flatten() {
        *path = folder.join(&*path);
    }
    Ok(set)
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

fn write_all(
    job: &Job,
    screens: &Screens,
    plan: &FilmPlan,
    folder: &SetAside,
    options: &FilmOptions,
    progress: &Progress,
) -> Result<(FilmSet, Vec<String>), FilmError> {
    let mut set = FilmSet {
        films: Vec::new(),
        roll: None,
        pdf: None,
        composite: None,
        spots: None,
        notes: Vec::new(),
        files: Vec::new(),
    };
    let mut names = Vec::new();
    // Composite and spot channels take a small part of the time.
    let extra = 0.08 * f32::from(u8::from(options.composite) + u8::from(options.spots.is_some()));
    let films_end = 1.0 - extra;
    let mut each = |pdf: &mut Option<PdfFile<&mut dyn io::Write>>, pdf_path: &Path| -> Result<(), FilmError> {
        if !options.tiff && pdf.is_none() {
            return Ok(());
        }
        for (index, planned) in plan.pages.iter().enumerate() {
            let at = |index: usize| films_end * index as f32 / plan.pages.len() as f32;
            let part = part_of(progress, "films", at(index), at(index + 1));
            let sets: Vec<ScreenSet> =
                planned.films.iter().map(|f| ScreenSet::new(job, &screens.list[f.screen], f.sideways)).collect();
            let (page, films) = build_page(job, screens, planned, &sets, plan.ganged);
            let info = tiff_info(job, screens, planned, &page, options.compression);
            let mut tiff_name = None;
            if options.tiff {
                let name = format!("{}.tif", planned.stem);
                let path = folder.path(&name);
                write_aside(&path, |out| {
                    let wrap = |e| WriteError::io(&path, e);
                    let mut tiff = TiffWriter::new(out).map_err(wrap)?;
                    write_page(&page, &info, Some(&mut tiff), pdf.as_mut(), (&path, pdf_path), part)?;
                    tiff.finish(|d, offsets, lengths| info.fill(d, offsets, lengths)).map_err(wrap)?;
                    Ok::<(), FilmError>(())
                })?;
                tiff_name = Some(PathBuf::from(&name));
                names.push(name);
            } else {
                write_page::<io::Cursor<Vec<u8>>>(&page, &info, None, pdf.as_mut(), (pdf_path, pdf_path), part)?;
            }
            let area = planned.size_px[0] * planned.size_px[1];
            let used = films.iter().map(|f| f.width_px * f.height_px).sum::<usize>() as f64 / area as f64;
            set.films.extend(films);
            if plan.ganged {
                set.roll = Some(Roll { tiff: tiff_name, size_mm: planned.size_mm, used });
            } else if let Some(film) = set.films.last_mut() {
                film.tiff = tiff_name;
            }
        }
        Ok(())
    };
    if options.pdf {
        let path = folder.path(PDF_NAME);
        write_aside(&path, |out| {
            let wrap = |e| WriteError::io(&path, e);
            let mut pdf = Some(PdfFile::new(out as &mut dyn io::Write).map_err(wrap)?);
            each(&mut pdf, &path)?;
            if let Some(pdf) = pdf {
                pdf.finish(&job_line(job), "").map_err(wrap)?;
            }
            Ok::<(), FilmError>(())
        })?;
        set.pdf = Some(PathBuf::from(PDF_NAME));
        names.push(PDF_NAME.to_owned());
    } else {
        each(&mut None, Path::new(PDF_NAME))?;
    }
    let mut from = films_end;
    if options.composite {
        write_composite(job, screens, &folder.path(COMPOSITE_NAME), &progress.part(from, from + 0.08))?;
        set.composite = Some(PathBuf::from(COMPOSITE_NAME));
        set.notes.push(format!("{COMPOSITE_NAME} holds {}", super::spots::COVERAGE_NOTE));
        names.push(COMPOSITE_NAME.to_owned());
        from += 0.08;
    }
    if let Some(depth) = options.spots {
        write_spots(job, screens, depth, &folder.path(SPOTS_NAME), &progress.part(from, from + 0.08))?;
        set.spots = Some(PathBuf::from(SPOTS_NAME));
        set.notes.push(SPOTS_NOTE.to_owned());
        set.notes.push(format!("{SPOTS_NAME} holds {}", super::spots::COVERAGE_NOTE));
        names.push(SPOTS_NAME.to_owned());
    }
    Ok((set, names))
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
            tiff: None,
            width_px,
            height_px,
            size_mm: measures.film_mm(),
            turned: film.sideways,
            on_roll_mm: ganged.then_some([x, y]),
            label_lost,
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
            format!("{}; {}; {}", words.heading, words.left.join("; "), words.right.join("; "))
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
        document: job_line(job),
        description: words.join("\n"),
        page_name: inks.join(", "),
        page: if on_page.len() == 1 { (on_page[0].0 as u16, count as u16) } else { (0, 1) },
    }
}

/// Screens and codes one page into the files that are wanted.
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
    let wanted = Wanted {
        g4: pdf.is_some() || (tiff.is_some() && in_g4),
        packed: (tiff.is_some() && !in_g4).then_some(info.compression),
    };
    let mut joined = BitString::default();
    encode_bands::<FilmError>(page, wanted, progress, |band| {
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
