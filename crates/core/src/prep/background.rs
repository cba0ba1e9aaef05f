//! Taking a uniform background away: find its colour, flood it from the edge of the picture, and
//! give the edge of what stays a soft alpha with the background's colour taken out of it, so
//! that no pale or dark fringe prints on the garment. Or let the garment show through wherever
//! the background's colour is mixed in.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bounds::table;
use crate::color::{LinRgb, Oklab, Rgb8, encode_u16, linear_from_u16, oklab_from_linear};
use crate::raster::{Picture, Rgba16};
use crate::units::Mm;

/// How the background is taken away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BackgroundWay {
    /// What is joined to the picture's edge and of the background's colour goes; islands of the
    /// same colour inside the art stay.
    #[default]
    Flood,
    /// Islands of the background's colour inside the art go as well.
    FloodAndIslands,
    /// Every pixel becomes as see-through as the background's colour is mixed into it: the
    /// garment takes the background's place, in soft tones too.
    ShowThrough,
}

/// Settings of background removal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct BackgroundSettings {
    /// Which pixels go. Default: those joined to the picture's edge.
    pub way: BackgroundWay,
    /// The background's colour. Absent: found along the picture's edge.
    pub color: Option<Rgb8>,
    /// Distance from the background's colour that still counts as background, in OKLab units,
    /// where black to white is 1. Default 0.06, about three just visible steps.
    #[schemars(transform = table::BACKGROUND_TOLERANCE.schema())]
    pub tolerance: f64,
    /// Softness of the new edge on the print, in mm, inwards. Default 0: as soft as the art's.
    #[schemars(transform = table::BACKGROUND_FEATHER.schema())]
    pub feather_mm: Mm,
}

impl Default for BackgroundSettings {
    fn default() -> Self {
        Self {
            way: BackgroundWay::default(),
            color: None,
            tolerance: 0.06,
            feather_mm: Mm::new(0.0).unwrap_or_else(|_| unreachable!()),
        }
    }
}

/// A uniform background as it was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoundBackground {
    /// Its colour.
    pub color: Rgb8,
    /// Share of the picture's edge that has it, 0..=1.
    pub edge_share: f64,
}

/// The colour that most of the picture's edge has; none where less than 60 % of the edge agrees.
pub fn find_background(picture: &Picture, tolerance: f64) -> Option<FoundBackground> {
    edge_color(picture, tolerance, 0.6)
}

/// The commonest colour of the picture's edge; none where less than `least_share` of all edge pixels is solid
/// and within `tolerance` of it.
pub(crate) fn edge_color(picture: &Picture, tolerance: f64, least_share: f64) -> Option<FoundBackground> {
    let (w, h) = (picture.width(), picture.height());
    let pixels = picture.pixels();
    let edge: Vec<Rgba16> = (0..w)
        .flat_map(|x| [pixels.get(x, 0), pixels.get(x, h - 1)])
        .chain((0..h).flat_map(|y| [pixels.get(0, y), pixels.get(w - 1, y)]))
        .collect();
    let solid = edge.iter().copied().filter(|p| p[3] > 0xf000);
    // The fullest cell of a coarse colour cube, then the mean of what lies near its own mean.
    let mut cells = std::collections::BTreeMap::<_, Vec<Rgba16>>::new();
    for p in solid.clone() {
        cells.entry((p[0] >> 12, p[1] >> 12, p[2] >> 12)).or_default().push(p);
    }
    let (_, fullest) = cells.into_iter().max_by_key(|(_, list)| list.len())?;
    let centre = oklab_from_linear(mean(&fullest));
    let near: Vec<Rgba16> = solid.filter(|p| distance(oklab(p), centre) <= tolerance as f32).collect();
    let share = near.len() as f64 / edge.len() as f64;
    (share >= least_share).then(|| FoundBackground { color: Rgb8::from_linear(mean(&near)), edge_share: share })
}

fn mean(pixels: &[Rgba16]) -> LinRgb {
    let mut sum = [0.0_f64; 3];
    for p in pixels {
        for (s, v) in sum.iter_mut().zip(linear_from_u16(p)) {
            *s += f64::from(v);
        }
    }
    sum.map(|s| (s / pixels.len().max(1) as f64) as f32)
}

