//! Flat SVG drawings, and pictures of them.

use std::path::{Path, PathBuf};

use image::{RgbaImage, imageops};
use resvg::{tiny_skia, usvg};

pub struct Drawing {
    /// Without smoothing.
    pub tree: usvg::Tree,
    smooth: usvg::Tree,
    /// Drawing units to pixels.
    pub scale: f32,
    pub width: u32,
    pub height: u32,
}

/// Every SVG below a folder, in an order that mixes subjects and is the same each time.
pub fn svgs(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(at) = open.pop() {
        for entry in std::fs::read_dir(at).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|e| e == "svg") {
                found.push(path);
            }
        }
    }
    found.sort_by_key(|p| mix(&p.file_name().unwrap_or_default().to_string_lossy()));
    found.dedup_by_key(|p| p.file_name().unwrap_or_default().to_owned());
    found
}

fn mix(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
}

/// Options under which nothing is smoothed, or everything is.
pub fn parse(svg: &[u8], sharp: bool) -> Option<usvg::Tree> {
    let shape_rendering =
        if sharp { usvg::ShapeRendering::CrispEdges } else { usvg::ShapeRendering::GeometricPrecision };
    usvg::Tree::from_data(svg, &usvg::Options { shape_rendering, ..Default::default() }).ok()
}

impl Drawing {
    /// A drawing if it is flat and has some content.
    pub fn open(path: &Path) -> Option<Self> {
        let data = std::fs::read(path).ok()?;
        // Some ask for rendering without smoothing, which is not what is measured.
        if data.len() > 400_000 || data.windows(15).any(|w| w == b"shape-rendering") {
            return None;
        }
        let tree = parse(&data, false)?;
        if !flat(tree.root()) || tree.root().children().is_empty() {
            return None;
        }
        let size = tree.size();
        let longest = 200.0 + (mix(&path.file_name().unwrap_or_default().to_string_lossy()) % 320) as f32;
        let scale = longest / size.width().max(size.height());
        let (width, height) = ((size.width() * scale).floor() as u32, (size.height() * scale).floor() as u32);
        if width.min(height) < 60 {
            return None;
        }
        let sharp = parse(&data, true)?;
        Some(Self { tree: sharp, smooth: tree, scale, width, height })
    }

    /// Whether there is something to see, and not hundreds of tints: 2 to 24 colours of 30 pixels each.
    pub fn has_few_colours(&self) -> bool {
        let mut colours = std::collections::HashMap::new();
        self.picture(1).pixels().for_each(|p| *colours.entry(p.0).or_insert(0) += 1);
        (2..=24).contains(&colours.values().filter(|&&c| c >= 30).count())
    }

    /// The drawing as art: drawn `times` as large by resvg and averaged. At 1 it is resvg's own smoothing,
    /// which knows four heights within a pixel, so that a level edge may be an eighth of a pixel off.
    pub fn picture(&self, times: u32) -> RgbaImage {
        let (w, h) = (self.width as usize, self.height as usize);
        let mut map = tiny_skia::Pixmap::new(self.width * times, self.height * times).expect("a size");
        let scale = self.scale * times as f32;
        resvg::render(&self.smooth, tiny_skia::Transform::from_scale(scale, scale), &mut map.as_mut());
        let side = times as usize;
        let mut sums = vec![[0_u32; 4]; w * h];
        for (i, p) in map.pixels().iter().enumerate() {
            let (x, y) = (i % (w * side) / side, i / (w * side) / side);
            let sum = &mut sums[y * w + x];
            for (s, v) in sum.iter_mut().zip([p.red(), p.green(), p.blue(), p.alpha()]) {
                *s += u32::from(v);
            }
        }
        let area = times * times;
        let data = sums.iter().flat_map(|&[r, g, b, a]| {
            let plain = |v: u32| (v * 255 + a / 2).checked_div(a).unwrap_or(0).min(255) as u8;
            [plain(r), plain(g), plain(b), ((a + area / 2) / area) as u8]
        });
        RgbaImage::from_raw(self.width, self.height, data.collect()).expect("the size fits")
    }
}

fn flat(group: &usvg::Group) -> bool {
    let plain = |paint: &usvg::Paint| matches!(paint, usvg::Paint::Color(_));
    let opaque = |o: usvg::Opacity| o.get() > 0.999;
    opaque(group.opacity())
        && group.filters().is_empty()
        && group.mask().is_none()
        && group.blend_mode() == usvg::BlendMode::Normal
        && group.children().iter().all(|node| match node {
            usvg::Node::Group(g) => flat(g),
            usvg::Node::Path(p) => {
                p.fill().is_none_or(|f| plain(f.paint()) && opaque(f.opacity()))
                    && p.stroke().is_none_or(|s| plain(s.paint()) && opaque(s.opacity()))
            }
            usvg::Node::Image(_) | usvg::Node::Text(_) => false,
        })
}

/// On white, through JPEG with halved colour and back.
pub fn through_jpeg(art: &RgbaImage, quality: u8) -> RgbaImage {
    let mut white = RgbaImage::from_pixel(art.width(), art.height(), image::Rgba([255; 4]));
    imageops::overlay(&mut white, art, 0, 0);
    let rgb: Vec<u8> = white.pixels().flat_map(|p| [p.0[0], p.0[1], p.0[2]]).collect();
    let mut jpeg = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut jpeg, quality);
    encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::F_2_2);
    // As the reference library does; the other way moves colour by half a pixel.
    encoder.set_chroma_subsampling_method(jpeg_encoder::ChromaSubsamplingMethod::Average);
    encoder
        .encode(&rgb, art.width() as u16, art.height() as u16, jpeg_encoder::ColorType::Rgb)
        .expect("JPEG is written");
    image::load_from_memory_with_format(&jpeg, image::ImageFormat::Jpeg).expect("JPEG is read").to_rgba8()
}

/// The art enlarged pixel by pixel, and the redraw at that size beside it.
pub fn beside(art: &RgbaImage, svg: &str) -> RgbaImage {
    let times = (1600 / art.width().max(art.height())).clamp(2, 8);
    let (w, h) = (art.width() * times, art.height() * times);
    let mut both = RgbaImage::from_pixel(2 * w + 8, h, image::Rgba([200, 220, 200, 255]));
    imageops::overlay(&mut both, &imageops::resize(art, w, h, imageops::FilterType::Nearest), 0, 0);
    let tree = parse(svg.as_bytes(), false).expect("a redraw is SVG");
    let mut map = tiny_skia::Pixmap::new(w, h).expect("a size");
    resvg::render(&tree, tiny_skia::Transform::from_scale(times as f32, times as f32), &mut map.as_mut());
    let data = map.pixels().iter().flat_map(|p| {
        let c = p.demultiply();
        [c.red(), c.green(), c.blue(), c.alpha()]
    });
    let drawn = RgbaImage::from_raw(w, h, data.collect()).expect("the size fits");
    imageops::overlay(&mut both, &drawn, i64::from(w) + 8, 0);
    both
}
