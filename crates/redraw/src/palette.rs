//! Finding the flat colours: where the art lies flat, then what thin lines need that lie flat nowhere.

use rayon::prelude::*;

use crate::art::Field;
use crate::modes::{Mode, modes};
use crate::reading::{How, LOSSY, Paints, Reading, spread};
use crate::settings::{ColourEdit, Settings};
use crate::space::{Sample, unlike};
use crate::{Colour, RedrawError};

/// Most colours: a mask of them is one word.
pub(crate) const MOST: usize = 64;
/// Most colours that are found unasked.
const MOST_FOUND: usize = 40;
/// Opacity, of 255, under which a flat is clear: it would print nothing.
const FAINT: f32 = 20.0;
/// Rounds of looking for colours of thin lines.
const THIN_ROUNDS: usize = 8;

/// The art's colours, and what each becomes: merged ones have the index of the one that stays.
#[derive(Debug, Clone)]
pub(crate) struct Palette {
    pub paints: Paints,
    pub becomes: Vec<u8>,
    /// Every pixel read with these colours, where that was done to find them.
    pub read: Option<Vec<Reading>>,
}

/// Finds the colours and applies the person's changes.
pub(crate) fn find(field: &Field, settings: &Settings) -> Result<Palette, RedrawError> {
    let spread: Vec<f32> = (0..field.data.len()).into_par_iter().map(|at| range(field, at)).collect();
    let quiet = percentile(spread.iter().copied().filter(|&r| r <= 24.0).collect(), 0.9);
    let flat = 2.0 + (1.5 * quiet).min(12.0);
    let radius = 3.0 + (1.2 * quiet).min(7.0);
    let samples = field.data.iter().zip(&spread).filter(|(_, r)| **r <= flat).map(|(s, _)| (*s, 1.0));
    let mut found = modes(samples, radius, MOST);
    if found.is_empty() {
        // Nothing lies flat: the commonest colours stand in, and the share that they explain is told.
        found = modes(field.data.iter().map(|s| (*s, 1.0)), 12.0, MOST_FOUND);
    }
    let least: f32 = if quiet < 2.0 { 1.5 } else { 10.0 };
    let most = found[0].pixels;
    found.retain(|m| m.pixels >= least.min(most));
    for mode in &mut found {
        if mode.paint.0[3] < FAINT {
            mode.paint = Sample::default();
        }
    }
    let seen_through = field.data.iter().filter(|s| s.0[3] < 200.0).count();
    if seen_through > 3 && found.iter().all(|m| m.paint.0[3] > 0.0) {
        // Edges fade to clear even if no whole pixel is.
        found.push(Mode { paint: Sample::default(), pixels: seen_through as f32 });
    }
    let found = merged(found, settings.alike);
    let mut found = without_mixtures(field, found, quiet);
    found.truncate(MOST_FOUND);
    let mut paints = Paints { samples: found.iter().map(|m| m.paint).collect(), noise: 0.0 };
    paints.noise = noise(field, &paints);
    let flat = paints.samples.len();
    let read = add_thin(field, &mut paints, settings);
    if let (true, Some(read)) = (paints.noise > LOSSY, &read) {
        colour_again(field, &mut paints, flat, read);
    }
    let becomes = (0..paints.samples.len() as u8).collect();
    let mut palette = Palette { paints, becomes, read };
    for edit in &settings.edits {
        palette.edit(field, *edit)?;
    }
    if let Some(count) = settings.colours {
        palette.bring_to_count(field, count.clamp(2, MOST));
    }
    Ok(palette)
}

/// Largest distance of a pixel to its neighbours.
fn range(field: &Field, at: usize) -> f32 {
    field.around(at).iter().map(|&n| field.data[n].distance(field.data[at])).fold(0.0, f32::max)
}

fn percentile(mut values: Vec<f32>, share: f32) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let at = ((values.len() - 1) as f32 * share) as usize;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

