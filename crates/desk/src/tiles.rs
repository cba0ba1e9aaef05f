//! Pictures of a look on the table: one at proxy size that is always there, and tiles of the full
//! size where the canvas shows more than the proxy holds. Both are drawn on lanes; what is on the
//! screen stays until its successor is ready.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use std::time::Duration;

use egui::{ColorImage, Context, Painter, Rect, TextureHandle, TextureOptions, pos2};

use crate::chain::Level;
use crate::looking::View;
use crate::render::{Dots, Look, PxRect, Pyramid, draw};
use crate::work::{Lane, Manner, let_go};

/// Pixels of a tile's side.
const TILE: usize = 512;
/// Most tiles kept on the graphics card for one pane: 64 MB.
const KEPT: usize = 64;

/// A place in the pyramid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Spot {
    /// Level of the pyramid, or device pixels to a pixel for dots.
    level: usize,
    x: usize,
    y: usize,
}

struct BaseRequest {
    level: Arc<Level>,
    look: Look,
    stamp: u64,
}

struct TileRequest {
    pyramid: Arc<Pyramid>,
    look: Look,
    stamp: u64,
    spots: Vec<Spot>,
}

/// What tiles of one size are cut from: a level of the pyramid, or device pixels of the film, so
/// many of them in one pixel of a tile.
struct Layer<'a> {
    level: &'a Arc<Level>,
    size_px: [usize; 2],
    dots: bool,
}

impl<'a> Layer<'a> {
    fn of(pyramid: &'a Pyramid, look: &Look, at: usize) -> Option<Self> {
        if look.view != View::Dots {
            let level = pyramid.levels.get(at)?;
            return Some(Self { level, size_px: level.size_px(), dots: false });
        }
        let level = pyramid.levels.first()?;
        let size_px = Dots::size_px(level, &look.film).map(|px| px.div_ceil(at.max(1)));
        Some(Self { level, size_px, dots: true })
    }

    /// Which layer to use at a resolution of the canvas; none where the proxy will do.
    fn place_for(pyramid: &Pyramid, look: &Look, canvas_ppi: f64) -> Option<usize> {
        if look.view != View::Dots {
            return Some(pyramid.for_ppi(canvas_ppi * 0.8).0);
        }
        // Under three pixels of the canvas a dot, dots would only flicker.
        if canvas_ppi < look.film.ruling.get() * 3.0 {
            return None;
        }
        let most = look.film.dpi.get() / canvas_ppi;
        Some([4, 2, 1].into_iter().find(|&step| step as f64 <= most).unwrap_or(1))
    }
}

/// One look on the table.
pub struct Pane {
    name: &'static str,
    base_lane: Lane<BaseRequest, (u64, ColorImage)>,
    tile_lane: Lane<TileRequest, (u64, Vec<(Spot, ColorImage)>)>,
    base: Option<TextureHandle>,
    fingerprint: u64,
    /// What the base shows, and what was last asked for.
    shown: u64,
    asked: Option<(Arc<Level>, Look)>,
    stamp: u64,
    /// Pictures asked for up to here belong to a document that is gone.
    gone: u64,
    tiles: HashMap<Spot, TextureHandle>,
    order: Vec<Spot>,
    tiles_of: Option<(Arc<Pyramid>, Look)>,
    tile_stamp: u64,
    waiting: bool,
    /// Time the last base picture took.
    pub took: Duration,
}

