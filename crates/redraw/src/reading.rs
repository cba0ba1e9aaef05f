//! What each pixel is made of: one flat colour, or two that meet in it.

use rayon::prelude::*;

use crate::art::Field;
use crate::space::Sample;

/// Noise above which art has been through JPEG.
pub(crate) const LOSSY: f32 = 2.0;
/// How much colour differences then count at edges.
const SMEARED: f32 = 0.4;

/// How sure a reading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum How {
    /// Inside a flat colour, with all neighbours.
    Inside,
    /// Two colours that lie flat nearby, or one of them.
    Mixed,
    /// One colour, though it lies flat nowhere near: a thin line's middle.
    Pure,
    /// A colour nearby and one that lies flat elsewhere: a thin line.
    Thin,
    /// Nothing explains it.
    Guess,
}

/// One pixel: colours and how much of it each covers. A colour may be named twice.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pub labels: [u8; 3],
    pub shares: [f32; 3],
    pub how: How,
}

impl Reading {
    fn one(label: usize, how: How) -> Self {
        Self { labels: [label as u8; 3], shares: [1.0, 0.0, 0.0], how }
    }

    fn two(a: usize, b: usize, share: f32) -> Self {
        Self { labels: [a as u8, b as u8, b as u8], shares: [share, 1.0 - share, 0.0], how: How::Mixed }
    }

    /// How much of the pixel a colour covers.
    pub fn share(&self, label: u8) -> f32 {
        (0..3).filter(|&i| self.labels[i] == label).map(|i| self.shares[i]).sum()
    }

    /// Whether exactly two colours meet here.
    pub fn pair(&self) -> Option<(u8, u8, f32)> {
        let two = self.shares[2] == 0.0 && self.labels[0] != self.labels[1];
        two.then_some((self.labels[0], self.labels[1], self.shares[0]))
    }
}

/// The colours and how far pixels stray from them.
#[derive(Debug, Clone)]
pub(crate) struct Paints {
    pub samples: Vec<Sample>,
    /// How far pixels inside a flat colour stray from it: under 1 where nothing was lost, about 4 to 12
    /// after JPEG.
    pub noise: f32,
}

impl Paints {
    pub fn nearest(&self, sample: Sample) -> (u8, f32) {
        let mut best = (0, f32::MAX);
        for (k, &paint) in self.samples.iter().enumerate() {
            let far = sample.distance(paint);
            if far < best.1 {
                best = (k as u8, far);
            }
        }
        best
    }

    /// Within this of a colour a pixel is taken to be of it.
    fn reach(&self) -> Vec<f32> {
        let widest = (3.0 + 2.5 * self.noise).clamp(4.0, 30.0);
        let other = |k: usize| {
            let near = |&(j, _): &(usize, &Sample)| j != k;
            let far = |(_, p): (usize, &Sample)| p.distance(self.samples[k]);
            self.samples.iter().enumerate().filter(near).map(far).fold(f32::MAX, f32::min)
        };
        (0..self.samples.len()).map(|k| widest.min(0.35 * other(k)).max(2.0)).collect()
    }

    /// Within this of a mixture a pixel is taken to be it.
    fn slack(&self) -> f32 {
        (3.0 + 1.5 * self.noise).clamp(4.0, 20.0)
    }

    /// The best of one or two of the colours in `mask`, and how far the sample lies from it.
    fn explain(&self, sample: Sample, mask: u64) -> (Reading, f32) {
        let mut best = (Reading::one(0, How::Mixed), f32::MAX);
        let mut rest = mask;
        while rest != 0 {
            let a = rest.trailing_zeros() as usize;
            rest &= rest - 1;
            let far = sample.distance(self.samples[a]);
            if far < best.1 {
                best = (Reading::one(a, How::Mixed), far);
            }
            let mut others = rest;
            while others != 0 {
                let b = others.trailing_zeros() as usize;
                others &= others - 1;
                self.try_pair(sample, a, b, &mut best);
            }
        }
        best
    }