fn oklab(p: &Rgba16) -> Oklab {
    oklab_from_linear(linear_from_u16(p))
}

fn distance(a: Oklab, b: Oklab) -> f32 {
    ((a.l - b.l).powi(2) + (a.a - b.a).powi(2) + (a.b - b.b).powi(2)).sqrt()
}

/// Which pixels have the background's colour (or are clear already).
pub(crate) fn alike(picture: &Picture, color: Rgb8, tolerance: f64) -> Vec<bool> {
    let centre = oklab_from_linear(color.linear());
    let mut mask = vec![false; picture.width() * picture.height()];
    mask.par_chunks_mut(1 << 14).zip(picture.pixels().data().par_chunks(1 << 14)).for_each(|(mask, pixels)| {
        // Backgrounds are long runs of one colour: judge each run once.
        let mut last = ([0, 0, 0, 0], true);
        for (m, p) in mask.iter_mut().zip(pixels) {
            if *p != last.0 {
                last = (*p, p[3] == 0 || distance(oklab(p), centre) <= tolerance as f32);
            }
            *m = last.1;
        }
    });
    mask
}

/// Takes the background out of `picture`; `feather_px` is the feather in its pixels. Returns
/// whether there was a background to take.
pub(super) fn remove(picture: &mut Picture, settings: &BackgroundSettings, feather_px: f64) -> bool {
    let found = settings.color.or_else(|| find_background(picture, settings.tolerance).map(|f| f.color));
    let Some(color) = found else { return false };
    if settings.way == BackgroundWay::ShowThrough {
        show_through(picture, color.linear());
        return true;
    }
    let (w, h) = (picture.width(), picture.height());
    let like = alike(picture, color, settings.tolerance);
    let gone = if settings.way == BackgroundWay::FloodAndIslands { like } else { flood(&like, w, h) };
    soften(picture, &gone, color.linear(), feather_px);
    true
}

/// The pixels of `like` that are joined, side by side, to the edge of the picture.
pub(crate) fn flood(like: &[bool], w: usize, h: usize) -> Vec<bool> {
    let mut gone = vec![false; like.len()];
    let mut open: Vec<usize> = (0..w)
        .flat_map(|x| [x, (h - 1) * w + x])
        .chain((0..h).flat_map(|y| [y * w, y * w + w - 1]))
        .filter(|&at| like[at])
        .collect();
    while let Some(seed) = open.pop() {
        if gone[seed] {
            continue;
        }
        // Fill the run of the row, then look above and below it.
        let (row, x) = (seed / w * w, seed % w);
        let free = |at: usize, gone: &[bool]| like[at] && !gone[at];
        let left = (0..=x).rev().take_while(|&x| free(row + x, &gone)).last().unwrap_or(x);
        let right = (x..w).take_while(|&x| free(row + x, &gone)).last().unwrap_or(x);
        gone[row + left..=row + right].fill(true);
        for next in [row.checked_sub(w), (row + w < like.len()).then_some(row + w)].into_iter().flatten() {
            let mut inside = false;
            for x in left..=right {
                let can = free(next + x, &gone);
                if can && !inside {
                    open.push(next + x);
                }
                inside = can;
            }
        }
    }
    gone
}

/// Pixels at the edge of art that a picture's own anti-aliasing takes.
const SEAM: usize = 2;

