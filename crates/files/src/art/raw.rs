//! What a decoder hands over: samples as they are in the file, and what is known of their
//! colour. Turned here into the working space, in parallel and a few thousand pixels at a time,
//! so that nothing but the file's samples and the finished picture is ever held whole.

use moxcms::{ColorProfile, Transform16BitExecutor};
use rayon::prelude::*;
use strikeoff_core::Progress;
use strikeoff_core::prep::{Turn, resized};
use strikeoff_core::raster::{Art, Picture, Plane, Rgba16};
use strikeoff_core::units::Ppi;

use super::error::{Fault, check_memory, check_size};
use super::facts::{FileFacts, Received};
use super::gamut::outside_share;
use super::resolution::DEFAULT_PPI;
use crate::limits::Budget;

/// Samples as the file has them, pixel after pixel.
pub(super) enum Samples {
    U8(Vec<u8>),
    U16(Vec<u16>),
    /// Bytes that the decoder has turned into pixels ([`widen`]); only of colour that
    /// is sRGB's or not tagged at all.
    Done(Vec<Rgba16>),
}

/// What the colour samples of a pixel mean.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Model {
    Grey,
    Rgb,
    /// 0 no ink.
    Cmyk,
}

/// Whether a sample of coverage follows the colour samples.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Alpha {
    None,
    Straight,
    Premultiplied,
}

/// What the file says of its colour.
pub(super) enum Tagged {
    /// Nothing: taken as sRGB, or for CMYK as the default profile.
    Nothing,
    /// Marked as sRGB.
    Srgb,
    /// An embedded ICC profile.
    Icc(Vec<u8>),
    /// Given by numbers (primaries, gamma) that make this profile.
    Numbers(Box<ColorProfile>, String),
    /// Linear light with sRGB primaries, already encoded by the decoder.
    Linear,
}

pub(super) struct Raw {
    pub width: u64,
    pub height: u64,
    pub samples: Samples,
    pub model: Model,
    pub alpha: Alpha,
    pub tagged: Tagged,
    /// Across.
    pub ppi: Option<Ppi>,
    /// Pixels an inch across against down; 1 for square pixels.
    pub aspect: f64,
    /// How the file wants to be shown.
    pub turn: Turn,
    /// What else the decoder found out; its colour and size fields are filled in here.
    pub facts: FileFacts,
}

impl Raw {
    /// Samples with nothing special about them.
    pub(super) fn new(size: (u64, u64), samples: Samples, model: Model, alpha: Alpha) -> Self {
        let bits = if matches!(samples, Samples::U16(_)) { 16 } else { 8 };
        let facts = FileFacts { bits_per_sample: bits, ..FileFacts::default() };
        let (width, height) = size;
        let (tagged, turn) = (Tagged::Nothing, Turn::default());
        Self { width, height, samples, model, alpha, tagged, ppi: None, aspect: 1.0, turn, facts }
    }
}

/// Pixels converted at a time: small enough for the cache.
const RUN: usize = 4096;

