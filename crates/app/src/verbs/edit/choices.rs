//! What several words of `strikeoff edit` take: an ink of a shelf, a region of the print, what of the
//! artwork makes ink, and how each is written on the command line.

use std::path::PathBuf;

use clap::Args;
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::Ink;
use strikeoff_core::tune::{Place, Region, Source};
use strikeoff_core::units::Mm;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::shelf::read_shelf;

/// An ink of a shelf, or of the shop's.
pub fn ink(name: &str, shelf: Option<&PathBuf>) -> anyhow::Result<Ink> {
    Ok(match shelf {
        Some(path) => read_shelf(path)?.find(name)?.clone(),
        None => ShopProfile::load()?.shelf.find(name)?.clone(),
    })
}

/// A region of the print, measured from its upper left corner.
#[derive(Args)]
#[group(required = true, multiple = false)]
pub struct RegionChoice {
    /// Left, top, width, height: lengths on the print (20mm, 1in) or percent of it
    #[arg(long, value_name = "L,T,W,H", value_parser = four, allow_hyphen_values = true)]
    rectangle: Option<[Along; 4]>,
    /// The ellipse in that rectangle
    #[arg(long, value_name = "L,T,W,H", value_parser = four, allow_hyphen_values = true)]
    ellipse: Option<[Along; 4]>,
    /// Corners x:y, at least three: lengths from the print's upper left corner or percent of it
    #[arg(long, value_name = "X:Y", num_args = 3.., value_parser = corner)]
    outline: Option<Vec<[Along; 2]>>,
}

/// How far along a side of the print.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Along {
    Part(f64),
    Mm(f64),
}

impl Along {
    /// As a fraction of the side.
    fn of(self, side_mm: f64) -> f64 {
        match self {
            Self::Part(part) => part,
            Self::Mm(mm) => mm / side_mm,
        }
    }

    /// Percent, with or without the sign, or a length with its unit; either may lie outside the print.
    fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if let Ok(percent) = text.trim_end_matches('%').trim_end().parse::<f64>() {
            return Some(Self::Part(percent / 100.0));
        }
        let (sign, length) = text.strip_prefix('-').map_or((1.0, text), |rest| (-1.0, rest));
        length.parse::<Mm>().ok().map(|mm| Self::Mm(sign * mm.get()))
    }
}

/// What of the artwork makes ink.
#[derive(Args)]
#[group(id = "source", required = true, multiple = false)]
pub struct SourceChoice {
    /// Dark tones make ink: solid at black
    #[arg(long)]
    dark: bool,
    /// Light tones make ink: solid at white
    #[arg(long)]
    light_tones: bool,
    /// Nearness to a colour
    #[arg(long, value_name = "#RRGGBB[:REACH[:FADE]]", value_parser = color_range)]
    color: Option<(Rgb8, f64, f64)>,
    /// Edges, as lines of a width on the print
    #[arg(long, value_name = "WIDTH[:STRENGTH]", value_parser = edges)]
    edges: Option<(Mm, f64)>,
    /// Shadows and the dark side of edges: what a black is for
    #[arg(long)]
    shadows: bool,
}

impl RegionChoice {
    pub fn region(self, print_mm: [f64; 2]) -> Region {
        let [across, down] = print_mm;
        let sides =
            |[left, top, width, height]: [Along; 4]| [left.of(across), top.of(down), width.of(across), height.of(down)];
        match (self.rectangle, self.ellipse) {
            (Some(rectangle), _) => {
                let [left, top, width, height] = sides(rectangle);
                Region::Rectangle { left, top, width, height }
            }
            (_, Some(ellipse)) => {
                let [left, top, width, height] = sides(ellipse);
                Region::Ellipse { left, top, width, height }
            }
            _ => {
                let corners = self.outline.unwrap_or_default();
                Region::Outline { points: corners.into_iter().map(|[x, y]| [x.of(across), y.of(down)]).collect() }
            }
        }
    }
}

impl SourceChoice {
    pub fn source(self) -> Source {
        match (self.color, self.edges) {
            (Some((color, reach, soft)), _) => Source::ColorRange { color, reach, soft },
            (_, Some((width_mm, strength))) => Source::Edges { width_mm, strength },
            _ if self.shadows => Source::shadows(),
            _ => Source::Lightness { light: self.light_tones },
        }
    }
}

pub fn point(text: &str) -> Result<[f64; 2], String> {
    let bad = || format!("\"{text}\" is no point; write two percentages like 50:42");
    let (a, b) = text.split_once(':').ok_or_else(bad)?;
    let number = |t: &str| t.trim().trim_end_matches('%').parse::<f64>().map_err(|_| bad());
    Ok([number(a)?, number(b)?])
}

pub fn place(text: &str) -> Result<Place, String> {
    match text {
        "usual" => Ok(Place::Usual),
        "first" => Ok(Place::First),
        "last" => Ok(Place::Last),
        _ => Err(format!("\"{text}\" is no place; it can be usual, first or last")),
    }
}

fn four(text: &str) -> Result<[Along; 4], String> {
    let list: Option<Vec<Along>> = text.split(',').map(Along::parse).collect();
    list.and_then(|list| list.try_into().ok()).ok_or_else(|| {
        format!(
            "\"{text}\" is no region; write left,top,width,height like 20mm,15mm,80mm,40mm or 10,10,80,40 in percent"
        )
    })
}

fn corner(text: &str) -> Result<[Along; 2], String> {
    let corner = text.split_once(':').and_then(|(x, y)| Some([Along::parse(x)?, Along::parse(y)?]));
    corner.ok_or_else(|| format!("\"{text}\" is no corner; write it like 20mm:35mm, or 50:42 in percent"))
}

fn color_range(text: &str) -> Result<(Rgb8, f64, f64), String> {
    let mut parts = text.split(':');
    let color = parts.next().unwrap_or_default().parse::<Rgb8>().map_err(|e| e.to_string())?;
    let mut next = |usual: f64| match parts.next() {
        None => Ok(usual),
        Some(part) => part.trim().parse::<f64>().map_err(|_| format!("\"{part}\" is no distance in OKLab, like 0.06")),
    };
    Ok((color, next(0.06)?, next(0.08)?))
}

fn edges(text: &str) -> Result<(Mm, f64), String> {
    let (width, strength) = text.split_once(':').unwrap_or((text, "2"));
    let strength = strength.trim().parse::<f64>().map_err(|_| format!("\"{strength}\" is no strength, like 2"))?;
    Ok((width.parse::<Mm>().map_err(|e| e.to_string())?, strength))
}
