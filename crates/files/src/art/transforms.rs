//! The transforms from a file's colour to the working space, by what the file says of its colour.

use std::sync::Arc;

use moxcms::{
    BarycentricWeightScale, ColorProfile, DataColorSpace, InterpolationMethod, Layout, ProfileText, RenderingIntent,
    Transform16BitExecutor, TransformOptions,
};

use super::error::Fault;
use super::raw::{Alpha, Model, Raw, Tagged, widen};

/// CMYK without a profile: CGATS TR 001, US web coated offset (see `profiles/README.md`).
const DEFAULT_CMYK: &[u8] = include_bytes!("../../profiles/cgats-tr001.icc");

/// Samples to the working space, and to ROMM RGB, which holds all colours of surfaces.
pub(super) struct Transforms {
    pub working: Arc<Transform16BitExecutor>,
    pub wide: Arc<Transform16BitExecutor>,
}

/// Relative colorimetric, at the library's full precision.
fn transform(from: &ColorProfile, model: Model, to: &ColorProfile) -> Result<Arc<Transform16BitExecutor>, Fault> {
    let options = TransformOptions {
        rendering_intent: RenderingIntent::RelativeColorimetric,
        interpolation_method: InterpolationMethod::Tetrahedral,
        barycentric_weight_scale: BarycentricWeightScale::High,
        prefer_fixed_point: false,
        ..TransformOptions::default()
    };
    let layout = match model {
        Model::Grey => Layout::Gray,
        Model::Rgb => Layout::Rgb,
        Model::Cmyk => Layout::Rgba,
    };
    from.create_transform_16bit(layout, to, Layout::Rgb, options).map_err(|e| Fault::Profile(e.to_string()))
}

fn parse(icc: &[u8]) -> Result<ColorProfile, Fault> {
    ColorProfile::new_from_slice(icc).map_err(|e| Fault::Profile(e.to_string()))
}

/// The profile's own description.
fn profile_name(profile: &ColorProfile) -> String {
    let text = match &profile.description {
        Some(ProfileText::PlainString(text)) => text.clone(),
        Some(ProfileText::Localizable(list)) => list.first().map(|l| l.value.clone()).unwrap_or_default(),
        Some(ProfileText::Description(d)) => {
            if d.ascii_string.is_empty() {
                d.unicode_string.clone()
            } else {
                d.ascii_string.clone()
            }
        }
        None => String::new(),
    };
    let text: String = text.chars().filter(|c| !c.is_control()).take(80).collect();
    if text.trim().is_empty() { "an unnamed profile".into() } else { text.trim().to_owned() }
}

impl Raw {
    /// The transforms of samples; none where they are in the working space already. Notes in the
    /// facts what was used.
    pub(super) fn transforms(&mut self) -> Result<Option<Transforms>, Fault> {
        let cmyk = self.model == Model::Cmyk;
        let (profile, name) = match std::mem::replace(&mut self.tagged, Tagged::Nothing) {
            Tagged::Nothing if cmyk => {
                (parse(DEFAULT_CMYK)?, "none; CGATS TR 001 (US web coated offset) assumed".to_owned())
            }
            Tagged::Nothing => {
                self.facts.color_profile = "none; sRGB assumed".into();
                return Ok(None);
            }
            Tagged::Srgb => {
                self.facts.color_profile = "sRGB".into();
                return Ok(None);
            }
            Tagged::Linear => {
                self.facts.color_profile = "none; linear light with sRGB primaries assumed".into();
                return Ok(None);
            }
            Tagged::Numbers(profile, name) => (*profile, name),
            Tagged::Icc(bytes) => {
                let profile = parse(&bytes)?;
                let name = profile_name(&profile);
                (profile, name)
            }
        };
        if profile.color_space != self.model.space() {
            // Seen in the wild: an RGB profile left in a file that was made grey. Grey values
            // then follow that profile's curve; sRGB's is the nearest of the usual ones.
            if self.model == Model::Grey && profile.color_space == DataColorSpace::Rgb {
                self.facts.color_profile = format!("{name}, which is for RGB; sRGB's curve assumed");
                return Ok(None);
            }
            let reason = format!("it is for {:?}, the picture is {}", profile.color_space, self.model.name());
            return Err(Fault::Profile(reason));
        }
        let working = transform(&profile, self.model, &ColorProfile::new_srgb())?;
        self.facts.color_profile = name;
        if is_identity(self.model, &*working) {
            return Ok(None);
        }
        let wide = transform(&profile, self.model, &ColorProfile::new_pro_photo_rgb())?;
        Ok(Some(Transforms { working, wide }))
    }
}

impl Model {
    fn space(self) -> DataColorSpace {
        match self {
            Self::Grey => DataColorSpace::Gray,
            Self::Rgb => DataColorSpace::Rgb,
            Self::Cmyk => DataColorSpace::Cmyk,
        }
    }

    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Grey => "grey",
            Self::Rgb => "RGB",
            Self::Cmyk => "CMYK",
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

/// Whether [`widen`] serves for samples of that kind.
pub(super) fn can_widen(model: Model, alpha: Alpha, tagged: &Tagged) -> bool {
    let working = match tagged {
        Tagged::Nothing | Tagged::Srgb => true,
        Tagged::Icc(bytes) => parse(bytes).is_ok_and(|profile| {
            profile.color_space == model.space()
                && transform(&profile, model, &ColorProfile::new_srgb()).is_ok_and(|t| is_identity(model, &*t))
        }),
        Tagged::Numbers(..) | Tagged::Linear => false,
    };
    working && widen(&[], model, alpha, &mut [])
}
