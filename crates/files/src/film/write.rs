//! The film set of a job: a TIFF a screen and a PDF with a page a screen, all or nothing.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::json;
use strikeoff_core::job::{Job, Screen, Screens};
use strikeoff_core::units::MM_PER_INCH;
use strikeoff_core::{Cancelled, Progress};

use super::composite::write_composite;
use super::g4::BitString;
use super::label::{gain_line, job_line, label};
use super::layout::ScreenSet;
use super::manifest::{MANIFEST_NAME, ManifestFile, clear_replaced, describe, manifest};
use super::names::numbered_name;
use super::page::FilmPage;
use super::pdf::PdfFile;
use super::rows::{BAND_ROWS, encode_bands, part_of};
use super::set_aside::SetAside;
use super::tiff::{TiffInfo, TiffWriter};
use crate::{WriteError, write_aside};

/// What is written.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmOptions {
    /// Whether a 1-bit TIFF a screen is written. Default true.
    pub tiff: bool,
    /// Whether a PDF with a page a screen is written. Default true.
    pub pdf: bool,
    /// Whether a composite PDF of all screens, unscreened, one spot colour each, is written.
    /// Default false.
    pub composite: bool,
}

impl Default for FilmOptions {
    fn default() -> Self {
        Self { tiff: true, pdf: true, composite: false }
    }
}

/// One film that was written.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmFile {
    /// Name of the screen.
    pub screen: String,
    /// Name of its ink.
    pub ink: String,
    /// The TIFF, if one was asked for.
    pub tiff: Option<PathBuf>,
    /// Device pixels across.
    pub width_px: usize,
    /// Device pixels down.
    pub height_px: usize,
    /// Size of the film in millimetres.
    pub size_mm: [f64; 2],
    /// Lines of the label that found no room on the film.
    pub label_lost: Vec<String>,
}

/// What was written.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmSet {
    /// In print order.
    pub films: Vec<FilmFile>,
    /// The PDF, if one was asked for.
    pub pdf: Option<PathBuf>,
    /// The composite PDF, if one was asked for.
    pub composite: Option<PathBuf>,
    /// Every file but the manifest (`films.json`), with sizes and SHA-256.
    pub files: Vec<ManifestFile>,
}

/// Why films could not be made. Nothing of the set is left behind.
#[derive(Debug, thiserror::Error)]
pub enum FilmError {
    /// The job has no screens.
    #[error("the job has no screens, so there are no films to make; separate the art first")]
    NoScreens,
    /// Film settings that cannot be followed.
    #[error("{0}")]
    Settings(String),
    /// The disk is too full.
    #[error(
        "the films need at least {needed_mb} MB and {} has {free_mb} MB free; make room, choose another folder or a \
         lower dpi",
        folder.display()
    )]
    NoSpace {
        /// Where the films should go.
        folder: PathBuf,
        /// Least space that the films take.
        needed_mb: u64,
        /// Space that is free.
        free_mb: u64,
    },
    /// A file could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// Cancelled.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

const PDF_NAME: &str = "films.pdf";
const COMPOSITE_NAME: &str = "composite.pdf";

/// Refuses to start where the disk cannot hold the films. Coded films take a tenth to a third of
/// their bits; an eighth is asked for, so that only a hopeless start is refused.
fn check_space(job: &Job, screens: &Screens, folder: &Path, options: &FilmOptions) -> Result<(), FilmError> {
    let dpi = job.film.dpi.get() * job.film.dpi_down.unwrap_or(job.film.dpi).get();
    let inches = (screens.width as f64 / screens.ppi.get() + 1.0) * (screens.height as f64 / screens.ppi.get() + 1.0);
    let kinds = f64::from(u8::from(options.tiff)) + f64::from(u8::from(options.pdf));
    let needed = inches * dpi / 8.0 / 8.0 * kinds * screens.list.len() as f64;
    match fs4::available_space(folder) {
        Ok(free) if (free as f64) < needed => Err(FilmError::NoSpace {
            folder: folder.to_owned(),
            needed_mb: (needed / 1e6).ceil() as u64,
            free_mb: free / 1_000_000,
        }),
        // Where the system does not tell, writing itself will.
        _ => Ok(()),
    }
}

/// Makes the films of a job's screens in `folder`, which is made if it is missing.
pub fn write_films(
    job: &Job,
    screens: &Screens,
    folder: &Path,
    options: &FilmOptions,
    progress: &Progress,
) -> Result<FilmSet, FilmError> {
    if screens.list.is_empty() || screens.width == 0 || screens.height == 0 {
        return Err(FilmError::NoScreens);
    }
    let set_aside = SetAside::new(folder)?;
    check_space(job, screens, folder, options)?;
    let (mut set, mut names) = write_all(job, screens, &set_aside, options, progress)?;
    for name in &names {
        let path = set_aside.path(name);
        set.files.push(describe(name, &path).map_err(|e| WriteError::io(&path, e))?);
    }
    let settings = json!({ "film": job.film, "press_gain": gain_line(job), "garment": job.garment, "info": job.info });
    let text = manifest(&set.files, &json!(set.films), &settings);
    let path = set_aside.path(MANIFEST_NAME);
    fs::write(&path, text).map_err(|e| WriteError::io(&path, e))?;
    names.push(MANIFEST_NAME.to_owned());
    clear_replaced(folder, &names);
    set_aside.place(&names)?;
    for path in
        set.films.iter_mut().filter_map(|f| f.tiff.as_mut()).chain(set.pdf.as_mut()).chain(set.composite.as_mut())
    {
        *path = folder.join(&*path);
    }
    Ok(set)
}

