//! The net against the fixture of `assets/enlarger/train/reference.py`, which is NumPy's and not ours, and against its
//! plain forms.

use std::path::PathBuf;

use serde_json::Value;

use super::flow::{Field, STRIP_BLOCKS};
use super::judge::{first_verdict, judge};
use super::net::{Condition, net};
use super::plain::{Map, direct, winograd};
use crate::Progress;
use crate::raster::{Picture, Plane, Rgba16};
use crate::simd::{self, each};

fn fixture(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../assets/enlarger/fixture").join(name)
}

fn picture(name: &str) -> Picture {
    let image = image::open(fixture(name)).unwrap().to_rgba8();
    Picture::from_rgba8(image.width() as usize, image.height() as usize, image.as_raw())
}

fn noise(width: usize, height: usize) -> Vec<Rgba16> {
    let value = |at: usize| ((at as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 41) as u16;
    let smooth = |x: usize, y: usize| ((x as f64 / 7.0).sin() * (y as f64 / 5.0).cos() * 20_000.0 + 32_000.0) as u16;
    let pixel = |i: usize| {
        let (x, y) = (i % width, i / width);
        [smooth(x, y), smooth(y, x) / 2 + value(i) / 4, if x / 9 % 2 == 0 { value(i) } else { 9000 }, 65535]
    };
    (0..width * height).map(pixel).collect()
}

fn run(
    art: &[Rgba16],
    width: usize,
    scale: usize,
    condition: Condition,
    level: fearless_simd::Level,
    strip: usize,
) -> Vec<Rgba16> {
    let field = Field { art, width, height: art.len() / width, scale };
    field.enlarged(net().unwrap(), condition, level, strip, &Progress::none()).unwrap()
}

#[test]
fn the_net_gives_what_the_reference_gives() {
    let values: Value = serde_json::from_slice(&std::fs::read(fixture("values.json")).unwrap()).unwrap();
    let art = picture("art.png");
    let mut cases = 0;
    for case in values["cases"].as_array().unwrap() {
        let number = |key: &str| case[key].as_f64().unwrap();
        let (scale, condition) =
            (number("scale") as usize, Condition { damage: number("damage"), softness: number("softness") });
        let made = run(art.pixels().data(), art.width(), scale, condition, simd::level(), STRIP_BLOCKS);
        for spot in case["spots"].as_array().unwrap() {
            let [y, x, c] = [0, 1, 2].map(|i| spot[i].as_u64().unwrap() as usize);
            let got = f64::from(made[y * art.width() * scale + x][c]) / 65535.0;
            let want = spot[3].as_f64().unwrap().clamp(0.0, 1.0);
            assert!((got - want).abs() < 1e-4, "{scale} {x} {y} {c}: {got} for {want}");
        }
        let bytes = picture(&format!("x{scale}-{}.png", case["name"].as_str().unwrap()));
        let mut other = 0;
        for (got, want) in made.iter().zip(bytes.to_rgba8().as_chunks::<4>().0) {
            for c in 0..3 {
                let got = ((u32::from(got[c]) + 128) / 257) as u8;
                assert!(got.abs_diff(want[c]) <= 1);
                other += usize::from(got != want[c]);
            }
        }
        assert!(other * 200 < made.len(), "{other} of {} differ by a level", made.len() * 3);
        cases += 1;
    }
    assert_eq!(cases, 6);
}

#[test]
fn the_judge_says_what_the_reference_says() {
    let values: Value = serde_json::from_slice(&std::fs::read(fixture("values.json")).unwrap()).unwrap();
    let art = picture("art.png");
    let judge_weights = &net().unwrap().judge;
    let condition = judge(judge_weights, &art);
    for (got, key) in [(condition.damage, "damage"), (condition.softness, "softness")] {
        let want = values["judged"][key].as_f64().unwrap();
        assert!((got - want).abs() < 0.0025, "{key}: {got} for {want}");
    }
    let square = Plane::from_fn(20, 20, |x, y| art.pixels().get(x, y));
    let verdict = first_verdict(judge_weights, &Picture::new(square));
    for (i, got) in verdict.iter().enumerate() {
        let want = values["first_tile"]["verdict"][i].as_f64().unwrap();
        assert!((got - want).abs() < 1e-3, "{i}: {got} for {want}");
    }
}

/// All layers by one of the plain forms.
fn plainly(art: &[Rgba16], width: usize, scale: usize, condition: Condition, layer: &LayerForm) -> Vec<Rgba16> {
    let height = art.len() / width;
    let mut x = Map::new(3, width, height);
    for (i, pixel) in art.iter().enumerate() {
        for (c, &value) in pixel[..3].iter().enumerate() {
            *x.at(c, i % width, i / width) = f32::from(value) / 65535.0 - 0.5;
        }
    }
    let raws = net().unwrap().raws(scale);
    let last = raws.len() - 1;
    let mut first = None;
    for (i, (raw, slopes)) in raws.into_iter().enumerate() {
        x = layer(raw, &condition.terms(), slopes, &x);
        let head = first.get_or_insert_with(|| x.clone());
        if i == last - 1 {
            x.values.iter_mut().zip(&head.values).for_each(|(v, f)| *v += f);
        }
    }
    let wide = width * scale;
    let value = |i: usize, c: usize| {
        let (across, down) = (i % wide, i / wide);
        let (column, row) = (across / scale, down / scale);
        let z = x.get((c * scale + down % scale) * scale + across % scale, column as isize, row as isize);
        let value = z + f32::from(art[row * width + column][c]) / 65535.0;
        (value * 65535.0 + 0.5).clamp(0.0, 65535.0) as u16
    };
    (0..wide * height * scale).map(|i| [value(i, 0), value(i, 1), value(i, 2), u16::MAX]).collect()
}

type LayerForm = dyn Fn(&super::net::Raw, &[f64; super::net::TERMS], &[f32], &Map) -> Map;

const DAMAGED: Condition = Condition { damage: 0.4, softness: 0.2 };

#[test]
fn every_level_equals_the_plain_form_to_the_bit() {
    for (width, height, scale) in [(70, 11, 2), (129, 6, 3), (5, 18, 4), (1, 1, 2)] {
        let art = noise(width, height);
        let plain = plainly(&art, width, scale, DAMAGED, &winograd);
        for (level, token) in each() {
            let made = run(&art, width, scale, DAMAGED, token, STRIP_BLOCKS);
            assert!(made == plain, "{width} x {height} at {scale}: {level:?}");
        }
    }
}

#[test]
fn winograds_way_is_the_direct_one_but_for_rounding() {
    let art = noise(41, 17);
    let [a, b] = [&direct as &LayerForm, &winograd].map(|form| plainly(&art, 41, 3, DAMAGED, form));
    let worst = a.iter().zip(&b).flat_map(|(a, b)| (0..3).map(|c| a[c].abs_diff(b[c]))).max().unwrap();
    assert!(worst <= 8, "{worst} of 65535");
}

#[test]
fn strips_and_threads_change_no_bit() {
    let art = noise(400, 23);
    let whole = run(&art, 400, 2, DAMAGED, simd::level(), STRIP_BLOCKS);
    for strip in [1, 2, 3, 5] {
        assert!(run(&art, 400, 2, DAMAGED, simd::level(), strip) == whole, "strips of {strip} blocks");
    }
    for threads in [1, 2, 4] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let made = pool.install(|| run(&art, 400, 2, DAMAGED, simd::level(), 3));
        assert!(made == whole, "{threads} threads");
    }
}

#[test]
fn work_that_is_cancelled_stops() {
    let progress = Progress::none();
    progress.canceller().store(true, std::sync::atomic::Ordering::Relaxed);
    let art = noise(20, 20);
    let field = Field { art: &art, width: 20, height: 20, scale: 2 };
    assert!(field.enlarged(net().unwrap(), DAMAGED, simd::level(), STRIP_BLOCKS, &progress).is_err());
}
