//! From readings to one colour a pixel: whichever covers more of it, and thin lines kept whole.

use rayon::prelude::*;

use crate::art::{Field, around};
use crate::palette::Palette;
use crate::reading::{How, LOSSY, Reading};
use crate::settings::{Blending, Settings};
use crate::space::{Sample, linear};

/// One colour a pixel, and the art as those colours and mixtures of them make it.
pub(crate) struct Labels {
    pub width: usize,
    pub height: usize,
    pub data: Vec<u8>,
    pub target: Field,
}

/// Mean logarithm of the lighter colour's share above which art was blended in linear light. From 1/16 to
/// 15/16 it is -0.88 where shares are even, as in art blended encoded, and -0.54 where they are even in light.
const LINEAR: f32 = -0.68;
/// Steps of that share which are counted apart.
const BINS: usize = 16;

/// Of the nine pixels about one: two on either side of a line through it, and those that the line goes on
/// through, ahead and behind.
const ACROSS: [([usize; 2], [usize; 3], [usize; 3]); 4] = [
    ([3, 5], [0, 1, 2], [6, 7, 8]),
    ([1, 7], [0, 3, 6], [2, 5, 8]),
    ([0, 8], [1, 2, 5], [3, 6, 7]),
    ([2, 6], [0, 1, 3], [5, 7, 8]),
];

/// Labels every pixel.
pub(crate) fn label(field: &Field, palette: &mut Palette, settings: &Settings) -> Labels {
    let mut read = palette.read.take().unwrap_or_else(|| palette.paints.read(field));
    let palette = &*palette;
    if blended_linearly(&read, palette, settings.blending) {
        read.par_iter_mut().zip(&field.data).for_each(|(r, s)| in_linear_light(r, *s, palette));
    }
    let mut target = Field::new(field.width, field.height);
    target.data.par_iter_mut().zip(read.par_iter_mut().zip(&field.data)).for_each(|(t, (r, s))| {
        let merged = r.labels.map(|k| palette.becomes[k as usize]);
        *t = *s;
        if r.how != How::Guess || merged != r.labels {
            r.labels = merged;
            let part = |i: usize| palette.paints.samples[r.labels[i] as usize] * r.shares[i];
            *t = part(0) + part(1) + part(2);
        }
    });
    // A line covers at least this of the pixels at its middle; ripples of JPEG cover less.
    let line = (0.1 + 0.02 * palette.paints.noise).min(0.24);
    let data = (0..read.len()).into_par_iter().map(|at| choose(field, &read, at, line)).collect();
    let mut labels = Labels { width: field.width, height: field.height, data, target };
    labels.bridge(&read, line);
    if labels.drop_small(settings.least_area_px) {
        labels.drop_small(settings.least_area_px);
    }
    labels
}

/// Whether a colour covers more of the middle one of nine pixels than of those on either side, across a thin line of
/// it that goes on ahead and behind.
fn ridge(near: &[usize; 9], read: &[Reading], label: u8, line: f32) -> bool {
    let at = near[4];
    let here = read[at].share(label);
    let goes_on = |side: [usize; 3]| side.iter().any(|&i| read[near[i]].share(label) >= 0.5 * here);
    here >= line
        && ACROSS.iter().any(|&([one, other], ahead, behind)| {
            let (s, t) = (read[near[one]].share(label), read[near[other]].share(label));
            let across = s < here && t <= here && t < 0.5 && s + t < 1.35 * here && s + t + here > 1.6 * line;
            near[one] != at && near[other] != at && across && goes_on(ahead) && goes_on(behind)
        })
}

/// The colour of a pixel: that which covers most of it, unless a lesser one is a thin line's.
fn choose(field: &Field, read: &[Reading], at: usize, line: f32) -> u8 {
    let r = &read[at];
    if r.how == How::Inside {
        return r.labels[0];
    }
    let most = |a: u8, b: u8| if r.share(b) > r.share(a) { b } else { a };
    let more = most(most(r.labels[0], r.labels[1]), r.labels[2]);
    let ridge = |label: u8| ridge(&field.around(at), read, label, line);
    if ridge(more) {
        return more;
    }
    let lines = r.labels.into_iter().filter(|&l| l != more && ridge(l));
    lines.max_by(|&a, &b| r.share(a).total_cmp(&r.share(b))).unwrap_or(more)
}