fn write_all(
    job: &Job,
    screens: &Screens,
    folder: &SetAside,
    options: &FilmOptions,
    progress: &Progress,
) -> Result<(FilmSet, Vec<String>), FilmError> {
    let mut films = Vec::new();
    let mut names = Vec::new();
    let count = screens.list.len();
    let mut each = |pdf: &mut Option<PdfFile<&mut dyn io::Write>>, pdf_path: &Path| -> Result<(), FilmError> {
        for (index, screen) in screens.list.iter().enumerate() {
            let set = ScreenSet::new(job, screen)?;
            let mut label_lost = Vec::new();
            let page = set.page(job, screens, screen, (index, count), &mut label_lost)?;
            let to_mm = |px: usize, axis: usize| px as f64 / page.dpi[axis] * MM_PER_INCH;
            let mut made = FilmFile {
                screen: screen.name.clone(),
                ink: screen.ink.name.clone(),
                tiff: None,
                width_px: page.width_px,
                height_px: page.height_px,
                size_mm: [to_mm(page.width_px, 0), to_mm(page.height_px, 1)],
                label_lost,
            };
            let part = part_of(progress, "films", index as f32 / count as f32, (index + 1) as f32 / count as f32);
            let info = tiff_info(job, screen, index, count, &page);
            if options.tiff {
                let name = format!("{}.tif", numbered_name(index + 1, &screen.name));
                let path = folder.path(&name);
                write_aside(&path, |out| {
                    let wrap = |e| WriteError::io(&path, e);
                    let mut tiff = TiffWriter::new(out).map_err(wrap)?;
                    write_film(&page, &info, Some(&mut tiff), pdf.as_mut(), (&path, pdf_path), part)?;
                    tiff.finish(&info).map_err(wrap).map_err(FilmError::from)
                })?;
                made.tiff = Some(name.clone().into());
                names.push(name);
            } else {
                write_film::<io::Cursor<Vec<u8>>>(&page, &info, None, pdf.as_mut(), (pdf_path, pdf_path), part)?;
            }
            films.push(made);
        }
        Ok(())
    };
    let mut pdf_path = None;
    if options.pdf {
        let path = folder.path(PDF_NAME);
        write_aside(&path, |out| {
            let wrap = |e| WriteError::io(&path, e);
            let mut pdf = Some(PdfFile::new(out as &mut dyn io::Write).map_err(wrap)?);
            each(&mut pdf, &path)?;
            if let Some(pdf) = pdf {
                pdf.finish(&job_line(job)).map_err(wrap)?;
            }
            Ok::<(), FilmError>(())
        })?;
        pdf_path = Some(PathBuf::from(PDF_NAME));
    } else {
        each(&mut None, Path::new(PDF_NAME))?;
    }
    progress.step("films", 1.0)?;
    names.extend(pdf_path.is_some().then(|| PDF_NAME.to_owned()));
    let mut composite = None;
    if options.composite {
        write_composite(job, screens, &folder.path(COMPOSITE_NAME), progress)?;
        composite = Some(PathBuf::from(COMPOSITE_NAME));
        names.push(COMPOSITE_NAME.to_owned());
    }
    Ok((FilmSet { films, pdf: pdf_path, composite, files: Vec::new() }, names))
}

fn tiff_info(job: &Job, screen: &Screen, index: usize, count: usize, page: &FilmPage<'_>) -> TiffInfo {
    let words = label(job, screen, index, count);
    TiffInfo {
        width_px: page.width_px,
        height_px: page.height_px,
        x_dpi: page.dpi[0],
        y_dpi: page.dpi[1],
        rows_per_strip: BAND_ROWS,
        document: job_line(job),
        description: format!("{}; {}; {}", words.heading, words.left.join("; "), words.right.join("; ")),
        page_name: screen.ink.name.clone(),
        page: (index as u16, count as u16),
    }
}

/// Screens and codes one film into the files that are wanted.
fn write_film<W: io::Write + io::Seek>(
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
    let mut joined = BitString::default();
    encode_bands::<FilmError>(page, progress, |band| {
        if let Some(tiff) = tiff.as_mut() {
            let mut strip = band.first_alone.clone();
            strip.append(&band.rest);
            tiff.strip(&strip.finish_block()).map_err(tiff_wrap)?;
        }
        if let Some(pdf) = pdf.as_mut() {
            joined.append(&band.first_joined);
            joined.append(&band.rest);
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
