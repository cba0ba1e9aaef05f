//! Names in other scripts on sheets and films: read back by poppler, shaped as HarfBuzz shapes them, and a
//! letter that no font has is reported.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

use strikeoff_core::Progress;
use strikeoff_core::findings::outlook;
use strikeoff_core::job::{Job, evaluate};
use strikeoff_core::raster::{Detail, Picture, Plane};
use strikeoff_core::units::{Dpi, Ppi};
use strikeoff_files::demo::{demo_art, demo_art_png, demo_job_on_black};
use strikeoff_files::film::{FilmOptions, write_films};
use strikeoff_files::job::{JobFile, save_job};
use strikeoff_files::sheet::{Content, Paper, client_proof_pdf, press_sheet_pdf};
use strikeoff_files::text::{Face, Run, missing, name, set};
use strikeoff_tests::{program, run, run_json, tool};

/// A lantern fair in each script: Greek, Cyrillic, Arabic, Hebrew, Chinese, Japanese.
const NAMES: [&str; 6] =
    ["Πανηγύρι φαναριών", "Ярмарка фонарей", "مهرجان الفوانيس", "יריד הפנסים", "灯笼节", "提灯まつり"];
/// For private use (Unicode, plane 16): no font has it.
const NOWHERE: char = '\u{10FFFD}';

/// Every letter of a name has a font here; Chinese and Japanese need one that is installed.
fn with_fonts(name: &str) {
    for face in [Face::Sans, Face::SansBold, Face::Mono] {
        let none = missing(face, name);
        assert_eq!(none, [], "no font for {name}; install one with: apt-get install fonts-droid-fallback");
    }
}

fn small_job() -> Job {
    let mut job = demo_job_on_black();
    job.prep.ppi = Ppi::new(20.0).unwrap();
    job.film.dpi = Dpi::new(360.0).unwrap();
    job
}

fn content() -> Content {
    let job = small_job();
    let done = evaluate(&job, &demo_art(), Detail::Full, &Progress::none()).unwrap();
    let look = outlook(&job, &done.prepared, &done.screens, &Progress::none()).unwrap();
    Content::new(&job, &done.prepared, &done.screens, &look)
}

/// What poppler reads, in the order of the file (`-raw`) or as it finds it on the page, with one blank for any
/// white space and without the marks of direction that it puts beside Arabic and Hebrew.
fn read(file: &Path, order: &str) -> String {
    let out = tool("pdftotext", "poppler-utils", [order.as_ref(), file.as_os_str(), "-".as_ref()]);
    flat(&String::from_utf8(out).unwrap())
}

