//! What spot art and index separations must show: the print is the art, screens are clean, light
//! inks reach under dark ones, and art that fades out on a dark garment gets no light rim. Art and
//! inks are drawn and assumed by us.

use rayon::prelude::*;

use super::samples::{ink, lpi, photo};
use super::{
    Choice, InkRequest, Method, ScreenPart, SeparateError, SeparationSettings, SpotEdges, SpotInks, SuggestError,
    separate, spot_colors, suggest,
};
use crate::Progress;
use crate::color::{Rgb8, ciede2000, encode_u16, lab_from_linear, linear_from_u16};
use crate::ink::{Garment, Shelf};
use crate::prep::Prepared;
use crate::press::{Ground, PrintModel, Stop, art_on_garment, proof_from_screens};
use crate::raster::{FULL, Picture, Plane, Rgba16};
use crate::screens::Screens;
use crate::units::{Mm, Ppi};

fn settings(method: Method, inks: &str) -> SeparationSettings {
    let mut settings = SeparationSettings::for_inks(inks.split(',').map(ink));
    settings.method = method;
    settings
}

fn garment(color: &str) -> Garment {
    Garment::of_color(color.parse().unwrap())
}

/// On a garment, at 45 lines.
fn ground<'a>(garment: &'a Garment, press: &'a PrintModel) -> Ground<'a> {
    Ground::by_chance(garment, press, lpi())
}

fn press() -> PrintModel {
    let mut press = PrintModel::default();
    press.stops.insert("base".into(), Stop::Flash);
    press
}

/// At 180 ppi, so that a pixel is a dot of the default size.
fn prepared(pixels: Plane<Rgba16>) -> Prepared {
    let size = [pixels.width(), pixels.height()].map(|px| px as f64 / 180.0 * 25.4);
    Prepared { picture: Picture::new(pixels), ppi: Ppi::new(180.0).unwrap(), print_size_mm: size, true_ppi: 180.0 }
}

fn run(art: &Prepared, on: &str, settings: &SeparationSettings) -> Screens {
    separate(art, &ground(&garment(on), &press()), settings, &Progress::none()).unwrap()
}

fn plane<'a>(screens: &'a Screens, name: &str) -> &'a Plane<u16> {
    &screens.list[screens.position(&name.into()).unwrap()].coverage
}

/// A lantern: gold in a thick black outline, a red band, on clear ground; edges blended over
/// 4 x 4 parts of a pixel as drawing programs do.
fn lantern() -> Prepared {
    let color = |x: f64, y: f64| -> Option<[f64; 3]> {
        let (dx, dy) = ((x - 120.0) / 70.0, (y - 130.0) / 90.0);
        let d = dx.hypot(dy);
        match d {
            d if d > 1.0 => None,
            d if d > 0.85 => Some([23.0, 23.0, 26.0]),
            _ if (120.0..150.0).contains(&y) => Some([216.0, 35.0, 42.0]),
            _ => Some([251.0, 190.0, 34.0]),
        }
    };
    prepared(Plane::from_fn(240, 260, |x, y| {
        let (mut sum, mut inked) = ([0.0; 3], 0.0);
        for part in 0..16 {
            let at = |v: usize, k: usize| v as f64 + (k as f64 + 0.5) / 4.0;
            if let Some(c) = color(at(x, part % 4), at(y, part / 4)) {
                inked += 1.0;
                (0..3).for_each(|i| sum[i] += c[i]);
            }
        }
        if inked == 0.0 {
            return [0; 4];
        }
        let [r, g, b] = sum.map(|s| (s / inked * 257.0_f64).round() as u16);
        [r, g, b, (inked / 16.0 * 65535.0_f64).round() as u16]
    }))
}