/// Modes that look alike, as one.
fn merged(found: Vec<Mode>, alike: f64) -> Vec<Mode> {
    let mut kept: Vec<Mode> = Vec::new();
    for mode in found {
        match kept.iter_mut().find(|k| f64::from(unlike(k.paint, mode.paint)) < alike) {
            Some(same) => same.pixels += mode.pixels,
            None => kept.push(mode),
        }
    }
    kept
}

/// Without modes that are only where two others meet: JPEG and enlarging make such flats along edges.
fn without_mixtures(field: &Field, mut found: Vec<Mode>, quiet: f32) -> Vec<Mode> {
    let mut at = found.len();
    while at > 2 {
        at -= 1;
        if found[at].pixels > 0.02 * field.data.len() as f32 {
            break;
        }
        let heavier: Vec<Sample> = found[..at].iter().map(|m| m.paint).collect();
        let paints = Paints { samples: Vec::new(), noise: quiet };
        if paints.is_smear(field, found[at].paint, &heavier) {
            found.remove(at);
        }
    }
    found
}

/// How far pixels stray near edges, among those whose neighbours are all nearest to the same colour: JPEG
/// leaves ripples there, and clean art none.
fn noise(field: &Field, paints: &Paints) -> f32 {
    let near: Vec<(u8, f32)> = field.data.par_iter().map(|&s| paints.nearest(s)).collect();
    let settled =
        |at: usize| near[at].1 < 40.0 && field.around(at).iter().all(|&n| near[n].0 == near[at].0 && near[n].1 < 40.0);
    let settled: Vec<bool> = (0..near.len()).into_par_iter().map(settled).collect();
    let edges: Vec<u64> = settled.iter().map(|&s| u64::from(!s)).collect();
    let by_edge = spread(field, &edges, 4);
    let far: Vec<f32> = (0..near.len()).filter(|&at| settled[at] && by_edge[at] != 0).map(|at| near[at].1).collect();
    let strays: Vec<f32> = far.iter().copied().filter(|&d| d > 0.8).collect();
    if strays.len() * 5 < far.len() { 0.0 } else { percentile(strays, 0.85) }
}

/// Adds colours of lines so thin that they lie flat nowhere. Gives the pixels as read with all of them, if they were.
fn add_thin(field: &Field, paints: &mut Paints, settings: &Settings) -> Option<Vec<Reading>> {
    let least = if paints.noise < 2.0 { 5 } else { 24 };
    let flat = paints.samples.len();
    for _ in 0..THIN_ROUNDS {
        if paints.samples.len() >= MOST_FOUND {
            return None;
        }
        let read = paints.read(field);
        let Some(paint) = thin_paint(field, paints, &read, least) else { return Some(read) };
        if paints.samples.iter().any(|&p| f64::from(unlike(p, paint)) < settings.alike.max(0.02)) {
            return Some(read);
        }
        if paints.noise > LOSSY && paints.is_smear(field, paint, &paints.samples) {
            return Some(read);
        }
        paints.samples.push(paint);
        // What looked like a colour of its own may have been this one, thinned.
        let purer = |i: &usize| {
            let old = paints.samples[*i];
            let thinned = |ground: &Sample| {
                let along = paint - *ground;
                let share = (old - *ground).dot(along) / along.dot(along).max(1.0);
                (0.3..0.97).contains(&share) && old.distance(*ground + along * share) < 4.0 + paints.noise
            };
            *i >= flat && paints.samples[..flat].iter().any(thinned)
        };
        let kept = (0..paints.samples.len()).filter(|i| *i + 1 == paints.samples.len() || !purer(i));
        paints.samples = kept.map(|i| paints.samples[i]).collect();
    }
    None
}

/// Side of the blocks by which colour is summed again, pixels: JPEG spreads it over about two.
const BLOCK: usize = 6;

