//! All screens in one PDF page for a shop's own film printer software: a DeviceN picture
//! (ISO 32000-1, 8.6.6.5), one colorant a screen, named after its ink, in print order. The tint
//! transform is the print model itself, from the garment up, so viewers show the proof.
//! MixingHints carry opacity and print order. The garment is an optional-content layer that does
//! not print and is off until switched on, so no process plate is ever touched.

use std::fmt::Write as _;
use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use strikeoff_core::Progress;
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::Garment;
use strikeoff_core::job::Job;
use strikeoff_core::names::same;
use strikeoff_core::press::{Ground, Stack, proof_from_screens};
use strikeoff_core::screens::{Screen, Screens};

use super::label::job_line;
use super::options::FilmError;
use super::pdf::{PdfFile, shy};
use super::spots::COVERAGE_NOTE;
use crate::picture::{png_bytes, srgb_profile};
use crate::text::plain;
use crate::{Growing, WriteError};

/// What whoever opens the file should know: measured, see docs/films.md.
pub(super) const READERS_NOTE: &str = "composite.pdf looks like the print where a reader follows the file; readers that \
                                      mix spot colours by a rule of their own, as most do when they simulate overprint, \
                                      show other colours: judge by composite-proof.png";

/// Writes the proof beside it, a picture that every reader shows alike.
pub(super) fn write_composite_proof(job: &Job, screens: &Screens, file: Growing) -> Result<(), FilmError> {
    let proof = proof_from_screens(screens, &job.ground(), |_| true);
    let path = file.place().to_owned();
    file.fill(|out| Ok(out.write_all(&png_bytes(&proof, screens.ppi)).map_err(|e| WriteError::io(&path, e))?))
}

/// Most colorants of a DeviceN space (ISO 32000-1, annex C).
pub(super) const MOST_COLORANTS: usize = 32;

/// Colorant names: the inks', or the screens' where two screens share an ink. Names that mean
/// process plates or all plates are kept off them by a word in front.
pub fn colorant_names(screens: &[Screen]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for screen in screens {
        let shared = screens.iter().filter(|other| same(&other.ink.name, &screen.ink.name)).count() > 1;
        let mut name = if shared { screen.name.to_string() } else { screen.ink.name.clone() };
        let reserved = ["cyan", "magenta", "yellow", "black", "all", "none"];
        if reserved.contains(&name.to_lowercase().as_str()) {
            name = format!("Spot {name}");
        }
        while names.contains(&name) {
            name.push('+');
        }
        names.push(name);
    }
    names
}

/// Writes the composite of all screens at their working resolution, 8 bits a colorant.
pub fn write_composite(job: &Job, screens: &Screens, file: Growing, progress: &Progress) -> Result<(), FilmError> {
    let profile =
        srgb_profile().map_err(|e| FilmError::Settings(format!("the sRGB profile cannot be written: {e}")))?;
    let path = file.place().to_owned();
    file.fill(|out| {
        let wrap = |e| WriteError::io(&path, e);
        let mut pdf = PdfFile::new(out).map_err(wrap)?;
        let names: Vec<String> = colorant_names(&screens.list).iter().map(|name| pdf_name(name)).collect();
        let (width, height) = (screens.width, screens.height);

        let icc = pdf.new_ref();
        let stream = pdf.begin_stream(icc, "/N 3 /Alternate /DeviceRGB").map_err(wrap)?;
        pdf.stream_bytes(&profile).map_err(wrap)?;
        pdf.end_stream(stream).map_err(wrap)?;

        let stack = Stack::of_screens(&job.ground(), &screens.list);
        let domain = "0 1 ".repeat(names.len());
        let function = pdf.new_ref();
        let stream = pdf
            .begin_stream(function, &format!("/FunctionType 4 /Domain [{domain}] /Range [0 1 0 1 0 1]"))
            .map_err(wrap)?;
        pdf.stream_bytes(tint_transform(&stack).as_bytes()).map_err(wrap)?;
        pdf.end_stream(stream).map_err(wrap)?;

        // Solidities are the inks' contrast ratios; the order is first down first (table 73).
        let mut solidities = String::new();
        for (name, screen) in names.iter().zip(&screens.list) {
            let _ = write!(solidities, "/{name} {:.3} ", screen.ink.opacity.get());
        }
        let list = names.iter().map(|name| format!("/{name}")).collect::<Vec<_>>().join(" ");
        let colorants = colorants(&mut pdf, job, screens, (&names, icc.get())).map_err(wrap)?;
        let space = pdf.new_ref();
        let body = format!(
            "[/DeviceN [{list}] [/ICCBased {} 0 R] {} 0 R <</Subtype /DeviceN /Colorants <<{colorants}>> \
             /MixingHints <</Solidities <<{solidities}>> /PrintingOrder [{list}]>>>>]",
            icc.get(),
            function.get()
        );
        pdf.raw_object(space, &body).map_err(wrap)?;

        let picture = pdf.new_ref();
        let stream = pdf
            .begin_stream(
                picture,
                &format!(
                    "/Type /XObject /Subtype /Image /Width {width} /Height {height} /BitsPerComponent 8 /ColorSpace \
                     {} 0 R /Filter /FlateDecode",
                    space.get()
                ),
            )
            .map_err(wrap)?;
        let mut packed = ZlibEncoder::new(Vec::new(), Compression::fast());
        let mut row = vec![0u8; width * names.len()];
        for y in 0..height {
            if y % 64 == 0 {
                progress.step("composite", y as f32 / height as f32)?;
            }
            for (at, screen) in screens.list.iter().enumerate() {
                for (out, &v) in row[at..].iter_mut().step_by(names.len()).zip(screen.coverage.row(y)) {
                    *out = ((u32::from(v) + 128) / 257) as u8;
                }
            }
            packed.write_all(&row).map_err(wrap)?;
            pdf.stream_bytes(packed.get_ref()).map_err(wrap)?;
            packed.get_mut().clear();
        }
        pdf.stream_bytes(&packed.finish().map_err(wrap)?).map_err(wrap)?;
        pdf.end_stream(stream).map_err(wrap)?;

        let points = |px: usize| px as f64 / screens.ppi.get() * 72.0;
        let (width_pt, height_pt) = (points(width), points(height));
        let (draw_w, draw_h) = (shy(width_pt), shy(height_pt));
        let [r, g, b] = job.garment.color.0.map(|v| f64::from(v) / 255.0);
        let content = pdf.new_ref();
        let stream = pdf.begin_stream(content, "").map_err(wrap)?;
        // Overprint is on (8.6.7), so what a shop's software puts under the picture stays.
        let drawing = format!(
            "/OC /Garment BDC q {r:.4} {g:.4} {b:.4} rg 0 0 {draw_w:.5} {draw_h:.5} re f Q EMC\n\
             q /Over gs {draw_w:.5} 0 0 {draw_h:.5} 0 0 cm /Screens Do Q"
        );
        pdf.stream_bytes(drawing.as_bytes()).map_err(wrap)?;
        pdf.end_stream(stream).map_err(wrap)?;

        let layer = pdf.new_ref();
        let garment = format!(
            "<</Type /OCG /Name {} /Usage <</Print <</PrintState /OFF>> /View <</ViewState /OFF>>>>>>",
            pdf_text(&format!("Garment {} (does not print)", job.garment.name))
        );
        pdf.raw_object(layer, &garment).map_err(wrap)?;
        let resources = format!(
            "<</XObject <</Screens {} 0 R>> /ExtGState <</Over <</Type /ExtGState /OP true /op true /OPM 1>>>> \
             /Properties <</Garment {} 0 R>>>>",
            picture.get(),
            layer.get()
        );
        pdf.raw_page(width_pt, height_pt, content, &resources).map_err(wrap)?;
        let layers = format!(
            "/OCProperties <</OCGs [{n} 0 R] /D <</OFF [{n} 0 R] /Order [{n} 0 R] /AS [<</Event /Print /OCGs [{n} 0 \
             R] /Category [/Print]>>]>>>>",
            n = layer.get()
        );
        pdf.finish_with(&plain(&job_line(job)), &format!("Spot colours: {COVERAGE_NOTE}."), &layers).map_err(wrap)?;
        Ok(())
    })
}