    fn try_pair(&self, sample: Sample, a: usize, b: usize, best: &mut (Reading, f32)) {
        let along = self.samples[a] - self.samples[b];
        let length = along.dot(along);
        if length < 1.0 {
            return;
        }
        let share = (sample - self.samples[b]).dot(along) / length;
        if !(0.0..=1.0).contains(&share) {
            return;
        }
        let far = sample.distance(self.samples[b] + along * share);
        if far + 0.5 < best.1 {
            *best = (Reading::two(a, b, share), far);
        }
    }

    /// A colour of `grounds` and any other that together come nearest.
    fn explain_thin(&self, sample: Sample, grounds: u64) -> (Reading, f32) {
        let mut best = (Reading::one(0, How::Thin), f32::MAX);
        let mut rest = grounds;
        while rest != 0 {
            let b = rest.trailing_zeros() as usize;
            rest &= rest - 1;
            for a in (0..self.samples.len()).filter(|&a| a != b) {
                self.try_pair(sample, a, b, &mut best);
            }
        }
        best.0.how = How::Thin;
        best
    }

    /// Two colours of `grounds` and a third of `all` that together come nearest: a junction, or a thin line
    /// between two colours.
    fn explain_three(&self, sample: Sample, grounds: u64, all: u64) -> (Reading, f32) {
        let mut best = (Reading::one(0, How::Mixed), f32::MAX);
        let members = |mask: u64| (0..self.samples.len()).filter(move |k| mask >> k & 1 == 1);
        for a in members(grounds) {
            for b in members(grounds).filter(|&b| b > a) {
                for c in members(all).filter(|&c| c != a && c != b) {
                    self.try_three(sample, [a, b, c], &mut best);
                }
            }
        }
        best
    }

    fn try_three(&self, sample: Sample, [a, b, c]: [usize; 3], best: &mut (Reading, f32)) {
        let ground = self.samples[c];
        let (u, v, w) = (self.samples[a] - ground, self.samples[b] - ground, sample - ground);
        let (uu, uv, vv, uw, vw) = (u.dot(u), u.dot(v), v.dot(v), u.dot(w), v.dot(w));
        let det = uu * vv - uv * uv;
        if det < 0.02 * uu * vv {
            return;
        }
        let (s, t) = ((uw * vv - vw * uv) / det, (vw * uu - uw * uv) / det);
        if s < 0.0 || t < 0.0 || s + t > 1.0 {
            return;
        }
        let far = (w - u * s - v * t).norm();
        if far + 0.5 < best.1 {
            let labels = [a as u8, b as u8, c as u8];
            *best = (Reading { labels, shares: [s, t, 1.0 - s - t], how: How::Mixed }, far);
        }
    }

    /// These colours as edges are read, and how much of colour differences is kept: after JPEG, which smears colour over two pixels and more
    /// but hardly luma, by luma above all.
    fn by_luma(&self) -> (Self, f32) {
        let keep = if self.noise > LOSSY { SMEARED } else { 1.0 };
        let samples = self.samples.iter().map(|s| s.less_coloured(keep)).collect();
        (Self { samples, noise: self.noise }, keep)
    }

    /// Whether a colour is a mixture of two others, as edges are read, that both lie beside most of its pixels.
    pub fn is_smear(&self, field: &Field, paint: Sample, of: &[Sample]) -> bool {
        let keep = if self.noise > LOSSY { SMEARED } else { 1.0 };
        let soft = |s: Sample| s.less_coloured(keep);
        let between = |a: Sample, b: Sample| {
            let along = soft(a) - soft(b);
            let share = (soft(paint) - soft(b)).dot(along) / along.dot(along).max(1.0);
            (0.05..0.95).contains(&share) && soft(paint).distance(soft(b) + along * share) <= 1.3 * self.slack()
        };
        let pairs = (0..of.len()).flat_map(|i| (0..i).map(move |j| (of[i], of[j])));
        pairs.into_iter().any(|(a, b)| between(a, b) && beside_both(field, paint, [a, b], self.slack()))
    }

