//! PNG (third edition): any depth and colour type, alpha, iCCP, pHYs.

use std::io::Cursor;

use png::{BitDepth, ColorType, Decoder, DecodingError, Limits, Transformations, Unit};

use super::MAX_ART_PIXELS;
use super::error::{Fault, check_size};
use super::raw::{Alpha, Model, Raw, Samples};
use super::resolution::from_per_metre;

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), Limits { bytes: MAX_ART_PIXELS * 8 });
    decoder.set_transformations(Transformations::EXPAND);
    decoder.set_ignore_text_chunk(true);
    let head = decoder.read_header_info().map_err(fault)?;
    check_size(head.width.into(), head.height.into())?;
    let mut reader = decoder.read_info().map_err(fault)?;
    let size = reader.output_buffer_size().ok_or_else(|| Fault::Damaged("its size is not sound".into()))?;
    let mut buffer = vec![0; size];
    let frame = reader.next_frame(&mut buffer).map_err(fault)?;
    buffer.truncate(frame.buffer_size());
    let info = reader.info();
    let (model, alpha) = match frame.color_type {
        ColorType::Grayscale => (Model::Grey, Alpha::None),
        ColorType::GrayscaleAlpha => (Model::Grey, Alpha::Straight),
        ColorType::Rgb => (Model::Rgb, Alpha::None),
        ColorType::Rgba => (Model::Rgb, Alpha::Straight),
        ColorType::Indexed => return Err(Fault::Unsupported("a palette that was not expanded".into())),
    };
    let samples = if frame.bit_depth == BitDepth::Sixteen {
        Samples::U16(buffer.chunks_exact(2).map(|p| u16::from_be_bytes([p[0], p[1]])).collect())
    } else {
        Samples::U8(buffer)
    };
    // The sRGB chunk outranks an embedded profile that cannot be read with it.
    let icc = info.icc_profile.as_ref().filter(|_| info.srgb.is_none()).map(|p| p.to_vec());
    let ppi = info.pixel_dims.filter(|d| matches!(d.unit, Unit::Meter)).and_then(|d| from_per_metre(f64::from(d.xppu)));
    Ok(Raw { width: frame.width.into(), height: frame.height.into(), samples, model, alpha, icc, ppi })
}

fn fault(error: DecodingError) -> Fault {
    match error {
        DecodingError::LimitsExceeded => Fault::Damaged("it asks for more memory than a picture may".into()),
        other => Fault::Damaged(other.to_string()),
    }
}
