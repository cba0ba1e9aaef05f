//! A page of a PDF through `hayro`, drawn large enough for any usual print, on nothing: what the
//! page leaves bare stays clear.

use std::sync::{Arc, Mutex};

use hayro::hayro_interpret::InterpreterSettings;
use hayro::hayro_syntax::{LoadPdfError, Pdf};
use hayro::{PixmapSettings, RenderCache, RenderSettings, render};
use strikeoff_core::units::Ppi;

use super::ReadOptions;
use super::bounded::{VECTOR_LONGEST_PX, bounded};
use super::error::{Fault, check_size};
use super::raw::{Alpha, Model, Raw, Samples, Tagged};

/// Points in an inch, the unit of PDF's user space.
const UNITS_PER_INCH: f64 = 72.0;

pub(super) fn decode(bytes: &[u8], options: ReadOptions) -> Result<Raw, Fault> {
    let bytes = Arc::new(bytes.to_vec());
    bounded(move || draw(bytes, options.page))
}

fn draw(bytes: Arc<Vec<u8>>, page: usize) -> Result<Raw, Fault> {
    let pdf = Pdf::new(bytes).map_err(|e| match e {
        LoadPdfError::Decryption(_) => Fault::Unsupported("it is locked with a password".into()),
        LoadPdfError::Invalid => Fault::Damaged("its pages cannot be found".into()),
    })?;
    let pages = pdf.pages().len();
    if pages == 0 {
        return Err(Fault::Damaged("it has no pages".into()));
    }
    let found = page.checked_sub(1).and_then(|index| pdf.pages().get(index));
    let wanted = found.ok_or(Fault::NoPage { page, pages })?;
    let (width, height) = wanted.render_dimensions();
    let (width, height) = (f64::from(width), f64::from(height));
    if !(width > 0.0 && height > 0.0 && width.is_finite() && height.is_finite()) {
        return Err(Fault::Empty(0, 0));
    }
    let scale = VECTOR_LONGEST_PX / width.max(height);
    check_size((width * scale) as u64, (height * scale) as u64)?;
    let warnings = Arc::new(Mutex::new(false));
    let warned = warnings.clone();
    let settings = InterpreterSettings {
        warning_sink: Arc::new(move |_| *warned.lock().unwrap_or_else(|e| e.into_inner()) = true),
        ..InterpreterSettings::default()
    };
    let sized = PixmapSettings { x_scale: scale as f32, y_scale: scale as f32, ..PixmapSettings::default() };
    let pixmap = render(wanted, &RenderCache::new(), &settings, &RenderSettings::default(), &sized);
    let size = (u64::from(pixmap.width()), u64::from(pixmap.height()));
    let samples = Samples::U8(pixmap.data_as_u8_slice().to_vec());
    let mut raw = Raw::new(size, samples, Model::Rgb, Alpha::Premultiplied);
    raw.tagged = Tagged::Srgb;
    raw.ppi = Ppi::new(scale * UNITS_PER_INCH).ok();
    raw.facts.pages = pages;
    if *warnings.lock().unwrap_or_else(|e| e.into_inner()) {
        raw.facts
            .notes
            .push("Parts of the page could not be drawn as they are meant; compare it with the client's.".into());
    }
    Ok(raw)
}
