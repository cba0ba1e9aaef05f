//! What the table can show.

/// What the table shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum View {
    /// The proof: what the shirt will look like.
    Print,
    /// The client's picture at print size, as it should look on the garment.
    Art,
    /// One film as it will be.
    Screen,
    /// The real halftone.
    Dots,
    /// How far proof and art differ, CIEDE2000.
    Difference,
    /// Total ink.
    BuildUp,
    /// The proof on a bad day: screens are out of register and print heavier and lighter.
    BadDay,
    /// How sure each colour is, by the press's fingerprint.
    Sure,
}

impl View {
    /// Those of the bar, in its order; the bad day and how sure colours are, are looked at from the findings.
    pub const ALL: [Self; 6] = [Self::Print, Self::Art, Self::Screen, Self::Dots, Self::Difference, Self::BuildUp];

    /// As the bar names it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Print => "Print",
            Self::Art => "Art",
            Self::Screen => "Screen",
            Self::Dots => "Dots",
            Self::Difference => "dE",
            Self::BuildUp => "Build-up",
            Self::BadDay => "Bad day",
            Self::Sure => "Sure",
        }
    }

    /// What it shows, in a sentence.
    pub fn hint(self) -> &'static str {
        match self {
            Self::Print => "The proof: the shown screens printed on the garment",
            Self::Art => "The artwork at print size on the garment, as it should look",
            Self::Screen => "The chosen screen as a film: black where ink will print",
            Self::Dots => "The films' own dots in ink; zoom in to see them. On press they grow",
            Self::Difference => "How far the proof is from the artwork, CIEDE2000",
            Self::BadDay => "The proof with screens off register and gain up and down",
            Self::Sure => "How sure each colour is: CIEDE2000 that it stays within, 19 times of 20",
            Self::BuildUp => "How much ink lies at each spot, all shown screens together",
        }
    }

    /// Whether it lies on the shirt; the others lie on the bare table.
    pub fn on_shirt(self) -> bool {
        matches!(self, Self::Print | Self::Art | Self::Dots | Self::BadDay)
    }
}

/// A tile of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Spot {
    /// Level of the pyramid, or device pixels to a pixel for dots.
    pub level: usize,
    /// Tiles from the left.
    pub x: usize,
    /// Tiles from the top.
    pub y: usize,
}
