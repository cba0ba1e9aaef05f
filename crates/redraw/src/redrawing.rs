//! The whole way from art to shapes.

use kurbo::{BezPath, ParamCurve, PathSeg, Point};
use rayon::prelude::*;

use crate::RedrawError;
use crate::area::Rows;
use crate::art::{Art, Field};
use crate::cracks::{Map, OUTSIDE, trace};
use crate::fit::fit;
use crate::labels::label;
use crate::palette::{Palette, find};
use crate::refine::refine;
use crate::settings::{Colour, Settings};
use crate::space::{Sample, unlike};

/// A region of one colour.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// Index into [`Redrawing::colours`].
    pub colour: usize,
    /// Its outlines, closed: the outer one and those of its holes, which run the other way round.
    pub outline: BezPath,
    /// Area, square pixels.
    pub area_px: f64,
}

/// A boundary that two regions share, or a region and the picture's side.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// Colour on the left of the way it runs, y downwards; none outside the picture.
    pub left: Option<usize>,
    /// Colour on the right.
    pub right: Option<usize>,
    /// Lines and cubics, one after another.
    pub path: BezPath,
}

/// Flat art as shapes, in pixels of the art: 0, 0 is its upper left corner.
#[derive(Debug, Clone, PartialEq)]
pub struct Redrawing {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Colours, that of most area first.
    pub colours: Vec<Colour>,
    /// Regions, the largest first. Together they fill the picture, and none overlap.
    pub shapes: Vec<Shape>,
    /// The boundaries that the shapes' outlines are made of, each once.
    pub edges: Vec<Edge>,
    /// Share of pixels that the redraw explains: within [`Redrawing::EXPLAINED`] in OKLab.
    pub flatness: f64,
}

/// Flattened edges lie within this of the curves when the redraw is held against the art, pixels.
const FLAT: f64 = 0.01;
/// Rows in one strip of the drawn picture.
const STRIP: usize = 64;

/// Redraws flat art.
///
/// # Errors
/// Art that is not flat enough for `settings`, or an added pixel outside of it.
pub fn redraw(art: &Art, settings: &Settings) -> Result<Redrawing, RedrawError> {
    let field = art.field();
    let mut palette = find(&field, settings)?;
    let labels = label(&field, &mut palette, settings);
    let mut map = trace(&labels);
    let noise = f64::from(palette.paints.noise);
    refine(&mut map, &labels.target, &palette.paints.samples, (noise / 6.0).min(1.0));
    // Twice as calm at 1 as at 0.5, half at 0.
    let calm = 4.0_f64.powf(settings.smoothness.clamp(0.0, 1.0) - 0.5);
    let stray = (0.045 + 0.009 * noise.min(14.0)) * calm;
    let paths = fit(&mut map, stray, settings.corner_degrees.clamp(1.0, 90.0).to_radians());
    let mut made = assemble(&map, &paths, &palette);
    made.flatness = flatness(&made, &field);
    if made.flatness < settings.least_flatness {
        return Err(RedrawError::NotFlat {
            flatness: made.flatness,
            needed: settings.least_flatness,
            colours: made.colours.len(),
        });
    }
    Ok(made)
}

fn assemble(map: &Map, paths: &[Vec<PathSeg>], palette: &Palette) -> Redrawing {
    let mut outlines = vec![BezPath::new(); map.regions.len()];
    for (region, ring) in &map.loops {
        let outline = &mut outlines[*region as usize];
        for (i, &(chain, back)) in ring.iter().enumerate() {
            append(outline, &paths[chain as usize], back, i == 0);
        }
        outline.close_path();
    }
    let area = |p: &BezPath| kurbo::Shape::area(p).abs();
    let mut shapes: Vec<(u8, Shape)> = outlines
        .into_iter()
        .enumerate()
        .skip(1)
        .map(|(i, outline)| (map.regions[i], Shape { colour: 0, area_px: area(&outline), outline }))
        .collect();
    shapes.sort_by(|a, b| b.1.area_px.total_cmp(&a.1.area_px));
    let mut areas = vec![0.0; 256];
    shapes.iter().for_each(|(label, shape)| areas[*label as usize] += shape.area_px);
    let mut used: Vec<u8> = palette.kept().into_iter().filter(|&k| areas[k as usize] > 0.0).collect();
    used.sort_by(|&a, &b| areas[b as usize].total_cmp(&areas[a as usize]));
    let index = |label: u8| used.iter().position(|&k| k == label);
    let shapes = shapes.into_iter().map(|(label, s)| Shape { colour: index(label).unwrap_or(0), ..s }).collect();
    let edges = map.chains.iter().zip(paths).map(|(chain, path)| {
        let side = |label: u8| if label == OUTSIDE { None } else { index(label) };
        let mut whole = BezPath::new();
        append(&mut whole, path, false, true);
        Edge { left: side(chain.left), right: side(chain.right), path: whole }
    });
    Redrawing {
        width: map.width,
        height: map.height,
        edges: edges.collect(),
        colours: used.iter().map(|&k| palette.colour(k)).collect(),
        shapes,
        flatness: 0.0,
    }
}

/// Adds a chain's path, forwards or backwards.
fn append(to: &mut BezPath, path: &[PathSeg], back: bool, begin: bool) {
    let first = if back { path.last().map(PathSeg::reverse) } else { path.first().copied() };
    if let (true, Some(first)) = (begin, first) {
        to.move_to(first.start());
    }
    let mut add = |segment: PathSeg| to.push(segment.as_path_el());
    if back {
        path.iter().rev().map(PathSeg::reverse).for_each(&mut add);
    } else {
        path.iter().copied().for_each(&mut add);
    }
}

impl Redrawing {
    /// A pixel is explained when the redraw's colour lies within this of it in OKLab (lightness 0 to 1).
    pub const EXPLAINED: f32 = 0.06;

    /// Straight edges of all boundaries, no farther than `within` from the curves.
    pub(crate) fn flattened(&self, within: f64) -> Vec<Vec<Point>> {
        self.edges
            .par_iter()
            .map(|edge| {
                let mut points = Vec::new();
                kurbo::flatten(edge.path.iter(), within, |el| points.extend(el.end_point()));
                points
            })
            .collect()
    }
}

/// Share of pixels that the redraw explains.
fn flatness(made: &Redrawing, field: &Field) -> f64 {
    let flat = made.flattened(FLAT);
    let paint = |side: Option<usize>| side.map_or(Sample::default(), |k| Sample::of(made.colours[k]));
    let tops: Vec<usize> = (0..made.height).step_by(STRIP).collect();
    let explained = tops.par_iter().map(|&top| {
        let mut rows = Rows::<4>::new(made.width, top, STRIP.min(made.height - top));
        for (edge, points) in made.edges.iter().zip(&flat) {
            let step = (paint(edge.left) - paint(edge.right)).0.map(f64::from);
            points.windows(2).for_each(|w| rows.edge(w[0], w[1], step));
        }
        let same = |(drawn, art): ([f64; 4], &Sample)| {
            let drawn = Sample(drawn.map(|v| v as f32));
            drawn.distance(*art) < 3.0 || unlike(drawn, *art) <= Redrawing::EXPLAINED
        };
        rows.pixels().zip(&field.data[top * made.width..]).map(same).filter(|&s| s).count()
    });
    explained.sum::<usize>() as f64 / field.data.len() as f64
}
