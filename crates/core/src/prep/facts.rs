//! What the art is worth at its print size: true resolution against the ruling, blocks of
//! compression, edges that are soft. Numbers with their meaning in words.

use serde::Serialize;

use super::soft::{SoftEdges, find_soft_edges};
use super::{Prepared, Wear, find_blocking};
use crate::raster::Art;
use crate::units::{Lpi, MM_PER_INCH};

/// How art of some resolution prints at some ruling. Common practice, no source: 1.5 to 2 pixels
/// of art a halftone line carry all that the dots can show; under 1 the pixels are coarser than
/// the dots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fineness {
    /// Two or more pixels a line.
    Ample,
    /// 1.5 to 2.
    Enough,
    /// 1 to 1.5.
    Soft,
    /// Under 1.
    Coarse,
}

impl Fineness {
    /// Of so many pixels of art a halftone line.
    pub fn of_ratio(ratio: f64) -> Self {
        match ratio {
            r if r >= 2.0 => Self::Ample,
            r if r >= 1.5 => Self::Enough,
            r if r >= 1.0 => Self::Soft,
            _ => Self::Coarse,
        }
    }
}

/// Facts of art at its print size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrintFacts {
    /// Width and height of the print.
    pub print_size_mm: [f64; 2],
    /// Pixels of the art an inch of print.
    pub true_ppi: f64,
    /// Halftone ruling that it is held against.
    pub ruling_lpi: f64,
    /// Pixels of art a halftone line.
    pub ratio: f64,
    /// What that ratio is worth.
    pub fineness: Fineness,
    /// The same in words, with what to do.
    pub meaning: String,
    /// Height at which the art would have 1.5 pixels a line.
    pub height_at_enough_mm: f64,
    /// Mean step across an 8 x 8 grid against the step elsewhere: 1 no blocks, 1.3 visible.
    pub blocking_ratio: f64,
    /// What compression and resizing did to the art before it came.
    pub wear: Option<Wear>,
    /// Median width of edges on the print (10 to 90 %), in mm; absent without edges.
    pub edge_width_mm: Option<f64>,
    /// Share of edges that are wider than one and a half halftone lines.
    pub soft_edge_share: f64,
}

/// The facts of `art` as `prepared` for a ruling. Edges are judged on `prepared`, which may be a
/// proxy of 1000 pixels or more.
pub fn print_facts(art: &Art, prepared: &Prepared, ruling: Lpi) -> PrintFacts {
    let soft = find_soft_edges(&prepared.picture, prepared.ppi.get(), ruling);
    facts_from(art, prepared, ruling, &soft)
}

fn facts_from(art: &Art, prepared: &Prepared, ruling: Lpi, soft: &SoftEdges) -> PrintFacts {
    let ratio = prepared.true_ppi / ruling.get();
    let fineness = Fineness::of_ratio(ratio);
    let height_at_enough_mm = prepared.print_size_mm[1] * ratio / 1.5;
    let size = format!("{:.0} true ppi are {ratio:.1}x the {ruling} lpi ruling", prepared.true_ppi);
    let inches = height_at_enough_mm / MM_PER_INCH;
    let meaning = match fineness {
        Fineness::Ample => format!("{size}: all the detail that the dots can carry is there."),
        Fineness::Enough => format!(
            "{size}: enough for tones at this ruling. Type and hard edges will look a little soft, because dots would show more than the file holds; enlarging adds none."
        ),
        Fineness::Soft => format!(
            "{size}: the print will look soft. Ask for a larger file, or print up to {inches:.1} in high for 1.5x."
        ),
        Fineness::Coarse => format!(
            "{size}: pixels are coarser than the dots, and the print will look blurred or stepped. Ask for a larger file, or print up to {inches:.1} in high for 1.5x."
        ),
    };
    PrintFacts {
        print_size_mm: prepared.print_size_mm,
        true_ppi: prepared.true_ppi,
        ruling_lpi: ruling.get(),
        ratio,
        fineness,
        meaning,
        height_at_enough_mm,
        blocking_ratio: find_blocking(&art.picture).ratio,
        wear: Wear::of(&art.picture),
        edge_width_mm: soft.median_width_mm,
        soft_edge_share: soft.soft_share,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Progress;
    use crate::prep::{PrepSettings, prepare};
    use crate::raster::{Detail, Picture, Plane};
    use crate::units::{Mm, Ppi};

    #[test]
    fn a_web_file_at_18_inches_is_1_9_times_a_45_line_ruling() {
        // Arithmetic: 16 in x 96 ppi / 18 in = 85.3 ppi; 85.3 / 45 = 1.9.
        let pixels = Plane::from_fn(1152, 1536, |x, y| if (x / 64 + y / 64) % 2 == 0 { [9000; 4] } else { [60000; 4] });
        let art = Art { picture: Picture::new(pixels), ppi: Ppi::new(96.0).unwrap() };
        let settings = PrepSettings { max_height_mm: Some(Mm::from_inches(18.0).unwrap()), ..Default::default() };
        let made = prepare(&art, &settings, Detail::Proxy { longest_px: 1200 }, &Progress::none()).unwrap();
        let facts = print_facts(&art, &made, Lpi::new(45.0).unwrap());
        assert!((facts.true_ppi - 85.33).abs() < 0.01 && (facts.ratio - 1.896).abs() < 0.001);
        assert_eq!(facts.fineness, Fineness::Enough);
        assert!(facts.meaning.contains("85 true ppi are 1.9x the 45 lpi ruling"), "{}", facts.meaning);
        assert!((facts.height_at_enough_mm / 25.4 - 22.76).abs() < 0.01);
    }
}
