//! How far a redraw's visible edges lie from the drawing's, both drawn sharp at eight times the art's size.

use resvg::{tiny_skia, usvg};

use crate::drawing::{Drawing, parse};

/// Small pixels a pixel of the art.
const FINE: usize = 8;
/// Colours differ visibly by more than this in a channel.
const VISIBLE: u8 = 30;
/// Regions narrower than this in the mean, pixels of the art: the art hardly tells two of them from one.
const HAIR: f64 = 2.0 / 3.0;
/// Distances are cut off here, pixels of the art.
const FAR: f64 = 3.0;

type Pixel = [u8; 4];

pub struct Truth {
    fine: Fine,
    edges: Edges,
    corners: Vec<[f64; 2]>,
    regions: Vec<Region>,
    on_white: bool,
}

#[derive(Default)]
pub struct Score {
    pub mean: f64,
    pub high: f64,
    pub corners: usize,
    pub corners_near: usize,
    pub corner_sum: f64,
    pub regions: usize,
    pub lost: usize,
    /// Narrower than [`HAIR`], of all regions and of the lost ones.
    pub hairs: usize,
    pub hairs_lost: usize,
    pub losses: Vec<Loss>,
    pub nodes: usize,
}

/// A region that the redraw does not show.
pub struct Loss {
    /// A pixel of the art that it lies in.
    pub at: [usize; 2],
    pub area_px: f64,
    /// Twice its area by its rim.
    pub wide_px: f64,
    pub colour: Pixel,
    /// The colour that most of it has instead, and its share.
    pub instead: (Pixel, f64),
}

impl std::fmt::Display for Loss {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let ([x, y], hex) = (self.at, |[r, g, b, a]: Pixel| format!("{r:02x}{g:02x}{b:02x}{a:02x}"));
        let (instead, share) = (hex(self.instead.0), 100.0 * self.instead.1);
        let (area, wide, colour) = (self.area_px, self.wide_px, hex(self.colour));
        write!(f, "{x:3},{y:3}  {area:7.1} px  {wide:4.2} wide  {colour} is {share:3.0} % {instead}")
    }
}

impl std::fmt::Display for Score {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let corner = self.corner_sum / self.corners.max(1) as f64;
        write!(f, "{:.3} {:.2} c{:.2} lost {:2} n{:4}", self.mean, self.high, corner, self.lost, self.nodes)
    }
}

/// A drawing without smoothing, small pixels.
struct Fine {
    width: usize,
    height: usize,
    data: Vec<Pixel>,
}

impl Fine {
    fn of(tree: &usvg::Tree, scale: f32, width: usize, height: usize, on_white: bool) -> Self {
        let (w, h) = (width * FINE, height * FINE);
        let mut map = tiny_skia::Pixmap::new(w as u32, h as u32).expect("a size");
        if on_white {
            map.fill(tiny_skia::Color::WHITE);
        }
        let scale = scale * FINE as f32;
        resvg::render(tree, tiny_skia::Transform::from_scale(scale, scale), &mut map.as_mut());
        let data = map.pixels().iter().map(|p| [p.red(), p.green(), p.blue(), p.alpha()]).collect();
        Self { width: w, height: h, data }
    }
}

fn apart(a: Pixel, b: Pixel) -> u8 {
    (0..4).map(|c| a[c].abs_diff(b[c])).max().unwrap_or(0)
}

/// Points of visible edges, by the pixel of the art that they lie in.
struct Edges {
    width: usize,
    height: usize,
    cells: Vec<Vec<[f32; 2]>>,
}

impl Edges {
    fn of(fine: &Fine) -> Self {
        let (width, height) = (fine.width / FINE, fine.height / FINE);
        let mut edges = Self { width, height, cells: vec![Vec::new(); width * height] };
        for y in 0..fine.height {
            for x in 0..fine.width {
                let here = fine.data[y * fine.width + x];
                let (px, py) = ((x as f32 + 0.5) / FINE as f32, (y as f32 + 0.5) / FINE as f32);
                let half = 0.5 / FINE as f32;
                if x + 1 < fine.width && apart(here, fine.data[y * fine.width + x + 1]) > VISIBLE {
                    edges.add([px + half, py]);
                }
                if y + 1 < fine.height && apart(here, fine.data[(y + 1) * fine.width + x]) > VISIBLE {
                    edges.add([px, py + half]);
                }
            }
        }
        edges
    }

    fn add(&mut self, p: [f32; 2]) {
        let (x, y) = ((p[0] as usize).min(self.width - 1), (p[1] as usize).min(self.height - 1));
        self.cells[y * self.width + x].push(p);
    }

    /// Distance to the nearest point, at most `FAR`.
    fn distance(&self, p: [f64; 2]) -> f64 {
        let mut best = FAR;
        let (cx, cy) = (p[0].floor() as isize, p[1].floor() as isize);
        for ring in 0..=(FAR as isize) {
            if ring as f64 - 1.0 > best {
                break;
            }
            for y in cy - ring..=cy + ring {
                for x in cx - ring..=cx + ring {
                    if (x - cx).abs().max((y - cy).abs()) != ring || x < 0 || y < 0 {
                        continue;
                    }
                    if x as usize >= self.width || y as usize >= self.height {
                        continue;
                    }
                    for q in &self.cells[y as usize * self.width + x as usize] {
                        best = best.min((f64::from(q[0]) - p[0]).hypot(f64::from(q[1]) - p[1]));
                    }
                }
            }
        }
        best
    }