impl Raw {
    pub(super) fn into_art(mut self, format: &'static str) -> Result<Received, Fault> {
        let (width, height) = check_size(self.width, self.height)?;
        let transforms = self.transforms()?;
        let colors = self.model.channels();
        let channels = colors + usize::from(self.alpha != Alpha::None);
        let have = match &self.samples {
            Samples::U8(v) => v.len(),
            Samples::U16(v) => v.len(),
            Samples::Done(v) => v.len() * channels,
        };
        if have < width * height * channels {
            return Err(Fault::Damaged("it ends before the last row".into()));
        }
        let data = match std::mem::replace(&mut self.samples, Samples::U8(Vec::new())) {
            Samples::Done(mut data) => {
                data.truncate(width * height);
                data
            }
            samples => {
                if let Some(transforms) = &transforms {
                    let picked = self.picked(&samples, width * height, channels);
                    let outside = outside_share(&picked, &*transforms.wide, colors);
                    self.facts.outside_srgb = outside.map_err(|e| Fault::Profile(e.to_string()))?;
                }
                let transform = transforms.as_ref().map(|t| &*t.working);
                self.pixels(&samples, width * height, channels, transform)?
            }
        };
        if self.turn != Turn::default() {
            // A second picture for a moment.
            let over = Budget::of_machine().check(2 * self.width * self.height * PIXEL as u64);
            over.map_err(|over| Fault::Memory(self.width, self.height, over))?;
        }
        let mut picture = self.turn.apply(Picture::new(Plane::from_vec(width, height, data)));
        let mut ppi = self.ppi.or_else(|| Ppi::new(DEFAULT_PPI).ok()).ok_or(Fault::Empty(0, 0))?;
        if self.aspect != 1.0 {
            (picture, ppi) = self.square(picture, ppi)?;
        }
        let facts = FileFacts {
            format: format.into(),
            width_px: picture.width(),
            height_px: picture.height(),
            samples: self.model.name().into(),
            transparent: self.alpha != Alpha::None && picture.has_alpha(),
            stated_ppi: self.ppi.map(Ppi::get),
            pages: self.facts.pages.max(1),
            ..self.facts
        };
        Ok(Received { art: Art { picture, ppi }, facts })
    }

    /// Colour samples of about a hundred thousand pixels that are not clear, taken evenly.
    fn picked(&self, samples: &Samples, count: usize, channels: usize) -> Vec<u16> {
        let colors = self.model.channels();
        let at = |place: usize| match samples {
            Samples::U8(v) => u16::from(v[place]) * 257,
            Samples::U16(v) => v[place],
            Samples::Done(_) => 0,
        };
        // Odd, so that it does not fall on the same columns of an even width.
        let step = (count / 100_000).max(1) | 1;
        let mut picked = Vec::new();
        for pixel in (0..count).step_by(step).map(|i| i * channels) {
            let alpha = if channels > colors { at(pixel + colors) } else { u16::MAX };
            if alpha == 0 {
                continue;
            }
            let straight = |v: u16| match self.alpha {
                Alpha::Premultiplied => (u32::from(v) * 65535 / u32::from(alpha)).min(65535) as u16,
                _ => v,
            };
            picked.extend((0..colors).map(|c| straight(at(pixel + c))));
        }
        picked
    }

    /// All samples to pixels, a few thousand at a time.
    fn pixels(
        &self,
        samples: &Samples,
        count: usize,
        channels: usize,
        transform: Option<&Transform16BitExecutor>,
    ) -> Result<Vec<Rgba16>, Fault> {
        let mut data: Vec<Rgba16> = vec![[0; 4]; count];
        data.par_chunks_mut(RUN).enumerate().try_for_each(|(run, out)| {
            let from = run * RUN * channels;
            let to = from + out.len() * channels;
            if let (Samples::U8(v), None) = (samples, transform)
                && widen(&v[from..to], self.model, self.alpha, out)
            {
                return Ok(());
            }
            let mut wide = [0_u16; RUN * 5];
            let wide = &mut wide[..out.len() * channels];
            match samples {
                Samples::U8(v) => wide.iter_mut().zip(&v[from..to]).for_each(|(w, &s)| *w = u16::from(s) * 257),
                Samples::U16(v) => wide.copy_from_slice(&v[from..to]),
                Samples::Done(v) => {
                    out.copy_from_slice(&v[run * RUN..][..out.len()]);
                    return Ok(());
                }
            }
            convert(wide, channels, self.model, self.alpha, transform, out)
        })?;
        Ok(data)
    }

