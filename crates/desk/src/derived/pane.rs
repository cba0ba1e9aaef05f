//! Pictures of a look on the table: one at proxy size that is always there, and tiles of the full
//! size where the canvas shows more than the proxy holds. Both are drawn on lanes; what is on the
//! screen stays until its successor is ready.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;
use std::time::Duration;

use egui::{Color32, ColorImage, Context, Painter, Rect, TextureHandle, TextureOptions, pos2};
use strikeoff_core::job::Level;

use super::slot::{Derive, Slot};
use crate::background::{Doing, Manner, drop_in_background};
use crate::render::{Dots, Look, PxRect, Pyramid, Spot, View};
use crate::session::{Same, Value};

/// All of a texture.
const UV: Rect = Rect { min: pos2(0.0, 0.0), max: pos2(1.0, 1.0) };
/// Pixels of a tile's side.
const TILE: usize = 512;
/// Most tiles kept on the graphics card for one pane: 64 MB.
const KEPT: usize = 64;

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

/// What the base picture follows from.
type BaseKey = (Same<Level>, Value<Look>);
/// What tiles follow from.
type TilesKey = (Same<Pyramid>, Value<Look>);

/// Tiles that are ready to draw.
type Tiles = Vec<(Spot, TextureHandle)>;

/// The picture that is always there.
struct Base {
    texture: TextureHandle,
    fingerprint: u64,
}

/// One look on the table.
pub struct Pane {
    name: &'static str,
    ctx: Context,
    base: Slot<BaseKey, Base>,
    look: Option<Value<Look>>,
    fresh: Slot<(TilesKey, Vec<Spot>), Tiles, Option<Dots>>,
    tiles: HashMap<Spot, TextureHandle>,
    /// Oldest first.
    order: VecDeque<Spot>,
    tiles_of: Option<TilesKey>,
}

impl Pane {
    /// Starts its two lanes.
    pub fn new(ctx: &Context, name: &'static str) -> Self {
        Self {
            name,
            ctx: ctx.clone(),
            base: Slot::new(&format!("{name} picture"), ctx, Manner::FinishFirst),
            look: None,
            fresh: Slot::new(&format!("{name} tiles"), ctx, Manner::FinishFirst),
            tiles: HashMap::new(),
            order: VecDeque::new(),
            tiles_of: None,
        }
    }

    /// The look that is wanted.
    pub fn look(&self) -> Option<&Value<Look>> {
        self.look.as_ref()
    }

    /// Wants this look, drawn from the proxy's level that holds about `canvas_px` pixels across.
    pub fn want(&mut self, proxy: &Arc<Pyramid>, look: Look, canvas_px: f32) {
        let (at, level) = proxy.for_width(canvas_px);
        let look = match &self.look {
            Some(same) if **same == look => same.clone(),
            _ => Value::new(look),
        };
        self.look = Some(look.clone());
        let (ctx, name) = (&self.ctx, self.name);
        self.base.want((Same(level.clone()), look.clone()), || {
            let (proxy, ctx) = (proxy.clone(), ctx.clone());
            move |(), _| {
                let [width, height] = proxy.levels[at].size_px();
                let image = proxy.draw(at, &look, PxRect { x: 0, y: 0, width, height });
                let fingerprint = fingerprint(&image);
                Some(Ok(Base { texture: ctx.load_texture(format!("{name} base"), image, smooth()), fingerprint }))
            }
        });
    }

    /// Has missing tiles drawn, a few at a time, so that they appear as they come.
    pub fn want_tiles(&mut self, pyramid: &Arc<Pyramid>, mut missing: Vec<Spot>) {
        let Some(look) = self.look.clone().filter(|_| self.is_current()) else { return };
        let of = (Same(pyramid.clone()), look);
        if self.tiles_of.as_ref() != Some(&of) {
            self.drop_tiles();
            self.tiles_of = Some(of.clone());
        }
        if missing.is_empty() || !self.fresh.is_idle() {
            return;
        }
        missing.truncate(6);
        let (ctx, name) = (&self.ctx, self.name);
        self.fresh.want((of.clone(), missing.clone()), || {
            let ctx = ctx.clone();
            move |grid, _| {
                let load = |image| ctx.load_texture(format!("{name} tile"), image, smooth());
                let drawn = missing.iter().filter_map(|&spot| Some((spot, load(draw_tile(&of, grid, spot)?))));
                Some(Ok(drawn.collect()))
            }
        });
    }

    /// Whether the picture shown is the one last requested.
    pub fn is_current(&self) -> bool {
        self.base.is_current()
    }

    /// Time that the last base picture took.
    pub fn took(&self) -> Duration {
        self.base.took()
    }

    /// A number for the base picture's pixels.
    pub fn fingerprint(&self) -> u64 {
        self.base.latest().map_or(0, |base| base.fingerprint)
    }

    /// Draws the look into `rect`, which holds the whole print, clipped to `clip`. `full` gives sharper
    /// pixels where they help. Gives the tiles in sight that are missing, the middle of the canvas first.
    pub fn paint(&self, painter: &Painter, rect: Rect, clip: Rect, full: Option<&Arc<Pyramid>>) -> Vec<Spot> {
        let painter = painter.with_clip_rect(painter.clip_rect().intersect(clip));
        if let Some(base) = self.base.latest() {
            painter.image(base.texture.id(), rect, UV, Color32::WHITE);
        }
        let Some((proxy, look)) = self.base.latest_key().filter(|_| self.is_current()) else { return Vec::new() };
        let Some(pyramid) = full else { return Vec::new() };
        let on_canvas_px = rect.width() * painter.pixels_per_point();
        if look.view != View::Dots && on_canvas_px <= proxy.screens.width as f32 * 1.05 {
            return Vec::new();
        }
        self.paint_tiles(&painter, rect, pyramid, look, on_canvas_px)
    }

