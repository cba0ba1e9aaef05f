//! The lattice between pixels: which corners are junctions, which regions meet across a corner, and the
//! chains of pixel sides between regions. Directions are 0 right, 1 down, 2 left, 3 up.

use std::collections::HashMap;

use kurbo::Point;

use crate::labels::Labels;

/// Label of what lies outside the picture.
pub(crate) const OUTSIDE: u8 = u8::MAX;

/// A boundary between two regions, from junction to junction or closed; used by both.
#[derive(Debug, Clone)]
pub(crate) struct Chain {
    /// Labels to the left and right of the way it runs (y downwards).
    pub left: u8,
    pub right: u8,
    /// Regions on either side; region 0 is outside.
    pub left_region: u32,
    pub right_region: u32,
    /// Junctions at its ends; none for a closed chain.
    pub ends: Option<[u32; 2]>,
    pub points: Vec<Point>,
    /// How much each point can be trusted, 0 to 1; empty until refined.
    pub trust: Vec<f64>,
}

impl Chain {
    pub fn on_border(&self) -> bool {
        self.left == OUTSIDE || self.right == OUTSIDE
    }
}

/// The picture as regions and the chains between them.
#[derive(Debug, Clone)]
pub(crate) struct Map {
    pub width: usize,
    pub height: usize,
    /// Where chains meet.
    pub nodes: Vec<Point>,
    pub chains: Vec<Chain>,
    /// Label of each region.
    pub regions: Vec<u8>,
    /// Closed loops, each a region and its chains in order; true where a chain is walked backwards. The
    /// region lies on the left.
    pub loops: Vec<(u32, Vec<(u32, bool)>)>,
}

/// The four pixels about a lattice corner: above left, above right, below left, below right.
struct Lattice<'a> {
    labels: &'a Labels,
}

const STEPS: [(isize, isize); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

#[derive(Clone, Copy, PartialEq, Eq)]
enum Corner {
    Plain,
    /// Above left is one with below right.
    Falling,
    /// Above right is one with below left.
    Rising,
    Junction,
}

impl Lattice<'_> {
    fn label(&self, x: isize, y: isize) -> u8 {
        let (w, h) = (self.labels.width as isize, self.labels.height as isize);
        if x < 0 || y < 0 || x >= w || y >= h { OUTSIDE } else { self.labels.data[(y * w + x) as usize] }
    }

    fn four(&self, x: isize, y: isize) -> [u8; 4] {
        [self.label(x - 1, y - 1), self.label(x, y - 1), self.label(x - 1, y), self.label(x, y)]
    }

    fn corner(&self, x: isize, y: isize) -> Corner {
        let [nw, ne, sw, se] = self.four(x, y);
        let cracks = [nw != ne, ne != se, se != sw, sw != nw].iter().filter(|&&c| c).count();
        match cracks {
            0 | 2 if self.picture_corner(x, y) => Corner::Junction,
            0 | 2 => Corner::Plain,
            4 if nw == se && ne == sw => {
                // The rarer of the two about here is a line that must stay whole.
                if self.count(x, y, nw) <= self.count(x, y, ne) { Corner::Falling } else { Corner::Rising }
            }
            4 if nw == se => Corner::Falling,
            4 if ne == sw => Corner::Rising,
            _ => Corner::Junction,
        }
    }

    fn picture_corner(&self, x: isize, y: isize) -> bool {
        (x == 0 || x == self.labels.width as isize) && (y == 0 || y == self.labels.height as isize)
    }

    fn count(&self, x: isize, y: isize, label: u8) -> usize {
        (-3..3).flat_map(|j| (-3..3).map(move |i| (i, j))).filter(|&(i, j)| self.label(x + i, y + j) == label).count()
    }

    /// Labels left and right of the pixel side that leaves a corner in a direction.
    fn sides(&self, x: isize, y: isize, way: usize) -> (u8, u8) {
        let [nw, ne, sw, se] = self.four(x, y);
        match way {
            0 => (ne, se),
            1 => (se, sw),
            2 => (sw, nw),
            _ => (nw, ne),
        }
    }

    /// The pixel on the left of that side.
    fn left_pixel(x: isize, y: isize, way: usize) -> (isize, isize) {
        match way {
            0 => (x, y - 1),
            1 => (x, y),
            2 => (x - 1, y),
            _ => (x - 1, y - 1),
        }
    }

    fn has(&self, x: isize, y: isize, way: usize) -> bool {
        let (l, r) = self.sides(x, y, way);
        l != r
    }

    /// The way on from a corner that is no junction, arriving in direction `way`.
    fn onward(&self, x: isize, y: isize, way: usize) -> usize {
        let (left, right) = ((way + 3) % 4, (way + 1) % 4);
        let diagonal = self.corner(x, y);
        match diagonal {
            Corner::Falling | Corner::Rising => {
                // Going right or left, the pixel behind on the left is one with that ahead on the right where
                // the diagonal falls: its side goes round to the right. Going down or up it is where it rises.
                let round_left = (diagonal == Corner::Rising) == way.is_multiple_of(2);
                if round_left { left } else { right }
            }
            _ => [left, way, right].into_iter().find(|&d| self.has(x, y, d)).unwrap_or(way),
        }
    }
}

