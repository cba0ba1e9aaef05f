//! The net over a whole picture, four rows at a time. All layers work in one step, each two groups of rows
//! behind the one before it, so that a step is as many independent blocks as there are layers and columns;
//! of every layer only the few groups that the next one still reads are kept. Wide pictures are done in strips
//! of columns. Numbers of a block depend on nothing beyond the strips' margin, down to the last bit, so the
//! picture is the same whatever the strips and threads.

use fearless_simd::Level;
use rayon::prelude::*;

use super::net::{CHANNELS, Condition, Net};
use super::winograd::{Around, BLOCK_PX, LANES, Layer, Scratch, at_once, block_len};
use crate::raster::Rgba16;
use crate::{Cancelled, Progress};

/// Blocks of a strip, without its margins: some 65 MB of feature maps.
pub(super) const STRIP_BLOCKS: usize = 32;
/// Blocks of margin. A layer's numbers reach 4 columns (though only one of them counts), 16 layers 64.
const MARGIN_BLOCKS: usize = 1;
/// Rows of a group.
pub(super) const GROUP: usize = 4;
/// Groups of a layer that are kept: three are read and one is written.
const KEPT: usize = 4;

/// Where the net is used.
pub(super) struct Field<'a> {
    /// Opaque art; what alpha it has is not looked at.
    pub art: &'a [Rgba16],
    pub width: usize,
    pub height: usize,
    /// 2, 3 or 4.
    pub scale: usize,
}

/// One layer's last groups.
struct Ring {
    groups: Vec<Vec<f32>>,
}

impl Ring {
    fn new(groups: usize, blocks: usize, channels: usize) -> Self {
        Self { groups: vec![vec![0.0; blocks * block_len(channels)]; groups] }
    }

    fn of(&self, group: usize) -> &[f32] {
        &self.groups[group % self.groups.len()]
    }
}

/// A block to be made: by which stage, of which group, where in it.
struct Task<'a> {
    stage: usize,
    group: usize,
    block: usize,
    out: &'a mut [f32],
}

impl Field<'_> {
    /// The art enlarged, opaque: `width * scale` pixels a row.
    pub(super) fn enlarged(
        &self,
        net: &Net,
        condition: Condition,
        level: Level,
        strip_blocks: usize,
        progress: &Progress,
    ) -> Result<Vec<Rgba16>, Cancelled> {
        let layers = net.layers(self.scale, condition, at_once(level));
        let mut out = vec![[0; 4]; self.width * self.height * self.scale * self.scale];
        let blocks = self.width.div_ceil(BLOCK_PX);
        let strips = blocks.div_ceil(strip_blocks);
        for strip in 0..strips {
            let (from, to) = (blocks * strip / strips, blocks * (strip + 1) / strips);
            let first = from.saturating_sub(MARGIN_BLOCKS);
            let strip_of = Strip {
                field: self,
                layers: &layers,
                first,
                blocks: (to + MARGIN_BLOCKS).min(blocks) - first,
                kept: from * BLOCK_PX..(to * BLOCK_PX).min(self.width),
            };
            let part = progress.part(strip as f32 / strips as f32, (strip + 1) as f32 / strips as f32);
            strip_of.run(level, &mut out, &part)?;
        }
        Ok(out)
    }
}

/// A strip of columns.
struct Strip<'a> {
    field: &'a Field<'a>,
    layers: &'a [Layer],
    first: usize,
    blocks: usize,
    /// Columns that are kept of it.
    kept: std::ops::Range<usize>,
}

