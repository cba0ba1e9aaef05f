//! Grey pictures that were brought in as screens: read from a file, kept in the container beside
//! the art as `pictures/ID.png`, and given back to the edits that name them.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use sha2::{Digest, Sha256};
use strikeoff_core::bounds::table;
use strikeoff_core::job::Job;
use strikeoff_core::names::clean;
use strikeoff_core::raster::{FULL, Plane};
use strikeoff_core::tune::GreyPicture;

use super::container::Members;
use super::film_png;
use crate::art::{ArtError, read_art};

/// Reads a grey picture for [`strikeoff_core::tune::Edit::Import`]. Of a picture in colour the
/// luma is taken (ITU-R BT.709 weights on the encoded values); clear parts count as white paper.
pub fn read_grey(path: &Path) -> Result<GreyPicture, ArtError> {
    let art = read_art(path)?;
    let pixels = art.picture.pixels().map(|[r, g, b, a]| {
        let luma = if r == g && g == b {
            f64::from(r)
        } else {
            0.2126 * f64::from(r) + 0.7152 * f64::from(g) + 0.0722 * f64::from(b)
        };
        let (full, a) = (f64::from(FULL), f64::from(a) / f64::from(FULL));
        (full + (luma - full) * a).round() as u16
    });
    let name = path.file_name().map_or_else(|| "picture".into(), |n| n.to_string_lossy());
    let id = id_of(&pixels);
    Ok(GreyPicture::new(clean(&name, table::FILE_NAME.most), id, pixels))
}

/// Fingerprint of a plane: size and values, the first half of their SHA-256.
fn id_of(pixels: &Plane<u16>) -> String {
    let mut hash = Sha256::new();
    hash.update((pixels.width() as u64).to_le_bytes());
    hash.update((pixels.height() as u64).to_le_bytes());
    for row in pixels.data().chunks(1 << 14) {
        hash.update(row.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<u8>>());
    }
    hash.finalize()[..16].iter().map(|b| format!("{b:02x}")).collect()
}

/// Member that holds a picture.
pub(super) fn member_of(id: &str) -> String {
    format!("pictures/{id}.png")
}

/// Every picture that the jobs name, once, as `(member, PNG)`.
pub(super) fn pack<'a>(jobs: impl Iterator<Item = &'a Job>) -> Result<Vec<(String, Vec<u8>)>, String> {
    let mut found: BTreeMap<&str, &Arc<Plane<u16>>> = BTreeMap::new();
    for grey in jobs.flat_map(|job| &job.edits).filter_map(|e| e.edit.grey()) {
        if let Some(pixels) = grey.pixels() {
            found.entry(&grey.id).or_insert(pixels);
        }
    }
    let pack = |(id, pixels): (&str, &Arc<Plane<u16>>)| {
        // The encoder turns coverage to film sense; a grey picture is in that sense already.
        let png = film_png::encode(&pixels.map(|v| FULL - v)).map_err(|e| e.to_string())?;
        Ok((member_of(id), png))
    };
    found.into_iter().map(pack).collect()
}

/// Gives the edits of the jobs their pictures back, out of `members`. What is lost is named.
pub(super) fn give_back<'a>(
    jobs: impl Iterator<Item = &'a mut Job>,
    members: &mut impl Members,
    lost: &mut Vec<String>,
) {
    let mut known: BTreeMap<String, Option<Arc<Plane<u16>>>> = BTreeMap::new();
    for grey in jobs.flat_map(|job| &mut job.edits).filter_map(|e| e.edit.grey_mut()) {
        let pixels = known.entry(grey.id.clone()).or_insert_with(|| match unpack(&grey.id, members) {
            Ok(pixels) => Some(Arc::new(pixels)),
            Err(why) => {
                lost.push(format!("the grey picture {} was lost; bring it in again: {why}", grey.file));
                None
            }
        });
        if let Some(pixels) = pixels {
            grey.give(pixels.clone());
        }
    }
}

fn unpack(id: &str, members: &mut impl Members) -> Result<Plane<u16>, String> {
    if id.len() != 32 || !id.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(format!("\"{id}\" is no fingerprint"));
    }
    let png = members.read(&member_of(id))?;
    let mut pixels = film_png::decode_any(&png, members.held())?;
    pixels.apply(|v| FULL - v);
    if id_of(&pixels) == id { Ok(pixels) } else { Err("it is not the one that was saved".to_owned()) }
}
