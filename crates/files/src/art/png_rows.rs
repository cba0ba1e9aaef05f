//! The rows of a plain PNG of 8 bits, on two threads. One inflates, through the `png` crate's streaming
//! decoder with all its checks; the other undoes the filters (PNG, third edition, 9), which takes as long and
//! cannot be split either; what comes back the first makes pixels of.

use png::{DecodeOptions, Decoded, StreamingDecoder, UnfilterRegion};
use std::sync::mpsc::{channel, sync_channel};
use std::thread;
use strikeoff_core::raster::Rgba16;

use super::error::Fault;
use super::png::fault;
use super::raw::{Alpha, Model, widen};

/// Bytes that are inflated before they are handed on.
const BAND: usize = 1 << 20;
/// How far back a match reaches (RFC 1951).
const WINDOW: usize = 1 << 15;

/// The pixels of the PNG `bytes`, which has `size`, is not interlaced and has samples of 8 bits as
/// `model` and `alpha` say.
pub(super) fn pixels(
    bytes: &[u8],
    [width, height]: [usize; 2],
    model: Model,
    alpha: Alpha,
) -> Result<Vec<Rgba16>, Fault> {
    let channels = model.channels() + usize::from(alpha != Alpha::None);
    let row = 1 + width * channels;
    let mut data: Vec<Rgba16> = vec![[0; 4]; width * height];
    let mut left = data.chunks_exact_mut(width);
    let mut make = |band: Result<Vec<u8>, Fault>| {
        for (row, to) in band?.chunks_exact(row).zip(&mut left) {
            widen(&row[1..], model, alpha, to);
        }
        Ok(())
    };
    let (send, bands) = sync_channel::<Vec<u8>>(4);
    let (back, whole) = channel();
    let done = thread::scope(|scope| {
        scope.spawn(move || {
            let mut before = vec![0; row - 1];
            for band in bands {
                // The other end closes early only with an error of its own.
                drop(back.send(unfilter_band(band, row, channels, &mut before)));
            }
        });
        let mut made = Ok(());
        let done = inflate(bytes, row, height, |band| {
            drop(send.send(band));
            while let Ok(band) = whole.try_recv() {
                made = std::mem::replace(&mut made, Ok(())).and_then(|()| make(band));
            }
        });
        drop(send);
        done.and(made).and_then(|()| whole.into_iter().try_for_each(&mut make))
    });
    done.map(|()| data)
}

/// A band of rows with their filters undone; `before` is the row above them and becomes their last.
fn unfilter_band(mut band: Vec<u8>, row: usize, channels: usize, before: &mut [u8]) -> Result<Vec<u8>, Fault> {
    for row in band.chunks_exact_mut(row) {
        let Some((&mut filter, values)) = row.split_first_mut() else { break };
        if !unfilter(filter, channels, before, values) {
            return Err(Fault::Damaged(format!("a row has filter {filter}, which there is not")));
        }
        before.copy_from_slice(values);
    }
    Ok(band)
}

/// Hands on all rows as they are in the stream, whole ones, a band at a time.
fn inflate(bytes: &[u8], row: usize, height: usize, mut put: impl FnMut(Vec<u8>)) -> Result<(), Fault> {
    let mut options = DecodeOptions::default();
    options.set_ignore_text_chunk(true);
    options.set_ignore_iccp_chunk(true);
    let mut decoder = StreamingDecoder::new_with_options(options);
    let mut buffer = vec![0; row.max(WINDOW) + BAND + row];
    let mut region = UnfilterRegion::default();
    let (mut at, mut handed, mut rows) = (0, 0, 0);
    while rows < height {
        let mut held = region.as_buf(&mut buffer);
        let (used, decoded) = decoder.update(&bytes[at..], Some(&mut held)).map_err(fault)?;
        at += used;
        let ended = matches!(decoded, Decoded::ImageDataFlushed) || used == 0 && at == bytes.len();
        let whole = ((region.filled - handed) / row).min(height - rows);
        if whole * row >= BAND || ended || rows + whole == height || region.filled == buffer.len() {
            put(buffer[handed..handed + whole * row].to_vec());
            handed += whole * row;
            rows += whole;
            if ended && rows < height {
                return Err(Fault::Damaged("it ends before the last row".into()));
            }
            // What was handed on and no match reaches makes room.
            let shift = handed.min(region.available);
            buffer.copy_within(shift..region.filled, 0);
            (region.available, region.filled, handed) =
                (region.available - shift, region.filled - shift, handed - shift);
        }
    }
    // The rest of the image data, for its check sums.
    loop {
        let (used, decoded) = decoder.update(&bytes[at..], None).map_err(fault)?;
        at += used;
        match decoded {
            Decoded::ImageDataFlushed => return Ok(()),
            _ if used == 0 && at == bytes.len() => return Err(Fault::Damaged("it ends before its end mark".into())),
            _ => {}
        }
    }
}