fn differences(art: &Prepared, screens: &Screens, on: &str) -> Vec<f32> {
    let proof = proof_from_screens(screens, &ground(&garment(on), &press()), |_| true);
    let expected = art_on_garment(&art.picture, &garment(on));
    let lab = |p: &Rgba16| lab_from_linear(linear_from_u16(p));
    let pairs = proof.pixels().data().par_iter().zip(expected.pixels().data());
    pairs.map(|(a, b)| ciede2000(lab(a), lab(b))).collect()
}

#[test]
fn flat_colours_get_their_own_ink_and_the_print_is_the_art() {
    let art = lantern();
    let settings = settings(Method::SpotArt, "golden,red,black");
    let colors = spot_colors(&art.picture, &ground(&garment("#FFFFFF"), &press()), &settings).unwrap();
    let pairs: Vec<(String, Vec<String>)> = colors
        .iter()
        .map(|c| (c.flat.color.to_string(), c.screens.iter().map(|s| s.0.to_string()).collect()))
        .collect();
    let want = [("#FBBE22", "golden"), ("#17171A", "black"), ("#D8232A", "red")]
        .map(|(color, ink)| (color.to_owned(), vec![ink.to_owned()]));
    let mut sorted = pairs.clone();
    sorted.sort();
    let mut want = want.to_vec();
    want.sort();
    assert_eq!(sorted, want);
    let screens = run(&art, "#FFFFFF", &settings);
    let mut off = differences(&art, &screens, "#FFFFFF");
    off.sort_by(f32::total_cmp);
    // Wet on wet red and black keep a little less of their opacity, which over white is nothing.
    assert!(off[off.len() * 95 / 100] < 2.5, "95 % under {}", off[off.len() * 95 / 100]);
    // Away from outlines every screen is none or solid.
    for screen in &screens.list {
        let between = screen.coverage.data().iter().filter(|v| (2000..63_000).contains(*v)).count();
        assert!(between < 2000, "{}: {between} pixels between", screen.name);
        assert!(screen.coverage.mean_coverage() > 0.02, "{} prints", screen.name);
    }
}

/// What an ink brings is judged by the method of the job: in spot art without red, the red band
/// is another flat colour; dots of an index mix, so they miss it by less.
#[test]
fn worth_is_judged_by_the_method() {
    let art = lantern();
    let on = garment("#FFFFFF");
    let shelf = Shelf { inks: ["golden", "red", "blue", "black"].map(ink).to_vec() };
    let worth = |method| {
        let settings = settings(method, "golden,red,black");
        let names = ["golden", "red", "black"];
        let pinned = names.map(|name| shelf.find(name).unwrap().name.clone()).to_vec();
        let request = InkRequest { screens: 3, pinned, ..InkRequest::default() };
        let none = Progress::none();
        suggest(&art.picture, &ground(&on, &press()), &shelf, &request, &settings, &none).unwrap().chosen
    };
    let without_red = |choice: &Choice| {
        let at = choice.inks.iter().position(|ink| ink.name == "red").unwrap();
        choice.quality.mean + choice.reasons[at].brings
    };
    let spot = worth(Method::SpotArt);
    let colors =
        spot_colors(&art.picture, &ground(&on, &press()), &settings(Method::SpotArt, "golden,red,black")).unwrap();
    let all: f64 = colors.iter().map(|c| c.flat.share).sum();
    let mean = colors.iter().map(|c| c.flat.share * c.difference).sum::<f64>() / all;
    assert!((spot.quality.mean - mean).abs() < 1e-3, "{} against {mean}", spot.quality.mean);
    // Without red its share of the lantern is printed with the next nearest solid.
    let red = colors.iter().find(|c| c.flat.color.to_string() == "#D8232A").unwrap();
    let next = ["#FBBE22", "#17171A", "#FFFFFF"].map(|other: &str| {
        let lab = |c: &str| {
            let code = c.parse::<Rgb8>().unwrap().0.map(|v| u16::from(v) * 257);
            lab_from_linear(linear_from_u16(&code))
        };
        f64::from(ciede2000(lab("#D8232A"), lab(other)))
    });
    let next = next.into_iter().fold(f64::INFINITY, f64::min);
    let dropped = without_red(&spot);
    let want = mean + red.flat.share / all * (next - red.difference);
    assert!((dropped - want).abs() < 0.1 * want, "{dropped} against {want}");
    let index = worth(Method::Index);
    let dots = without_red(&index);
    assert!(dots > index.quality.mean && dots < dropped, "{dots}, {dropped} as spot art");
    // Art without flat areas cannot be judged as spot art.
    let noise = prepared(Plane::from_fn(64, 64, |x, y| {
        [(x * 40_503 + y * 9973) as u16, (x * 27_919 + y * 50_021) as u16, (x * y * 7919) as u16, FULL]
    }));
    let spot = settings(Method::SpotArt, "golden,red");
    let request = InkRequest::default();
    let refused = suggest(&noise.picture, &ground(&on, &press()), &shelf, &request, &spot, &Progress::none());
    assert!(matches!(refused, Err(SuggestError::Separate(SeparateError::NoFlatColors))));
}