impl Pane {
    /// Starts the two lanes.
    pub fn new(ctx: &Context, name: &'static str) -> Self {
        let base_lane = Lane::new(&format!("{name} picture"), ctx, Manner::FinishFirst, |r: BaseRequest, _| {
            let [width, height] = r.level.size_px();
            Some((r.stamp, draw(&r.level, &r.look, PxRect { x: 0, y: 0, width, height })))
        });
        let mut grid: Option<Dots> = None;
        let tile_lane = Lane::new(&format!("{name} tiles"), ctx, Manner::FinishFirst, move |r: TileRequest, _| {
            if r.look.view == View::Dots
                && let Some(level) = r.pyramid.levels.first()
                && grid.as_ref().is_none_or(|g| !g.fits(level, &r.look))
            {
                grid = Some(Dots::new(level, &r.look));
            }
            let tile = |&spot: &Spot| {
                let layer = Layer::of(&r.pyramid, &r.look, spot.level)?;
                let window = tile_px(layer.size_px, spot)?;
                Some((
                    spot,
                    match &grid {
                        Some(grid) if layer.dots => grid.draw(layer.level, &r.look, window, spot.level),
                        _ => draw(layer.level, &r.look, window),
                    },
                ))
            };
            Some((r.stamp, r.spots.iter().filter_map(tile).collect()))
        });
        Self {
            name,
            base_lane,
            tile_lane,
            base: None,
            fingerprint: 0,
            shown: 0,
            asked: None,
            stamp: 0,
            gone: 0,
            tiles: HashMap::new(),
            order: Vec::new(),
            tiles_of: None,
            tile_stamp: 0,
            waiting: false,
            took: Duration::ZERO,
        }
    }

    /// Wants this look, drawn from the proxy's level that holds about `canvas_px` pixels across;
    /// takes in what the lanes have ready.
    pub fn update(&mut self, ctx: &Context, proxy: &Pyramid, look: &Look, canvas_px: f32) {
        let level = proxy.for_width(canvas_px);
        let same = self.asked.as_ref().is_some_and(|(l, k)| Arc::ptr_eq(l, level) && k == look);
        if !same {
            self.stamp += 1;
            let_go(self.asked.replace((level.clone(), look.clone())));
            self.base_lane.request(BaseRequest { level: level.clone(), look: look.clone(), stamp: self.stamp });
        }
        if let Some(answer) = self.base_lane.poll()
            && answer.value.0 > self.gone
        {
            let (stamp, image) = answer.value;
            self.shown = stamp;
            // Every 61st pixel is enough to tell pictures apart.
            self.fingerprint =
                image.pixels.iter().step_by(61).fold(17, |sum, p| {
                    (sum ^ u64::from(u32::from_le_bytes(p.to_array()))).wrapping_mul(0x0100_0000_01b3)
                });
            self.took = answer.took;
            self.base = Some(ctx.load_texture(format!("{} base", self.name), image, smooth()));
        }
        for answer in self.tile_lane.drain() {
            self.waiting = false;
            let (stamp, tiles) = answer.value;
            if stamp != self.tile_stamp {
                continue;
            }
            for (spot, image) in tiles {
                self.tiles.insert(spot, ctx.load_texture(format!("{} tile", self.name), image, smooth()));
                self.order.push(spot);
            }
        }
        while self.order.len() > KEPT {
            let oldest = self.order.remove(0);
            self.tiles.remove(&oldest);
        }
    }

    /// Forgets its pictures, and those that are still being drawn: another document is shown now.
    pub fn clear(&mut self) {
        self.gone = self.stamp;
        self.base = None;
        let_go(self.asked.take());
        self.tiles.clear();
        self.order.clear();
        let_go(self.tiles_of.take());
        self.tile_stamp += 1;
    }

    /// Whether the picture shown is the one last asked for.
    pub fn is_current(&self) -> bool {
        self.base.is_some() && self.shown == self.stamp
    }

    /// Whether nothing is being drawn for it.
    pub fn is_idle(&self) -> bool {
        !self.waiting && self.base_lane.is_idle() && self.tile_lane.is_idle()
    }

    /// A number for the base picture's pixels.
    pub fn fingerprint(&self) -> u64 {
        self.fingerprint
    }