fn flat(text: &str) -> String {
    let marks = |c: char| matches!(c, '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}');
    let text: String = text.chars().filter(|&c| !marks(c)).collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn names_are_read_back_as_they_were_written() {
    let mut content = content();
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("a.pdf");
    for name in NAMES {
        with_fonts(name);
        content.title = name.to_owned();
        content.head = vec![("Client", name.to_owned()), ("Version", "1".to_owned())];
        for row in &mut content.screens {
            row.name = name.to_owned();
            row.ink = name.to_owned();
        }
        for (title, pdf) in [
            ("Press sheet", press_sheet_pdf(&content, Paper::A4).unwrap()),
            ("Proof for approval", client_proof_pdf(&content, Paper::A4).unwrap()),
        ] {
            assert_eq!(pdf.missing, [], "{name}");
            fs::write(&file, &pdf.bytes).unwrap();
            let text = read(&file, "-raw");
            let count = |words: &str| text.matches(words).count();
            assert!(count(&format!("{name} {title}")) > 0 || count(&format!("{title} {name}")) > 0, "{name} in {text}");
            assert!(count(&format!("Client: {name} Version: ")) > 0, "{name} in {text}");
            assert!(count(name) > content.screens.len() + 1, "{name} in {text}");
            assert!(read(&file, "-layout").matches(name).count() > content.screens.len() + 1, "{name}");
            // What is read aloud: the text of the tags, or where glyphs run from right to left what they say it is.
            let json = tool("qpdf", "qpdf", ["--json=latest".as_ref(), "--json-key=qpdf".as_ref(), file.as_os_str()]);
            let report = String::from_utf8(json).unwrap().matches(&format!("\"/ActualText\": \"u:{name}\"")).count();
            let right_to_left = name.chars().any(|c| ('\u{590}'..'\u{700}').contains(&c));
            assert_eq!(report > 0, right_to_left, "{name}");
            let tags = ["-struct-text".as_ref(), file.as_os_str()];
            let tags = flat(&String::from_utf8(tool("pdfinfo", "poppler-utils", tags)).unwrap());
            assert!(right_to_left || tags.contains(&format!("H1 (block) \"{name}\"")), "{name} in {tags}");
            // emb, sub, uni: each font embedded, as a subset, and with a way back to text.
            let fonts = String::from_utf8(tool("pdffonts", "poppler-utils", [&file])).unwrap();
            let rows: Vec<&str> = fonts.lines().skip(2).collect();
            assert!(rows.len() >= 2 && rows.iter().all(|row| row.contains("yes yes yes")), "{fonts}");
        }
    }
}

/// The glyphs and advances of a run by HarfBuzz (its own program `hb-shape`), in font units.
fn by_harfbuzz(run: &Run, text: &str, folder: &Path) -> Vec<(u32, i32)> {
    let file = folder.join("font");
    fs::write(&file, run.font.data()).unwrap();
    let index = format!("--face-index={}", run.font.index());
    let said = tool(
        "hb-shape",
        "libharfbuzz-bin",
        ["--no-glyph-names", "--no-clusters", "--no-positions", &index, file.to_str().unwrap(), text],
    );
    let ids = String::from_utf8(said).unwrap();
    let said = tool(
        "hb-shape",
        "libharfbuzz-bin",
        ["--no-glyph-names", "--no-clusters", &index, file.to_str().unwrap(), text],
    );
    let advances = String::from_utf8(said).unwrap();
    let inner = |list: &str| list.trim().trim_matches(['[', ']']).split('|').map(str::to_owned).collect::<Vec<_>>();
    let advance = |glyph: &String| glyph.rsplit('+').next().unwrap().parse().unwrap();
    inner(&ids).iter().map(|id| id.parse().unwrap()).zip(inner(&advances).iter().map(advance)).collect()
}

#[test]
fn letters_are_shaped_as_harfbuzz_shapes_them() {
    let dir = tempfile::tempdir().unwrap();
    let mut shaped = 0;
    for text in NAMES.into_iter().chain(["Lantern fair, first print", "بِسْمِ", "لا إله", "שָׁלוֹם"])
    {
        with_fonts(text);
        for face in [Face::Sans, Face::SansBold, Face::Mono] {
            for run in set(face, text).runs {
                let begin = run.glyphs.iter().map(|g| g.text.start).min().unwrap();
                let end = run.glyphs.iter().map(|g| g.text.end).max().unwrap();
                let units = run.font.units_per_em();
                let ours: Vec<_> = run.glyphs.iter().map(|g| (g.id, (g.advance * units).round() as i32)).collect();
                assert_eq!(ours, by_harfbuzz(&run, &text[begin..end], dir.path()), "{face:?} {text}");
                shaped += run.glyphs.len();
            }
        }
    }
    assert!(shaped > 250, "{shaped}");
}

/// The bits of a job's films at the top, where the label is.
fn labels(job: &Job) -> (BTreeSet<Vec<u8>>, Vec<strikeoff_files::text::Missing>) {
    let done = evaluate(job, &demo_art(), Detail::Full, &Progress::none()).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let options = FilmOptions { pdf: false, ..Default::default() };
    let set = write_films(job, &done.screens, dir.path(), &options, &Progress::none()).unwrap();
    let mut seen = BTreeSet::new();
    for film in &set.films {
        assert_eq!(film.label_lost, [""; 0]);
        let picture = image::open(film.tiff.as_ref().unwrap()).unwrap().to_luma8();
        let margin = (job.film.margin.get() / 25.4 * job.film.dpi.get()) as u32;
        let label = image::imageops::crop_imm(&picture, 0, 0, picture.width(), margin - 12).to_image();
        seen.insert(label.into_raw());
    }
    (seen, set.missing)
}

#[test]
fn labels_of_films_carry_the_names() {
    let mut all = BTreeSet::new();
    let mut count = 0;
    for title in NAMES {
        with_fonts(title);
        let mut job = small_job();
        job.info.title = title.to_owned();
        let (seen, missing) = labels(&job);
        assert_eq!(missing, [], "{title}");
        count += seen.len();
        all.extend(seen);
    }
    // No two are alike, as boxes would be.
    assert_eq!(all.len(), count);
}

#[test]
fn a_letter_that_no_font_has_is_told_and_replaced() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let mut job = small_job();
    job.info.title = format!("Lantern {NOWHERE} fair");
    save_job(Path::new(&path("job.strikeoff")), &JobFile::new(job, "demo.png", demo_art_png())).unwrap();
    let sentence = format!(
        "note: no installed font has {NOWHERE} (U+10FFFD) of \"Lantern {NOWHERE} fair\", so \u{FFFD} stands in their place; "
    );
    for args in [
        ["sheet", &path("job.strikeoff"), "-o", &path("sheet.pdf")],
        ["client-proof", &path("job.strikeoff"), "-o", &path("proof.pdf")],
        ["films", &path("job.strikeoff"), "--out", &path("films")],
    ] {
        let out = run(args);
        let said = String::from_utf8(out.stdout).unwrap();
        assert!(out.status.success() && said.contains(&sentence), "{args:?}: {said}");
        let json = run_json(args.into_iter().chain(["--overwrite"]));
        let report = if args[0] == "films" { &json["notes"] } else { &json["missing"] };
        assert!(report.to_string().contains("Lantern"), "{json}");
    }
    // The name is still there to be copied; a picture of the replacement is drawn.
    let text = read(Path::new(&path("proof.pdf")), "-raw");
    assert!(text.contains(&format!("Lantern {NOWHERE} fair")), "{text}");
    let line = set(Face::SansBold, &name(&format!("{NOWHERE}")));
    let instead = set(Face::SansBold, "\u{FFFD}");
    assert_eq!(line.runs[0].glyphs[0].id, instead.runs[0].glyphs[0].id);
    assert_ne!(line.runs[0].glyphs[0].id, 0);
}