#[test]
fn hard_edges_are_none_or_solid_everywhere() {
    let mut settings = settings(Method::SpotArt, "base,golden,red,black");
    settings.spot.edges = SpotEdges::Hard;
    settings.spot.trap_mm = Mm::new(0.0).unwrap();
    settings.underbase.choke_mm = Mm::new(0.0).unwrap();
    let screens = run(&lantern(), "#1C2A52", &settings);
    for screen in &screens.list {
        assert!(screen.coverage.data().iter().all(|v| *v == 0 || *v == FULL), "{}", screen.name);
    }
    assert!(plane(&screens, "base").mean_coverage() > 0.1);
}

/// Gold is spread under the outline by the trap, and nowhere else; the outline does not move.
#[test]
fn light_inks_reach_under_dark_ones_by_the_trap() {
    let art = lantern();
    let with = |mm: f64| {
        let mut settings = settings(Method::SpotArt, "golden,red,black");
        settings.spot.trap_mm = Mm::new(mm).unwrap();
        run(&art, "#FFFFFF", &settings)
    };
    let (none, some) = (with(0.0), with(0.5));
    assert_eq!(plane(&none, "black"), plane(&some, "black"));
    // 0.5 mm at 180 ppi is 3.54 px; near the middle the outline is entered almost at a right angle.
    let solid =
        |screens: &Screens, name| plane(screens, name).row(114).iter().map(|&v| f64::from(v) / 65535.0).sum::<f64>();
    let grown = (solid(&some, "golden") - solid(&none, "golden")) / 2.0;
    assert!((grown - 3.54).abs() < 0.5, "grown by {grown} px a side");
    for (i, v) in plane(&some, "golden").data().iter().enumerate() {
        let before = plane(&none, "golden").data()[i];
        let later = plane(&none, "black").data()[i].max(plane(&none, "red").data()[i]);
        assert!(*v == before || *v <= later, "spread where nothing covers it");
    }
    // An ink that prints after a darker one keeps its edge.
    let mut late = settings(Method::SpotArt, "black,red,golden");
    late.spot.trap_mm = Mm::new(0.5).unwrap();
    let late = run(&art, "#FFFFFF", &late);
    assert_eq!(plane(&late, "golden"), plane(&none, "golden"));
}

/// White lettering that the base itself prints keeps its width; under red the base stays behind.
#[test]
fn the_choke_leaves_a_base_that_is_seen_alone() {
    let (white, red) = ([0xF4F4, 0xF4F4, 0xF0F0, FULL], [0xD8D8, 0x2323, 0x2A2A, FULL]);
    let art = prepared(Plane::from_fn(120, 60, |x, y| match (x, y) {
        (10..50, 10..50) => white,
        (70..110, 10..50) => red,
        _ => [0; 4],
    }));
    let mut settings = settings(Method::SpotArt, "base,red");
    settings.underbase.choke_mm = Mm::new(0.3).unwrap();
    let screens = run(&art, "#17171A", &settings);
    let base = plane(&screens, "base").row(30).to_vec();
    assert!(base[10..50].iter().all(|&v| v == FULL), "white is whole");
    assert!(base[70] == 0 && base[71] == 0 && base[75] == FULL && base[109] == 0, "{:?}", &base[66..80]);
    assert_eq!(plane(&screens, "red").row(30)[70], FULL);
}