/// JPEG halves the resolution of colour but keeps its sums. The colours of thin lines, from `flat` on, which took on
/// those beside them, are found again from sums over blocks, by least squares; their luma stays.
fn colour_again(field: &Field, paints: &mut Paints, flat: usize, read: &[Reading]) {
    let most = paints.samples.len();
    let mut sums = vec![(Sample::default(), 0.0_f32); most];
    let mut shares = vec![0.0_f32; most];
    for (top, left) in
        (0..field.height).step_by(BLOCK).flat_map(|y| (0..field.width).step_by(BLOCK).map(move |x| (y, x)))
    {
        shares.fill(0.0);
        let mut art = Sample::default();
        for y in top..(top + BLOCK).min(field.height) {
            let row = y * field.width + left..y * field.width + (left + BLOCK).min(field.width);
            for (sample, reading) in field.data[row.clone()].iter().zip(&read[row]) {
                art += *sample;
                reading.labels.iter().zip(reading.shares).for_each(|(&k, share)| shares[k as usize] += share);
            }
        }
        if shares[flat..].iter().all(|&share| share < 0.5) {
            continue;
        }
        let drawn = shares.iter().zip(&paints.samples).fold(Sample::default(), |sum, (&s, &p)| sum + p * s);
        for (sum, &share) in sums.iter_mut().zip(&shares).skip(flat) {
            sum.0 += (art - drawn) * share;
            sum.1 += share * share;
        }
    }
    for (paint, (wrong, weight)) in paints.samples.iter_mut().zip(sums).skip(flat).filter(|(_, (_, w))| *w > 1.0) {
        let [_, blue, red, _] = (wrong * (1.0 / weight)).0;
        // No farther than encoded sRGB goes.
        *paint = Sample::of((*paint + Sample([0.0, blue, red, 0.0])).colour());
    }
}

/// The colour that explains most of the unexplained pixels, if it makes lines.
fn thin_paint(field: &Field, paints: &Paints, read: &[Reading], least: usize) -> Option<Sample> {
    let contrast = |at: usize| if read[at].how == How::Guess { paints.nearest(field.data[at]).1 } else { 0.0 };
    let strong: Vec<f32> = (0..read.len()).into_par_iter().map(contrast).collect();
    let floor = 20.0 + 2.0 * paints.noise;
    let ridge = |at: &usize| {
        let here = strong[*at];
        let around = field.around(*at);
        // A line goes on: two neighbours at least are unexplained as well.
        let along = around.iter().filter(|&&n| n != *at && strong[n] > 0.4 * here).count();
        here > floor && along >= 2 && around.iter().filter(|&&n| strong[n] > here).count() <= 2
    };
    let ridges: Vec<usize> = (0..read.len()).into_par_iter().filter(ridge).collect();
    let found = modes(ridges.iter().map(|&at| (field.data[at], strong[at])), 14.0 + paints.noise, 8);
    let best = found.first()?;
    let near: Vec<usize> =
        ridges.iter().copied().filter(|&at| field.data[at].distance(best.paint) <= 14.0 + paints.noise).collect();
    if near.len() < least {
        return None;
    }
    // The purest of them: the upper tenth by contrast.
    let edge = percentile(near.iter().map(|&at| strong[at]).collect(), 0.8);
    let purest: Vec<usize> = near.into_iter().filter(|&at| strong[at] >= edge).collect();
    let sum = purest.iter().fold(Sample::default(), |sum, &at| sum + field.data[at]);
    let mean = sum * (1.0 / purest.len() as f32);
    // A thin line on clear shows its colour whatever it covers: it is taken to be solid.
    (mean.0[3] >= FAINT).then(|| mean * (255.0 / mean.0[3]))
}

impl Palette {
    fn index(&self, sample: Sample) -> u8 {
        self.becomes[self.paints.nearest(sample).0 as usize]
    }

    /// Indices of colours that stay.
    pub fn kept(&self) -> Vec<u8> {
        (0..self.becomes.len() as u8).filter(|&k| self.becomes[k as usize] == k).collect()
    }