/// Whether the art was blended in linear light, told by how much of edges the lighter colour has: edges
/// lie anywhere in their pixels, so its true share is even from 0 to 1.
fn blended_linearly(read: &[Reading], palette: &Palette, blending: Blending) -> bool {
    match blending {
        Blending::Encoded => return false,
        Blending::Linear => return true,
        // JPEG leaves too little of edges to tell, and hardly any program that writes it blends so.
        Blending::Found if palette.paints.noise > LOSSY => return false,
        Blending::Found => {}
    }
    let mut bins = [0.0_f32; BINS];
    let mixed = read.iter().filter(|r| r.how == How::Mixed).filter_map(Reading::pair);
    for (a, b, share) in mixed.filter(|(_, _, s)| (0.0625..0.9375).contains(s)) {
        let (a, b) = (palette.paints.samples[a as usize], palette.paints.samples[b as usize]);
        let step = a.0[0] - b.0[0];
        if a.0[3] > 250.0 && b.0[3] > 250.0 && step.abs() > 60.0 {
            let lighter = if step > 0.0 { share } else { 1.0 - share };
            bins[(lighter * BINS as f32) as usize] += 1.0;
        }
    }
    // A long level edge has one share all along: it counts for no more than any two.
    let mut sorted = bins;
    sorted.sort_by(f32::total_cmp);
    let most = 2.0 * sorted[BINS / 2];
    let bins = bins.map(|count| count.min(most));
    let sum: f32 = bins.iter().sum();
    let mean =
        bins.iter().enumerate().map(|(i, c)| c * ((i as f32 + 0.5) / BINS as f32).ln()).sum::<f32>() / sum.max(1.0);
    sum > 200.0 && sorted[2] > 3.0 && mean > LINEAR
}

/// The share in linear light of a mixture read in encoded sRGB.
fn in_linear_light(r: &mut Reading, sample: Sample, palette: &Palette) {
    let (Some((a, b, _)), true) = (r.pair(), r.how != How::Guess) else { return };
    let light = |s: Sample| {
        let c = s.colour();
        c.rgb.map(|v| linear(f32::from(v) / 255.0) * f32::from(c.opacity) / 255.0)
    };
    let (a, b) = (light(palette.paints.samples[a as usize]), light(palette.paints.samples[b as usize]));
    let here = light(sample);
    let (mut along, mut length) = (0.0, 0.0);
    for c in 0..3 {
        along += (here[c] - b[c]) * (a[c] - b[c]);
        length += (a[c] - b[c]).powi(2);
    }
    if length > 1e-6 {
        let share = (along / length).clamp(0.0, 1.0);
        r.shares = [share, 1.0 - share, 0.0];
    }
}

impl Labels {
    /// Closes gaps of one pixel in thin lines: a pixel that a colour covers in part, with that colour on two sides
    /// that do not touch, where the colour is the rarer one.
    fn bridge(&mut self, read: &[Reading], line: f32) {
        for at in 0..self.data.len() {
            let r = &read[at];
            if r.how == How::Inside {
                continue;
            }
            let near = around(self.width, self.height, at);
            let lesser = r.labels.into_iter().filter(|&l| l != self.data[at] && r.share(l) >= line);
            let Some(label) = lesser.max_by(|&a, &b| r.share(a).total_cmp(&r.share(b))) else { continue };
            let ring = [0, 1, 2, 5, 8, 7, 6, 3].map(|i| self.data[near[i]] == label);
            let runs = (0..8).filter(|&i| ring[i] && !ring[(i + 1) % 8]).count();
            let rarer = near.iter().map(|&n| read[n].share(label)).sum::<f32>() < 4.5;
            // A line covers about as much of a pixel as of the next.
            let even = near.iter().all(|&n| self.data[n] != label || read[n].share(label) <= 3.0 * r.share(label));
            if runs >= 2 && rarer && even && !ridge(&near, read, self.data[at], line) {
                self.data[at] = label;
            }
        }
    }

    /// Draws islands of fewer pixels than `least` as what they touch most; says whether there were any.
    fn drop_small(&mut self, least: f64) -> bool {
        let mut dropped = false;
        let mut islands = Islands::new(self.data.len());
        while let Some(island) = islands.next(self) {
            let most = (0..256).max_by_key(|&k| (island.touched[k], 256 - k)).unwrap_or(0);
            if (island.pixels.len() as f64) < least && island.touched[most] > 0 {
                dropped = true;
                island.pixels.iter().for_each(|&at| self.data[at] = most as u8);
            }
        }
        dropped
    }
}

/// Pixels of one label that hang together over sides and corners, and how much each label touches them.
struct Island {
    pixels: Vec<usize>,
    touched: [u32; 256],
}

/// Walks all islands, in the order of their first pixels.
struct Islands {
    seen: Vec<bool>,
    seed: usize,
}

impl Islands {
    fn new(pixels: usize) -> Self {
        Self { seen: vec![false; pixels], seed: 0 }
    }

    fn next(&mut self, labels: &Labels) -> Option<Island> {
        while *self.seen.get(self.seed)? {
            self.seed += 1;
        }
        let label = labels.data[self.seed];
        self.seen[self.seed] = true;
        let mut island = Island { pixels: vec![self.seed], touched: [0; 256] };
        let mut next = 0;
        while next < island.pixels.len() {
            let near = around(labels.width, labels.height, island.pixels[next]);
            next += 1;
            for (i, &n) in near.iter().enumerate() {
                if labels.data[n] != label {
                    island.touched[labels.data[n] as usize] += if i % 2 == 1 { 2 } else { 1 };
                } else if !self.seen[n] {
                    self.seen[n] = true;
                    island.pixels.push(n);
                }
            }
        }
        Some(island)
    }
}