#[test]
fn layers_make_a_colour_that_no_ink_has() {
    let orange = [0xE8E8, 0x7070, 0x2424, FULL];
    let art = prepared(Plane::from_fn(40, 40, |_, _| orange));
    let mut settings = settings(Method::SpotArt, "golden,red,blue");
    let one = spot_colors(&art.picture, &ground(&garment("#FFFFFF"), &press()), &settings).unwrap();
    settings.spot.inks = SpotInks::Layers;
    let layers = spot_colors(&art.picture, &ground(&garment("#FFFFFF"), &press()), &settings).unwrap();
    assert_eq!(one[0].screens.len(), 1);
    assert!(layers[0].screens.len() >= 2 && layers[0].difference < 3.0, "{layers:?}");
    assert!(layers[0].difference < one[0].difference);
}

#[test]
fn art_without_areas_is_refused_for_spot_art() {
    let art = prepared(Plane::from_fn(64, 64, |x, y| {
        [(x * 40_503 + y * 9973) as u16, (x * 27_919 + y * 50_021) as u16, (x * y * 7919) as u16, FULL]
    }));
    let settings = settings(Method::SpotArt, "golden,red");
    let refused = separate(&art, &ground(&garment("#FFFFFF"), &press()), &settings, &Progress::none()).unwrap_err();
    assert!(matches!(refused, SeparateError::NoFlatColors), "{refused}");
}

/// Every dot is a whole square of one ink or bare; a base lies under every ink but black.
#[test]
fn index_dots_are_squares_of_one_ink() {
    let tone = |x: usize, y: usize| [(x * 256) as u16, (y * 300) as u16, 20_000, FULL];
    let art = Prepared { ppi: Ppi::new(360.0).unwrap(), ..prepared(Plane::from_fn(256, 200, tone)) };
    let settings = settings(Method::Index, "base,golden,red,blue,black");
    let screens = run(&art, "#17171A", &settings);
    for y in 0..200 {
        for x in 0..256 {
            let at: Vec<u16> = screens.list.iter().map(|s| s.coverage.get(x, y)).collect();
            assert!(at.iter().all(|v| *v == 0 || *v == FULL));
            let inks = at[1..].iter().filter(|v| **v == FULL).count();
            assert!(inks <= 1, "two inks on a dot");
            if inks == 1 {
                assert_eq!(at[0] == FULL, at[4] == 0, "base under colours, none under black");
            }
            let corner: Vec<u16> = screens.list.iter().map(|s| s.coverage.get(x / 2 * 2, y / 2 * 2)).collect();
            assert_eq!(at, corner, "dots are 2 x 2 pixels at 360 ppi");
        }
    }
}

