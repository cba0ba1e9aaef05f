//! Stray specks: small or faint islands of art in an otherwise clear or plain background, left
//! over from scanning, cutting out or compression. On press they print as smudges, so they are
//! shown, with place and size on the print, and can be taken away.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::background::{alike, find_background};
use crate::bounds::table;
use crate::raster::Picture;
use crate::units::Mm;

/// What counts as a stray speck.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct SpeckSettings {
    /// Widest speck on the print, in mm. Default 0.5: about one halftone dot of a 45 lpi film.
    #[schemars(transform = table::SPECK.schema())]
    pub widest_mm: Mm,
    /// Islands whose strongest pixel covers less than this count up to six times that width.
    /// Default 0.15, tones that print broken at usual rulings.
    #[schemars(transform = table::SPECK_FAINT.schema())]
    pub faint: f64,
}

impl Default for SpeckSettings {
    fn default() -> Self {
        Self { widest_mm: Mm::new(0.5).unwrap_or_else(|_| unreachable!()), faint: 0.15 }
    }
}

/// One speck, on the print.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Speck {
    /// Its middle from the left edge of the print.
    pub x_mm: f64,
    /// From the top edge.
    pub y_mm: f64,
    /// Its longer side.
    pub size_mm: f64,
    /// Strongest coverage or difference from the background, 0..=1.
    pub strength: f64,
}

struct Island {
    pixels: Vec<usize>,
    left: usize,
    right: usize,
    top: usize,
    bottom: usize,
    strength: f64,
}

/// Finds specks in a picture of resolution `ppi`. A picture with neither a clear nor a
/// plain background has none.
pub(super) fn find_specks(picture: &Picture, ppi: f64, settings: &SpeckSettings) -> Vec<Speck> {
    let mm = 25.4 / ppi;
    islands(picture, ppi, settings)
        .iter()
        .map(|i| Speck {
            x_mm: (i.left + i.right + 1) as f64 / 2.0 * mm,
            y_mm: (i.top + i.bottom + 1) as f64 / 2.0 * mm,
            size_mm: (i.right - i.left).max(i.bottom - i.top) as f64 * mm + mm,
            strength: i.strength,
        })
        .collect()
}

/// Takes the specks away: clear where the background is clear, else the background's colour.
pub(super) fn remove_specks(picture: &mut Picture, ppi: f64, settings: &SpeckSettings) {
    let paper = find_background(picture, PAPER).map(|f| {
        let rgb = crate::color::encode_u16(f.color.linear());
        [rgb[0], rgb[1], rgb[2], u16::MAX]
    });
    for island in islands(picture, ppi, settings) {
        for at in island.pixels {
            picture.pixels_mut().data_mut()[at] = paper.unwrap_or([0; 4]);
        }
    }
}

/// Distance in OKLab within which a pixel is plain background.
const PAPER: f64 = 0.02;
/// Islands weaker than this all over print nothing: the smallest dot that a mesh holds is 3 to 5 %
/// (common practice, no source), and enlarging leaves ripples of up to about that on flat paper.
const PRINTS: f64 = 0.05;
/// Alpha under which nothing prints: half a percent.
const CLEAR: u16 = 328;

