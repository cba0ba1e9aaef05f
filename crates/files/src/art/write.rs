//! A prepared picture as a file of its own: 16 bits a channel, PNG or TIFF, with the working
//! space's ICC profile and the resolution, so that any program shows it in its true size.

use std::borrow::Cow;
use std::io::{Cursor, Write};
use std::path::Path;

use strikeoff_core::raster::Picture;
use strikeoff_core::units::Ppi;
use tiff::encoder::colortype::{RGB16, RGBA16};
use tiff::encoder::{Compression, DeflateLevel, Rational, TiffEncoder};
use tiff::tags::{ResolutionUnit, Tag};

use crate::disk::write_bytes;
use crate::picture::srgb_profile;
use crate::{WriteError, write_aside};

/// Why a prepared picture was not written.
#[derive(Debug, thiserror::Error)]
pub enum WriteArtError {
    /// Neither PNG nor TIFF.
    #[error("{0} does not say which kind of picture to write; end its name in .png or .tif")]
    Kind(String),
    /// It does not fit.
    #[error("a TIFF holds at most 4 GB, and this picture needs more; lower the working resolution or write a PNG")]
    TooLarge,
    /// Outlines under a name of another kind.
    #[error("outlines are written as SVG, so the name must end in .svg: {0}")]
    NotSvg(String),
    /// The system refused.
    #[error(transparent)]
    Write(#[from] WriteError),
}

/// Writes `picture` of resolution `ppi`, with alpha only where it has some. The kind follows the
/// ending of the name: `.png`, `.tif` or `.tiff`.
pub fn write_prepared(path: &Path, picture: &Picture, ppi: Ppi) -> Result<(), WriteArtError> {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("png") => write_png(path, picture, ppi),
        Some("tif" | "tiff") => write_tiff(path, picture, ppi),
        _ => Err(WriteArtError::Kind(path.display().to_string())),
    }
}

/// Writes outlines as an SVG; the name must end so.
pub fn write_svg(path: &Path, svg: &str) -> Result<(), WriteArtError> {
    if path.extension().is_none_or(|ending| !ending.eq_ignore_ascii_case("svg")) {
        return Err(WriteArtError::NotSvg(path.display().to_string()));
    }
    Ok(write_bytes(path, svg.as_bytes())?)
}

/// The working space as an ICC profile.
fn profile() -> Vec<u8> {
    srgb_profile().unwrap_or_default()
}

/// PNG third edition: iCCP, pHYs.
fn write_png(path: &Path, picture: &Picture, ppi: Ppi) -> Result<(), WriteArtError> {
    let wrap = |e: png::EncodingError| WriteError::io(path, e.into());
    let alpha = picture.has_alpha();
    let mut info = png::Info::with_size(picture.width() as u32, picture.height() as u32);
    info.bit_depth = png::BitDepth::Sixteen;
    info.color_type = if alpha { png::ColorType::Rgba } else { png::ColorType::Rgb };
    info.icc_profile = Some(Cow::Owned(profile()));
    let per_metre = (ppi.get() / 0.0254).round() as u32;
    info.pixel_dims = Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter });
    write_aside(path, |out| {
        let mut encoder = png::Encoder::with_info(out, info).map_err(wrap)?;
        encoder.set_compression(png::Compression::Fast);
        let mut writer = encoder.write_header().map_err(wrap)?;
        let mut stream = writer.stream_writer().map_err(wrap)?;
        let channels = if alpha { 4 } else { 3 };
        for y in 0..picture.height() {
            let row: Vec<u8> = picture
                .pixels()
                .row(y)
                .iter()
                .flat_map(|p| p[..channels].iter().flat_map(|v| v.to_be_bytes()))
                .collect();
            stream.write_all(&row).map_err(|e| WriteError::io(path, e))?;
        }
        stream.finish().map_err(wrap)?;
        writer.finish().map_err(wrap)?;
        Ok(())
    })
}

/// TIFF revision 6, deflate; ICC profile in tag 34675.
fn write_tiff(path: &Path, picture: &Picture, ppi: Ppi) -> Result<(), WriteArtError> {
    let alpha = picture.has_alpha();
    let channels = if alpha { 4 } else { 3 };
    if picture.width() * picture.height() * channels * 2 > 0xf000_0000 {
        return Err(WriteArtError::TooLarge);
    }
    let samples: Vec<u16> = picture.pixels().data().iter().flat_map(|p| p[..channels].iter().copied()).collect();
    let mut bytes = Cursor::new(Vec::new());
    let encoded = encode_tiff(&mut bytes, picture, ppi, alpha, &samples);
    encoded.map_err(|e| WriteError::io(path, std::io::Error::other(e.to_string())))?;
    write_aside(path, |out| out.write_all(bytes.get_ref()).map_err(|e| WriteError::io(path, e).into()))
}

fn encode_tiff(
    out: &mut Cursor<Vec<u8>>,
    picture: &Picture,
    ppi: Ppi,
    alpha: bool,
    samples: &[u16],
) -> tiff::TiffResult<()> {
    let (width, height) = (picture.width() as u32, picture.height() as u32);
    // Thousandths of a pixel an inch.
    let resolution = Rational { n: (ppi.get() * 1000.0).round() as u32, d: 1000 };
    let mut encoder = TiffEncoder::new(out)?.with_compression(Compression::Deflate(DeflateLevel::Fast));
    macro_rules! image {
        ($kind:ty, $extra:expr) => {{
            let mut image = encoder.new_image::<$kind>(width, height)?;
            image.resolution(ResolutionUnit::Inch, resolution);
            image.encoder().write_tag(Tag::IccProfile, &profile()[..])?;
            if $extra {
                // Unassociated alpha.
                image.encoder().write_tag(Tag::ExtraSamples, &[2_u16][..])?;
            }
            image.write_data(samples)
        }};
    }
    if alpha { image!(RGBA16, true) } else { image!(RGB16, false) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::art::{ReadOptions, receive_art};
    use strikeoff_core::raster::Plane;

    #[test]
    fn what_is_written_reads_back_bit_for_bit() {
        let dir = tempfile::tempdir().unwrap();
        for clear in [false, true] {
            let pixels = Plane::from_fn(31, 17, |x, y| {
                [
                    (x * 2000) as u16,
                    (y * 3001) as u16,
                    (x * y * 111) as u16,
                    if clear { (x * 2100) as u16 } else { 65535 },
                ]
            });
            let picture = Picture::new(pixels);
            for name in ["a.png", "a.tif"] {
                let path = dir.path().join(name);
                write_prepared(&path, &picture, Ppi::new(300.0).unwrap()).unwrap();
                let back = receive_art(&path, ReadOptions::default()).unwrap();
                assert_eq!(back.art.picture, picture, "{name}");
                assert_eq!((back.art.ppi.get(), back.facts.bits_per_sample), (300.0, 16));
                assert!(back.facts.color_profile.contains("sRGB"), "{}", back.facts.color_profile);
            }
        }
        let error = write_prepared(
            &dir.path().join("a.xyz"),
            &Picture::new(Plane::filled(1, 1, [0; 4])),
            Ppi::new(300.0).unwrap(),
        );
        assert!(error.unwrap_err().to_string().contains(".png or .tif"));
    }
}