    fn merge(&mut self, keep: u8, away: u8) {
        self.becomes.iter_mut().filter(|to| **to == away).for_each(|to| *to = keep);
    }

    fn edit(&mut self, field: &Field, edit: ColourEdit) -> Result<(), RedrawError> {
        match edit {
            ColourEdit::More => self.more(field),
            ColourEdit::Fewer => self.fewer(field),
            ColourEdit::Merge { keep, away } => {
                let (keep, away) = (self.index(Sample::of(keep)), self.index(Sample::of(away)));
                if keep != away {
                    self.merge(keep, away);
                }
            }
            ColourEdit::Add { x, y } => {
                if x >= field.width || y >= field.height {
                    return Err(RedrawError::Outside { x, y, width: field.width, height: field.height });
                }
                self.add(field.data[y * field.width + x]);
            }
        }
        Ok(())
    }

    fn add(&mut self, paint: Sample) {
        let (near, far) = self.paints.nearest(paint);
        if far <= 1.0 {
            // One that was merged away comes back.
            self.becomes[near as usize] = near;
        } else if self.becomes.len() < MOST {
            self.becomes.push(self.becomes.len() as u8);
            self.paints.samples.push(paint);
            self.read = None;
        }
    }

    /// One colour more: of the flat pixels, the colour whose pixels lie farthest from their colour in sum.
    fn more(&mut self, field: &Field) {
        let strays = |at: usize| (range(field, at) <= 8.0 + self.paints.noise).then_some(field.data[at]);
        let flat: Vec<Sample> = (0..field.data.len()).into_par_iter().filter_map(strays).collect();
        let far = |s: Sample| {
            let to = self.becomes[self.paints.nearest(s).0 as usize] as usize;
            s.distance(self.paints.samples[to])
        };
        let found = modes(flat.into_iter().map(|s| (s, far(s).powi(2))), 6.0, 1);
        let Some(best) = found.first().filter(|m| far(m.paint) > 1.0) else { return };
        let at = self.paints.nearest(best.paint);
        if at.1 < 3.0 {
            // A colour that was merged away comes back.
            self.becomes[at.0 as usize] = at.0;
        } else {
            self.add(best.paint);
        }
    }

    /// One colour less: the two whose union costs least, by area and distance.
    fn fewer(&mut self, field: &Field) {
        let mut area = [0.0_f32; 256];
        for r in self.paints.read(field) {
            for (label, share) in r.labels.into_iter().zip(r.shares) {
                area[self.becomes[label as usize] as usize] += share;
            }
        }
        let kept = self.kept();
        let mut best: Option<(f32, u8, u8)> = None;
        for (i, &a) in kept.iter().enumerate() {
            for &b in &kept[..i] {
                let (m, n) = (area[a as usize].max(1.0), area[b as usize].max(1.0));
                let far = unlike(self.paints.samples[a as usize], self.paints.samples[b as usize]);
                let cost = m * n / (m + n) * far * far;
                if best.is_none_or(|(least, ..)| cost < least) {
                    best = Some(if m > n { (cost, a, b) } else { (cost, b, a) });
                }
            }
        }
        if let (Some((_, keep, away)), true) = (best, kept.len() > 1) {
            self.merge(keep, away);
        }
    }

    fn bring_to_count(&mut self, field: &Field, count: usize) {
        while self.kept().len() > count {
            self.fewer(field);
        }
        while self.kept().len() < count {
            let before = self.kept().len();
            self.more(field);
            if self.kept().len() == before {
                return;
            }
        }
    }

    /// The colour that a person sees for an index.
    pub fn colour(&self, index: u8) -> Colour {
        let colour = self.paints.samples[index as usize].colour();
        match colour.opacity {
            0..=5 => Colour::CLEAR,
            250.. => Colour::solid(colour.rgb),
            _ => colour,
        }
    }
}
