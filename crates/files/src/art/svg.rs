//! SVG through `resvg`, drawn large enough for any usual print. Nothing outside the file is read
//! but the system's fonts: no other files, no network. Missing fonts are named.

use std::sync::{Arc, Mutex, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Error, FontFamily, FontResolver, ImageHrefResolver, Options, Tree, fontdb};
use strikeoff_core::units::Ppi;

use super::bounded::{VECTOR_LONGEST_PX, bounded};
use super::error::{Fault, check_size};
use super::raw::{Alpha, Model, Raw, Samples, Tagged};
use super::{ReadOptions, resolution};

/// Deepest nesting of elements: hand-made art has a dozen levels.
const MAX_DEPTH: usize = 200;
/// CSS reference pixels in an inch, the unit of SVG's user space.
const UNITS_PER_INCH: f64 = 96.0;

pub(super) fn decode(bytes: &[u8], _: ReadOptions) -> Result<Raw, Fault> {
    let depth = depth(bytes);
    if depth > MAX_DEPTH {
        return Err(Fault::TooInvolved(format!("its elements are nested {depth} deep, {MAX_DEPTH} are allowed")));
    }
    let bytes = bytes.to_vec();
    bounded(move || draw(&bytes))
}

fn draw(bytes: &[u8]) -> Result<Raw, Fault> {
    let notes = Arc::new(Mutex::new(Vec::new()));
    let tree = Tree::from_data(bytes, &options(&notes)).map_err(|e| match e {
        Error::ElementsLimitReached => Fault::TooInvolved("it has over a million parts".into()),
        Error::InvalidSize => Fault::Empty(0, 0),
        other => Fault::Damaged(other.to_string()),
    })?;
    let (width, height) = (f64::from(tree.size().width()), f64::from(tree.size().height()));
    let scale = VECTOR_LONGEST_PX / width.max(height);
    let px = [width, height].map(|v| (v * scale).round().max(1.0) as u64);
    check_size(px[0], px[1])?;
    let mut pixmap = Pixmap::new(px[0] as u32, px[1] as u32).ok_or(Fault::Empty(px[0], px[1]))?;
    resvg::render(&tree, Transform::from_scale(scale as f32, scale as f32), &mut pixmap.as_mut());
    let mut raw = Raw::new((px[0], px[1]), Samples::U8(pixmap.take()), Model::Rgb, Alpha::Premultiplied);
    raw.tagged = Tagged::Srgb;
    raw.ppi = Ppi::new(scale * UNITS_PER_INCH).ok();
    if raw.ppi.is_none() {
        raw.facts.notes.push(format!("Its stated size is not usable; {} ppi is taken.", resolution::DEFAULT_PPI));
    }
    raw.facts.notes.append(&mut notes.lock().unwrap_or_else(|e| e.into_inner()));
    Ok(raw)
}

fn options(notes: &Arc<Mutex<Vec<String>>>) -> Options<'static> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let fonts = FONTS.get_or_init(|| {
        let mut fonts = fontdb::Database::new();
        fonts.load_system_fonts();
        Arc::new(fonts)
    });
    let note = |notes: &Mutex<Vec<String>>, text: String| {
        let mut notes = notes.lock().unwrap_or_else(|e| e.into_inner());
        if !notes.contains(&text) {
            notes.push(text);
        }
    };
    let outside = notes.clone();
    let missing = notes.clone();
    let select = FontResolver::default_font_selector();
    Options {
        fontdb: fonts.clone(),
        image_href_resolver: ImageHrefResolver {
            resolve_string: Box::new(move |href, _| {
                let href: String = href.chars().take(60).collect();
                note(&outside, format!("A picture outside the file was left out: {href}."));
                None
            }),
            ..ImageHrefResolver::default()
        },
        font_resolver: FontResolver {
            select_font: Box::new(move |font, fonts| {
                let named = font.families().iter().find_map(|family| match family {
                    FontFamily::Named(name) => Some(name),
                    _ => None,
                });
                if let Some(name) = named {
                    let query = fontdb::Query { families: &[fontdb::Family::Name(name)], ..Default::default() };
                    if fonts.query(&query).is_none() {
                        note(&missing, format!("The font {name} is not on this machine; ask for outlined text."));
                    }
                }
                let found = select(font, fonts).or_else(|| fonts.faces().next().map(|face| face.id));
                if found.is_none() {
                    note(&missing, "There is no font on this machine, so its text is missing.".into());
                }
                found
            }),
            ..FontResolver::default()
        },
        ..Options::default()
    }
}

/// Nesting of elements, counted from the tags alone: cheap, and before any parser recurses.
fn depth(bytes: &[u8]) -> usize {
    let (mut now, mut most) = (0_usize, 0_usize);
    let mut at = 0;
    while let Some(open) = bytes[at..].iter().position(|&b| b == b'<') {
        at += open + 1;
        let close = match bytes.get(at) {
            Some(b'!' | b'?') | None => continue,
            Some(b'/') => {
                now = now.saturating_sub(1);
                continue;
            }
            _ => bytes[at..].iter().position(|&b| b == b'>').map_or(bytes.len(), |end| at + end),
        };
        if bytes[..close].last() != Some(&b'/') {
            now += 1;
            most = most.max(now);
        }
        at = close;
    }
    most
}