/// Flat areas a little off the inks: each takes the dots of one ink, edges aside, as a practitioner has it;
/// with the switch off a second ink is scattered over them. A ramp between is mixed either way.
#[test]
fn flat_areas_of_an_index_take_one_ink_each() {
    let flat = |hex: &str| {
        let [r, g, b] = hex.parse::<Rgb8>().unwrap().0.map(|v| u16::from(v) * 257);
        [r, g, b, FULL]
    };
    // The inks are #D8232A and #FBBE22.
    let (red, yellow) = (flat("#CF2A30"), flat("#F2B92E"));
    let art = prepared(Plane::from_fn(360, 240, |x, y| match (x, y) {
        (_, 160..) => std::array::from_fn(|i| ((red[i] as usize * (359 - x) + yellow[i] as usize * x) / 359) as u16),
        (..180, _) => red,
        _ => yellow,
    }));
    let mut settings = settings(Method::Index, "golden,red,black");
    let stray = |settings: &SeparationSettings| {
        let screens = run(&art, "#FFFFFF", settings);
        let inked = |x: usize, y: usize, ink: &str| plane(&screens, ink).get(x, y) == FULL;
        let area = |from: usize, to: usize, ink: &str| {
            let pixels = (8..150).flat_map(|y| (from..to).map(move |x| (x, y)));
            pixels.filter(|&(x, y)| !inked(x, y, ink)).count()
        };
        let ramp =
            (170..230).flat_map(|y| (120..240).map(move |x| (x, y))).filter(|&(x, y)| inked(x, y, "red")).count();
        assert!((1500..5700).contains(&ramp), "the middle of the ramp is mixed: {ramp} of 7200");
        [area(8, 170, "red"), area(190, 350, "golden")]
    };
    assert_eq!(stray(&settings), [0, 0]);
    settings.index.keep_flat = false;
    assert!(stray(&settings).iter().all(|count| *count > 100));
}

/// Mean light over squares of `side` pixels, as colours.
fn smoothed(picture: &Picture, side: usize) -> Vec<[f32; 3]> {
    let pixels = picture.pixels();
    let (across, down) = (pixels.width() / side, pixels.height() / side);
    let mean = |at: usize| {
        let (x0, y0) = (at % across * side, at / across * side);
        let mut sum = [0.0f32; 3];
        for y in y0..y0 + side {
            for p in &pixels.row(y)[x0..x0 + side] {
                let light = linear_from_u16(p);
                (0..3).for_each(|i| sum[i] += light[i]);
            }
        }
        sum.map(|s| s / (side * side) as f32)
    };
    (0..across * down).map(mean).collect()
}

/// A photograph by index, seen from where its dots melt together, is the photograph as far as the
/// inks reach; and the bare garment is one of the colours.
#[test]
fn index_dots_add_up_to_the_picture() {
    let picture = photo("coffee.jpg", 360);
    for (on, inks) in [("#FFFFFF", "golden,red,blue,black"), ("#17171A", "base,golden,red,blue")] {
        let art = prepared(picture.pixels().clone());
        let screens = run(&art, on, &settings(Method::Index, inks));
        let proof = proof_from_screens(&screens, &ground(&garment(on), &press()), |_| true);
        let lab = |c: &[f32; 3]| lab_from_linear(*c);
        let (got, want) = (smoothed(&proof, 12), smoothed(&picture, 12));
        let off: Vec<f32> = got.iter().zip(&want).map(|(a, b)| ciede2000(lab(a), lab(b))).collect();
        let mean = off.iter().sum::<f32>() / off.len() as f32;
        assert!(mean < 5.0, "{on}: mean {mean}");
        let bare = (0..picture.pixels().data().len())
            .filter(|&i| screens.list.iter().all(|s| s.coverage.data()[i] == 0))
            .count();
        assert!(bare > picture.pixels().data().len() / 50, "{on}: {bare} bare dots");
    }
}

