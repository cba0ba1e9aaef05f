//! How large a print is to be: the same options for every verb that begins a job.

use anyhow::{anyhow, bail};
use strikeoff_core::job::Job;
use strikeoff_core::prep::{CropBox, Enlarging};
use strikeoff_core::units::{Mm, Ppi};
use strikeoff_files::profile::ShopProfile;

/// How art is enlarged.
#[derive(Clone, Copy, clap::ValueEnum)]
pub enum Enlarge {
    /// Along edges: crisp, without halos
    Edges,
    /// By the plain kernel
    Plain,
    /// By a trained net that sharpens edges and removes compression damage
    Repair,
    /// Flat art only: redrawn as outlines, sharp at any size
    Redraw,
}

impl From<Enlarge> for Enlarging {
    fn from(enlarge: Enlarge) -> Self {
        match enlarge {
            Enlarge::Edges => Self::Edges,
            Enlarge::Plain => Self::Plain,
            Enlarge::Repair => Self::Repair,
            Enlarge::Redraw => Self::Redraw,
        }
    }
}

/// The largest print.
#[derive(clap::Args)]
pub struct Size {
    /// Largest print height, as 18in or 457mm
    #[arg(long, value_name = "LENGTH")]
    max_height: Option<Mm>,
    /// Largest print width, as 12in or 305mm
    #[arg(long, value_name = "LENGTH")]
    max_width: Option<Mm>,
    /// Largest print: a platen of the shop profile by name, or its usual one
    #[arg(long, value_name = "NAME", num_args = 0..=1, conflicts_with_all = ["max_height", "max_width"])]
    platen: Option<Option<String>>,
    /// Keep this part of the picture: left, top, width, height as fractions of it
    #[arg(long, value_name = "L,T,W,H", value_delimiter = ',')]
    crop: Vec<f64>,
    /// Working resolution at print size
    #[arg(long, value_name = "PPI", default_value = "300")]
    ppi: Ppi,
    /// How art is enlarged
    #[arg(long, value_enum, default_value = "repair")]
    enlarge: Enlarge,
}

/// A crop as it is typed: nothing, or four fractions.
pub fn crop_box(typed: &[f64]) -> anyhow::Result<Option<CropBox>> {
    match *typed {
        [] => Ok(None),
        [left, top, width, height] => Ok(Some(CropBox { left, top, width, height })),
        _ => bail!("--crop takes four numbers: left, top, width, height"),
    }
}

impl Size {
    /// Sizes a job.
    pub fn apply(&self, job: &mut Job, profile: &ShopProfile) -> anyhow::Result<()> {
        job.prep.max_height_mm = self.max_height;
        job.prep.max_width_mm = self.max_width;
        job.prep.ppi = self.ppi;
        job.prep.enlarging = self.enlarge.into();
        job.prep.crop = crop_box(&self.crop)?;
        match &self.platen {
            Some(name) => profile.fit_platen(job, name.as_deref()).map_err(|error| anyhow!(error)),
            None => Ok(()),
        }
    }

    /// Whether none was named.
    pub fn is_open(&self) -> bool {
        self.max_height.is_none() && self.max_width.is_none() && self.platen.is_none()
    }
}
