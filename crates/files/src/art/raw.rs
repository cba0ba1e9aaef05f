//! What a decoder hands over: samples as they are in the file, and what is known of their
//! colour. Turned here into the working space, in parallel and a few thousand pixels at a time,
//! so that nothing but the file's samples and the finished picture is ever held whole.

use std::sync::Arc;

use moxcms::{ColorProfile, DataColorSpace, Layout, Transform16BitExecutor, TransformOptions};
use rayon::prelude::*;
use strikeoff_core::job::Art;
use strikeoff_core::raster::{Picture, Plane, Rgba16};
use strikeoff_core::units::Ppi;

use super::error::{Fault, check_size};
use super::resolution::DEFAULT_PPI;

/// Samples as the file has them, pixel after pixel.
pub(super) enum Samples {
    U8(Vec<u8>),
    U16(Vec<u16>),
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

pub(super) struct Raw {
    pub width: u64,
    pub height: u64,
    pub samples: Samples,
    pub model: Model,
    pub alpha: Alpha,
    /// Embedded ICC profile.
    pub icc: Option<Vec<u8>>,
    pub ppi: Option<Ppi>,
}

/// Pixels converted at a time: small enough for the cache.
const RUN: usize = 4096;

impl Raw {
    pub(super) fn into_art(self) -> Result<Art, Fault> {
        let (width, height) = check_size(self.width, self.height)?;
        let transform = self.transform()?;
        let colors = self.model.channels();
        let channels = colors + usize::from(self.alpha != Alpha::None);
        let have = match &self.samples {
            Samples::U8(v) => v.len(),
            Samples::U16(v) => v.len(),
        };
        if have < width * height * channels {
            return Err(Fault::Damaged("it ends before the last row".into()));
        }
        let mut data: Vec<Rgba16> = vec![[0; 4]; width * height];
        data.par_chunks_mut(RUN).enumerate().try_for_each(|(run, out)| {
            let from = run * RUN * channels;
            let to = from + out.len() * channels;
            let mut wide = [0_u16; RUN * 5];
            let wide = &mut wide[..out.len() * channels];
            match &self.samples {
                Samples::U8(v) => wide.iter_mut().zip(&v[from..to]).for_each(|(w, &s)| *w = u16::from(s) * 257),
                Samples::U16(v) => wide.copy_from_slice(&v[from..to]),
            }
            convert(wide, channels, self.model, self.alpha, transform.as_deref(), out)
        })?;
        let ppi = self.ppi.or_else(|| Ppi::new(DEFAULT_PPI).ok()).ok_or(Fault::Empty(0, 0))?;
        Ok(Art { picture: Picture::new(Plane::from_vec(width, height, data)), ppi })
    }

    /// The transform to the working space; none where samples are in it already.
    fn transform(&self) -> Result<Option<Arc<Transform16BitExecutor>>, Fault> {
        let bad = |reason: String| Fault::Profile(reason);
        let Some(icc) = &self.icc else {
            return match self.model {
                Model::Cmyk => Err(Fault::Unsupported("CMYK without a colour profile".into())),
                _ => Ok(None),
            };
        };
        let profile = ColorProfile::new_from_slice(icc).map_err(|e| bad(e.to_string()))?;
        let (layout, space) = match self.model {
            Model::Grey => (Layout::Gray, DataColorSpace::Gray),
            Model::Rgb => (Layout::Rgb, DataColorSpace::Rgb),
            Model::Cmyk => (Layout::Rgba, DataColorSpace::Cmyk),
        };
        if profile.color_space != space {
            return Err(bad(format!("it is for {:?}, the picture is {:?}", profile.color_space, self.model)));
        }
        let transform = profile
            .create_transform_16bit(layout, &ColorProfile::new_srgb(), Layout::Rgb, TransformOptions::default())
            .map_err(|e| bad(e.to_string()))?;
        Ok((!is_identity(self.model, &*transform)).then_some(transform))
    }
}

impl Model {
    fn channels(self) -> usize {
        match self {
            Self::Grey => 1,
            Self::Rgb => 3,
            Self::Cmyk => 4,
        }
    }
}

/// Whether a profile only says what is true anyway (sRGB): then samples are kept to the last bit.
fn is_identity(model: Model, transform: &Transform16BitExecutor) -> bool {
    const STEPS: [u16; 6] = [0, 4000, 16000, 32000, 50000, 65535];
    let probe: Vec<u16> = match model {
        Model::Cmyk => return false,
        Model::Grey => STEPS.to_vec(),
        Model::Rgb => STEPS
            .iter()
            .flat_map(|&r| STEPS.iter().flat_map(move |&g| STEPS.iter().flat_map(move |&b| [r, g, b])))
            .collect(),
    };
    let channels = model.channels();
    let mut out = vec![0; probe.len() / channels * 3];
    transform.transform(&probe, &mut out).is_ok()
        // Half an 8-bit level.
        && out.iter().enumerate().all(|(i, &v)| v.abs_diff(probe[i / 3 * channels + i % 3 % channels]) < 128)
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