/// On a machine without fonts Chinese names are replaced, and the sentence names the typeface.
#[test]
fn without_fonts_the_typeface_to_install_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let mut job = small_job();
    job.info.title = "灯笼节".into();
    job.info.client = NAMES[2].into();
    save_job(Path::new(&path("job.strikeoff")), &JobFile::new(job, "demo.png", demo_art_png())).unwrap();
    // The list of font folders (fontconfig's format) holds an empty one.
    fs::create_dir(path("none")).unwrap();
    fs::write(
        path("fonts.conf"),
        format!("<?xml version=\"1.0\"?><fontconfig><dir>{}</dir></fontconfig>", path("none")),
    )
    .unwrap();
    let mut command = Command::new(program());
    command
        .args(["sheet", &path("job.strikeoff"), "-o", &path("sheet.pdf")])
        .env("FONTCONFIG_FILE", path("fonts.conf"));
    let out = command.output().unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(out.status.success(), "{said}");
    let sentence = "note: no installed font has 灯 (U+706F), 笼 (U+7B3C) and 节 (U+8282) of \"灯笼节\", so \u{FFFD} stands in their \
                    place; install Noto Sans CJK (Debian and Ubuntu: fonts-noto-cjk) and make the file again";
    assert!(said.lines().any(|line| line == sentence), "{said}");
    let text = read(Path::new(&path("sheet.pdf")), "-raw");
    assert!(text.contains(NAMES[2]), "{text}");
}

/// Fonts are subsets: a sheet in Latin letters without its pictures stays under 60 kB (88 kB with whole fonts, as it
/// was before), one with Chinese under 120 kB where the whole font has megabytes.
#[test]
fn fonts_take_little_room() {
    let mut content = content();
    let nothing = Picture::new(Plane::filled(1, 1, [0; 4]));
    content.proof = nothing.clone();
    content.screens.iter_mut().for_each(|row| row.look = nothing.clone());
    let latin = press_sheet_pdf(&content, Paper::A4).unwrap().bytes.len();
    content.title = NAMES[4].into();
    let chinese = press_sheet_pdf(&content, Paper::A4).unwrap().bytes.len();
    println!("{latin} and {chinese} bytes");
    assert!(latin < 60_000 && chinese < 120_000, "{latin} and {chinese} bytes");
}

/// The same job gives the same bytes, from one start of the program to the next.
#[test]
fn sheets_repeat_to_the_byte() {
    let dir = tempfile::tempdir().unwrap();
    let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
    let mut job = small_job();
    job.info.title = NAMES.join(" ");
    job.info.client = NAMES[2].into();
    save_job(Path::new(&path("job.strikeoff")), &JobFile::new(job, "demo.png", demo_art_png())).unwrap();
    for verb in ["sheet", "client-proof"] {
        let bytes = ["a.pdf", "b.pdf"].map(|out| {
            run_json([verb, &path("job.strikeoff"), "-o", &path(out), "--overwrite"]);
            fs::read(path(out)).unwrap()
        });
        assert!(bytes[0] == bytes[1], "{verb}");
        tool("qpdf", "qpdf", ["--check", &path("a.pdf")]);
    }
}
