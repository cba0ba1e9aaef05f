//! How a job begins: with a picture as received, a garment, inks, and what is the same for every job
//! of the shop.

use std::path::Path;

use strikeoff_core::Progress;
use strikeoff_core::bounds::table;
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::names::clean;
use strikeoff_core::prep::Enlarging;
use strikeoff_core::separate::SeparationSettings;

use crate::art::{ArtError, ReadOptions, Received, read_art_file, receive_bytes_watched};
use crate::profile::ShopProfile;

/// A client's picture as a job keeps it.
pub struct ReceivedFile {
    /// File name, without control codes.
    pub name: String,
    /// The file, byte for byte.
    pub bytes: Vec<u8>,
    /// What it shows.
    pub received: Received,
}

impl ReceivedFile {
    /// Reads a page, from 1, of a client's picture; cancelling ends the drawing of an SVG or PDF.
    pub fn read(path: &Path, page: usize, progress: &Progress) -> Result<Self, ArtError> {
        let (name, bytes) = read_art_file(path)?;
        let received = receive_bytes_watched(&name, &bytes, ReadOptions { page }, progress)?;
        Ok(Self { name: clean(&name, table::FILE_NAME.most), bytes, received })
    }
}

/// A job for a picture: titled like its file, with a screen for each ink in print order. `choose`
/// says how it is separated; the shop's meshes and gain follow from that.
pub fn begin_job<E>(
    art_name: &str,
    garment: Garment,
    inks: impl IntoIterator<Item = Ink>,
    profile: &ShopProfile,
    choose: impl FnOnce(&mut Job) -> Result<(), E>,
) -> Result<Job, E> {
    let mut job = Job::new(garment);
    let stem = art_name.rsplit_once('.').map(|(stem, _)| stem).filter(|stem| !stem.is_empty()).unwrap_or(art_name);
    job.info.title = clean(stem, table::TITLE.most);
    job.separation = SeparationSettings::for_inks(inks);
    // Better on every kind of art that was measured (assets/enlarger/card.md): art that is not enlarged is left
    // as it is.
    job.prep.enlarging = Enlarging::Repair;
    choose(&mut job)?;
    profile.apply_to(&mut job);
    job.give_angles();
    Ok(job)
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use strikeoff_core::separate::Method;

    use super::*;
    use crate::shelf::house_shelf;

    #[test]
    fn a_job_is_titled_like_its_picture_and_takes_the_shops_meshes_for_its_method() {
        let white = || Garment::of_color("#FFFFFF".parse().unwrap());
        let inks = || house_shelf().inks.iter().take(2).cloned();
        let profile = ShopProfile { heads: 6, ..ShopProfile::default() };
        let spot = |job: &mut Job| -> Result<(), Infallible> {
            job.set_method(Method::SpotArt);
            Ok(())
        };
        let job = begin_job("heron\u{1b}[31m.final.png", white(), inks(), &profile, spot).unwrap();
        assert_eq!((job.info.title.as_str(), job.run.heads), ("heron [31m.final", 6));
        assert!((job.run.mesh.threads_per_inch - profile.mesh.solid_tpi).abs() < 20.0);
        assert_eq!(job.separation.screens.len(), 2);
        let none = |_: &mut Job| -> Result<(), Infallible> { Ok(()) };
        let long = begin_job(&"n".repeat(100_000), white(), inks(), &profile, none).unwrap();
        long.check().unwrap();
        assert_eq!(begin_job(".png", white(), inks(), &profile, none).unwrap().info.title, ".png");
    }
}
