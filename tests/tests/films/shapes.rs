//! Flat shapes print as shapes: films of spot art against outlines that are known exactly, and type read by an
//! OCR from outside the project (tesseract).

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use strikeoff_core::Progress;
use strikeoff_core::raster::{Picture, Plane};
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::art::drawing::draw_with;
use strikeoff_files::film::{FilmOptions, write_films};
use strikeoff_files::job::open_job;
use strikeoff_tests::{artist, run_json};

use super::{bits_by_libtiff, path, run};

/// Width of the artwork in inches; its shapes are given in thousandths of it.
const WIDTH_IN: f64 = 6.0;
const DISC: [f64; 3] = [300.0, 300.0, 211.3];
const RING: [f64; 4] = [760.0, 240.0, 161.7, 148.9];
/// A square on its middle, half its side, turned.
const SQUARE: [f64; 4] = [720.0, 700.0, 150.0, 17.0];

fn svg(text: &str) -> String {
    let ([x, y, r], [rx, ry, outer, inner], [sx, sy, half, turn]) = (DISC, RING, SQUARE);
    let (side, middle, wide) = (2.0 * half, (outer + inner) / 2.0, outer - inner);
    let ink = "#141416";
    format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="1000" height="1000" viewBox="0 0 1000 1000">
        <circle cx="{x}" cy="{y}" r="{r}" fill="{ink}"/>
        <circle cx="{rx}" cy="{ry}" r="{middle}" fill="none" stroke="{ink}" stroke-width="{wide}"/>
        <rect x="{}" y="{}" width="{side}" height="{side}" transform="rotate({turn} {sx} {sy})" fill="{ink}"/>{text}</svg>"#,
        sx - half,
        sy - half
    )
}

/// Distance in thousandths from the nearest outline, negative inside of a shape.
fn distance(x: f64, y: f64) -> f64 {
    let ([dx, dy, r], [rx, ry, outer, inner], [sx, sy, half, turn]) = (DISC, RING, SQUARE);
    let disc = (x - dx).hypot(y - dy) - r;
    let from = (x - rx).hypot(y - ry);
    let ring = (from - outer).max(inner - from);
    let (sin, cos) = turn.to_radians().sin_cos();
    let (u, v) = ((x - sx) * cos + (y - sy) * sin, (y - sy) * cos - (x - sx) * sin);
    disc.min(ring).min((u.abs() - half).max(v.abs() - half))
}

/// Separates an artwork as one flat ink and gives the bits of its film, print alone.
fn film(art: &Path, folder: &Path, dpi: &str) -> (usize, usize, Vec<u8>) {
    draw_with(artist());
    let job = folder.join("shapes.strikeoff");
    run_json([
        "separate",
        path(art),
        "--garment",
        "white",
        "--inks",
        "Ink black",
        "--max-width",
        "6in",
        "--method",
        "spot",
        "-o",
        path(&job),
    ]);
    let mut file = open_job(&job).unwrap();
    let film = &mut file.job.film;
    film.dpi = dpi.parse().unwrap();
    film.margin = Mm::new(0.0).unwrap();
    (film.marks, film.label, film.wedge) = (false, false, false);
    let done = file.evaluated(&Progress::none()).unwrap();
    let out = folder.join("films");
    let set = write_films(&file.job, &done.screens, &out, &FilmOptions::default(), &Progress::none()).unwrap();
    bits_by_libtiff(set.films[0].tiff.as_ref().unwrap(), folder)
}

/// Mean distance, in film pixels, of the film's edge from the outline: the area that is on the wrong side of it,
/// counted in film pixels, for each film pixel of outline. Pixels that lie alone count as faults.
fn edge_error((width, height, bits): &(usize, usize, Vec<u8>)) -> (f64, usize) {
    let stride = width.div_ceil(8);
    let ink = |x: usize, y: usize| bits[y * stride + x / 8] >> (7 - x % 8) & 1 == 1;
    let scale = 1000.0 / *width as f64;
    let (mut wrong, mut alone, mut first) = (0usize, 0usize, None);
    for y in 1..height - 1 {
        for x in 1..width - 1 {
            let far = distance((x as f64 + 0.5) * scale, (y as f64 + 0.5) * scale);
            wrong += usize::from((far < 0.0) != ink(x, y));
            let same = [(x - 1, y), (x + 1, y), (x, y - 1), (x, y + 1)].iter().any(|&(i, j)| ink(i, j) == ink(x, y));
            alone += usize::from(!same);
            if !same {
                first.get_or_insert((x, y, far));
            }
        }
    }
    if let Some((x, y, far)) = first {
        println!("alone at {x} {y}, {far:.2} thousandths from the outline");
    }
    let ([_, _, r], [_, _, outer, inner], [_, _, half, _]) = (DISC, RING, SQUARE);
    let outline = (std::f64::consts::TAU * (r + outer + inner) + 8.0 * half) / scale;
    (wrong as f64 / outline, alone)
}

