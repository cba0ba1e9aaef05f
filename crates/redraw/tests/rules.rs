//! What holds for any art: no gap, no overlap, the same on any number of threads, and what is refused.

#![allow(clippy::unwrap_used, reason = "helpers of a test may unwrap as the test itself does")]

mod common;

use common::{BLACK, BLUE, CLEAR, RED, WHITE, art, inside, redrawn, star};
use proptest::prelude::*;
use strikeoff_redraw::{Art, Blending, Colour, ColourEdit, RedrawError, Redrawing, Settings, redraw};

fn badge(turn: f64) -> Vec<u8> {
    let ring = star(60.3, 58.2, 6, 40.0, 22.0, turn);
    art(120, 120, move |x, y| {
        let r = (x - 60.0).hypot(y - 60.0);
        if r > 55.0 {
            CLEAR
        } else if r > 50.0 {
            BLUE
        } else if inside(&ring, x, y) {
            if y < 58.0 { RED } else { BLACK }
        } else {
            WHITE
        }
    })
}

fn fills_exactly(made: &Redrawing, scale: f64) {
    let rows = (made.height as f64 * scale).ceil() as usize;
    let width = (made.width as f64 * scale).ceil() as usize;
    let mut sums = vec![0_u32; width * rows];
    for colour in 0..made.colours.len() {
        for (top, part) in [(0, 0..rows / 3), (rows / 3, rows / 3..rows)] {
            let cover = made.coverage(colour, scale, part);
            sums[top * width..].iter_mut().zip(cover).for_each(|(s, c)| *s += u32::from(c));
        }
    }
    // Pixels wholly inside; a row or column that the picture's end cuts is covered in part.
    let (inner_w, inner_h) = ((made.width as f64 * scale) as usize, (made.height as f64 * scale) as usize);
    for y in 0..inner_h {
        for x in 0..inner_w {
            assert!(
                sums[y * width + x].abs_diff(65535) <= made.colours.len() as u32,
                "{} at {x} {y}",
                sums[y * width + x]
            );
        }
    }
}

#[test]
fn regions_leave_no_gap_and_do_not_overlap() {
    let made = redrawn(120, 120, &badge(0.2));
    fills_exactly(&made, 1.0);
    fills_exactly(&made, 3.7);
    let area: f64 = made.shapes.iter().map(|s| s.area_px).sum();
    assert!((area - 14_400.0).abs() < 1e-6, "{area}");
}

#[test]
fn any_number_of_threads_draws_the_same() {
    let bytes = badge(0.7);
    let draw = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| redrawn(120, 120, &bytes))
    };
    let one = draw(1);
    assert!(one == draw(3) && one == draw(8));
    assert_eq!(one.to_svg(), draw(2).to_svg());
}

#[test]
fn shading_is_refused_in_one_sentence() {
    let bytes: Vec<u8> = (0..128 * 128)
        .flat_map(|i| {
            let (x, y) = ((i % 128) as f64, (i / 128) as f64);
            let wave = |p: f64, q: f64| ((x * p + y * q).sin() * 0.5 + 0.5) * 200.0 + ((x * y * 7.3 + x) % 19.0) * 2.0;
            [wave(0.11, 0.07) as u8, wave(0.05, 0.13) as u8, wave(0.19, 0.03) as u8, 255]
        })
        .collect();
    let refused = redraw(&Art::new(128, 128, &bytes).unwrap(), &Settings::default());
    let Err(error @ RedrawError::NotFlat { .. }) = refused else { panic!("{refused:?}") };
    assert!(error.to_string().starts_with("The art is not flat"), "{error}");
    assert!(
        redraw(&Art::new(128, 128, &bytes).unwrap(), &Settings { least_flatness: 0.0, ..Default::default() }).is_ok()
    );
}

#[test]
fn sizes_and_bytes_that_do_not_fit_are_refused() {
    assert!(matches!(Art::new(0, 5, &[]), Err(RedrawError::Size { .. })));
    assert!(matches!(Art::new(20_000, 20_000, &[]), Err(RedrawError::Size { .. })));
    assert!(matches!(Art::new(2, 2, &[0; 15]), Err(RedrawError::Bytes { bytes: 15, .. })));
}

