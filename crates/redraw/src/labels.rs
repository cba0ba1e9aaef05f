//! From readings to one colour a pixel: whichever covers more of it, and thin lines kept whole.

use rayon::prelude::*;

use crate::art::{Field, around};
use crate::palette::Palette;
use crate::reading::{How, Reading};
use crate::settings::{Blending, Settings};
use crate::space::{Sample, linear};

/// One colour a pixel, and the art as those colours and mixtures of them make it.
pub(crate) struct Labels {
    pub width: usize,
    pub height: usize,
    pub data: Vec<u8>,
    pub target: Field,
}

/// A line covers at least this of the pixels at its middle.
const LINE: f32 = 0.22;
/// Mean share of the lighter colour above which art was blended in linear light; half way between the half
/// of encoded blending and the two thirds of linear.
const LINEAR_SHARE: f32 = 0.59;

/// Labels every pixel.
pub(crate) fn label(field: &Field, palette: &Palette, settings: &Settings) -> Labels {
    let mut read = palette.paints.read(field);
    if blended_linearly(&read, palette, settings.blending) {
        read.par_iter_mut().zip(&field.data).for_each(|(r, s)| in_linear_light(r, *s, palette));
    }
    let to = |k: u8| palette.becomes[k as usize];
    let mut target = Field::new(field.width, field.height);
    target.data.par_iter_mut().zip(read.par_iter().zip(&field.data)).for_each(|(t, (r, s))| {
        let paint = |k: u8| palette.paints.samples[to(k) as usize];
        let moved = paint(r.a) * r.share + paint(r.b) * (1.0 - r.share);
        *t = if r.how == How::Guess && to(r.a) == r.a && to(r.b) == r.b { *s } else { moved };
    });
    for r in &mut read {
        (r.a, r.b) = (to(r.a), to(r.b));
        if r.a == r.b {
            r.share = 1.0;
        }
    }
    let data = (0..read.len()).into_par_iter().map(|at| choose(field, &read, at)).collect();
    let mut labels = Labels { width: field.width, height: field.height, data, target };
    for _ in 0..2 {
        labels.drop_small(settings.least_area_px);
    }
    labels
}

/// How much of a pixel a colour covers.
fn share(r: &Reading, label: u8) -> f32 {
    match (r.a == label, r.b == label) {
        (true, true) => 1.0,
        (true, false) => r.share,
        (false, true) => 1.0 - r.share,
        (false, false) => 0.0,
    }
}

fn choose(field: &Field, read: &[Reading], at: usize) -> u8 {
    let r = &read[at];
    if r.a == r.b {
        return r.a;
    }
    let (more, less, rest) = if r.share >= 0.5 { (r.a, r.b, 1.0 - r.share) } else { (r.b, r.a, r.share) };
    if rest < LINE {
        return more;
    }
    // The lesser colour is a thin line's when it covers more here than on either side, across it.
    let near = field.around(at);
    for (one, other) in [(3, 5), (1, 7), (0, 8), (2, 6)] {
        let (p, q) = (&read[near[one]], &read[near[other]]);
        if near[one] == at || near[other] == at {
            continue;
        }
        let (s, t) = (share(p, less), share(q, less));
        let aside = share(p, more) + share(q, more);
        if s < rest && t <= rest && s < 0.5 && t < 0.5 && s + t + rest > 0.4 && aside > 0.8 {
            return less;
        }
    }
    more
}

/// Whether the art was blended in linear light, told by how much of edges the lighter colour has.
fn blended_linearly(read: &[Reading], palette: &Palette, blending: Blending) -> bool {
    match blending {
        Blending::Encoded => return false,
        Blending::Linear => return true,
        Blending::Found => {}
    }
    let (mut sum, mut count) = (0.0_f64, 0.0_f64);
    for r in read.iter().filter(|r| r.how == How::Mixed && r.a != r.b && (0.02..0.98).contains(&r.share)) {
        let (a, b) = (palette.paints.samples[r.a as usize], palette.paints.samples[r.b as usize]);
        let step = a.0[0] - b.0[0];
        if a.0[3] > 250.0 && b.0[3] > 250.0 && step.abs() > 60.0 {
            sum += f64::from(if step > 0.0 { r.share } else { 1.0 - r.share });
            count += 1.0;
        }
    }
    count > 50.0 && sum / count > f64::from(LINEAR_SHARE)
}

/// The share in linear light of a mixture read in encoded sRGB.
fn in_linear_light(r: &mut Reading, sample: Sample, palette: &Palette) {
    if r.a == r.b || r.how == How::Guess {
        return;
    }
    let light = |s: Sample| {
        let c = s.colour();
        c.rgb.map(|v| linear(f32::from(v) / 255.0) * f32::from(c.opacity) / 255.0)
    };
    let (a, b) = (light(palette.paints.samples[r.a as usize]), light(palette.paints.samples[r.b as usize]));
    let here = light(sample);
    let (mut along, mut length) = (0.0, 0.0);
    for c in 0..3 {
        along += (here[c] - b[c]) * (a[c] - b[c]);
        length += (a[c] - b[c]).powi(2);
    }
    if length > 1e-6 {
        r.share = (along / length).clamp(0.0, 1.0);
    }
}

impl Labels {
    /// Draws islands of fewer pixels than `least` as what they touch most.
    fn drop_small(&mut self, least: f64) {
        let (w, h) = (self.width, self.height);
        let mut seen = vec![false; self.data.len()];
        for seed in 0..self.data.len() {
            if seen[seed] {
                continue;
            }
            let label = self.data[seed];
            seen[seed] = true;
            let mut island = vec![seed];
            let mut next = 0;
            let mut touched = [0_u32; 256];
            while next < island.len() {
                let at = island[next];
                next += 1;
                let near = around(w, h, at);
                for (i, &n) in near.iter().enumerate() {
                    if self.data[n] != label {
                        touched[self.data[n] as usize] += if i % 2 == 1 { 2 } else { 1 };
                    } else if !seen[n] {
                        seen[n] = true;
                        island.push(n);
                    }
                }
            }
            let most = (0..256).max_by_key(|&k| (touched[k], 256 - k)).unwrap_or(0);
            if (island.len() as f64) < least && touched[most] > 0 {
                for at in island {
                    self.data[at] = most as u8;
                }
            }
        }
    }
}
