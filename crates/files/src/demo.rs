//! The demo: a poster for a lantern fair, drawn for this project as an SVG and handed on as a poor
//! client file would be: 12 x 16 in at 96 ppi. One job on a white shirt, one on black.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::raster::{Art, Picture};
use strikeoff_core::separate::PlannedScreen;
use strikeoff_core::units::{Mm, Ppi};

use crate::shelf::{house_garment, house_shelf};

/// File name under which the demo's art goes into job files.
pub const DEMO_ART_NAME: &str = "lantern-fair.png";

/// Name of the manifest of a demo folder.
pub const DEMO_MANIFEST: &str = "demo.json";

const SVG: &str = include_str!("../../../assets/demo/lantern-fair.svg");

/// The demo's art as pixels, 1152 x 1536 at 96 ppi.
pub fn demo_art() -> Art {
    let tree = Tree::from_str(SVG, &Options::default()).unwrap_or_else(|error| unreachable!("demo art: {error}"));
    let size = tree.size().to_int_size();
    let mut pixmap = Pixmap::new(size.width(), size.height()).unwrap_or_else(|| unreachable!("demo art has no size"));
    resvg::render(&tree, Transform::identity(), &mut pixmap.as_mut());
    let rgba: Vec<u8> = pixmap
        .pixels()
        .iter()
        .flat_map(|p| {
            let c = p.demultiply();
            [c.red(), c.green(), c.blue(), c.alpha()]
        })
        .collect();
    let picture = Picture::from_rgba8(pixmap.width() as usize, pixmap.height() as usize, &rgba);
    Art { picture, ppi: Ppi::new(96.0).unwrap_or_else(|_| unreachable!()) }
}

/// The demo's art as the PNG that the client would have sent.
pub fn demo_art_png() -> Vec<u8> {
    let art = demo_art();
    crate::picture::png_bytes(&art.picture, art.ppi)
}

/// The demo job on a white shirt: six inks, black first down with two hits, 16 in high, 150 shirts.
pub fn demo_job_on_white() -> Job {
    let mut job =
        demo_job("White", &["Ink black", "Brick red", "Golden yellow", "Dusk violet", "Marsh teal", "Soft white"]);
    job.separation.screens[0].hits = 2;
    job
}

/// The same art on a black shirt, with a base that is flashed.
pub fn demo_job_on_black() -> Job {
    let mut job =
        demo_job("Black", &["Base white", "Brick red", "Golden yellow", "Dusk violet", "Marsh teal", "Bright white"]);
    job.press.stops.insert("Base white".into(), strikeoff_core::press::Stop::FlashAndCoolDown);
    job
}

fn demo_job(garment: &str, inks: &[&str]) -> Job {
    let garment: &Garment = house_garment(garment).unwrap_or_else(|| unreachable!("house garment {garment}"));
    let mut job = Job::new(garment.clone());
    job.info.title = "Lantern Fair tee".into();
    job.info.client = "Saltmarsh Lantern Fair".into();
    job.info.version = "proof 1".into();
    job.info.quantity = 150;
    job.prep.max_height_mm = Mm::from_inches(16.0).ok();
    job.separation.screens = inks
        .iter()
        .map(|name| {
            let ink: &Ink = house_shelf().find(name).unwrap_or_else(|error| unreachable!("{error}"));
            PlannedScreen::of_ink(ink.clone())
        })
        .collect();
    job.give_angles();
    job
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_demo_is_a_poor_client_file_with_much_in_it() {
        let art = demo_art();
        assert_eq!((art.picture.width(), art.picture.height()), (1152, 1536));
        assert!(art.picture.has_alpha());
        let mut tones: Vec<[u16; 3]> =
            art.picture.pixels().data().iter().map(|p| [p[0] >> 11, p[1] >> 11, p[2] >> 11]).collect();
        tones.sort_unstable();
        tones.dedup();
        assert!(tones.len() > 1500, "{} tones", tones.len());
        assert_eq!(demo_job_on_white().separation.screens.len(), 6);
        assert_eq!(demo_job_on_black().separation.screens.len(), 6);
    }
}