#[test]
fn colours_are_counted_merged_and_added() {
    let bytes = badge(0.4);
    let art = Art::new(120, 120, &bytes).unwrap();
    let with = |settings: Settings| redraw(&art, &Settings { least_flatness: 0.0, ..settings }).unwrap();
    assert_eq!(with(Settings::default()).colours.len(), 5);
    assert_eq!(with(Settings { colours: Some(3), ..Default::default() }).colours.len(), 3);
    let fewer = with(Settings { edits: vec![ColourEdit::Fewer], ..Default::default() });
    assert_eq!(fewer.colours.len(), 4);
    let back = with(Settings { edits: vec![ColourEdit::Fewer, ColourEdit::More], ..Default::default() });
    assert_eq!(back.colours.len(), 5);
    let merge = ColourEdit::Merge { keep: Colour::solid([30, 60, 160]), away: Colour::solid([0, 0, 0]) };
    let merged = with(Settings { edits: vec![merge], ..Default::default() });
    assert!(merged.colours.len() == 4 && !merged.colours.contains(&Colour::solid([0, 0, 0])), "{:?}", merged.colours);
    let outside = Settings { edits: vec![ColourEdit::Add { x: 120, y: 3 }], ..Default::default() };
    assert!(matches!(redraw(&art, &outside), Err(RedrawError::Outside { x: 120, .. })));
    // A merged colour comes back where its pixel is asked for.
    let all = Settings { edits: vec![merge, ColourEdit::Add { x: 60, y: 75 }], ..Default::default() };
    assert_eq!(with(all).colours.len(), 5);
}

#[test]
fn art_of_one_colour_is_one_shape() {
    let made = redrawn(20, 10, &art(20, 10, |_, _| RED));
    assert_eq!((made.shapes.len(), made.colours.len()), (1, 1));
    assert!((made.shapes[0].area_px - 200.0).abs() < 1e-9 && made.flatness == 1.0);
    let one = redrawn(1, 1, &art(1, 1, |_, _| RED));
    assert_eq!(one.shapes.len(), 1);
}

/// Art blended in linear light, by the transfer function of IEC 61966-2-1.
#[test]
fn linear_blending_is_found() {
    let linear = |v: f64| if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) };
    let encoded = |v: f64| if v <= 0.003_130_8 { v * 12.92 } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
    let plain = art(100, 100, |x, y| {
        let disc = (x - 50.3).hypot(y - 49.1) < 38.0 && (x - 44.0).hypot(y - 52.0) > 14.0;
        if disc { WHITE } else { BLACK }
    });
    let bytes: Vec<u8> = plain
        .chunks(4)
        .flat_map(|p| {
            let v = (encoded(f64::from(p[0]) / 255.0) * 255.0).round() as u8;
            [v, v, v, 255]
        })
        .collect();
    assert!((linear(encoded(0.3)) - 0.3).abs() < 1e-9);
    let art = Art::new(100, 100, &bytes).unwrap();
    let area = |blending| {
        let made = redraw(&art, &Settings { blending, ..Default::default() }).unwrap();
        let white = made.colours.iter().position(|c| c.rgb == [255; 3]).unwrap();
        made.shapes.iter().filter(|s| s.colour == white).map(|s| s.area_px).sum::<f64>()
    };
    let want = std::f64::consts::PI * (38.0 * 38.0 - 14.0 * 14.0);
    assert!((area(Blending::Found) - want).abs() < 8.0, "{} for {want}", area(Blending::Found));
    assert!((area(Blending::Found) - area(Blending::Linear)).abs() < 1e-9);
    assert!((area(Blending::Encoded) - want).abs() > 30.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Discs and bars anywhere: areas are those of the shapes, and nothing is left over.
    #[test]
    fn areas_are_those_of_the_shapes(
        x in 20.0..44.0_f64, y in 20.0..44.0_f64, r in 4.0..16.0_f64, turn in 0.0..3.1_f64, half in 1.5..5.0_f64,
    ) {
        let (sin, cos) = turn.sin_cos();
        let bar = |u: f64, v: f64| {
            let (along, across) = ((u - 100.0) * cos + (v - 32.0) * sin, (v - 32.0) * cos - (u - 100.0) * sin);
            along.abs() < 24.0 && across.abs() < half
        };
        let bytes = art(140, 64, |u, v| {
            if (u - x).hypot(v - y) < r { RED } else if bar(u, v) { BLUE } else { WHITE }
        });
        let made = redrawn(140, 64, &bytes);
        prop_assert_eq!(made.colours.len(), 3);
        prop_assert_eq!(made.shapes.len(), 3);
        let area = |rgb: [u8; 3]| {
            let k = made.colours.iter().position(|c| c.rgb == rgb).unwrap();
            made.shapes.iter().filter(|s| s.colour == k).map(|s| s.area_px).sum::<f64>()
        };
        prop_assert!((area([200, 30, 40]) - std::f64::consts::PI * r * r).abs() < 0.05 * 2.0 * std::f64::consts::PI * r);
        prop_assert!((area([30, 60, 160]) - 96.0 * half).abs() < 0.05 * 4.0 * (24.0 + half) + 0.3);
        fills_exactly(&made, 1.0);
    }
}