#[test]
fn the_edges_of_drawn_shapes_are_their_outlines() {
    let dir = tempfile::tempdir().unwrap();
    let art = dir.path().join("shapes.svg");
    fs::write(&art, svg("")).unwrap();
    for dpi in ["720", "1440"] {
        let (off, alone) = edge_error(&film(&art, dir.path(), dpi));
        println!("drawing at {dpi} dpi: {off:.3} film pixels, {alone} alone");
        // A tenth of a pixel of the art as it is separated, 300 to the inch.
        let most = 0.1 / 300.0 * dpi.parse::<f64>().unwrap();
        assert!(off < most && alone == 0, "{dpi} dpi: {off} film pixels from the outline, {alone} pixels alone");
    }
}

/// A picture of 125 pixels an inch, each pixel with the share that the shapes cover of it in linear light's sRGB
/// code as any drawing program's anti-aliasing has it (256 places a pixel, counted).
#[test]
fn the_edges_of_shapes_in_a_picture_are_found_between_its_pixels() {
    let side = (125.0 * WIDTH_IN) as usize;
    let scale = 1000.0 / side as f64;
    let pixels = Plane::from_fn(side, side, |x, y| {
        let inside = (0..256).filter(|at| {
            let place = |v: usize, part: usize| (v as f64 + (part as f64 + 0.5) / 16.0) * scale;
            distance(place(x, at % 16), place(y, at / 16)) < 0.0
        });
        let code = 65_535.0 - inside.count() as f64 / 256.0 * (65_535.0 - 5_140.0);
        [code as u16, code as u16, code as u16, u16::MAX]
    });
    let dir = tempfile::tempdir().unwrap();
    let art = dir.path().join("shapes.ppm");
    let mut ppm = format!("P6 {side} {side} 255\n").into_bytes();
    let picture = Picture::new(pixels);
    ppm.extend(picture.to_rgba8().chunks_exact(4).flat_map(|p| p[..3].to_vec()));
    fs::write(&art, ppm).unwrap();
    let png = dir.path().join("shapes.png");
    let ppi = Ppi::new(125.0).unwrap();
    let script = "import sys; from PIL import Image; Image.open(sys.argv[1]).save(sys.argv[2], dpi=(125, 125))";
    run("/usr/bin/python3", "python3-pil", &["-c", script, path(&art), path(&png)]);
    let film = film(&png, dir.path(), "720");
    let (off, alone) = edge_error(&film);
    let in_art = off * ppi.get() / 720.0;
    println!("picture: {off:.3} film pixels, {in_art:.3} pixels of the art, {alone} alone");
    assert!(in_art < 0.12 && alone == 0, "{in_art} pixels of the art from the outline, {alone} pixels alone");
}

/// Type of 6 and 8 points on a film is read as well as in the artwork.
#[test]
fn small_type_on_a_film_can_be_read() {
    let words = ["LANTERN FAIR", "heron creek mill", "open till dusk", "printed by hand"];
    let mut text = String::new();
    for (at, word) in words.iter().enumerate() {
        // Thousandths of the width: a point is 1/72 in.
        let size = [8.0, 6.0][at % 2] / 72.0 / WIDTH_IN * 1000.0;
        let y = 880.0 + 26.0 * at as f64;
        let _ = write!(
            text,
            r##"<text x="40" y="{y}" font-family="DejaVu Sans" font-size="{size}" fill="#141416">{word}</text>"##
        );
    }
    let dir = tempfile::tempdir().unwrap();
    let art = dir.path().join("type.svg");
    fs::write(&art, svg(&text)).unwrap();
    let (width, height, bits) = film(&art, dir.path(), "1440");
    let stride = width.div_ceil(8);
    let top = height * 85 / 100;
    let pgm = dir.path().join("type.pgm");
    let mut image = format!("P5 {} {} 255\n", width / 2, height - top).into_bytes();
    for y in top..height {
        image.extend((0..width / 2).map(|x| if bits[y * stride + x / 8] >> (7 - x % 8) & 1 == 1 { 0 } else { 255 }));
    }
    fs::write(&pgm, image).unwrap();
    let read = run("tesseract", "tesseract-ocr", &[path(&pgm), "-", "--dpi", "1440", "--psm", "6"]);
    for word in words {
        assert!(read.contains(word), "{word} is not in what tesseract reads: {read}");
    }
}