/// Clears what is gone. Pixels within the seam of it are mixtures a F + (1-a) B of the art's own
/// colour F, taken from the next pixels inwards, and the background B: alpha a is found in linear
/// light, and the pixel becomes F. The feather then fades alpha inwards.
fn soften(picture: &mut Picture, gone: &[bool], back: LinRgb, feather_px: f64) {
    let (w, h) = (picture.width(), picture.height());
    let reach = SEAM + feather_px.ceil() as usize;
    let depth = depths(gone, w, h, reach.min(u8::MAX as usize - 1) as u8);
    let pixels = picture.pixels_mut();
    // From the inside out, so that F travels outwards through the seam.
    for level in (1..=SEAM as u8).rev() {
        let ring: Vec<usize> = (0..depth.len()).into_par_iter().filter(|&at| depth[at] == level).collect();
        let made: Vec<(usize, Rgba16)> = ring
            .par_iter()
            .map(|&at| {
                let (x, y) = (at % w, at / w);
                let own = pixels.data()[at];
                let mut sum = [0.0_f32; 3];
                let mut count = 0.0;
                for ny in y.saturating_sub(1)..=(y + 1).min(h - 1) {
                    for nx in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                        if depth[ny * w + nx] > level {
                            let v = linear_from_u16(&pixels.get(nx, ny));
                            sum.iter_mut().zip(v).for_each(|(s, v)| *s += v);
                            count += 1.0;
                        }
                    }
                }
                if count == 0.0 {
                    // A line too thin to have an inside: as clear as it may be without leaving the
                    // colours there are.
                    return (at, unmixed(own, back));
                }
                let front = sum.map(|s| s / count);
                let c = linear_from_u16(&own);
                let (mut along, mut length) = (0.0, 0.0);
                for i in 0..3 {
                    along += (c[i] - back[i]) * (front[i] - back[i]);
                    length += (front[i] - back[i]).powi(2);
                }
                let alpha = if length > 1e-5 { (along / length).clamp(0.0, 1.0) } else { 1.0 };
                // Where the pixel is not such a mixture (a contour line, say) it is art of its own.
                let off: f32 = (0..3).map(|i| (alpha * front[i] + (1.0 - alpha) * back[i] - c[i]).powi(2)).sum();
                if off > 0.05 * length.max(0.02) {
                    return (at, own);
                }
                let rgb = encode_u16(front);
                (at, [rgb[0], rgb[1], rgb[2], (alpha * f32::from(own[3]) + 0.5) as u16])
            })
            .collect();
        for (at, pixel) in made {
            pixels.data_mut()[at] = pixel;
        }
    }
    pixels.data_mut().par_iter_mut().zip(&depth).for_each(|(p, &d)| {
        if d == 0 {
            *p = [0; 4];
        } else if feather_px > 0.0 {
            let t = ((f64::from(d) - 0.5) / (feather_px + 0.5)).min(1.0);
            p[3] = (f64::from(p[3]) * t * t * (3.0 - 2.0 * t) + 0.5) as u16;
        }
    });
}

/// Distance of each pixel to what is gone, in steps to any of the eight neighbours, up to
/// `most` + 1: 0 gone, 1 beside it.
fn depths(gone: &[bool], w: usize, h: usize, most: u8) -> Vec<u8> {
    let mut depth: Vec<u8> = gone.iter().map(|&g| if g { 0 } else { most + 1 }).collect();
    let mut ring: Vec<usize> = (0..gone.len()).filter(|&at| gone[at]).collect();
    for level in 1..=most {
        let mut next = Vec::new();
        for &at in &ring {
            let (x, y) = (at % w, at / w);
            for ny in y.saturating_sub(1)..=(y + 1).min(h - 1) {
                for nx in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                    let to = ny * w + nx;
                    if depth[to] > level {
                        depth[to] = level;
                        next.push(to);
                    }
                }
            }
        }
        ring = next;
    }
    depth
}

/// Every pixel as the clearest one that gives the same colour over the background.
fn show_through(picture: &mut Picture, back: LinRgb) {
    picture.pixels_mut().apply(|p| unmixed(p, back));
}

