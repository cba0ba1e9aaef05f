//! A job that is evaluated in a moment: a few flat shapes drawn here, four inks, and a shelf of few inks
//! to choose from. For tests that go through the whole window.

#![allow(dead_code, reason = "each test file uses its own part")]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use strikeoff_core::ink::Shelf;
use strikeoff_core::job::Job;
use strikeoff_core::raster::{Art, Picture};
use strikeoff_core::separate::PlannedScreen;
use strikeoff_core::tune::{Curve, Edit, EditEntry, edits};
use strikeoff_core::units::{Dpi, Mm, Ppi};
use strikeoff_desk::{Document, Shop};
use strikeoff_files::{picture, shelf};

/// A lantern over a marsh in a few flat colours, clear around, one of them a mixture of inks.
fn art() -> Art {
    let (width, height) = (90, 120);
    let color = |x: f32, y: f32| -> [u8; 4] {
        let disc = |cx: f32, cy: f32, r: f32| (x - cx).hypot(y - cy) < r;
        match () {
            () if disc(45.0, 48.0, 15.0) => [0xFB, 0xBE, 0x22, 255],
            () if disc(45.0, 48.0, 19.0) => [0xB5, 0x33, 0x2B, 255],
            () if (43.0..47.0).contains(&x) && y < 48.0 && y > 8.0 => [0x17, 0x17, 0x1A, 255],
            () if y > 88.0 + 4.0 * (x / 9.0).sin() && disc(45.0, 60.0, 50.0) => [0x14, 0x80, 0x8A, 255],
            () if disc(45.0, 60.0, 50.0) => [0x9A, 0x8C, 0x58, 255],
            () => [0, 0, 0, 0],
        }
    };
    let rgba: Vec<u8> = (0..width * height).flat_map(|i| color((i % width) as f32, (i / width) as f32)).collect();
    Art { picture: Picture::from_rgba8(width, height, &rgba), ppi: Ppi::new(12.0).unwrap() }
}

pub fn document() -> Document {
    let mut job = Job::new(shelf::house_garment("White").unwrap().clone());
    job.info.title = "Marsh lantern".into();
    job.info.quantity = 72;
    job.prep.ppi = Ppi::new(24.0).unwrap();
    job.prep.max_height_mm = Mm::from_inches(14.0).ok();
    job.film.dpi = Dpi::new(360.0).unwrap();
    job.run.heads = 4;
    let inks = ["Ink black", "Brick red", "Golden yellow", "Marsh teal"];
    let of_shelf = |name: &str| PlannedScreen::of_ink(shelf::house_shelf().find(name).unwrap().clone());
    job.separation.screens = inks.into_iter().map(of_shelf).collect();
    let curve = Curve::new(vec![[0.0, 0.0], [45.0, 30.0], [100.0, 100.0]]).unwrap();
    job.edits.push(EditEntry::on(Edit::Curve(edits::Curve { screen: "Golden yellow".into(), curve })));
    job.give_angles();
    let art = art();
    let bytes = picture::png_bytes(&art.picture, art.ppi);
    let mut doc = Document::new(job, art, "marsh-lantern.png", bytes);
    doc.add_garment(shelf::house_garment("Navy").unwrap().clone());
    doc
}

/// The house's garments and a handful of its inks.
pub fn shop() -> Shop {
    let house = shelf::house_shelf();
    let names =
        ["Ink black", "Soft white", "Base white", "Slate grey", "Brick red", "Golden yellow", "Olive", "Marsh teal"];
    let inks = names.into_iter().map(|name| house.find(name).unwrap().clone()).collect();
    Shop { shelf: Shelf { inks }, garments: shelf::house_garments().to_vec() }
}
