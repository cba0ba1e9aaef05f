//! Holds redraws of SVG drawings to the drawings themselves, clean and through JPEG, beside a general tracer.
//!
//! `cargo run --release -p strikeoff-redraw --example measure -- FOLDER [--most N] [--out FOLDER] [--only NAME] [--direct]
//! [--alone] [--losses]`; `--alone` leaves the tracer out, `--losses` lists every region that the redraw lost.
//!
//! Drawings that are not flat (gradients, patterns, pictures, filters, opacity, text) are passed over. Each is
//! drawn 200 to 520 pixels long by resvg, four times as large and averaged, or with `--direct` as resvg smooths
//! it; JPEG is of quality 75 with halved colour, on white.

mod compare;
mod drawing;
mod peer;

use std::path::PathBuf;
use std::time::Instant;

use strikeoff_redraw::{Art, Settings, redraw};

use compare::{Score, Truth};
use drawing::Drawing;

struct Options {
    folder: PathBuf,
    most: usize,
    out: Option<PathBuf>,
    only: Option<String>,
    direct: bool,
    alone: bool,
    losses: bool,
}

fn options() -> Option<Options> {
    let mut args = std::env::args().skip(1);
    let folder = args.next()?.into();
    let mut options = Options { folder, most: 200, out: None, only: None, direct: false, alone: false, losses: false };
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--most" => options.most = args.next()?.parse().ok()?,
            "--out" => options.out = Some(args.next()?.into()),
            "--direct" => options.direct = true,
            "--alone" => options.alone = true,
            "--losses" => options.losses = true,
            "--only" => options.only = Some(args.next()?),
            _ => return None,
        }
    }
    Some(options)
}

/// Sums over drawings, for one way of drawing one kind of art.
#[derive(Default)]
struct Total {
    scores: Vec<Score>,
    seconds: f64,
    pixels: f64,
    refused: usize,
}

fn main() {
    let Some(options) = options() else {
        eprintln!("usage: measure FOLDER [--most N] [--out FOLDER] [--only NAME] [--direct] [--alone] [--losses]");
        std::process::exit(2);
    };
    let files = drawing::svgs(&options.folder);
    let mut totals: Vec<(&str, Total)> =
        ["clean, redraw", "clean, peer", "JPEG, redraw", "JPEG, peer"].map(|n| (n, Total::default())).into();
    let mut done = 0;
    for file in &files {
        let name = file.file_stem().and_then(|s| s.to_str()).unwrap_or_default().to_owned();
        if done >= options.most || options.only.as_ref().is_some_and(|o| !name.contains(o.as_str())) {
            continue;
        }
        let Some(drawing) = Drawing::open(file).filter(Drawing::has_few_colours) else { continue };
        done += 1;
        let clean = drawing.picture(if options.direct { 1 } else { 4 });
        let jpeg = drawing::through_jpeg(&clean, 75);
        let truths = [Truth::of(&drawing, false), Truth::of(&drawing, true)];
        let mut line = format!("{name:40.40} {:3}x{:<3}", clean.width(), clean.height());
        let mut lost = Vec::new();
        for (kind, art) in [&clean, &jpeg].into_iter().enumerate() {
            for way in 0..if options.alone { 1 } else { 2 } {
                let total = &mut totals[kind * 2 + way].1;
                let start = Instant::now();
                let svg = if way == 0 { ours(art) } else { Ok(peer::trace(art)) };
                total.seconds += start.elapsed().as_secs_f64();
                total.pixels += f64::from(art.width() * art.height());
                match svg {
                    Ok(svg) => {
                        let score = truths[kind].score(&svg);
                        line += &format!(" | {score}");
                        if options.losses && way == 0 {
                            lost.extend(score.losses.iter().map(|loss| format!("    {kind} {loss}")));
                        }
                        total.scores.push(score);
                        if let Some(out) = &options.out {
                            keep(out, &format!("{name}-{kind}-{way}"), art, &svg);
                        }
                    }
                    Err(why) => {
                        line += &format!(" | refused {why:.30}");
                        total.refused += 1;
                    }
                }
            }
        }
        println!("{line}");
        lost.iter().for_each(|loss| println!("{loss}"));
    }
    table(done, &totals);
}

fn ours(art: &image::RgbaImage) -> Result<String, String> {
    let art = Art::new(art.width() as usize, art.height() as usize, art.as_raw()).map_err(|e| e.to_string())?;
    redraw(&art, &Settings::default()).map(|r| r.to_svg()).map_err(|e| e.to_string())
}

fn keep(out: &std::path::Path, name: &str, art: &image::RgbaImage, svg: &str) {
    std::fs::create_dir_all(out).expect("a folder for results");
    art.save(out.join(format!("{name}.png"))).expect("a picture saved");
    std::fs::write(out.join(format!("{name}.svg")), svg).expect("a drawing saved");
    drawing::beside(art, svg).save(out.join(format!("{name}-beside.png"))).expect("a picture saved");
}

fn table(done: usize, totals: &[(&str, Total)]) {
    println!("\n{done} drawings");
    println!(
        "| art, way | mean edge error, px | 95 % | corners within 0.3 px | mean corner error | regions lost | of them hairs | nodes | s/Mpx | refused |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for (name, t) in totals {
        let n = t.scores.len().max(1) as f64;
        let mean = |f: &dyn Fn(&Score) -> f64| t.scores.iter().map(f).sum::<f64>() / n;
        let corners: usize = t.scores.iter().map(|s| s.corners).sum();
        let near: usize = t.scores.iter().map(|s| s.corners_near).sum();
        let far: f64 = t.scores.iter().map(|s| s.corner_sum).sum();
        let lost: usize = t.scores.iter().map(|s| s.lost).sum();
        let regions: usize = t.scores.iter().map(|s| s.regions).sum();
        let hairs: usize = t.scores.iter().map(|s| s.hairs).sum();
        let hairs_lost: usize = t.scores.iter().map(|s| s.hairs_lost).sum();
        println!(
            "| {name} | {:.3} | {:.3} | {:.1} % of {corners} | {:.3} | {lost} of {regions} | {hairs_lost} of {hairs} | {:.0} | {:.2} | {} |",
            mean(&|s| s.mean),
            mean(&|s| s.high),
            100.0 * near as f64 / corners.max(1) as f64,
            far / corners.max(1) as f64,
            mean(&|s| s.nodes as f64),
            t.seconds / t.pixels * 1e6,
            t.refused
        );
    }
}