/// The smallest alpha a for which (c - (1-a) B) / a is a colour, and that colour.
fn unmixed(pixel: Rgba16, back: LinRgb) -> Rgba16 {
    let c = linear_from_u16(&pixel);
    let alpha = (0..3)
        .map(|i| if c[i] >= back[i] { (c[i] - back[i]) / (1.0 - back[i]).max(1e-6) } else { 1.0 - c[i] / back[i] })
        .fold(0.0_f32, f32::max)
        .min(1.0);
    if alpha <= 0.5 / 65535.0 {
        return [0; 4];
    }
    let rgb = encode_u16(std::array::from_fn(|i| (c[i] - (1.0 - alpha) * back[i]) / alpha));
    [rgb[0], rgb[1], rgb[2], (alpha * f32::from(pixel[3]) + 0.5) as u16]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    /// A disc of one colour on another, anti-aliased in linear light by 8 x 8 samples.
    fn disc(front: LinRgb, back: LinRgb, hole: bool) -> (Picture, Vec<f32>) {
        let inside = |x: f64, y: f64| {
            let r = ((x - 32.0).powi(2) + (y - 32.0).powi(2)).sqrt();
            r < 20.3 && !(hole && r < 6.2)
        };
        let share = Plane::from_fn(64, 64, |x, y| {
            let hits = (0..64)
                .filter(|s| inside(x as f64 + (s % 8) as f64 / 8.0 + 0.06, y as f64 + (s / 8) as f64 / 8.0 + 0.06))
                .count();
            hits as f32 / 64.0
        });
        let picture = Picture::new(share.map(|a| {
            let rgb = encode_u16(std::array::from_fn(|i| a * front[i] + (1.0 - a) * back[i]));
            [rgb[0], rgb[1], rgb[2], 65535]
        }));
        (picture, share.into_vec())
    }

    const ROSE: LinRgb = [0.5, 0.06, 0.1];

    #[test]
    fn the_edge_gets_its_true_alpha_and_keeps_no_background() {
        for back in [[0.9, 0.9, 0.9], [0.01, 0.01, 0.01], [0.1, 0.5, 0.12]] {
            let (mut picture, share) = disc(ROSE, back, false);
            assert!(remove(&mut picture, &BackgroundSettings { tolerance: 0.02, ..Default::default() }, 0.0));
            let rose = encode_u16(ROSE);
            for (p, share) in picture.pixels().data().iter().zip(share) {
                let alpha = f32::from(p[3]) / 65535.0;
                // Within the tolerance of the background, faint edge pixels count as gone.
                assert!((alpha - share).abs() < 0.12, "alpha {alpha} for {share} on {back:?}");
                if p[3] > 2000 {
                    for c in 0..3 {
                        assert!(p[c].abs_diff(rose[c]) < 600, "{p:?} on {back:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn islands_stay_or_go_as_told() {
        let white = [0.95, 0.95, 0.95];
        let (art, _) = disc(ROSE, white, true);
        for (way, clear) in [(BackgroundWay::Flood, false), (BackgroundWay::FloodAndIslands, true)] {
            let mut picture = art.clone();
            remove(&mut picture, &BackgroundSettings { way, ..Default::default() }, 0.0);
            assert_eq!(picture.pixels().get(32, 32)[3] == 0, clear, "{way:?}");
            assert_eq!(picture.pixels().get(2, 2)[3], 0);
            assert_eq!(picture.pixels().get(32, 18)[3], 65535);
        }
    }

    #[test]
    fn shown_through_the_same_garment_nothing_changes() {
        let back = [0.02, 0.03, 0.2];
        let art = Picture::new(Plane::from_fn(40, 40, |x, y| {
            let rgb = encode_u16([x as f32 / 39.0, y as f32 / 39.0, 0.3]);
            [rgb[0], rgb[1], rgb[2], 65535]
        }));
        let mut picture = art.clone();
        show_through(&mut picture, back);
        for (p, want) in picture.pixels().data().iter().zip(art.pixels().data()) {
            let (c, a) = (linear_from_u16(p), f32::from(p[3]) / 65535.0);
            let over = encode_u16(std::array::from_fn(|i| a * c[i] + (1.0 - a) * back[i]));
            for i in 0..3 {
                assert!(over[i].abs_diff(want[i]) < 40, "{over:?} {want:?}");
            }
        }
    }

    #[test]
    fn a_picture_without_a_plain_edge_is_left_alone() {
        let art = Picture::new(Plane::from_fn(50, 50, |x, y| [(x * 1300) as u16, (y * 1300) as u16, 9000, 65535]));
        assert_eq!(find_background(&art, 0.06), None);
        let mut same = art.clone();
        assert!(!remove(&mut same, &BackgroundSettings::default(), 0.0));
        assert_eq!(same, art);
    }

    #[test]
    fn feather_fades_inwards() {
        let (mut picture, _) = disc(ROSE, [0.9; 3], false);
        remove(&mut picture, &BackgroundSettings::default(), 5.0);
        let row: Vec<u16> = (12..33).map(|x| picture.pixels().get(x, 32)[3]).collect();
        assert!(row.windows(2).all(|w| w[0] <= w[1]), "{row:?}");
        assert!(row[1] < 30000 && row[20] == 65535, "{row:?}");
    }
}
