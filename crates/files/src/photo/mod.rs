//! Photographs and scans of printed sheets: the sheet is found by its corner marks, the reference strip beside it by its
//! own, the light is evened out from what is of one colour everywhere, and what the camera made of colours is undone by
//! the strip. See `docs/fingerprint.md`.

mod curve;
mod error;
mod frame;
mod judge;
mod light;
mod marks;
mod mix;
mod sample;
mod solve;
mod strip;

pub use error::PhotoError;
pub(crate) use frame::corner_mark;
pub use strip::{STRIP_SIZE_MM, Strip};

use strikeoff_core::color::difference;
use strikeoff_core::raster::Picture;

use curve::{Curve, encode};
use frame::{Found, Frame};
use light::{Light, Spot};
use mix::{Pair, mix, mixed};
use sample::Sample;
use strip::{FIELD_MM, GREYS, card, lab_of, middle};

/// Where the fields of a sheet lie, in mm from its upper left corner; the corner marks stand 2 mm from its edges.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Width and height.
    pub size: [f64; 2],
    /// Middles of the fields and their sides.
    pub fields: Vec<([f64; 2], f64)>,
    /// Places without ink, and how far the garment is bare round them.
    pub bare: Vec<([f64; 2], f64)>,
}

/// A field as read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    /// CIELAB (D65).
    pub lab: [f64; 3],
    /// Linear light before the camera's colours were unmixed.
    pub light: [f64; 3],
}

/// What was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// The fields, in the order of the layout.
    pub fields: Vec<Field>,
    /// Noise of a reading, one sigma of L*, a* and b*: the scatter of the bare garment, and what the strip's colours miss.
    pub noise: f64,
    /// Mean CIEDE2000 of the strip's colours when each is told by the others; none without a strip.
    pub strip_miss: Option<f64>,
    /// Whether the strip's values are measured.
    pub strip_measured: bool,
    /// Pixels a millimetre.
    pub px_mm: f64,
}

/// Rounds in which light and curves are found in turn.
const ROUNDS: usize = 6;
/// Of what colours a strip without colour fields leaves unknown: an assumption.
const NO_COLORS: f64 = 1.5;
/// Least noise of a reading.
const LEAST_NOISE: f64 = 0.2;

/// Whether a file's first bytes are a picture's, and not a table of readings: JPEG, PNG, TIFF, WebP, and HEIF by its box.
pub fn is_picture(bytes: &[u8]) -> bool {
    let heads: [&[u8]; 5] = [&[0xFF, 0xD8, 0xFF], b"\x89PNG", b"II*\0", b"MM\0*", b"RIFF"];
    heads.iter().any(|head| bytes.starts_with(head)) || bytes.get(4..8) == Some(b"ftyp".as_slice())
}

/// A scan, without a strip: taken as sRGB; its light is evened out.
pub fn read_scan(picture: &Picture, layout: &Layout) -> Result<Shot, PhotoError> {
    read(picture, layout, None)
}

/// A photograph of a sheet with the strip beside it.
pub fn read_photo(picture: &Picture, layout: &Layout, strip: &Strip) -> Result<Shot, PhotoError> {
    read(picture, layout, Some(strip))
}

fn read(picture: &Picture, layout: &Layout, strip: Option<&Strip>) -> Result<Shot, PhotoError> {
    judge::large_enough(picture)?;
    let squares = marks::squares(picture);
    let sheet = match frame::find(&squares, layout.size, picture) {
        Found::Whole(frame) => frame,
        Found::Cropped => return Err(judge::plain_reason(picture, PhotoError::Cropped("print"))),
        Found::Missing => return Err(judge::plain_reason(picture, PhotoError::NoMarks(4))),
    };
    judge::geometry(picture, &sheet)?;
    let beside = match strip {
        None => None,
        Some(_) => match frame::find(&squares, STRIP_SIZE_MM, picture) {
            Found::Whole(frame) => Some(frame),
            Found::Cropped => return Err(PhotoError::Cropped("strip")),
            Found::Missing => return Err(judge::plain_reason(picture, PhotoError::NoStrip)),
        },
    };
    if let Some(frame) = &beside {
        judge::geometry(picture, frame)?;
    }
    let seen = Seen::of(picture, layout, &sheet, beside.as_ref());
    judge::samples(&seen, strip.is_some())?;
    let (curves, light) = develop(&seen, strip)?;
    judge::light(&light, seen.bare.len())?;
    seen.shot(&curves, &light, strip, &sheet)
}

/// All that is read off a picture.
struct Seen {
    fields: Vec<Sample>,
    bare: Vec<Sample>,
    strip: Vec<Sample>,
    card: Vec<Sample>,
}