    fn points(&self) -> impl Iterator<Item = [f64; 2]> + '_ {
        self.cells.iter().flatten().step_by(5).map(|q| [f64::from(q[0]), f64::from(q[1])])
    }
}

impl Truth {
    pub fn of(drawing: &Drawing, on_white: bool) -> Self {
        let (width, height) = (drawing.width as usize, drawing.height as usize);
        let fine = Fine::of(&drawing.tree, drawing.scale, width, height, on_white);
        let edges = Edges::of(&fine);
        let mut corners = Vec::new();
        turns(drawing.tree.root(), drawing.scale, 30.0, 3.0, &mut |p, before, after| {
            // Seen, on both of its sides, and not at the picture's side.
            let seen = edges.distance(p) < 0.13 && edges.distance(before) < 0.13 && edges.distance(after) < 0.13;
            let inside = p[0] > 2.0 && p[1] > 2.0 && p[0] < width as f64 - 2.0 && p[1] < height as f64 - 2.0;
            if seen && inside {
                corners.push(p);
            }
        });
        let regions = regions(&fine);
        Self { fine, edges, corners, regions, on_white }
    }

    pub fn score(&self, svg: &str) -> Score {
        let tree = parse(svg.as_bytes(), true).expect("a redraw is SVG");
        let (width, height) = (self.edges.width, self.edges.height);
        let fine = Fine::of(&tree, 1.0, width, height, self.on_white);
        let edges = Edges::of(&fine);
        let mut far: Vec<f64> = self.edges.points().map(|p| edges.distance(p)).collect();
        far.extend(edges.points().map(|p| self.edges.distance(p)));
        far.sort_by(f64::total_cmp);
        let mut drawn = Vec::new();
        turns(tree.root(), 1.0, 12.0, 0.0, &mut |p, _, _| drawn.push(p));
        let nearest = |p: &[f64; 2]| drawn.iter().map(|q| (q[0] - p[0]).hypot(q[1] - p[1])).fold(2.0, f64::min);
        let corner_far: Vec<f64> = self.corners.iter().map(nearest).collect();
        let losses: Vec<Loss> = self.regions.iter().filter_map(|region| region.loss(&self.fine, &fine)).collect();
        Score {
            mean: far.iter().sum::<f64>() / far.len().max(1) as f64,
            high: far.get(far.len() * 95 / 100).copied().unwrap_or(0.0),
            corners: corner_far.len(),
            corners_near: corner_far.iter().filter(|&&d| d <= 0.3).count(),
            corner_sum: corner_far.iter().sum(),
            regions: self.regions.len(),
            lost: losses.len(),
            hairs: self.regions.iter().filter(|r| r.wide_px() < HAIR).count(),
            hairs_lost: losses.iter().filter(|loss| loss.wide_px < HAIR).count(),
            losses,
            nodes: nodes(tree.root()),
        }
    }
}

/// Small pixels of one colour that hang together, and their sides that face others.
struct Region {
    pixels: Vec<u32>,
    rim: usize,
}

impl Region {
    fn wide_px(&self) -> f64 {
        2.0 * self.pixels.len() as f64 / self.rim.max(1) as f64 / FINE as f64
    }

    /// Whether less than half of it is as it should be.
    fn loss(&self, truth: &Fine, drawn: &Fine) -> Option<Loss> {
        let same = |&&i: &&u32| apart(truth.data[i as usize], drawn.data[i as usize]) < 50;
        if self.pixels.iter().filter(same).count() * 2 >= self.pixels.len() {
            return None;
        }
        let mut seen = std::collections::HashMap::new();
        self.pixels.iter().for_each(|&i| *seen.entry(drawn.data[i as usize]).or_insert(0) += 1);
        let (colour, most) = seen.into_iter().max_by_key(|&(colour, count)| (count, colour))?;
        let (middle, count) = (self.pixels[self.pixels.len() / 2] as usize, self.pixels.len() as f64);
        Some(Loss {
            at: [middle % truth.width / FINE, middle / truth.width / FINE],
            area_px: count / (FINE * FINE) as f64,
            wide_px: self.wide_px(),
            colour: truth.data[middle],
            instead: (colour, f64::from(most) / count),
        })
    }
}

