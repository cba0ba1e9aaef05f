//! The process that draws gives the same picture and the same facts as drawing in this process.

use std::fs;

use strikeoff_core::Progress;
use strikeoff_files::art::drawing::Artist;
use strikeoff_files::art::{ReadOptions, Received, receive_bytes_by};
use strikeoff_tests::{artist, fixture};

use super::{SHOW, SHOWN, image, packed, pdf, stream, svg};

fn both(name: &str, bytes: &[u8], page: usize) -> [Result<Received, String>; 2] {
    [artist(), Artist::InProcess].map(|artist| {
        let read = receive_bytes_by(&artist, name, bytes, ReadOptions { page }, &Progress::none());
        read.map_err(|error| error.to_string())
    })
}

/// Holds both ways to each other; gives the facts' notes.
fn same(name: &str, bytes: &[u8], page: usize) -> Vec<String> {
    match both(name, bytes, page) {
        [Ok(child), Ok(here)] => {
            assert_eq!(child.facts, here.facts, "{name}");
            let notes = here.facts.notes;
            assert_eq!(child.art.ppi, here.art.ppi, "{name}");
            let [child, here] = [&child.art.picture, &here.art.picture];
            assert_eq!([child.width(), child.height()], [here.width(), here.height()], "{name}");
            assert!(child.pixels().data() == here.pixels().data(), "{name}: other pixels");
            let drawn = here.pixels().data().iter().filter(|pixel| pixel[3] > 0).count();
            assert!(drawn > 1000, "{name}: {drawn} pixels are no test");
            notes
        }
        [child, here] => panic!("{name}: {:?} {:?}", child.map(|r| r.facts), here.map(|r| r.facts)),
    }
}

#[test]
fn fixtures_are_drawn_alike() {
    let demo = fixture("../../assets/demo/lantern-fair.svg");
    for path in [fixture("art/lantern.svg"), demo] {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        same(&name, &fs::read(&path).unwrap(), 1);
    }
}

#[test]
fn text_is_set_in_the_same_fonts() {
    // Families by generic name, by a name that is not there, in weights and slants; letters that the first font
    // does not have (Greek, Cyrillic, arrows, Han, a private one), so that others are looked through.
    let text = "<text x='2' y='20' font-size='14'>Heron 1</text>\
        <text x='2' y='36' font-size='12' font-family='monospace' font-weight='bold'>Heron 2</text>\
        <text x='2' y='52' font-size='12' font-family='No Such Face, serif' font-style='italic'>Heron 3</text>\
        <text x='2' y='70' font-size='10'>\u{3b1}\u{3b2} \u{416}\u{438} \u{2192}\u{21af} \u{4e2d}\u{6587} \u{e123}</text>\
        <text x='2' y='88' font-size='10' font-family='DejaVu Sans' font-weight='bold'>\u{1d11e}\u{263a}e\u{301}</text>";
    let notes = same("text.svg", &svg(text), 1);
    assert!(notes.iter().any(|note| note.contains("No Such Face")), "{notes:?}");
    // The fonts must be there, or nothing is shown about them.
    let [drawn, _] = both("text.svg", &svg("<text y='80' font-size='80'>W</text>"), 1);
    let drawn = drawn.unwrap();
    assert!(
        drawn.art.picture.pixels().data().iter().filter(|p| p[3] > 0).count() > 100_000,
        "install fonts-dejavu-core"
    );
}

#[test]
fn pages_pictures_and_blends_are_drawn_alike() {
    let raster: Vec<u8> =
        (0..90_u32 * 60).flat_map(|i| [(i % 251) as u8, (i / 90 * 4) as u8, (i * 7 % 256) as u8]).collect();
    let picture = stream(&image(90, 60, "DeviceRGB", 8, "/Filter/FlateDecode"), &packed(&raster, 1));
    same("picture.pdf", &pdf(SHOW, SHOWN, &[picture]), 1);
    let blend = b"0.9 0.2 0.1 rg 0 0 100 100 re f /G gs 0 0 1 rg 40 40 99 99 re f 3 w [4 2] 0 d 0 0 m 144 144 l S \
        BT /F 30 Tf 10 20 Td (Heron) Tj ET";
    let resources = "/ExtGState<</G<</ca 0.5/BM/Multiply>>>>/Font<</F<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>";
    same("blend.pdf", &pdf(blend, resources, &[]), 1);
    let filters = "<filter id='f'><feGaussianBlur stdDeviation='2'/><feOffset dx='3'/></filter>\
        <mask id='m'><rect width='80' height='50' fill='white'/></mask>\
        <g mask='url(#m)'><circle cx='48' cy='48' r='40' fill='teal' filter='url(#f)' opacity='0.7'/></g>";
    same("filters.svg", &svg(filters), 1);

    let pages = fs::read(fixture("art/lantern.svg")).map(|_| three_pages()).unwrap();
    for page in 1..=3 {
        same("pages.pdf", &pages, page);
    }
    let [child, here] = both("pages.pdf", &pages, 4);
    assert_eq!(child.unwrap_err(), here.unwrap_err());
}

/// Three pages of different colour and size.
fn three_pages() -> Vec<u8> {
    let mut out = b"%PDF-1.4\n".to_vec();
    let mut objects =
        vec!["<</Type/Catalog/Pages 2 0 R>>".to_owned(), "<</Type/Pages/Count 3/Kids[3 0 R 5 0 R 7 0 R]>>".to_owned()];
    for page in 1..=3 {
        let content = format!("0.{page} 0.4 0.{} rg 0 0 50 {} re f", 9 - page, 40 * page);
        let stream = 2 + 2 * page;
        objects.push(format!(
            "<</Type/Page/Parent 2 0 R/MediaBox[0 0 144 {}]/Contents {stream} 0 R/Resources<<>>>>",
            50 * page
        ));
        objects.push(format!("<</Length {}>>stream\n{content}\nendstream", content.len()));
    }
    for (at, object) in objects.iter().enumerate() {
        out.extend(format!("{} 0 obj\n{object}\nendobj\n", at + 1).bytes());
    }
    out.extend(b"trailer<</Size 9/Root 1 0 R>>\n%%EOF");
    out
}