    /// Draws the look into `rect`, which holds the whole print, clipped to `clip`. `full` gives
    /// sharper pixels where they help.
    pub fn paint(&mut self, painter: &Painter, rect: Rect, clip: Rect, full: Option<&Arc<Pyramid>>) {
        let painter = painter.with_clip_rect(painter.clip_rect().intersect(clip));
        let white = egui::Color32::WHITE;
        if let Some(base) = &self.base {
            painter.image(base.id(), rect, Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0)), white);
        }
        let (Some(pyramid), Some((proxy, look))) = (full, self.asked.clone()) else {
            return;
        };
        if !self.is_current() {
            return;
        }
        let on_canvas_px = rect.width() * painter.pixels_per_point();
        if look.view != View::Dots && on_canvas_px <= proxy.screens.width as f32 * 1.05 {
            return;
        }
        self.paint_tiles(&painter, rect, pyramid, &look, on_canvas_px);
    }

    fn paint_tiles(&mut self, painter: &Painter, rect: Rect, pyramid: &Arc<Pyramid>, look: &Look, canvas_px: f32) {
        let same = self.tiles_of.as_ref().is_some_and(|(p, l)| Arc::ptr_eq(p, pyramid) && l == look);
        if !same {
            self.tiles.clear();
            self.order.clear();
            self.tile_stamp += 1;
            self.waiting = false;
            let_go(self.tiles_of.replace((pyramid.clone(), look.clone())));
        }
        let finest = &pyramid.levels[0].screens;
        let ppi = finest.ppi.get() * f64::from(canvas_px) / finest.width as f64;
        let Some(at) = Layer::place_for(pyramid, look, ppi) else { return };
        let Some(layer) = Layer::of(pyramid, look, at) else { return };
        let [w, h] = layer.size_px;
        let visible = painter.clip_rect().intersect(rect);
        if !visible.is_positive() {
            return;
        }
        let to_px = |at: egui::Pos2| {
            let part = (at - rect.min) / rect.size();
            [(part.x * w as f32).max(0.0) as usize, (part.y * h as f32).max(0.0) as usize]
        };
        let (from, to) = (to_px(visible.min), to_px(visible.max));
        let mut missing = Vec::new();
        let wanted: HashSet<Spot> = (from[1] / TILE..=(to[1].min(h - 1)) / TILE)
            .flat_map(|y| (from[0] / TILE..=(to[0].min(w - 1)) / TILE).map(move |x| Spot { level: at, x, y }))
            .collect();
        for &spot in &wanted {
            let (Some(texture), Some(px)) = (self.tiles.get(&spot), tile_px(layer.size_px, spot)) else {
                missing.push(spot);
                continue;
            };
            let corner =
                |x: usize, y: usize| rect.min + egui::vec2(x as f32 / w as f32, y as f32 / h as f32) * rect.size();
            let place = Rect::from_min_max(corner(px.x, px.y), corner(px.x + px.width, px.y + px.height));
            let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            painter.image(texture.id(), place, uv, egui::Color32::WHITE);
        }
        if missing.is_empty() || self.waiting {
            return;
        }
        // The middle of the canvas first, a few at a time, so that they appear as they come.
        let middle = to_px(visible.center());
        missing.sort_by_key(|s| {
            let d = |t: usize, m: usize| (t * TILE + TILE / 2).abs_diff(m);
            d(s.x, middle[0]) + d(s.y, middle[1])
        });
        missing.truncate(6);
        self.waiting = true;
        let request =
            TileRequest { pyramid: pyramid.clone(), look: look.clone(), stamp: self.tile_stamp, spots: missing };
        self.tile_lane.request(request);
    }
}

fn tile_px([w, h]: [usize; 2], spot: Spot) -> Option<PxRect> {
    let (x, y) = (spot.x * TILE, spot.y * TILE);
    (x < w && y < h).then(|| PxRect { x, y, width: TILE.min(w - x), height: TILE.min(h - y) })
}

/// A proof is a continuous picture: no hard pixel edges when it is enlarged.
fn smooth() -> TextureOptions {
    TextureOptions::LINEAR
}
