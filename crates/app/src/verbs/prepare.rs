//! `strikeoff prepare`: the client's picture made ready at print size, as a picture file, with the
//! facts of what came in and what it is worth at that size.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::ValueEnum;
use serde_json::json;
use strikeoff_core::color::Rgb8;
use strikeoff_core::prep::{
    BackgroundSettings, BackgroundWay, ENLARGED_FROM, Enlarging, PrepSettings, PrintArea, SpeckSettings, Turn, Wear,
    prepare, print_facts, stray_specks,
};
use strikeoff_core::raster::Detail;
use strikeoff_core::units::{Coverage, Degrees, Lpi, MM_PER_INCH, Mm, Ppi};
use strikeoff_files::art::{ReadOptions, receive_art, write_prepared};
use strikeoff_files::limits::{Budget, check_print};

use super::files::Files;
use super::size::{Enlarge, crop_box};
use crate::terminal::{Report, Terminal};

/// What comes in, what is done to it, and where it goes.
#[derive(clap::Args)]
pub struct Args {
    /// The client's picture: PNG, JPEG, TIFF, WebP, BMP, GIF, SVG or PDF
    art: PathBuf,
    /// Where the prepared picture goes: a name that ends in .png or .tif
    #[arg(short, long, value_name = "PNG|TIFF")]
    output: PathBuf,
    /// Page of a PDF or multi-page TIFF
    #[arg(long, default_value_t = 1)]
    page: usize,
    /// Quarter turns clockwise
    #[arg(long, default_value_t = 0)]
    quarter_turns: u8,
    /// Mirror left to right, before turning
    #[arg(long)]
    mirror: bool,
    /// Further turn counter-clockwise in degrees
    #[arg(long, default_value = "0", allow_negative_numbers = true, value_name = "DEGREES")]
    straighten: Degrees,
    /// Keep this part: left, top, width, height as fractions of the turned picture
    #[arg(long, value_name = "L,T,W,H", value_delimiter = ',')]
    crop: Vec<f64>,
    /// Crop to the content with this margin on the print, such as 3mm or 0.1in
    #[arg(long, value_name = "MARGIN")]
    content: Option<Mm>,
    /// Ease the block borders of JPEG art, 0 to 1
    #[arg(long, default_value = "0", value_name = "STRENGTH")]
    deblock: Coverage,
    /// Even out noise without crossing edges, 0 to 1
    #[arg(long, default_value = "0", value_name = "STRENGTH")]
    denoise: Coverage,
    /// Take the background away
    #[arg(long, value_enum)]
    background: Option<Way>,
    /// The background's colour as #RRGGBB; found along the edge if not given
    #[arg(long, requires = "background")]
    background_color: Option<Rgb8>,
    /// Distance from the background's colour that still counts as background, 0 to 1
    #[arg(long, default_value = "0.06")]
    tolerance: Coverage,
    /// Softness of the new edge on the print
    #[arg(long, default_value = "0mm")]
    feather: Mm,
    /// Remove stray specks up to this wide on the print, such as 0.5mm
    #[arg(long, value_name = "WIDEST")]
    remove_specks: Option<Mm>,
    /// Largest print width, such as 15in or 380mm
    #[arg(long)]
    max_width: Option<Mm>,
    /// Largest print height
    #[arg(long)]
    max_height: Option<Mm>,
    /// Largest print of the platen, width x height, such as 14x18in or 356x457mm
    #[arg(long, value_name = "WxH")]
    platen: Option<PrintArea>,
    /// Largest print of the smallest garment in the run
    #[arg(long, value_name = "WxH")]
    smallest_garment: Option<PrintArea>,
    /// Working resolution at print size
    #[arg(long, default_value = "300")]
    ppi: Ppi,
    /// How art is enlarged
    #[arg(long, value_enum, default_value = "repair")]
    enlarge: Enlarge,
    /// With --enlarge repair: how much of the damage found is removed, 0 to 1
    #[arg(long, default_value = "1", value_name = "STRENGTH")]
    repair: Coverage,
    /// With --enlarge redraw: how many colours, clear among them; without it as many as the art has
    #[arg(long, value_name = "COUNT")]
    colours: Option<u32>,
    /// With --enlarge redraw: how calm the outlines are, 0 to 1
    #[arg(long, default_value = "0.5", value_name = "PART")]
    smoothness: Coverage,
    /// Strength of sharpening, 0 none
    #[arg(long, default_value_t = 0.6)]
    sharpen: f64,
    /// Radius of sharpening on the print
    #[arg(long, default_value = "0.15mm")]
    radius: Mm,
    /// Differences below this are not sharpened, 0 to 1
    #[arg(long, default_value = "0.01", value_name = "PART")]
    sharpen_threshold: Coverage,
    /// How far an edge may rise above its surroundings, 0 to 1; 0 makes no halo
    #[arg(long, default_value = "0.06", value_name = "PART")]
    halo_limit: Coverage,
    /// Ruling that the art is judged against
    #[arg(long, default_value = "45", value_name = "LPI")]
    ruling: Lpi,
}