    /// Reads every pixel.
    pub fn read(&self, field: &Field) -> Vec<Reading> {
        let reach = self.reach();
        let near: Vec<(u8, f32)> = field.data.par_iter().map(|&s| self.nearest(s)).collect();
        let close = |at: usize| near[at].1 <= reach[near[at].0 as usize];
        let inside = |at: usize| field.around(at).iter().all(|&n| near[n].0 == near[at].0 && close(n));
        let seeds: Vec<u64> =
            (0..field.data.len()).into_par_iter().map(|at| if inside(at) { 1 << near[at].0 } else { 0 }).collect();
        let two = spread(field, &seeds, 2);
        let three = spread(field, &two, 1);
        let five = spread(field, &three, 2);
        let masks = [two, three, five];
        let slack = self.slack();
        let (soft, keep) = self.by_luma();
        let edge = |at: usize| field.data[at].less_coloured(keep);
        let first = |at: usize| {
            let one = Reading::one(near[at].0 as usize, How::Inside);
            if seeds[at] != 0 {
                return one;
            }
            for mask in &masks {
                if mask[at] != 0 {
                    let (reading, far) = soft.explain(edge(at), mask[at]);
                    if far <= slack {
                        return reading;
                    }
                }
            }
            Reading { how: if close(at) { How::Pure } else { How::Guess }, ..one }
        };
        let read: Vec<Reading> = (0..field.data.len()).into_par_iter().map(first).collect();
        let pure: Vec<u64> = read.iter().map(|r| if r.how == How::Pure { 1 << r.labels[0] } else { 0 }).collect();
        let thin = spread(field, &pure, 1);
        let all = u64::MAX >> (64 - self.samples.len().clamp(1, 64));
        let second = |at: usize| {
            if read[at].how != How::Guess {
                return read[at];
            }
            let grounds = masks[2][at] | thin[at];
            let (reading, far) = soft.explain(edge(at), grounds);
            if far <= slack {
                return reading;
            }
            let (reading, far) = soft.explain_thin(edge(at), if grounds == 0 { all } else { grounds });
            if far <= slack && reading.shares[0] >= 0.05 {
                return reading;
            }
            let (reading, far) = soft.explain_three(edge(at), grounds, all);
            if far <= slack {
                return reading;
            }
            let (reading, _) = soft.explain(edge(at), if grounds == 0 { all } else { grounds });
            Reading { how: How::Guess, ..reading }
        };
        (0..field.data.len()).into_par_iter().map(second).collect()
    }
}

/// Whether most pixels of a colour have both others within three pixels.
fn beside_both(field: &Field, paint: Sample, of: [Sample; 2], slack: f32) -> bool {
    let (w, h) = (field.width, field.height);
    let (mut all, mut both) = (0, 0);
    for at in (0..field.data.len()).filter(|&at| field.data[at].distance(paint) <= slack) {
        all += 1;
        let (x, y) = (at % w, at / w);
        let mut has = [false; 2];
        for ny in y.saturating_sub(3)..(y + 4).min(h) {
            for nx in x.saturating_sub(3)..(x + 4).min(w) {
                for (has, of) in has.iter_mut().zip(of) {
                    *has |= field.data[ny * w + nx].distance(of) <= slack;
                }
            }
        }
        both += usize::from(has == [true; 2]);
    }
    both * 10 >= all * 7
}

/// Or of the masks within `radius` of each pixel.
pub(crate) fn spread(field: &Field, masks: &[u64], radius: usize) -> Vec<u64> {
    let (w, h) = (field.width, field.height);
    let mut across = vec![0; masks.len()];
    across.par_chunks_mut(w).zip(masks.par_chunks(w)).for_each(|(to, from)| {
        for (x, to) in to.iter_mut().enumerate() {
            *to = from[x.saturating_sub(radius)..(x + radius + 1).min(w)].iter().fold(0, |a, b| a | b);
        }
    });
    let mut down = vec![0; masks.len()];
    down.par_chunks_mut(w).enumerate().for_each(|(y, to)| {
        for row in across.chunks(w).take((y + radius + 1).min(h)).skip(y.saturating_sub(radius)) {
            to.iter_mut().zip(row).for_each(|(to, from)| *to |= from);
        }
    });
    down
}