impl Strip<'_> {
    fn run(&self, level: Level, out: &mut [Rgba16], progress: &Progress) -> Result<(), Cancelled> {
        let groups = self.field.height.div_ceil(GROUP);
        let stages = self.layers.len() + 1;
        // Stage 0 is the art, stage 1 the head, whose features are read again by the last but one.
        let mut rings: Vec<Ring> = (0..stages)
            .map(|stage| {
                let kept = if stage == 1 { 2 * stages } else { KEPT };
                Ring::new(kept, self.blocks, if stage == 0 { 3 } else { self.layers[stage - 1].outputs })
            })
            .collect();
        let zeros = vec![0.0; block_len(CHANNELS)];
        let steps = groups + 2 * (stages - 1);
        for step in 0..steps {
            progress.step("repair and enlarge", step as f32 / steps as f32)?;
            let active = |stage: &usize| step.checked_sub(2 * stage).is_some_and(|group| group < groups);
            let mut taken: Vec<(usize, usize, Vec<f32>)> = Vec::with_capacity(stages);
            for stage in (0..stages).filter(active) {
                let (group, ring) = (step - 2 * stage, &mut rings[stage]);
                let slot = group % ring.groups.len();
                taken.push((stage, group, std::mem::take(&mut ring.groups[slot])));
            }
            let tasks: Vec<Task> = taken
                .iter_mut()
                .flat_map(|(stage, group, buffer)| {
                    let (stage, group, len) = (*stage, *group, buffer.len() / self.blocks);
                    let each = buffer.chunks_exact_mut(len).enumerate();
                    each.map(move |(block, out)| Task { stage, group, block, out })
                })
                .collect();
            let rings_read = &rings;
            tasks.into_par_iter().with_min_len(4).for_each_init(Scratch::default, |scratch, task| {
                self.make(level, rings_read, &zeros, groups, scratch, task);
            });
            for (stage, group, buffer) in taken {
                let ring = &mut rings[stage];
                let slot = group % ring.groups.len();
                ring.groups[slot] = buffer;
            }
            if let Some(group) = step.checked_sub(2 * (stages - 1)) {
                self.put(rings[stages - 1].of(group), group, out);
            }
        }
        Ok(())
    }

    fn make(&self, level: Level, rings: &[Ring], zeros: &[f32], groups: usize, scratch: &mut Scratch, task: Task) {
        let Task { stage, group, block, out } = task;
        if stage == 0 {
            return self.take_apart(group, block, out);
        }
        let layer = &self.layers[stage - 1];
        let len = block_len(layer.inputs);
        let blank = &zeros[..len];
        let read = |group: Option<usize>, block: Option<usize>| match (group, block) {
            (Some(group), Some(block)) if group < groups && block < self.blocks => {
                &rings[stage - 1].of(group)[block * len..][..len]
            }
            _ => blank,
        };
        let around: Around = [group.checked_sub(1), Some(group), Some(group + 1)]
            .map(|group| [block.checked_sub(1), Some(block), Some(block + 1)].map(|block| read(group, block)));
        // The last of the body takes the head's features in, which the tail reads with its own.
        let features = (stage == self.layers.len() - 1).then(|| &rings[1].of(group)[block * len..][..len]);
        layer.block(level, &around, features, scratch, out);
        if stage < self.layers.len() {
            self.clear_outside(group, block, layer.outputs, out);
        }
    }

    /// Columns of a line of a block that lie within the picture.
    fn within(&self, block: usize, phase: usize) -> usize {
        let left = (self.first + block) * BLOCK_PX + phase;
        self.field.width.saturating_sub(left).div_ceil(4).min(LANES)
    }

    /// Beyond the picture every layer reads zeros.
    fn clear_outside(&self, group: usize, block: usize, channels: usize, out: &mut [f32]) {
        let rows = self.field.height - group * GROUP;
        if rows < GROUP {
            out[rows * channels * BLOCK_PX..].fill(0.0);
        }
        if self.within(block, 3) < LANES {
            for (line, values) in out.chunks_exact_mut(LANES).enumerate() {
                values[self.within(block, line % 4)..].fill(0.0);
            }
        }
    }

    /// A block of the art, encoded, about a mean of zero.
    fn take_apart(&self, group: usize, block: usize, out: &mut [f32]) {
        out.fill(0.0);
        let Field { art, width, height, .. } = *self.field;
        let left = (self.first + block) * BLOCK_PX;
        let wide = width.saturating_sub(left).min(BLOCK_PX);
        for (r, lines) in out.chunks_exact_mut(3 * BLOCK_PX).enumerate().take(height - (group * GROUP).min(height)) {
            let row = &art[(group * GROUP + r) * width..][left..left + wide];
            for (x, pixel) in row.iter().enumerate() {
                for c in 0..3 {
                    lines[c * BLOCK_PX + x % 4 * LANES + x / 4] = f32::from(pixel[c]) / 65535.0 - 0.5;
                }
            }
        }
    }

    /// Puts what the tail made of a group over the nearest art into the picture.
    fn put(&self, made: &[f32], group: usize, out: &mut [Rgba16]) {
        let Field { art, width, height, scale } = *self.field;
        let outputs = self.layers[self.layers.len() - 1].outputs;
        let len = block_len(outputs);
        let rows = group * GROUP..((group + 1) * GROUP).min(height);
        let wide = width * scale;
        let lines = &mut out[rows.start * scale * wide..rows.end * scale * wide];
        lines.par_chunks_exact_mut(wide).enumerate().for_each(|(line, pixels)| {
            let (r, a) = (line / scale, line % scale);
            let art = &art[(rows.start + r) * width..][..width];
            for x in self.kept.clone() {
                let at = x - self.first * BLOCK_PX;
                let (block, phase, lane) = (at / BLOCK_PX, at % 4, at % BLOCK_PX / 4);
                let near = art[x];
                for b in 0..scale {
                    let mut pixel = [u16::MAX; 4];
                    for c in 0..3 {
                        let channel = (c * scale + a) * scale + b;
                        let of = block * len + (r * outputs + channel) * BLOCK_PX + phase * LANES + lane;
                        let value = made[of] + f32::from(near[c]) / 65535.0;
                        pixel[c] = (value * 65535.0 + 0.5).clamp(0.0, 65535.0) as u16;
                    }
                    pixels[x * scale + b] = pixel;
                }
            }
        });
    }
}