/// A soft-edged red disc on black by every method: nowhere along its edge is the print lighter
/// than it should be, and clear art takes no ink.
#[test]
fn fading_art_gets_no_light_rim_on_a_dark_garment() {
    let art = prepared(Plane::from_fn(160, 160, |x, y| {
        let d = (x as f32 - 80.0).hypot(y as f32 - 80.0);
        [52_000, 9_000, 10_500, (((72.0 - d) / 32.0).clamp(0.0, 1.0) * 65535.0) as u16]
    }));
    let on = "#17171A";
    for method in Method::ALL {
        let screens = run(&art, on, &settings(method, "base,golden,red,blue"));
        let proof = proof_from_screens(&screens, &ground(&garment(on), &press()), |_| true);
        let expected = art_on_garment(&art.picture, &garment(on));
        // Dots of an index are seen together.
        let side = if method == Method::Index { 10 } else { 1 };
        for (got, want) in smoothed(&proof, side).into_iter().zip(smoothed(&expected, side)) {
            let (got, want) = (lab_from_linear(got), lab_from_linear(want));
            assert!(got.l < want.l + if side == 1 { 2.0 } else { 5.0 }, "{method:?}: L* {} for {}", got.l, want.l);
        }
        for screen in &screens.list {
            let inked = art.picture.pixels().data().iter().zip(screen.coverage.data());
            assert!(
                inked.filter(|(p, _)| p[3] == 0).all(|(_, v)| *v == 0),
                "{method:?}: {} prints where art is clear",
                screen.name
            );
        }
    }
}

/// With the base under red only, a picture of red and blue has none under blue, by every method.
#[test]
fn a_base_can_go_under_chosen_screens_only() {
    let (red, blue) = ([0xD8D8, 0x2323, 0x2A2A, FULL], [0x2C2C, 0x6F6F, 0xB7B7, FULL]);
    let art = prepared(Plane::from_fn(120, 60, |x, _| if x < 60 { red } else { blue }));
    for method in Method::ALL {
        let mut settings = settings(method, "base,red,blue");
        let all = run(&art, "#17171A", &settings);
        settings.underbase.under = Some(vec!["RED".into()]);
        let held = run(&art, "#17171A", &settings);
        let at = |screens: &Screens, x0: usize| {
            let row = &plane(screens, "base").row(30)[x0..x0 + 30];
            row.iter().map(|&v| f64::from(v) / 65535.0).sum::<f64>() / 30.0
        };
        assert!(at(&all, 75) > 0.3, "{method:?}: {}", at(&all, 75));
        assert!(at(&held, 75) < 0.03, "{method:?}: {} under blue", at(&held, 75));
        assert!(at(&held, 15) > 0.3, "{method:?}: {} under red", at(&held, 15));
    }
}

/// A second base prints less than the first, in the lights only, and brings them nearer.
#[test]
fn a_second_base_is_for_the_lights() {
    let art = prepared(Plane::from_fn(256, 64, |x, _| {
        let [r, g, b] = encode_u16([(x as f32 / 255.0).powf(2.2); 3]);
        [r, g, b, FULL]
    }));
    let one = run(&art, "#17171A", &settings(Method::SimulatedProcess, "base,golden,red"));
    let two_settings = settings(Method::SimulatedProcess, "base,base 2,golden,red");
    assert_eq!(two_settings.parts(false)[..2], [ScreenPart::Underbase; 2]);
    let two = run(&art, "#17171A", &two_settings);
    let (first, second) = (plane(&two, "base"), plane(&two, "base 2"));
    assert!(second.mean_coverage() < 0.7 * first.mean_coverage());
    let row = |p: &Plane<u16>, x: usize| f64::from(p.get(x, 32)) / 65535.0;
    assert!(row(second, 60) < 0.02 && row(second, 240) > 0.3, "{} {}", row(second, 60), row(second, 240));
    let off = |screens: &Screens| {
        let all = differences(&art, screens, "#17171A");
        (0..256).filter(|x| (200..250).contains(x)).map(|x| all[32 * 256 + x]).sum::<f32>()
    };
    assert!(off(&two) < off(&one), "{} {}", off(&two), off(&one));
}

/// One thread and many give the same dots and outlines.
#[test]
fn methods_do_not_hang_on_the_number_of_threads() {
    let art = lantern();
    let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    for method in [Method::SpotArt, Method::Index] {
        let settings = settings(method, "base,golden,red,black");
        let one = pool(1).install(|| run(&art, "#17171A", &settings));
        let many = pool(4).install(|| run(&art, "#17171A", &settings));
        assert_eq!(one, many);
    }
}
