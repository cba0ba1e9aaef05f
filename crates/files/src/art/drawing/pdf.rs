//! A page of a PDF through `hayro`, drawn large enough for any usual print, on nothing: what the
//! page leaves bare stays clear. The fonts that every reader must have come with `hayro`; others are
//! taken from the file, never from the system.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use hayro::hayro_interpret::InterpreterSettings;
use hayro::hayro_syntax::{LoadPdfError, Pdf};
use hayro::{PixmapSettings, RenderCache, RenderSettings, render};

use super::super::error::{Fault, check_size};
use super::{Drawn, Facts};

/// Points in an inch, the unit of PDF's user space.
const UNITS_PER_INCH: f64 = 72.0;

pub(super) fn draw(bytes: Arc<Vec<u8>>, page: usize, longest_px: u32) -> Result<Drawn, Fault> {
    let pdf = Pdf::new(bytes).map_err(|e| match e {
        LoadPdfError::Decryption(_) => Fault::Unsupported("it is locked with a password".into()),
        LoadPdfError::Invalid => Fault::Damaged("its pages cannot be found".into()),
    })?;
    let pages = pdf.pages().len();
    if pages == 0 {
        return Err(Fault::Damaged("it has no pages".into()));
    }
    let found = page.checked_sub(1).and_then(|index| pdf.pages().get(index));
    let page_found = found.ok_or(Fault::NoPage { page, pages })?;
    let (width, height) = page_found.render_dimensions();
    let (width, height) = (f64::from(width), f64::from(height));
    if !(width > 0.0 && height > 0.0 && width.is_finite() && height.is_finite()) {
        return Err(Fault::Empty(0, 0));
    }
    let scale = f64::from(longest_px) / width.max(height);
    check_size((width * scale) as u64, (height * scale) as u64)?;
    let warned = Arc::new(AtomicBool::new(false));
    let warn = warned.clone();
    let settings = InterpreterSettings {
        warning_sink: Arc::new(move |_| warn.store(true, Ordering::Relaxed)),
        ..InterpreterSettings::default()
    };
    let sized = PixmapSettings { x_scale: scale as f32, y_scale: scale as f32, ..PixmapSettings::default() };
    let pixmap = render(page_found, &RenderCache::new(), &settings, &RenderSettings::default(), &sized);
    let (width_px, height_px) = (u32::from(pixmap.width()), u32::from(pixmap.height()));
    let rgba = pixmap.data_as_u8_slice().to_vec();
    let mut notes = Vec::new();
    if warned.load(Ordering::Relaxed) {
        notes.push("Parts of the page could not be drawn as they are meant; compare it with the client's.".into());
    }
    Ok(Drawn { facts: Facts { width_px, height_px, ppi: Some(scale * UNITS_PER_INCH), pages, notes }, rgba })
}