#[derive(Clone, Copy, ValueEnum)]
enum Way {
    /// What is joined to the picture's edge
    Flood,
    /// Islands of its colour inside the art as well
    FloodAndIslands,
    /// As see-through as its colour is mixed in, everywhere
    ShowThrough,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.art).write(&self.output)
    }
}

/// Prepares and reports.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let settings = settings(&args)?;
    let received = receive_art(&args.art, ReadOptions { page: args.page })?;
    check_print(&received.art, &settings, Detail::Full, Budget::of_machine())?;
    let made = prepare(&received.art, &settings, Detail::Full, &terminal.progress())?;
    let facts = print_facts(&received.art, &made, args.ruling);
    let specks = stray_specks(&received.art, &settings, Detail::Full, &terminal.progress())?;
    write_prepared(&args.output, &made.picture, made.ppi)?;

    let file = &received.facts;
    let mut text = String::new();
    writeln!(
        text,
        "{} {}, {} x {} pixels, {} bits, profile: {}, {}",
        file.format,
        file.samples,
        file.width_px,
        file.height_px,
        file.bits_per_sample,
        file.color_profile,
        file.stated_ppi.map_or("no resolution stated".into(), |ppi| format!("{ppi:.0} ppi stated")),
    )?;
    if let Some(quality) = file.jpeg_quality {
        writeln!(text, "JPEG quality about {quality}; block borders {:.2}x other steps", facts.blocking_ratio)?;
    }
    for words in facts.wear.iter().flat_map(Wear::words) {
        writeln!(text, "{words}")?;
    }
    if file.pages > 1 {
        writeln!(text, "page {} of {}; --page chooses another", args.page, file.pages)?;
    }
    let [w, h] = made.print_size_mm;
    writeln!(text, "prints {w:.1} x {h:.1} mm ({:.2} x {:.2} in)", w / MM_PER_INCH, h / MM_PER_INCH)?;
    writeln!(text, "{}", facts.meaning)?;
    let factor = made.ppi.get() / made.true_ppi;
    if factor >= ENLARGED_FROM {
        let way = match settings.enlarging {
            Enlarging::Edges => "along edges",
            Enlarging::Plain => "by the plain kernel",
            Enlarging::Repair => "and repaired",
            Enlarging::Redraw => "and redrawn as outlines",
        };
        writeln!(text, "enlarged {factor:.1} times {way}")?;
    }
    let count = specks.len();
    match (count, &settings.specks) {
        (0, _) => {}
        (_, Some(_)) => writeln!(text, "{count} stray specks were taken away")?,
        (_, None) => writeln!(text, "{count} stray specks would print; --remove-specks 0.5mm takes them away")?,
    }
    for note in file.clipped_colors().iter().chain(&file.notes) {
        writeln!(text, "{note}")?;
    }
    let px = [made.picture.width(), made.picture.height()];
    writeln!(text, "wrote {} at {} x {} pixels, {} ppi", args.output.display(), px[0], px[1], made.ppi)?;
    let json = json!({"file": file, "print": facts, "specks": specks, "specks_removed": settings.specks.is_some(), "pixels": px, "ppi": made.ppi.get()});
    Ok(Report { json, text })
}

fn settings(args: &Args) -> anyhow::Result<PrepSettings> {
    let crop = crop_box(&args.crop)?;
    let background = args.background.map(|way| BackgroundSettings {
        way: match way {
            Way::Flood => BackgroundWay::Flood,
            Way::FloodAndIslands => BackgroundWay::FloodAndIslands,
            Way::ShowThrough => BackgroundWay::ShowThrough,
        },
        color: args.background_color,
        tolerance: args.tolerance.get(),
        feather_mm: args.feather,
    });
    Ok(PrepSettings {
        page: args.page,
        turn: Turn { mirrored: args.mirror, quarters: args.quarter_turns },
        straighten: args.straighten,
        crop,
        content_margin_mm: args.content,
        deblock: args.deblock.get(),
        denoise: args.denoise.get(),
        background,
        specks: args.remove_specks.map(|widest_mm| SpeckSettings { widest_mm, ..SpeckSettings::default() }),
        max_width_mm: args.max_width,
        max_height_mm: args.max_height,
        platen: args.platen,
        smallest_garment: args.smallest_garment,
        ppi: args.ppi,
        enlarging: args.enlarge.into(),
        redraw_colours: args.colours,
        redraw_smoothness: args.smoothness.get(),
        repair: args.repair.get(),
        sharpen_amount: args.sharpen,
        sharpen_radius_mm: args.radius,
        sharpen_threshold: args.sharpen_threshold.get(),
        halo_limit: args.halo_limit.get(),
    })
}