impl Seen {
    fn of(picture: &Picture, layout: &Layout, sheet: &Frame, beside: Option<&Frame>) -> Self {
        let sample = |frame: &Frame, at: [f64; 2], half: f64| Sample::of(picture, frame, at, half);
        let strip = |places: Vec<[f64; 2]>, half: f64| {
            beside.map(|frame| places.into_iter().map(|at| sample(frame, at, half)).collect()).unwrap_or_default()
        };
        Self {
            fields: layout.fields.iter().map(|(at, side)| sample(sheet, *at, side * 0.25)).collect(),
            bare: layout.bare.iter().map(|(at, half)| sample(sheet, *at, half * 0.6)).collect(),
            strip: strip((0..2 * GREYS).map(middle).collect(), FIELD_MM * 0.25),
            card: strip(card(), 2.0),
        }
    }

    fn spots(&self, curves: &[Curve; 3]) -> Vec<Spot> {
        let spot =
            |material: usize| move |sample: &Sample| Spot { at: sample.at, material, light: sample.light(curves) };
        self.bare.iter().map(spot(0)).chain(self.card.iter().map(spot(1))).collect()
    }

    fn shot(
        &self,
        curves: &[Curve; 3],
        light: &Light,
        strip: Option<&Strip>,
        sheet: &Frame,
    ) -> Result<Shot, PhotoError> {
        let flat = |sample: &Sample| sample.light(curves).map(|v| v / light.at(sample.at));
        let pairs: Vec<Pair> = strip.map_or_else(Vec::new, |strip| {
            let known = self.strip.iter().zip(&strip.linear).skip(GREYS);
            known.filter_map(|(sample, due)| Some((flat(sample), (*due)?))).collect()
        });
        let (mix, steps) = mix(&pairs);
        let miss = pairs.iter().zip(&steps).map(|((_, due), step)| {
            let due = lab_of(*due);
            difference(due, std::array::from_fn(|c| due[c] + step[c]))
        });
        let miss = (!pairs.is_empty()).then(|| miss.sum::<f64>() / pairs.len() as f64);
        if let Some(miss) = miss.filter(|miss| *miss > 5.0) {
            return Err(PhotoError::OtherStrip(miss));
        }
        let lab = |sample: &Sample| lab_of(mixed(&mix, flat(sample)));
        let bare: Vec<[f64; 3]> = self.bare.iter().map(lab).collect();
        let strip_noise = match (strip, steps.len()) {
            (None, _) => 0.0,
            (Some(_), 0) => NO_COLORS,
            (Some(_), count) => (steps.iter().flatten().map(|v| v * v).sum::<f64>() / (3 * count) as f64).sqrt(),
        };
        let scatter = judge::scatter(&bare);
        // An instrument's noise is one figure, and so is this one.
        let noise = scatter.hypot(strip_noise * 0.5).max(LEAST_NOISE);
        if scatter > 3.0 {
            return Err(PhotoError::Noisy(scatter));
        }
        let field = |sample: &Sample| Field { lab: lab(sample), light: flat(sample) };
        Ok(Shot {
            fields: self.fields.iter().map(field).collect(),
            noise,
            strip_miss: miss,
            strip_measured: strip.is_some_and(|strip| strip.measured),
            px_mm: sheet.scales().iter().sum::<f64>() / 4.0,
        })
    }
}

/// The camera's curves and the light, each found from the other in turn.
fn develop(seen: &Seen, strip: Option<&Strip>) -> Result<([Curve; 3], Light), PhotoError> {
    let mut curves: [Curve; 3] = std::array::from_fn(|_| Curve::plain());
    let materials = 1 + usize::from(!seen.card.is_empty());
    let mut light = Light::even();
    for _ in 0..ROUNDS {
        light = Light::through(&seen.spots(&curves), materials).unwrap_or_else(Light::even);
        let Some(strip) = strip else { break };
        let greys = &seen.strip[..GREYS];
        let level = greys.iter().map(|s| light.at(s.at).ln()).sum::<f64>() / greys.len() as f64;
        light.raise(-level);
        for (channel, curve) in curves.iter_mut().enumerate() {
            let mut points: Vec<(f64, f64)> = (greys.iter().zip(&strip.linear))
                .filter_map(|(sample, due)| {
                    let value = encode(sample.mean_plain(channel));
                    Some((value, encode((*due)?[channel] * light.at(sample.at))))
                })
                .collect();
            points.reverse();
            if points.windows(2).any(|p| p[1].0 - p[0].0 < 0.004 || p[1].1 <= p[0].1) {
                return Err(PhotoError::Greys);
            }
            *curve = Curve::through(&points);
        }
    }
    Ok((curves, light))
}
