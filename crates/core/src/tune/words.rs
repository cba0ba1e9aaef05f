//! An edit in words, for lists: what it works on and with which numbers.

use super::{Edit, Place, Region, Source};
use crate::units::{Coverage, Mm};

impl Edit {
    /// What it works on and how, in a short phrase: "Teal by 0.2 mm". The kind of edit itself is
    /// its [`Edit::label`].
    pub fn in_words(&self) -> String {
        match self {
            Self::Merge { from, into, balance } if balance.get() == 0.5 => format!("{from} into {into}"),
            Self::Merge { from, into, balance } => format!("{from} into {into}, balance {}", percent(*balance)),
            Self::ReInk { screen, ink, resolve } => format!("{screen} with {}{}", ink.name, again(*resolve)),
            Self::Drop { screen, resolve } => format!("{screen}{}", again(*resolve)),
            Self::Order { screens } => screens.join(", "),
            Self::Trim { screen, below, above, soft, background } => {
                let mut words = format!("{screen} below {}", percent(*below));
                if above.get() < 1.0 {
                    words += &format!(", solid from {}", percent(*above));
                }
                if soft.get() > 0.0 {
                    words += &format!(", soft over {}", percent(*soft));
                }
                if *background {
                    words += ", out of the background";
                }
                words
            }
            Self::Curve { screen, curve } => format!("{screen}, {} points", curve.points().len()),
            Self::Levels { screen, none, solid, middle } => {
                let bent = if middle.get() == 0.5 { String::new() } else { format!(", middle {}", percent(*middle)) };
                format!("{screen} from {} to {}{bent}", percent(*none), percent(*solid))
            }
            Self::Gain { screen, points } => format!("{screen} {points:+.1} points"),
            Self::Density { screen, factor } => format!("{screen} x {factor:.2}"),
            Self::Invert { screen } => screen.clone(),
            Self::Choke { screen, by_mm } | Self::Spread { screen, by_mm } => format!("{screen} by {}", mm(*by_mm)),
            Self::Specks { screen, under_mm2, .. } | Self::Pinholes { screen, under_mm2, .. } => {
                format!("{screen} under {under_mm2:.2} mm2")
            }
            Self::Blur { screen, radius_mm } => format!("{screen} by {}", mm(*radius_mm)),
            Self::Sharpen { screen, radius_mm, amount } => format!("{screen} x {amount:.1} at {}", mm(*radius_mm)),
            Self::MaskRegion { screen, region, outside, .. } => {
                let side = if *outside { "outside" } else { "inside" };
                let shape = match region {
                    Region::Rectangle { .. } => "a rectangle",
                    Region::Ellipse { .. } => "an ellipse",
                    Region::Outline { .. } => "an outline",
                };
                format!("{screen} {side} {shape}")
            }
            Self::MaskByScreen { screen, by } => format!("{screen} by {by}"),
            Self::KnockOut { screen, by, overlap_mm } if overlap_mm.get() > 0.0 => {
                format!("{by} out of {screen}, overlap {}", mm(*overlap_mm))
            }
            Self::KnockOut { screen, by, .. } => format!("{by} out of {screen}"),
            Self::Subtract { screen, by, amount } => format!("{} of {by} off {screen}", percent(*amount)),
            Self::Swap { a, b } => format!("{a} and {b}"),
            Self::Copy { screen, name, .. } => format!("{screen} as {name}"),
            Self::Hits { screen, hits } => format!("{screen} {hits}"),
            Self::Split { screen, name, from, to, .. } => {
                format!("{screen} {} to {} to {name}", percent(*from), percent(*to))
            }
            Self::FromArt { name, source, .. } => match source {
                Source::Lightness { light: true } => format!("{name} from light tones"),
                Source::Lightness { .. } => format!("{name} from dark tones"),
                Source::ColorRange { color, .. } => format!("{name} from the colour {color}"),
                Source::Edges { .. } => format!("{name} from edges"),
                Source::Shadows { .. } => format!("{name} from shadows and edges"),
            },
            Self::Add { name, place, resolve, .. } => {
                let place = match place {
                    Place::Usual => "",
                    Place::First => ", printed first",
                    Place::Last => ", printed last",
                };
                format!("{name}{place}{}", again(*resolve))
            }
            Self::ClearBackground { screen, feather_mm, .. } if feather_mm.get() > 0.0 => {
                format!("{screen}, soft over {}", mm(*feather_mm))
            }
            Self::ClearBackground { screen, .. } => screen.clone(),
            Self::Import { name, picture, .. } => format!("{name} from {}", picture.file),
        }
    }
}

fn percent(part: Coverage) -> String {
    let value = part.get() * 100.0;
    if (value - value.round()).abs() < 0.05 { format!("{value:.0} %") } else { format!("{value:.1} %") }
}

fn mm(length: Mm) -> String {
    format!("{length} mm")
}

fn again(resolve: bool) -> &'static str {
    if resolve { ", separated again" } else { "" }
}
