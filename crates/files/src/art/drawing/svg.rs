//! SVG through `resvg`, drawn large enough for any usual print. Nothing outside the file is read
//! but the system's fonts: no other files, no network. Missing fonts are named.

use std::sync::{Arc, Mutex, PoisonError};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Error, FontFamily, FontResolver, ImageHrefResolver, Options, Tree, fontdb, roxmltree};
use strikeoff_core::units::Ppi;

use super::super::error::{Fault, check_size};
use super::super::resolution;
use super::fonts::Fonts;
use super::{Drawn, Facts};

/// Deepest nesting of elements: hand-made art has a dozen levels.
const MAX_DEPTH: usize = 200;
/// CSS reference pixels in an inch, the unit of SVG's user space.
const UNITS_PER_INCH: f64 = 96.0;

type Notes = Arc<Mutex<Vec<String>>>;

pub(super) fn draw(bytes: &[u8], longest_px: u32, fonts: Fonts) -> Result<Drawn, Fault> {
    let depth = depth(bytes);
    if depth > MAX_DEPTH {
        return Err(Fault::TooInvolved(format!("its elements are nested {depth} deep, {MAX_DEPTH} are allowed")));
    }
    let notes = Notes::default();
    let tree = Tree::from_data(bytes, &options(&notes, fonts)).map_err(|e| match e {
        Error::ElementsLimitReached => Fault::TooInvolved("it has over a million parts".into()),
        Error::ParsingFailed(roxmltree::Error::NodesLimitReached) => {
            Fault::TooInvolved("its parts use one another too often or too deep".into())
        }
        Error::InvalidSize => Fault::Empty(0, 0),
        other => Fault::Damaged(other.to_string()),
    })?;
    let (width, height) = (f64::from(tree.size().width()), f64::from(tree.size().height()));
    let scale = f64::from(longest_px) / width.max(height);
    let px = [width, height].map(|v| (v * scale).round().max(1.0) as u64);
    check_size(px[0], px[1])?;
    let [width_px, height_px] = px.map(|px| px as u32);
    let mut pixmap = Pixmap::new(width_px, height_px).ok_or(Fault::Empty(px[0], px[1]))?;
    resvg::render(&tree, Transform::from_scale(scale as f32, scale as f32), &mut pixmap.as_mut());
    let ppi = Ppi::new(scale * UNITS_PER_INCH).ok().map(Ppi::get);
    let unsized_note = || format!("Its stated size is not usable; {} ppi is taken.", resolution::DEFAULT_PPI);
    let found = std::mem::take(&mut *notes.lock().unwrap_or_else(PoisonError::into_inner));
    let notes = ppi.is_none().then(unsized_note).into_iter().chain(found).collect();
    Ok(Drawn { facts: Facts { width_px, height_px, ppi, pages: 1, notes }, rgba: pixmap.take() })
}

fn options(notes: &Notes, fonts: Fonts) -> Options<'static> {
    let note = |notes: &Mutex<Vec<String>>, text: String| {
        let mut notes = notes.lock().unwrap_or_else(PoisonError::into_inner);
        if !notes.contains(&text) {
            notes.push(text);
        }
    };
    let outside = notes.clone();
    let missing = notes.clone();
    let select = FontResolver::default_font_selector();
    if fonts.left_out > 0 {
        note(notes, format!("{} font files of this machine could not be opened and are not used.", fonts.left_out));
    }
    Options {
        fontdb: fonts.database.clone(),
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
            select_fallback: fonts.fallback(),
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
