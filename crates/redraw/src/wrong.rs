//! What is wrong with the chains: the art less the picture that they make, near them.

use rayon::prelude::*;

use crate::area::Rows;
use crate::art::Field;
use crate::cracks::Map;
use crate::space::Sample;

/// Rows in one strip of the drawn picture.
const STRIP: usize = 64;
/// Side of the tiles that are drawn or left out as a whole, pixels: farther than is looked from a chain.
pub(crate) const TILE: usize = 8;

/// The art less the picture, wherever a chain is near.
pub(crate) struct Wrong {
    pub field: Field,
    across: usize,
}

impl Wrong {
    pub fn new(map: &Map) -> Self {
        Self { field: Field::new(map.width, map.height), across: map.width.div_ceil(TILE) }
    }

    /// Draws the picture that the chains make of their colours, by area, and takes it from the art.
    pub fn draw(&mut self, map: &Map, target: &Field, paint: &(impl Fn(u8) -> Sample + Sync)) {
        let strips = map.height.div_ceil(STRIP);
        let in_strip = by_strip(map, strips);
        let near = self.near(map);
        let (width, across) = (map.width, self.across);
        let parts = self.field.data.par_chunks_mut(width * STRIP).zip(&in_strip).enumerate();
        parts.for_each_init(
            || Rows::<4>::new(width, 0, STRIP),
            |rows, (strip, (out, edges))| {
                let top = strip * STRIP;
                rows.begin(top);
                for &(chain, i) in edges {
                    let chain = &map.chains[chain as usize];
                    let step = paint(chain.left) - paint(chain.right);
                    let (p, q) = (chain.points[i as usize], chain.points[(i as usize + 1) % chain.points.len()]);
                    rows.edge(p, q, step.0.map(f64::from));
                }
                for (y, out) in out.chunks_mut(width).enumerate() {
                    let near = &near[(top + y) / TILE * across..][..across];
                    let target = &target.data[(top + y) * width..][..width];
                    rows.take_row(y, TILE, near, |x, p| out[x] = target[x] - Sample(p.map(|v| v as f32)));
                }
            },
        );
    }

    /// Tiles with a chain in them or beside them.
    fn near(&self, map: &Map) -> Vec<bool> {
        let (across, down) = (self.across, map.height.div_ceil(TILE));
        let mut hit = vec![false; across * down];
        let tile = |v: f64, most: usize| (v.max(0.0) as usize / TILE).min(most - 1);
        for chain in map.chains.iter().filter(|c| !c.on_border()) {
            for p in &chain.points {
                hit[tile(p.y, down) * across + tile(p.x, across)] = true;
            }
        }
        let about = |v: usize, most: usize| v.saturating_sub(1)..(v + 2).min(most);
        let mut near = vec![false; across * down];
        for at in (0..hit.len()).filter(|&at| hit[at]) {
            for y in about(at / across, down) {
                for x in about(at % across, across) {
                    near[y * across + x] = true;
                }
            }
        }
        near
    }
}

/// Which edges reach into each strip of rows.
fn by_strip(map: &Map, strips: usize) -> Vec<Vec<(u32, u32)>> {
    let mut lists = vec![Vec::new(); strips];
    for (c, chain) in map.chains.iter().enumerate() {
        let n = chain.points.len();
        let edges = if chain.ends.is_some() { n - 1 } else { n };
        for i in 0..edges {
            let (a, b) = (chain.points[i].y, chain.points[(i + 1) % n].y);
            let strip = |y: f64| ((y.max(0.0) as usize) / STRIP).min(strips - 1);
            for list in &mut lists[strip(a.min(b))..=strip(a.max(b))] {
                list.push((c as u32, i as u32));
            }
        }
    }
    lists
}