/// Regions: pixels of one label joined over sides and over corners that join them. Region 0 is outside.
fn regions(labels: &Labels, lattice: &Lattice) -> (Vec<u32>, Vec<u8>) {
    let (w, h) = (labels.width, labels.height);
    let mut parent: Vec<u32> = (0..(w * h) as u32).collect();
    fn root(parent: &mut [u32], mut at: u32) -> u32 {
        while parent[at as usize] != at {
            parent[at as usize] = parent[parent[at as usize] as usize];
            at = parent[at as usize];
        }
        at
    }
    let mut join = |a: usize, b: usize| {
        let (a, b) = (root(&mut parent, a as u32), root(&mut parent, b as u32));
        parent[a.max(b) as usize] = a.min(b);
    };
    for y in 0..h {
        for x in 0..w {
            let at = y * w + x;
            if x > 0 && labels.data[at] == labels.data[at - 1] {
                join(at, at - 1);
            }
            if y > 0 && labels.data[at] == labels.data[at - w] {
                join(at, at - w);
            }
            if x > 0 && y > 0 {
                let [nw, ne, sw, se] = [at - w - 1, at - w, at - 1, at].map(|i| labels.data[i]);
                if (nw == se && nw != ne && nw != sw) || (ne == sw && ne != nw && ne != se) {
                    match lattice.corner(x as isize, y as isize) {
                        Corner::Falling => join(at, at - w - 1),
                        Corner::Rising => join(at - w, at - 1),
                        _ => {}
                    }
                }
            }
        }
    }
    let mut names = vec![OUTSIDE];
    let mut name = vec![0; w * h];
    for at in 0..w * h {
        let root = root(&mut parent, at as u32) as usize;
        if root == at {
            name[at] = names.len() as u32;
            names.push(labels.data[at]);
        } else {
            name[at] = name[root];
        }
    }
    (name, names)
}

struct Tracer<'a> {
    lattice: Lattice<'a>,
    region_of: Vec<u32>,
    /// Chain of each pixel side: those that run right, then those that run down; 0 where not yet walked.
    walked: [Vec<u32>; 2],
    map: Map,
    node_at: HashMap<(isize, isize), u32>,
}

/// Regions and chains of labelled pixels.
pub(crate) fn trace(labels: &Labels) -> Map {
    let lattice = Lattice { labels };
    let (region_of, regions) = regions(labels, &lattice);
    let (w, h) = (labels.width, labels.height);
    let map = Map { width: w, height: h, nodes: Vec::new(), chains: Vec::new(), regions, loops: Vec::new() };
    let walked = [vec![0; (w + 1) * (h + 1)], vec![0; (w + 1) * (h + 1)]];
    let mut tracer = Tracer { lattice, region_of, walked, map, node_at: HashMap::new() };
    let (w, h) = (w as isize, h as isize);
    for y in 0..=h {
        for x in 0..=w {
            if tracer.lattice.corner(x, y) == Corner::Junction {
                for way in 0..4 {
                    if tracer.lattice.has(x, y, way) && *tracer.side(x, y, way) == 0 {
                        tracer.walk(x, y, way, true);
                    }
                }
            }
        }
    }
    for y in 0..=h {
        for x in 0..=w {
            for way in 0..2 {
                if tracer.lattice.has(x, y, way) && *tracer.side(x, y, way) == 0 {
                    tracer.walk(x, y, way, false);
                }
            }
        }
    }
    tracer.link();
    tracer.map
}