/// Regions of one colour larger than four pixels of the art and visibly unlike their surroundings.
fn regions(fine: &Fine) -> Vec<Region> {
    let mut seen = vec![false; fine.data.len()];
    let mut found = Vec::new();
    for seed in 0..fine.data.len() {
        if seen[seed] {
            continue;
        }
        seen[seed] = true;
        let mut region = vec![seed as u32];
        let (mut next, mut visible, mut rim) = (0, 0, 0);
        while next < region.len() {
            let at = region[next] as usize;
            next += 1;
            let (x, y) = (at % fine.width, at / fine.width);
            let near = [
                (x > 0).then(|| at - 1),
                (x + 1 < fine.width).then(|| at + 1),
                (y > 0).then(|| at - fine.width),
                (y + 1 < fine.height).then(|| at + fine.width),
            ];
            for n in near.into_iter().flatten() {
                if fine.data[n] != fine.data[seed] {
                    rim += 1;
                    visible += usize::from(apart(fine.data[n], fine.data[seed]) > VISIBLE);
                } else if !seen[n] {
                    seen[n] = true;
                    region.push(n as u32);
                }
            }
        }
        if region.len() > 4 * FINE * FINE && visible * 2 >= rim {
            found.push(Region { pixels: region, rim });
        }
    }
    found
}

fn paths<'a>(group: &'a usvg::Group, to: &mut Vec<&'a usvg::Path>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(g) => paths(g, to),
            usvg::Node::Path(p) if p.fill().is_some() => to.push(p),
            _ => {}
        }
    }
}

fn nodes(group: &usvg::Group) -> usize {
    let mut all = Vec::new();
    paths(group, &mut all);
    all.iter().map(|p| p.data().verbs().len()).sum()
}

/// Every place where a filled path turns by more than `degrees` between sides of at least `least` pixels: the
/// place, and places 1.5 pixels before and after it.
fn turns(
    group: &usvg::Group,
    scale: f32,
    degrees: f64,
    least: f64,
    found: &mut dyn FnMut([f64; 2], [f64; 2], [f64; 2]),
) {
    let mut all = Vec::new();
    paths(group, &mut all);
    for path in all {
        let transform = path.abs_transform().post_scale(scale, scale);
        let Some(data) = path.data().clone().transform(transform) else { continue };
        for ring in rings(&data) {
            let n = ring.len();
            for i in 0..n {
                let (a, b) = (&ring[i], &ring[(i + 1) % n]);
                let (into, out) = (a.at(1.0, -1.0), b.at(0.0, 1.0));
                let turn = (into[0] * out[1] - into[1] * out[0]).atan2(into[0] * out[0] + into[1] * out[1]);
                if turn.abs().to_degrees() < degrees || a.chord() < least || b.chord() < least {
                    continue;
                }
                found(b.p[0], a.along(-1.5), b.along(1.5));
            }
        }
    }
}

/// A line or a cubic.
struct Side {
    p: [[f64; 2]; 4],
}

impl Side {
    fn chord(&self) -> f64 {
        (self.p[3][0] - self.p[0][0]).hypot(self.p[3][1] - self.p[0][1])
    }

    fn eval(&self, t: f64) -> [f64; 2] {
        let s = 1.0 - t;
        let w = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
        std::array::from_fn(|c| (0..4).map(|i| w[i] * self.p[i][c]).sum())
    }

    /// Direction at an end, from a short piece there.
    fn at(&self, t: f64, way: f64) -> [f64; 2] {
        let step = 0.02;
        let (a, b) = (self.eval(t), self.eval(t + way * step));
        let d = [(b[0] - a[0]) * way, (b[1] - a[1]) * way];
        let long = d[0].hypot(d[1]).max(1e-12);
        [d[0] / long, d[1] / long]
    }

    /// About this far from its start, or back from its end.
    fn along(&self, far: f64) -> [f64; 2] {
        let t = (far.abs() / self.chord().max(1e-9)).min(0.5);
        self.eval(if far < 0.0 { 1.0 - t } else { t })
    }
}

fn rings(path: &tiny_skia::Path) -> Vec<Vec<Side>> {
    use tiny_skia::PathSegment::{Close, CubicTo, LineTo, MoveTo, QuadTo};
    let point = |p: tiny_skia::Point| [f64::from(p.x), f64::from(p.y)];
    let mix = |a: [f64; 2], b: [f64; 2], t: f64| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
    let line = |a, b| Side { p: [a, mix(a, b, 1.0 / 3.0), mix(a, b, 2.0 / 3.0), b] };
    let mut all = Vec::new();
    let mut ring: Vec<Side> = Vec::new();
    let (mut start, mut at) = ([0.0; 2], [0.0; 2]);
    for segment in path.segments() {
        match segment {
            MoveTo(p) => {
                if !ring.is_empty() {
                    all.push(std::mem::take(&mut ring));
                }
                start = point(p);
                at = start;
            }
            LineTo(p) => {
                ring.push(line(at, point(p)));
                at = point(p);
            }
            QuadTo(q, p) => {
                ring.push(Side { p: [at, mix(at, point(q), 2.0 / 3.0), mix(point(p), point(q), 2.0 / 3.0), point(p)] });
                at = point(p);
            }
            CubicTo(q, r, p) => {
                ring.push(Side { p: [at, point(q), point(r), point(p)] });
                at = point(p);
            }
            Close => {
                if at != start {
                    ring.push(line(at, start));
                    at = start;
                }
                all.push(std::mem::take(&mut ring));
            }
        }
        ring.retain(|s| s.chord() > 1e-6 || s.p[1] != s.p[0]);
    }
    if !ring.is_empty() {
        all.push(ring);
    }
    all.retain(|r| !r.is_empty());
    all
}
