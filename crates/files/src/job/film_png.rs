//! A coverage plane as a 16-bit grey PNG in memory, film sense (ink black on white), and back
//! without loss.

use std::io::Cursor;

use png::{BitDepth, ColorType, Compression, Decoder, Encoder, Limits};
use strikeoff_core::raster::{FULL, Plane};

use crate::limits::{MAX_ART_PIXELS, MAX_ART_SIDE_PX, Tally};

/// Fast rather than small: a cache that is written at every save.
pub(super) fn encode(coverage: &Plane<u16>) -> Result<Vec<u8>, png::EncodingError> {
    let bytes: Vec<u8> = coverage.data().iter().flat_map(|&v| (FULL - v).to_be_bytes()).collect();
    let mut out = Vec::with_capacity(bytes.len() / 2);
    let mut encoder = Encoder::new(&mut out, coverage.width() as u32, coverage.height() as u32);
    encoder.set_color(ColorType::Grayscale);
    encoder.set_depth(BitDepth::Sixteen);
    encoder.set_compression(Compression::Fast);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&bytes)?;
    writer.finish()?;
    Ok(out)
}

/// Refuses any other size than the one expected before it makes room for pixels.
pub(super) fn decode(bytes: &[u8], width: usize, height: usize) -> Result<Plane<u16>, String> {
    let (w, h) = size(bytes)?;
    if (w, h) != (width, height) {
        return Err(format!("it is {w} x {h} pixels, not {width} x {height}"));
    }
    decode_sized(bytes, width, height)
}

/// Decodes a plane of any size that art may have, if `held` has room for it.
pub(super) fn decode_any(bytes: &[u8], held: &mut Tally) -> Result<Plane<u16>, String> {
    let (width, height) = size(bytes)?;
    if width.saturating_mul(height) > MAX_ART_PIXELS || width.max(height) > MAX_ART_SIDE_PX {
        return Err(format!("{width} x {height} pixels are more than artwork may have"));
    }
    held.take(width as u64 * height as u64 * 2).map_err(|over| format!("{width} x {height} pixels {over}"))?;
    decode_sized(bytes, width, height)
}

fn size(bytes: &[u8]) -> Result<(usize, usize), String> {
    let reader = Decoder::new_with_limits(Cursor::new(bytes), Limits { bytes: 1 << 20 }).read_info();
    let reader = reader.map_err(|e| e.to_string())?;
    Ok((reader.info().width as usize, reader.info().height as usize))
}

fn decode_sized(bytes: &[u8], width: usize, height: usize) -> Result<Plane<u16>, String> {
    let limits = Limits { bytes: width.saturating_mul(height).saturating_mul(3).max(1 << 20) };
    let decoder = Decoder::new_with_limits(Cursor::new(bytes), limits);
    let mut reader = decoder.read_info().map_err(|e| e.to_string())?;
    let info = reader.info();
    if (info.color_type, info.bit_depth, info.interlaced) != (ColorType::Grayscale, BitDepth::Sixteen, false) {
        return Err("it is not a plain 16-bit grey PNG".to_owned());
    }
    // Row by row: the bytes of the whole picture are never held beside its pixels.
    let mut data = Vec::with_capacity(width * height);
    while let Some(row) = reader.next_row().map_err(|e| e.to_string())? {
        data.extend(row.data().chunks_exact(2).map(|b| FULL - u16::from_be_bytes([b[0], b[1]])));
    }
    reader.finish().map_err(|e| e.to_string())?;
    if data.len() != width * height {
        return Err("rows are missing".to_owned());
    }
    Ok(Plane::from_vec(width, height, data))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_survives_and_wrong_sizes_are_refused() {
        let plane = Plane::from_fn(256, 256, |x, y| (y * 256 + x) as u16);
        let bytes = encode(&plane).unwrap();
        assert_eq!(decode(&bytes, 256, 256).unwrap(), plane);
        assert!(decode(&bytes, 255, 256).unwrap_err().contains("256 x 256"));
        assert!(decode(&bytes[..bytes.len() / 2], 256, 256).is_err());
    }
}