    fn paint_tiles(
        &self,
        painter: &Painter,
        rect: Rect,
        pyramid: &Arc<Pyramid>,
        look: &Value<Look>,
        canvas_px: f32,
    ) -> Vec<Spot> {
        let ours = self.tiles_of.as_ref().is_some_and(|(p, l)| Arc::ptr_eq(&p.0, pyramid) && l == look);
        let finest = &pyramid.levels[0].screens;
        let ppi = finest.ppi.get() * f64::from(canvas_px) / finest.width as f64;
        let Some(at) = Layer::place_for(pyramid, look, ppi) else { return Vec::new() };
        let Some(layer) = Layer::of(pyramid, look, at) else { return Vec::new() };
        let [w, h] = layer.size_px;
        let visible = painter.clip_rect().intersect(rect);
        if !visible.is_positive() {
            return Vec::new();
        }
        let to_px = |at: egui::Pos2| {
            let part = (at - rect.min) / rect.size();
            [(part.x * w as f32).max(0.0) as usize, (part.y * h as f32).max(0.0) as usize]
        };
        let (from, to) = (to_px(visible.min), to_px(visible.max));
        let in_sight = (from[1] / TILE..=(to[1].min(h - 1)) / TILE)
            .flat_map(|y| (from[0] / TILE..=(to[0].min(w - 1)) / TILE).map(move |x| Spot { level: at, x, y }));
        let mut missing = Vec::new();
        for spot in in_sight {
            let texture = self.tiles.get(&spot).filter(|_| ours);
            let (Some(texture), Some(px)) = (texture, tile_px(layer.size_px, spot)) else {
                missing.push(spot);
                continue;
            };
            let corner =
                |x: usize, y: usize| rect.min + egui::vec2(x as f32 / w as f32, y as f32 / h as f32) * rect.size();
            let place = Rect::from_min_max(corner(px.x, px.y), corner(px.x + px.width, px.y + px.height));
            painter.image(texture.id(), place, UV, Color32::WHITE);
        }
        let middle = to_px(visible.center());
        missing.sort_by_key(|s| {
            let d = |t: usize, m: usize| (t * TILE + TILE / 2).abs_diff(m);
            d(s.x, middle[0]) + d(s.y, middle[1])
        });
        missing
    }

    fn drop_tiles(&mut self) {
        self.fresh.clear();
        self.tiles.clear();
        self.order.clear();
        if let Some(of) = self.tiles_of.take() {
            drop_in_background(of);
        }
    }

    fn take_tiles(&mut self) {
        let Some(((of, _), tiles)) = self.fresh.take() else { return };
        self.fresh.drop_wanted();
        if self.tiles_of.as_ref() != Some(&of) {
            return;
        }
        for (spot, texture) in tiles {
            self.tiles.insert(spot, texture);
            self.order.push_back(spot);
        }
        while self.order.len() > KEPT
            && let Some(oldest) = self.order.pop_front()
        {
            self.tiles.remove(&oldest);
        }
    }
}

impl Derive for Pane {
    fn poll(&mut self) -> bool {
        let news = self.base.poll() | self.fresh.poll();
        self.take_tiles();
        news
    }

    fn is_idle(&self) -> bool {
        self.base.is_idle() && self.fresh.is_idle()
    }

    fn cancel(&mut self) {
        self.base.cancel();
        self.fresh.cancel();
    }

    fn clear(&mut self) {
        self.base.clear();
        self.look = None;
        self.drop_tiles();
    }

    fn doing(&self) -> Option<Doing> {
        self.base.doing().or_else(|| self.fresh.doing())
    }
}

/// Draws a tile, with the dot grid kept for the next one.
fn draw_tile((pyramid, look): &TilesKey, grid: &mut Option<Dots>, spot: Spot) -> Option<ColorImage> {
    let layer = Layer::of(pyramid, look, spot.level)?;
    let window = tile_px(layer.size_px, spot)?;
    if !layer.dots {
        return Some(pyramid.draw(spot.level, look, window));
    }
    let fits = grid.as_ref().is_some_and(|grid| grid.fits(layer.level, look));
    let grid = match grid {
        Some(grid) if fits => grid,
        _ => grid.insert(Dots::new(layer.level, look)),
    };
    Some(grid.draw(layer.level, look, window, spot.level))
}

/// Every 61st pixel is enough to tell pictures apart.
fn fingerprint(image: &ColorImage) -> u64 {
    image
        .pixels
        .iter()
        .step_by(61)
        .fold(17, |sum, p| (sum ^ u64::from(u32::from_le_bytes(p.to_array()))).wrapping_mul(0x0100_0000_01b3))
}

fn tile_px([w, h]: [usize; 2], spot: Spot) -> Option<PxRect> {
    let (x, y) = (spot.x * TILE, spot.y * TILE);
    (x < w && y < h).then(|| PxRect { x, y, width: TILE.min(w - x), height: TILE.min(h - y) })
}

/// A proof is a continuous picture: no hard pixel edges when it is enlarged.
fn smooth() -> TextureOptions {
    TextureOptions::LINEAR
}