fn islands(picture: &Picture, ppi: f64, settings: &SpeckSettings) -> Vec<Island> {
    let (w, h) = (picture.width(), picture.height());
    let paper = find_background(picture, PAPER);
    let mut bare = match paper {
        Some(found) => alike(picture, found.color, PAPER),
        None => vec![false; w * h],
    };
    for (b, p) in bare.iter_mut().zip(picture.pixels().data()) {
        *b |= p[3] < CLEAR;
    }
    // No background to speak of: what looks like an island would be part of the picture.
    if bare.iter().filter(|&&b| b).count() * 20 < w * h {
        return Vec::new();
    }
    let widest = settings.widest_mm.px(ppi).round().max(1.0);
    let faint_widest = 6.0 * widest;
    let strength = |at: usize| {
        let p = picture.pixels().data()[at];
        let alpha = f64::from(p[3]) / 65535.0;
        let differs = paper.map_or(1.0, |found| {
            let back = crate::color::encode_u16(found.color.linear());
            f64::from((0..3).map(|c| p[c].abs_diff(back[c])).max().unwrap_or(0)) / 65535.0
        });
        alpha * differs
    };
    let mut seen = bare;
    let mut found = Vec::new();
    for seed in 0..w * h {
        if seen[seed] {
            continue;
        }
        seen[seed] = true;
        let mut island = Island { pixels: Vec::new(), left: w, right: 0, top: h, bottom: 0, strength: 0.0 };
        let mut open = vec![seed];
        let mut small = true;
        while let Some(at) = open.pop() {
            let (x, y) = (at % w, at / w);
            island.left = island.left.min(x);
            island.right = island.right.max(x);
            island.top = island.top.min(y);
            island.bottom = island.bottom.max(y);
            small &= ((island.right - island.left).max(island.bottom - island.top) as f64) < faint_widest;
            if small {
                island.strength = island.strength.max(strength(at));
                island.pixels.push(at);
            }
            for ny in y.saturating_sub(1)..=(y + 1).min(h - 1) {
                for nx in x.saturating_sub(1)..=(x + 1).min(w - 1) {
                    let next = ny * w + nx;
                    if !seen[next] {
                        seen[next] = true;
                        open.push(next);
                    }
                }
            }
        }
        let side = ((island.right - island.left).max(island.bottom - island.top) + 1) as f64;
        if small
            && island.strength >= PRINTS
            && (side <= widest || (island.strength < settings.faint && side <= faint_widest))
        {
            found.push(island);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    /// A big disc, a two-pixel speck, a faint smudge and a strong small square.
    fn art(clear: bool) -> Picture {
        let paper = if clear { [0; 4] } else { [62000, 61000, 60000, 65535] };
        Picture::new(Plane::from_fn(200, 100, |x, y| {
            let disc = (x as f64 - 60.0).hypot(y as f64 - 50.0) < 30.0;
            if disc || (150..160).contains(&x) && (20..30).contains(&y) {
                [9000, 9000, 40000, 65535]
            } else if (150..152).contains(&x) && y == 70 {
                [1000, 1000, 1000, 65535]
            } else if (120..128).contains(&x) && (80..86).contains(&y) {
                if clear { [0, 0, 0, 5000] } else { [57000, 56000, 55000, 65535] }
            } else {
                paper
            }
        }))
    }

    #[test]
    fn specks_and_faint_smudges_are_found_in_place_and_art_is_kept() {
        for clear in [true, false] {
            let mut picture = art(clear);
            // 100 ppi: 0.254 mm a pixel; 0.5 mm is two pixels.
            let settings = SpeckSettings::default();
            let specks = find_specks(&picture, 100.0, &settings);
            assert_eq!(specks.len(), 2, "{specks:?}");
            let dot = specks.iter().find(|s| s.size_mm < 0.6).unwrap();
            assert!((dot.x_mm - 151.0 * 0.254).abs() < 1e-9 && (dot.y_mm - 70.5 * 0.254).abs() < 1e-9);
            let smudge = specks.iter().find(|s| s.size_mm > 0.6).unwrap();
            assert!(smudge.strength < 0.1 && (smudge.size_mm - 8.0 * 0.254).abs() < 1e-9);
            remove_specks(&mut picture, 100.0, &settings);
            assert!(find_specks(&picture, 100.0, &settings).is_empty());
            assert_eq!(picture.pixels().get(60, 50), [9000, 9000, 40000, 65535]);
            assert_eq!(picture.pixels().get(155, 25), [9000, 9000, 40000, 65535]);
        }
    }

    #[test]
    fn a_picture_that_fills_its_frame_has_no_specks() {
        let picture = Picture::new(Plane::from_fn(80, 80, |x, y| {
            let v = ((x * 37 + y * 91) % 256 * 257) as u16;
            [v, v, v, 65535]
        }));
        assert!(find_specks(&picture, 100.0, &SpeckSettings::default()).is_empty());
    }
}
