//! The net and the judge as read, and a net set for how damaged and how soft the art is: each layer's gains and
//! offsets are worked into its weights once a picture, so they cost nothing per pixel.

use std::sync::OnceLock;

use super::weights::{FILE, Weights, WeightsError};
use super::winograd::Layer;

/// Channels between layers.
pub(super) const CHANNELS: usize = 24;
/// Terms of the condition.
pub(super) const TERMS: usize = 8;

/// The condition of the art, which the net is set for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condition {
    /// 0 clean .. 1, a JPEG of quality 30.
    pub damage: f64,
    /// 0 as reduced by area; above it blurred or enlarged already, below it sharpened.
    pub softness: f64,
}

impl Condition {
    /// What gains and offsets are multiplied by.
    pub(super) fn terms(self) -> [f64; TERMS] {
        let Self { damage: d, softness: s } = self;
        let e = (-20.0 * d).exp();
        [d, d * d, e, 0.0, s, s * s, s * e, 0.0]
    }
}

/// A 3 x 3 layer as it is in the file.
#[derive(Debug)]
pub(super) struct Raw {
    pub inputs: usize,
    pub outputs: usize,
    /// Out, in, row, column.
    weight: Vec<f32>,
    bias: Vec<f32>,
    /// Term, out.
    gain: Vec<f32>,
    offset: Vec<f32>,
}

impl Raw {
    fn take(weights: &mut Weights, name: &str, inputs: usize, outputs: usize) -> Result<Self, WeightsError> {
        Ok(Self {
            inputs,
            outputs,
            weight: weights.take(&format!("{name}.weight"), &[outputs, inputs, 3, 3])?,
            bias: weights.take(&format!("{name}.bias"), &[outputs])?,
            gain: weights.take(&format!("{name}.gain"), &[TERMS, outputs])?,
            offset: weights.take(&format!("{name}.offset"), &[TERMS, outputs])?,
        })
    }

    /// Weights and bias with the condition worked in.
    pub(super) fn folded(&self, terms: &[f64; TERMS]) -> (Vec<f64>, Vec<f64>) {
        let sum = |of: &[f32], out: usize| -> f64 {
            terms.iter().zip(of.chunks_exact(self.outputs)).map(|(term, row)| term * f64::from(row[out])).sum()
        };
        let gain: Vec<f64> = (0..self.outputs).map(|out| 1.0 + sum(&self.gain, out)).collect();
        let each = self.weight.chunks_exact(9 * self.inputs).zip(&gain);
        let weight = each.flat_map(|(w, gain)| w.iter().map(move |&w| f64::from(w) * gain)).collect();
        let bias = self.bias.iter().enumerate();
        let bias = bias.map(|(out, &b)| f64::from(b) * gain[out] + sum(&self.offset, out)).collect();
        (weight, bias)
    }
}

/// The judge as it is in the file.
#[derive(Debug)]
pub(super) struct JudgeWeights {
    /// Weights (out, in, row, column), bias and slopes of its layers.
    pub layers: Vec<[Vec<f32>; 3]>,
    /// 24 x 16 and 24.
    pub hidden: [Vec<f32>; 2],
    /// 5 x 24 and 5.
    pub last: [Vec<f32>; 2],
}

/// Both, as read.
#[derive(Debug)]
pub(super) struct Net {
    head: Raw,
    body: Vec<Raw>,
    /// For 2, 3 and 4 times.
    tails: Vec<Raw>,
    slopes: Vec<Vec<f32>>,
    pub judge: JudgeWeights,
}

/// The net of the program, read when it is first asked for.
pub(super) fn net() -> Result<&'static Net, WeightsError> {
    static NET: OnceLock<Result<Net, WeightsError>> = OnceLock::new();
    NET.get_or_init(|| Net::read(FILE)).as_ref().map_err(Clone::clone)
}

impl Net {
    fn read(file: &[u8]) -> Result<Self, WeightsError> {
        let mut weights = Weights::read(file)?;
        let layers = weights.layers;
        let w = &mut weights;
        let mut judge = Vec::new();
        for i in 0..5 {
            judge.push([
                w.take(&format!("judge.conv{i}.weight"), &[16, if i == 0 { 3 } else { 16 }, 3, 3])?,
                w.take(&format!("judge.conv{i}.bias"), &[16])?,
                w.take(&format!("judge.slope{i}"), &[16])?,
            ]);
        }
        let body = |i: usize, w: &mut Weights| Raw::take(w, &format!("body{i}"), CHANNELS, CHANNELS);
        let tail = |s: usize, w: &mut Weights| Raw::take(w, &format!("tail{s}"), CHANNELS, 3 * s * s);
        Ok(Self {
            head: Raw::take(w, "head", 3, CHANNELS)?,
            body: (0..layers).map(|i| body(i, w)).collect::<Result<_, _>>()?,
            tails: [2, 3, 4].into_iter().map(|s| tail(s, w)).collect::<Result<_, _>>()?,
            slopes: (0..=layers).map(|i| w.take(&format!("slope{i}"), &[CHANNELS])).collect::<Result<_, _>>()?,
            judge: JudgeWeights {
                layers: judge,
                hidden: [w.take("judge.hidden.weight", &[24, 16])?, w.take("judge.hidden.bias", &[24])?],
                last: [w.take("judge.last.weight", &[5, 24])?, w.take("judge.last.bias", &[5])?],
            },
        })
    }

    /// Head, body and the tail of a scale (2, 3 or 4), each with its slopes, set for the condition; `at_once`
    /// channels are made together.
    pub(super) fn layers(&self, scale: usize, condition: Condition, at_once: usize) -> Vec<Layer> {
        let terms = condition.terms();
        self.raws(scale).into_iter().map(|(raw, slopes)| Layer::new(raw, &terms, slopes, at_once)).collect()
    }

    /// The same layers as read.
    pub(super) fn raws(&self, scale: usize) -> Vec<(&Raw, &[f32])> {
        // The tail is not bent.
        const NONE: [f32; 48] = [1.0; 48];
        let tail = &self.tails[scale - 2];
        let raws = std::iter::once(&self.head).chain(&self.body).chain([tail]);
        let slopes = self.slopes.iter().map(Vec::as_slice).chain([&NONE[..tail.outputs]]);
        raws.zip(slopes).collect()
    }
}