/// Each colorant by itself, for readers that mix spot colours one by one: its ink on white (8.6.6.5, table 71).
fn colorants<W: Write>(
    pdf: &mut PdfFile<W>,
    job: &Job,
    screens: &Screens,
    (names, icc): (&[String], i32),
) -> std::io::Result<String> {
    let white = Garment::of_color(Rgb8([255; 3]));
    let ground = Ground { garment: &white, ..job.ground() };
    let mut out = String::new();
    for (name, screen) in names.iter().zip(&screens.list) {
        let alone = Stack::of_screens(&ground, std::slice::from_ref(screen));
        let function = pdf.new_ref();
        let stream = pdf.begin_stream(function, "/FunctionType 4 /Domain [0 1] /Range [0 1 0 1 0 1]")?;
        pdf.stream_bytes(tint_transform(&alone).as_bytes())?;
        pdf.end_stream(stream)?;
        let _ = write!(out, "/{name} [/Separation /{name} [/ICCBased {icc} 0 R] {} 0 R] ", function.get());
    }
    Ok(out)
}

/// The print model as a calculator function (7.10.5): from coverages to sRGB.
fn tint_transform(stack: &Stack) -> String {
    let count = stack.layers.len();
    let mut code = String::from("{ ");
    for band in stack.garment {
        let _ = write!(code, "{band:.6} ");
    }
    for (k, layer) in stack.layers.iter().enumerate() {
        // R <- R + a (S + (T - 1) R), blue first; three turns bring the bands back in order. The
        // coverage lies under three bands, later coverages and the copy that is being worked on.
        let index = 3 + (count - 1 - k) + 1;
        for band in [2, 1, 0] {
            let _ = write!(
                code,
                "dup {:.6} mul {:.6} add {index} index mul add 3 1 roll ",
                layer.through[band] - 1.0,
                layer.scatter[band]
            );
        }
    }
    let _ = write!(code, "{} 3 roll ", count + 3);
    code.push_str(&"pop ".repeat(count));
    for _ in 0..3 {
        // The sRGB transfer, IEC 61966-2-1.
        code.push_str(
            "dup 0 lt { pop 0 } if dup 0.0031308 le { 12.92 mul } { 0.41666667 exp 1.055 mul 0.055 sub } ifelse 3 1 \
             roll ",
        );
    }
    code.push('}');
    code
}

/// A name object's text: what is not plain is written as #xx (7.3.5).
fn pdf_name(name: &str) -> String {
    let mut out = String::new();
    for &byte in name.as_bytes() {
        if byte.is_ascii_alphanumeric() || b"-_.+".contains(&byte) {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "#{byte:02X}");
        }
    }
    out
}

/// A text string as UTF-16 with its mark (7.9.2.2).
fn pdf_text(text: &str) -> String {
    let mut out = String::from("<FEFF");
    for unit in text.encode_utf16() {
        let _ = write!(out, "{unit:04X}");
    }
    out.push('>');
    out
}
