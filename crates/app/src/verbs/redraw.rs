//! `strikeoff redraw`: the outlines of flat art as an SVG.

use std::path::PathBuf;

use serde_json::json;
use strikeoff_core::bounds;
use strikeoff_core::color::Rgb8;
use strikeoff_core::prep::{PrepSettings, outlines};
use strikeoff_core::units::Coverage;
use strikeoff_files::art::{ReadOptions, receive_art, write_svg};

use super::files::Files;
use crate::terminal::{Report, Terminal};

/// Redraw flat art as outlines and write them as an SVG
#[derive(clap::Args)]
pub struct Args {
    /// The client's picture: a logo, a badge, type of few flat colours
    art: PathBuf,
    /// Where the outlines go: a name that ends in .svg
    #[arg(short, long, value_name = "SVG")]
    output: PathBuf,
    /// Page of a PDF or multi-page TIFF
    #[arg(long, default_value_t = 1)]
    page: usize,
    /// How many colours, clear among them; without it as many as the art has
    #[arg(long, value_name = "COUNT")]
    colours: Option<u32>,
    /// How calm the outlines are, 0 to 1
    #[arg(long, default_value = "0.5", value_name = "PART")]
    smoothness: Coverage,
}

impl Args {
    /// The files that it reads and writes.
    pub fn files(&self) -> Files {
        Files::read(&self.art).write(&self.output)
    }
}

/// Redraws.
pub fn run(args: Args, terminal: &Terminal) -> anyhow::Result<Report> {
    let progress = terminal.progress();
    let received = receive_art(&args.art, ReadOptions { page: args.page })?;
    let settings = PrepSettings {
        redraw_colours: args.colours,
        redraw_smoothness: args.smoothness.get(),
        ..PrepSettings::default()
    };
    bounds::check(&settings)?;
    progress.step("redraw", 0.1)?;
    let made = outlines(&received.art.picture, &settings)?;
    write_svg(&args.output, &made.to_svg())?;
    let (shapes, count) = (made.shapes.len(), made.colours.len());
    let explained = made.flatness * 100.0;
    let text = format!(
        "{shapes} shapes in {count} colours, as outlines in {}\n{explained:.1} % of the artwork matches the redraw\n",
        args.output.display()
    );
    let colours = made.colours.iter().map(|colour| match colour.is_clear() {
        true => "clear".to_owned(),
        false => Rgb8(colour.rgb).to_string(),
    });
    let json = json!({
        "svg": args.output.display().to_string(),
        "shapes": shapes,
        "colours": colours.collect::<Vec<_>>(),
        "flatness": made.flatness,
    });
    Ok(Report { json, text })
}
