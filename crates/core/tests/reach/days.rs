//! The days to come. Days are drawn here, with gain and hiding of their own, and printed by the plain model of
//! `best.rs`.

use strikeoff_core::Progress;
use strikeoff_core::color::{Lab, ciede2000, lab_from_linear, linear_from_u16};
use strikeoff_core::ink::Garment;
use strikeoff_core::prep::Prepared;
use strikeoff_core::press::{Ground, PrintModel, Stop};
use strikeoff_core::raster::Picture;
use strikeoff_core::screens::Screens;
use strikeoff_core::separate::{SeparationSettings, separate};
use strikeoff_core::units::{Lpi, Mm, Opacity, Ppi};

use crate::best::Inks;
use crate::{GARMENTS, WET, pictures, shelf};

const DAYS: usize = 200;

/// A print over the days: its mean difference as meant, its mean over the days, that of a day which 19 of 20 are
/// better than, and how far colours move from their own mean.
#[derive(Debug, Clone, Copy)]
struct OverDays {
    meant: f64,
    mean: f64,
    p95: f64,
    moves: f64,
}

/// Marsaglia's generator and twelve uniform numbers for a normal one: nothing of the project's own.
struct Draw(u32);

impl Draw {
    fn normal(&mut self) -> f32 {
        let uniform = |state: &mut u32| {
            *state ^= *state << 13;
            *state ^= *state >> 17;
            *state ^= *state << 5;
            *state as f32 / u32::MAX as f32
        };
        (0..12).map(|_| uniform(&mut self.0)).sum::<f32>() - 6.0
    }
}

fn over_days(screens: &Screens, picture: &Picture, garment: [f32; 3], settings: &SeparationSettings) -> OverDays {
    let all = picture.pixels().data();
    let places: Vec<usize> = (0..all.len()).step_by((all.len() / 400) | 1).filter(|&i| all[i][3] == u16::MAX).collect();
    let art: Vec<Lab> = places.iter().map(|&i| lab_from_linear(linear_from_u16(&all[i]))).collect();
    let meant: Vec<Vec<f32>> = places
        .iter()
        .map(|&i| screens.list.iter().map(|s| f32::from(s.coverage.data()[i]) / 65_535.0).collect())
        .collect();
    let print = |day: Option<u32>| -> Vec<[f32; 3]> {
        let mut draw = Draw(day.unwrap_or(0).wrapping_mul(2_654_435_761) | 1);
        let mut of_day = settings.clone();
        let mut points = vec![0.0f32; settings.screens.len()];
        if day.is_some() {
            for (screen, points) in of_day.screens.iter_mut().zip(&mut points) {
                *points = 0.06 * draw.normal();
                let hides = screen.ink.opacity.get() * f64::from(1.0 + 0.05 * draw.normal());
                screen.ink.opacity = Opacity::new(hides.clamp(0.0, 1.0)).unwrap();
            }
        }
        let inks = Inks::new(garment, &of_day, WET as f32);
        let drifted = |a: &Vec<f32>| -> Vec<f32> {
            a.iter().zip(&points).map(|(a, p)| (a + p * 4.0 * a * (1.0 - a)).clamp(0.0, 1.0)).collect()
        };
        meant.iter().map(|a| inks.print(&drifted(a))).collect()
    };
    let off = |prints: &[[f32; 3]], wanted: &[Lab]| {
        let pairs = prints.iter().zip(wanted);
        pairs.map(|(r, lab)| f64::from(ciede2000(lab_from_linear(*r), *lab))).sum::<f64>() / wanted.len() as f64
    };
    let days: Vec<Vec<[f32; 3]>> = (1..=DAYS as u32).map(|day| print(Some(day))).collect();
    let middle: Vec<Lab> = (0..places.len())
        .map(|at| lab_from_linear(std::array::from_fn(|b| days.iter().map(|d| d[at][b]).sum::<f32>() / DAYS as f32)))
        .collect();
    let mut means: Vec<f64> = days.iter().map(|day| off(day, &art)).collect();
    means.sort_by(f64::total_cmp);
    OverDays {
        meant: off(&print(None), &art),
        mean: means.iter().sum::<f64>() / DAYS as f64,
        p95: means[DAYS * 95 / 100],
        moves: days.iter().map(|day| off(day, &middle)).sum::<f64>() / DAYS as f64,
    }
}

/// The figures over the days that the project states, against those of days drawn and printed here.
#[test]
fn prints_over_the_days_are_as_is_said() {
    let (shelf, pictures) = (shelf(), pictures::all());
    for (picture, garment) in [(0, 0), (1, 1), (2, 3)] {
        let garment = Garment::of_color(GARMENTS[garment].1.parse().unwrap());
        let names = &["Base white", "Golden yellow", "Signal red", "Royal blue", "Ink black"];
        let inks = names[usize::from(garment.is_white())..].iter().map(|name| shelf.find(name).unwrap().clone());
        let mut settings = SeparationSettings::for_inks(inks);
        settings.underbase.choke_mm = Mm::new(0.0).unwrap();
        let mut press = PrintModel::default();
        press.stops.insert("Base white".into(), Stop::Flash);
        let (name, art) = &pictures[picture];
        let side = art.width().max(art.height()) as f64;
        let (ppi, print_size_mm) = (Ppi::new(60.0).unwrap(), [side, side]);
        let prepared = Prepared { ppi, print_size_mm, true_ppi: 60.0, picture: art.clone() };
        let ground = Ground::by_chance(&garment, &press, Lpi::new(45.0).unwrap());
        let screens = separate(&prepared, &ground, &settings, &Progress::none()).unwrap();
        let own = over_days(&screens, art, garment.reflectance(), &settings);
        let said = strikeoff_core::separate::over_days(&screens, art, &ground);
        println!("{name} on {}: {own:?}, said {said:?}", garment.name);
        assert!(own.mean > own.meant, "the days cost colour");
        for (said, own) in [(said.mean, own.mean), (said.bad_day, own.p95), (said.moves, own.moves)] {
            assert!((said / own - 1.0).abs() < 0.15, "{name}: {said} for {own}");
        }
    }
}
