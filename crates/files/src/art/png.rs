//! PNG (third edition): any depth and colour type, alpha, colour by profile or numbers, resolution.

use std::io::Cursor;

use moxcms::{Chromaticity, ColorPrimaries, ColorProfile, curve_from_gamma};
use png::{BitDepth, ColorType, Decoder, DecodingError, Info, Limits, Reader, Transformations, Unit};
use strikeoff_core::raster::Rgba16;

use super::error::{Fault, check_memory, check_size};
use super::raw::{Alpha, Model, Raw, Samples, Tagged, widen};
use super::resolution::{aspect, from_per_metre};
use super::transforms::can_widen;
use super::{ReadOptions, exif};
use crate::limits::MAX_TAG_BYTES;

pub(super) fn decode(bytes: &[u8], _: ReadOptions) -> Result<Raw, Fault> {
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), Limits { bytes: MAX_TAG_BYTES });
    decoder.set_transformations(Transformations::EXPAND);
    decoder.set_ignore_text_chunk(true);
    let head = decoder.read_header_info().map_err(fault)?;
    check_size(head.width.into(), head.height.into())?;
    let mut reader = decoder.read_info().map_err(fault)?;
    let (color, depth) = reader.output_color_type();
    let (model, alpha) = match color {
        ColorType::Grayscale => (Model::Grey, Alpha::None),
        ColorType::GrayscaleAlpha => (Model::Grey, Alpha::Straight),
        ColorType::Rgb => (Model::Rgb, Alpha::None),
        ColorType::Rgba => (Model::Rgb, Alpha::Straight),
        ColorType::Indexed => return Err(Fault::Unsupported("a palette that was not expanded".into())),
    };
    let (width, height) = (u64::from(reader.info().width), u64::from(reader.info().height));
    let tagged = tagged(reader.info(), model);
    let rows = depth == BitDepth::Eight && !reader.info().interlaced;
    let samples = if rows && can_widen(model, alpha, &tagged) {
        Samples::Done(pixels(&mut reader, model, alpha)?)
    } else {
        samples(&mut reader, depth)?
    };
    let info = reader.info();
    let mut raw = Raw::new((width, height), samples, model, alpha);
    raw.facts.bits_per_sample = info.bit_depth as u8;
    raw.tagged = tagged;
    if let Some(block) = &info.exif_metadata {
        raw.turn = exif::read(block).turn;
    }
    raw.ppi = info.pixel_dims.filter(|d| matches!(d.unit, Unit::Meter)).and_then(|d| from_per_metre(f64::from(d.xppu)));
    raw.aspect = info.pixel_dims.map_or(1.0, |d| aspect(f64::from(d.xppu), f64::from(d.yppu)));
    if info.animation_control.is_some() {
        raw.facts.notes.push("The file is an animation; its still picture is used.".into());
    }
    Ok(raw)
}

/// Rows of 8 bits straight to pixels: neither all samples nor a second buffer is ever held.
fn pixels(reader: &mut Reader<Cursor<&[u8]>>, model: Model, alpha: Alpha) -> Result<Vec<Rgba16>, Fault> {
    let (width, height) = (reader.info().width as usize, reader.info().height as usize);
    check_memory(width as u64, height as u64, 0)?;
    let mut data: Vec<Rgba16> = vec![[0; 4]; width * height];
    for to in data.chunks_exact_mut(width) {
        let row = reader.next_row().map_err(fault)?;
        let row = row.ok_or_else(|| Fault::Damaged("it ends before the last row".into()))?;
        widen(row.data(), model, alpha, to);
    }
    // The rest of the image data, for its check sums.
    match reader.next_row().map_err(fault)? {
        None => Ok(data),
        Some(_) => Err(Fault::Damaged("it has more rows than it says".into())),
    }
}

/// All samples.
fn samples(reader: &mut Reader<Cursor<&[u8]>>, depth: BitDepth) -> Result<Samples, Fault> {
    let size = reader.output_buffer_size().ok_or_else(|| Fault::Damaged("its size is not sound".into()))?;
    check_memory(reader.info().width.into(), reader.info().height.into(), size as u64)?;
    if depth != BitDepth::Sixteen {
        let mut samples = vec![0; size];
        reader.next_frame(&mut samples).map_err(fault)?;
        return Ok(Samples::U8(samples));
    }
    let mut samples = vec![0_u16; size / 2];
    reader.next_frame(bytemuck::cast_slice_mut(&mut samples)).map_err(fault)?;
    samples.iter_mut().for_each(|v| *v = u16::from_be(*v));
    Ok(Samples::U16(samples))
}

/// The colour of the file, in the order of precedence of the PNG specification (third edition,
/// 4.3): embedded profile, sRGB chunk, gamma and primaries.
fn tagged(info: &Info<'_>, model: Model) -> Tagged {
    if let Some(icc) = &info.icc_profile {
        return Tagged::Icc(icc.to_vec());
    }
    if info.srgb.is_some() {
        return Tagged::Srgb;
    }
    let Some(gamma) = info.gama_chunk.map(|g| g.into_value()).filter(|g| (0.2..=1.1).contains(g)) else {
        return Tagged::Nothing;
    };
    let primaries = info.chrm_chunk.map(|c| {
        let xy = |(x, y): (png::ScaledFloat, png::ScaledFloat)| (x.into_value(), y.into_value());
        [xy(c.red), xy(c.green), xy(c.blue), xy(c.white)]
    });
    // What careless writers put there means sRGB (gamma 1/2.2 with sRGB's primaries or none).
    let srgb = [(0.64, 0.33), (0.3, 0.6), (0.15, 0.06), (0.3127, 0.329)];
    let near = |a: (f32, f32), b: (f32, f32)| (a.0 - b.0).abs() < 2e-3 && (a.1 - b.1).abs() < 2e-3;
    let usual = primaries.is_none_or(|p| p.iter().zip(srgb).all(|(&a, b)| near(a, b)));
    if usual && (gamma - 0.454_55).abs() < 2e-3 {
        return Tagged::Nothing;
    }
    let curve = curve_from_gamma(1.0 / gamma);
    let name = format!("gamma {:.2}{}", 1.0 / gamma, if usual { "" } else { " and primaries of the file" });
    if model == Model::Grey {
        return Tagged::Numbers(Box::new(ColorProfile::new_gray_with_gamma(1.0 / gamma)), name);
    }
    let mut profile = ColorProfile::new_srgb();
    if let Some([red, green, blue, white]) = primaries.filter(|_| !usual) {
        let at = |(x, y): (f32, f32)| Chromaticity::new(x, y);
        let primaries = ColorPrimaries { red: at(red), green: at(green), blue: at(blue) };
        profile.update_rgb_colorimetry(at(white).to_xyyb(), primaries);
    }
    profile.cicp = None;
    (profile.red_trc, profile.green_trc, profile.blue_trc) = (Some(curve.clone()), Some(curve.clone()), Some(curve));
    Tagged::Numbers(Box::new(profile), name)
}

fn fault(error: DecodingError) -> Fault {
    match error {
        DecodingError::LimitsExceeded => Fault::TooInvolved("it asks for more memory than a picture may".into()),
        other => Fault::Damaged(other.to_string()),
    }
}