/// Undoes filter 0 to 4 on a row; false for others.
fn unfilter(filter: u8, channels: usize, before: &[u8], row: &mut [u8]) -> bool {
    match channels {
        1 => unfilter_of::<1>(filter, before, row),
        3 => unfilter_of::<3>(filter, before, row),
        4 => unfilter_of::<4>(filter, before, row),
        _ => false,
    }
}

fn unfilter_of<const N: usize>(filter: u8, before: &[u8], row: &mut [u8]) -> bool {
    let (pixels, _) = row.as_chunks_mut::<N>();
    let (above, _) = before.as_chunks::<N>();
    let mut left = [0_u8; N];
    match filter {
        0 => {}
        1 => {
            for pixel in pixels {
                left = std::array::from_fn(|c| pixel[c].wrapping_add(left[c]));
                *pixel = left;
            }
        }
        2 => row.iter_mut().zip(before).for_each(|(v, b)| *v = v.wrapping_add(*b)),
        3 => {
            for (pixel, above) in pixels.iter_mut().zip(above) {
                let mean = |c: usize| ((u16::from(left[c]) + u16::from(above[c])) / 2) as u8;
                left = std::array::from_fn(|c| pixel[c].wrapping_add(mean(c)));
                *pixel = left;
            }
        }
        4 => {
            let mut corner = [0_i16; N];
            let mut wide = [0_i16; N];
            for (pixel, above) in pixels.iter_mut().zip(above) {
                let above: [i16; N] = std::array::from_fn(|c| i16::from(above[c]));
                left = std::array::from_fn(|c| pixel[c].wrapping_add(paeth(wide[c], above[c], corner[c])));
                wide = left.map(i16::from);
                corner = above;
                *pixel = left;
            }
        }
        _ => return false,
    }
    true
}

/// Paeth's predictor (9.4) from left, above and corner, in the form without branches that Sean
/// Barrett found: the one of the three that is nearest to left + above - corner.
#[inline(always)]
fn paeth(left: i16, above: i16, corner: i16) -> u8 {
    let limit = corner * 3 - (left + above);
    let (low, high) = (left.min(above), left.max(above));
    let inner = if high <= limit { low } else { corner };
    (if limit <= low { high } else { inner }) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_predictor_equals_its_definition() {
        for left in (0..=255_i16).step_by(5) {
            for above in (0..=255_i16).step_by(3) {
                for corner in 0..=255_i16 {
                    let guess = left + above - corner;
                    let [a, b, c] = [left, above, corner].map(|v| (guess - v).abs());
                    let want = if a <= b && a <= c {
                        left
                    } else if b <= c {
                        above
                    } else {
                        corner
                    };
                    assert_eq!(i16::from(paeth(left, above, corner)), want, "{left} {above} {corner}");
                }
            }
        }
    }

    #[test]
    fn every_filter_and_shape_reads_as_it_was_written() {
        use png::{BitDepth, ColorType, Encoder, Filter};
        for (color, channels) in [(ColorType::Grayscale, 1), (ColorType::Rgb, 3), (ColorType::Rgba, 4)] {
            for filter in [Filter::NoFilter, Filter::Sub, Filter::Up, Filter::Avg, Filter::Paeth, Filter::Adaptive] {
                for (width, height) in [(1, 1), (7, 5), (640, 700), (40_000, 9)] {
                    let values: Vec<u8> = (0..width * height * channels)
                        .map(|i: usize| ((i * i / 7 + i / width * 31) % 251) as u8)
                        .collect();
                    let mut file = Vec::new();
                    let mut encoder = Encoder::new(&mut file, width as u32, height as u32);
                    encoder.set_color(color);
                    encoder.set_depth(BitDepth::Eight);
                    encoder.set_filter(filter);
                    encoder.write_header().unwrap().write_image_data(&values).unwrap();
                    let (model, alpha) = match channels {
                        1 => (Model::Grey, Alpha::None),
                        3 => (Model::Rgb, Alpha::None),
                        _ => (Model::Rgb, Alpha::Straight),
                    };
                    let made = pixels(&file, [width, height], model, alpha).unwrap();
                    let mut want = vec![[0; 4]; width * height];
                    widen(&values, model, alpha, &mut want);
                    assert!(made == want, "{color:?} {filter:?} {width} x {height}");
                    // A changed check sum is noticed.
                    let at = file.len() - 16;
                    file[at] ^= 1;
                    assert!(pixels(&file, [width, height], model, alpha).is_err());
                }
            }
        }
    }
}