    /// Stretches the coarser way to the finer, so that a pixel is as wide as it is high. `ppi` is
    /// that across the file's own rows.
    fn square(&mut self, picture: Picture, ppi: Ppi) -> Result<(Picture, Ppi), Fault> {
        let (across, down) = (ppi.get(), ppi.get() / self.aspect);
        let (across, down) = if self.turn.quarters.is_multiple_of(2) { (across, down) } else { (down, across) };
        let finer = across.max(down);
        let side = |length: usize, ppi: f64| (length as f64 * finer / ppi).round() as usize;
        let (width, height) = (side(picture.width(), across), side(picture.height(), down));
        check_size(width as u64, height as u64)?;
        check_memory(width as u64, height as u64, (picture.width() * picture.height() * PIXEL) as u64)?;
        let made = resized(&picture, width, height, &Progress::none());
        let made = made.map_err(|e| Fault::TooInvolved(e.to_string()))?;
        self.facts.notes.push(format!(
            "Its pixels are not square ({across:.0} x {down:.0} an inch): stretched to {finer:.0} both ways, as it is meant to look."
        ));
        Ok((made, Ppi::new(finer).unwrap_or(ppi)))
    }
}

impl Model {
    pub(super) fn channels(self) -> usize {
        match self {
            Self::Grey => 1,
            Self::Rgb => 3,
            Self::Cmyk => 4,
        }
    }
}

/// Bytes of a pixel of the working space.
const PIXEL: usize = size_of::<Rgba16>();

/// Bytes that are in the working space already, straight to its pixels: the usual case, and the
/// whole of what reading a large plain picture costs beside its decoder. Says whether it was one.
pub(super) fn widen(bytes: &[u8], model: Model, alpha: Alpha, out: &mut [Rgba16]) -> bool {
    let wide = |v: u8| u16::from(v) * 257;
    match (model, alpha) {
        (Model::Rgb, Alpha::None) => {
            let (pixels, _) = bytes.as_chunks::<3>();
            out.iter_mut().zip(pixels).for_each(|(to, p)| *to = [wide(p[0]), wide(p[1]), wide(p[2]), u16::MAX]);
        }
        (Model::Rgb, Alpha::Straight) => {
            let (pixels, _) = bytes.as_chunks::<4>();
            out.iter_mut().zip(pixels).for_each(|(to, p)| *to = p.map(wide));
        }
        (Model::Grey, Alpha::None) => {
            out.iter_mut().zip(bytes).for_each(|(to, &v)| *to = [wide(v), wide(v), wide(v), u16::MAX]);
        }
        _ => return false,
    }
    true
}

/// One run of pixels to the working space.
fn convert(
    samples: &mut [u16],
    channels: usize,
    model: Model,
    alpha: Alpha,
    transform: Option<&Transform16BitExecutor>,
    out: &mut [Rgba16],
) -> Result<(), Fault> {
    let colors = model.channels();
    if alpha == Alpha::Premultiplied {
        for pixel in samples.chunks_exact_mut(channels) {
            let a = u32::from(pixel[colors]);
            for c in &mut pixel[..colors] {
                *c = (u32::from(*c) * 65535).checked_div(a).unwrap_or(0).min(65535) as u16;
            }
        }
    }
    let Some(transform) = transform else {
        for (to, from) in out.iter_mut().zip(samples.chunks_exact(channels)) {
            let rgb = if colors == 1 { [from[0]; 3] } else { [from[0], from[1], from[2]] };
            *to = [rgb[0], rgb[1], rgb[2], if channels > colors { from[colors] } else { u16::MAX }];
        }
        return Ok(());
    };
    let bare: Vec<u16> = samples.chunks_exact(channels).flat_map(|p| p[..colors].iter().copied()).collect();
    let mut rgb = vec![0; out.len() * 3];
    transform.transform(&bare, &mut rgb).map_err(|e| Fault::Profile(e.to_string()))?;
    for ((to, rgb), from) in out.iter_mut().zip(rgb.chunks_exact(3)).zip(samples.chunks_exact(channels)) {
        *to = [rgb[0], rgb[1], rgb[2], if channels > colors { from[colors] } else { u16::MAX }];
    }
    Ok(())
}
