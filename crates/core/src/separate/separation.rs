//! The separation: planes by the chosen method, as screens in print order.

use super::{MAX_GARMENTS, Method, Printing, SeparateError, SeparationSettings, index, process, spot};
use crate::Progress;
use crate::prep::Prepared;
use crate::press::Ground;
use crate::raster::Plane;
use crate::screens::{Screen, Screens};

/// Separates a prepared picture into the planned screens for a garment.
pub fn separate(
    prepared: &Prepared,
    ground: &Ground<'_>,
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Screens, SeparateError> {
    separate_on(prepared, &[Printing::alone(ground)], settings, progress)
}

/// Separates it into screens of which each garment prints some: in simulated process they are solved for all of them
/// together; spot art takes the screens that garments share as the first of them has them.
pub fn separate_on(
    prepared: &Prepared,
    printings: &[Printing<'_>],
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Screens, SeparateError> {
    let Some(first) = printings.first().filter(|_| printings.len() <= MAX_GARMENTS) else {
        return Err(SeparateError::Garments { count: printings.len() });
    };
    let planes = match settings.method {
        Method::SimulatedProcess => process::planes(prepared, printings, settings, progress)?,
        Method::SpotArt => spot_planes(prepared, printings, settings, progress)?,
        Method::Index if printings.len() > 1 => return Err(SeparateError::IndexOnSeveral),
        Method::Index => index::planes(prepared, &first.ground, settings, progress)?,
    };
    progress.step("separate", 1.0)?;
    let list = settings
        .screens
        .iter()
        .zip(planes)
        .map(|(s, coverage)| Screen { name: s.name.clone(), ink: s.ink.clone(), hits: s.hits, coverage })
        .collect();
    let picture = &prepared.picture;
    Ok(Screens { width: picture.width(), height: picture.height(), ppi: prepared.ppi, list })
}

/// Spot art garment by garment: a screen is as the first garment that prints it has it.
fn spot_planes(
    prepared: &Prepared,
    printings: &[Printing<'_>],
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Vec<Plane<u16>>, SeparateError> {
    let mut planes: Vec<Option<Plane<u16>>> = vec![None; settings.screens.len()];
    let garments = printings.len() as f32;
    for (at, on) in printings.iter().enumerate() {
        let part = progress.part(at as f32 / garments, (at + 1) as f32 / garments);
        let own = spot::planes(prepared, &on.ground, &on.settings(settings), &part)?;
        let slots =
            planes.iter_mut().zip(&settings.screens).filter(|(_, screen)| on.prints(screen)).map(|(slot, _)| slot);
        for (slot, plane) in slots.zip(own) {
            slot.get_or_insert(plane);
        }
    }
    let (width, height) = (prepared.picture.width(), prepared.picture.height());
    Ok(planes.into_iter().map(|plane| plane.unwrap_or_else(|| Plane::filled(width, height, 0))).collect())
}

#[cfg(test)]
mod tests {
    use super::super::PlannedScreen;
    use super::*;
    use crate::color::{Rgb8, ciede2000, lab_from_linear, linear_from_u16};
    use crate::ink::{Garment, Ink, InkRole};
    use crate::press::{PrintModel, art_on_garment, proof_from_screens};
    use crate::raster::{Picture, Plane};
    use crate::units::{Lpi, Opacity, Ppi};

    fn ink(name: &str, color: &str, opacity: f64, role: InkRole) -> Ink {
        let (over_white, opacity) = (color.parse().unwrap(), Opacity::new(opacity).unwrap());
        Ink { name: name.into(), over_white, opacity, role, measured: false, spectra: None }
    }

    fn garment(color: &str) -> Garment {
        Garment::of_color(color.parse::<Rgb8>().unwrap())
    }

    fn ground<'a>(garment: &'a Garment, press: &'a PrintModel) -> Ground<'a> {
        Ground::by_chance(garment, press, Lpi::new(45.0).unwrap())
    }

    fn prepared(pixels: Plane<[u16; 4]>) -> Prepared {
        Prepared {
            picture: Picture::new(pixels),
            ppi: Ppi::new(100.0).unwrap(),
            print_size_mm: [25.4, 25.4],
            true_ppi: 100.0,
        }
    }

    fn inks() -> Vec<Ink> {
        vec![
            ink("base", "#F4F4F0", 0.9, InkRole::BaseWhite),
            ink("yellow", "#F6D21F", 0.6, InkRole::Color),
            ink("red", "#C8202F", 0.65, InkRole::Color),
            ink("blue", "#1F4FA3", 0.65, InkRole::Color),
            ink("black", "#161616", 0.95, InkRole::Black),
            ink("white", "#FAFAFA", 0.8, InkRole::White),
        ]
    }

    /// A plane of hues and tones, clear on the left edge and half clear beside it.
    fn art() -> Plane<[u16; 4]> {
        Plane::from_fn(64, 48, |x, y| {
            let (r, g) = ((x * 1024) as u16, (y * 1365) as u16);
            let alpha = if x < 4 {
                0
            } else if x < 8 {
                30_000
            } else {
                65_535
            };
            // Warm and muted, within reach of the inks.
            [r, r / 4 + g / 2, r / 3 + g / 4, alpha]
        })
    }

    fn run(on: &str, settings: &SeparationSettings) -> Screens {
        let (garment, press) = (garment(on), PrintModel::default());
        separate(&prepared(art()), &ground(&garment, &press), settings, &Progress::none()).unwrap()
    }

    fn mean_difference(on: &str, screens: &Screens) -> f32 {
        let proof = proof_from_screens(screens, &ground(&garment(on), &PrintModel::default()), |_| true);
        let art = art_on_garment(&Picture::new(art()), &garment(on));
        let lab = |p: &[u16; 4]| lab_from_linear(linear_from_u16(p));
        let pairs = proof.pixels().data().iter().zip(art.pixels().data());
        pairs.map(|(a, b)| ciede2000(lab(a), lab(b))).sum::<f32>() / (64.0 * 48.0)
    }

    #[test]
    fn proofs_come_near_the_art_on_white_and_on_black() {
        for on in ["#FFFFFF", "#141416"] {
            let screens = run(on, &SeparationSettings::for_inks(inks()));
            let mean = mean_difference(on, &screens);
            assert!(mean < 6.0, "mean CIEDE2000 {mean} on {on}");
        }
    }

    #[test]
    fn clear_pixels_take_no_ink_and_a_white_garment_no_underbase() {
        let screens = run("#FFFFFF", &SeparationSettings::for_inks(inks()));
        assert_eq!(screens.list[0].coverage.mean_coverage(), 0.0);
        let screens = run("#141416", &SeparationSettings::for_inks(inks()));
        assert!(screens.list[0].coverage.mean_coverage() > 0.1);
        for screen in &screens.list {
            assert!((0..48).all(|y| screen.coverage.row(y)[..4].iter().all(|&a| a == 0)), "{}", screen.name);
        }
    }

    #[test]
    fn one_thread_and_many_give_the_same() {
        let settings = SeparationSettings::for_inks(inks());
        let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let one = pool(1).install(|| run("#141416", &settings));
        let many = pool(5).install(|| run("#141416", &settings));
        assert_eq!(one, many);
    }

    #[test]
    fn what_cannot_be_separated_is_refused_with_the_reason() {
        let try_it = |settings: &SeparationSettings| {
            let (on, press) = (garment("#FFFFFF"), PrintModel::default());
            separate(&prepared(art()), &ground(&on, &press), settings, &Progress::none()).unwrap_err().to_string()
        };
        let mut settings = SeparationSettings::default();
        assert!(try_it(&settings).contains("no inks"));
        settings.screens = vec![PlannedScreen::of_ink(inks()[1].clone()); 2];
        assert!(try_it(&settings).contains("\"yellow\""));
        settings.screens.pop();
        settings.cleanliness = f64::NAN;
        assert!(try_it(&settings).contains("cleanliness must be 0 to 1"));
    }
}