impl Tracer<'_> {
    fn side(&mut self, x: isize, y: isize, way: usize) -> &mut u32 {
        let across = self.lattice.labels.width + 1;
        let (x, y) = match way {
            2 => (x - 1, y),
            3 => (x, y - 1),
            _ => (x, y),
        };
        &mut self.walked[way % 2][y as usize * across + x as usize]
    }

    fn node(&mut self, x: isize, y: isize) -> u32 {
        let nodes = &mut self.map.nodes;
        *self.node_at.entry((x, y)).or_insert_with(|| {
            nodes.push(Point::new(x as f64, y as f64));
            nodes.len() as u32 - 1
        })
    }

    fn region(&self, (x, y): (isize, isize)) -> u32 {
        if self.lattice.label(x, y) == OUTSIDE {
            return 0;
        }
        self.region_of[y as usize * self.lattice.labels.width + x as usize]
    }

    fn walk(&mut self, x0: isize, y0: isize, way0: usize, open: bool) {
        let number = self.map.chains.len() as u32 + 1;
        let (left, right) = self.lattice.sides(x0, y0, way0);
        let left_region = self.region(Lattice::left_pixel(x0, y0, way0));
        let (bx, by) = (x0 + STEPS[way0].0, y0 + STEPS[way0].1);
        let right_region = self.region(Lattice::left_pixel(bx, by, (way0 + 2) % 4));
        let mut points = Vec::new();
        let (mut x, mut y, mut way) = (x0, y0, way0);
        loop {
            *self.side(x, y, way) = number;
            let (dx, dy) = STEPS[way];
            points.push(Point::new(x as f64 + 0.5 * dx as f64, y as f64 + 0.5 * dy as f64));
            (x, y) = (x + dx, y + dy);
            if self.lattice.corner(x, y) == Corner::Junction {
                break;
            }
            way = self.lattice.onward(x, y, way);
            if (x, y, way) == (x0, y0, way0) {
                break;
            }
        }
        let ends = open.then(|| [self.node(x0, y0), self.node(x, y)]);
        self.map.chains.push(Chain { left, right, left_region, right_region, ends, points, trust: Vec::new() });
    }

    /// Closed loops about each region.
    fn link(&mut self) {
        let chains = &self.map.chains;
        // Ways out of each node: by node, the chains that leave it, with the pixel side they leave by.
        let mut leaving: Vec<Vec<(u32, bool)>> = vec![Vec::new(); self.map.nodes.len()];
        for (i, chain) in chains.iter().enumerate() {
            if let Some([from, to]) = chain.ends {
                leaving[from as usize].push((i as u32, false));
                leaving[to as usize].push((i as u32, true));
            }
        }
        let direction = |&(i, back): &(u32, bool)| {
            let chain = &chains[i as usize];
            let ends = chain.ends.unwrap_or_default();
            let (node, point) =
                if back { (ends[1], chain.points[chain.points.len() - 1]) } else { (ends[0], chain.points[0]) };
            let d = point - self.map.nodes[node as usize];
            if d.x > 0.1 {
                0
            } else if d.y > 0.1 {
                1
            } else if d.x < -0.1 {
                2
            } else {
                3
            }
        };
        let mut used = vec![[false; 2]; chains.len()];
        let mut loops = Vec::new();
        for start in 0..chains.len() {
            for back in [false, true] {
                if used[start][usize::from(back)] {
                    continue;
                }
                let region = if back { chains[start].right_region } else { chains[start].left_region };
                let mut ring = Vec::new();
                let mut at = (start as u32, back);
                while !used[at.0 as usize][usize::from(at.1)] {
                    used[at.0 as usize][usize::from(at.1)] = true;
                    ring.push(at);
                    let Some(ends) = chains[at.0 as usize].ends else { break };
                    let node = ends[usize::from(!at.1)] as usize;
                    // The side we arrive by, as a way out, then the next one to the left of our way.
                    let arrived = direction(&(at.0, !at.1));
                    let turn = |next: &(u32, bool)| (arrived + 4 - direction(next)) % 4;
                    let next = leaving[node].iter().copied().filter(|n| turn(n) != 0).min_by_key(|n| 4 - turn(n));
                    match next {
                        Some(next) => at = next,
                        None => break,
                    }
                }
                if region != 0 {
                    loops.push((region, ring));
                }
            }
        }
        self.map.loops = loops;
    }
}
