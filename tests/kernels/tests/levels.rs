//! Every kernel on made-up input: the same bytes at every level of vector instructions that the processor
//! has, and on every processor. `./check` runs this on the machine itself, as an x86 without AVX-512, as one
//! without AVX, and as an ARM of 64 bits (under qemu-user); `KERNEL_LEVELS` says which levels must be there.
//!
//! The sums below are of bytes that this program made itself: they hold processors to each other. What the
//! bytes must be is tested beside each kernel, against its plain form.

use std::sync::{Mutex, PoisonError};

use strikeoff_core::Progress;
use strikeoff_core::halftone::{DeviceGrid, DotShape, Dots, Field, FieldCursor, ToneTable};
use strikeoff_core::prep::{Enlarging, PrepSettings, prepare, resized};
use strikeoff_core::press::{Composite, DotGain, Layer, Stack};
use strikeoff_core::raster::{Art, Detail, Picture, Plane, choke, spread};
use strikeoff_core::separate::ColorTable;
use strikeoff_core::simd::Level;
use strikeoff_core::units::{Coverage, Degrees, Dpi, Lpi, Mm, Ppi};

/// The level is one for the whole process.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// FNV-1a of 64 bits.
struct Sum(u64);

impl Sum {
    fn add(&mut self, bytes: impl IntoIterator<Item = u8>) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    fn plane(&mut self, plane: &Plane<u16>) {
        self.add(plane.data().iter().flat_map(|v| v.to_le_bytes()));
    }

    fn picture(&mut self, picture: &Picture) {
        self.add(picture.pixels().data().iter().flatten().flat_map(|v| v.to_le_bytes()));
    }
}

/// Holds what a kernel makes at each level to a sum.
fn hold(kernel: &str, sum: u64, make: impl Fn(&mut Sum)) {
    let _guard = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
    let made = Level::available().into_iter().map(|level| {
        level.force().expect("it is there");
        let mut made = Sum(0xcbf2_9ce4_8422_2325);
        make(&mut made);
        (level.name(), format!("{:#018x}", made.0))
    });
    let made: Vec<_> = made.collect();
    Level::best().force().expect("it is there");
    let expected = format!("{sum:#018x}");
    assert!(made.iter().all(|(_, made)| *made == expected), "{kernel}: {made:?} where {expected} is expected");
}

/// Even noise of 16 bits.
fn noise(at: usize) -> u16 {
    let mut v = (at as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    v ^= v >> 29;
    (v.wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 40) as u16
}

/// Soft shapes with flat parts, a little noise and clear pixels.
fn soft(x: usize, y: usize) -> u16 {
    match (x / 37 + y / 29) % 5 {
        0 => 0,
        1 => 65_535,
        2 => noise(x + 1009 * y),
        _ => ((x * 613 + y * 411) % 65_536) as u16,
    }
}

fn picture(width: usize, height: usize, clear: bool) -> Picture {
    Picture::new(Plane::from_fn(width, height, |x, y| {
        let alpha = if clear && (x / 11 + y / 7) % 3 == 0 { soft(y, x) } else { u16::MAX };
        [soft(x, y), soft(x + 50, y), soft(x, y + 40), alpha]
    }))
}

#[test]
fn the_levels_that_the_check_names_are_here() {
    let here: Vec<&str> = Level::available().into_iter().map(Level::name).collect();
    if let Ok(expected) = std::env::var("KERNEL_LEVELS") {
        assert_eq!(here.join(" "), expected);
    }
    println!("levels: {}", here.join(" "));
}

#[test]
fn proofs() {
    let share = |v: f64| Coverage::new(v).expect("a share");
    let wedge =
        DotGain::Measured { name: "wedge".into(), points: vec![(share(0.3), share(0.6)), (share(0.5), share(0.63))] };
    let ruling = Lpi::new(45.0).expect("a ruling");
    let layer = |k: usize| {
        let scatter = [0.1 * k as f32, 0.5 - 0.07 * k as f32, 0.02 + 0.01 * k as f32];
        Layer { scatter, through: scatter.map(|s| (1.0 - s) * 0.3) }
    };
    hold("proofs", 0x0c19_eda7_b6ee_55ce, |sum| {
        for gain in [None, Some(DotGain::default()), Some(wedge.clone())] {
            let gain = gain.map_or_else(Vec::new, |gain| vec![gain.curve(ruling); 6]);
            let stack = Stack {
                garment: [0.009, 0.2, 0.9],
                layers: (0..6).map(layer).collect(),
                gain,
                yule_nielsen: 1.0,
                meetings: vec![],
            };
            let composite = Composite::new(&stack);
            let planes: Vec<Vec<u16>> = (0..6).map(|k| (0..3001).map(|x| soft(x, 31 * k)).collect()).collect();
            let rows: Vec<&[u16]> = planes.iter().map(Vec::as_slice).collect();
            let mut out = vec![[0u8; 4]; 3001];
            composite.row(&rows, &mut out);
            sum.add(out.into_iter().flatten());
        }
    });
}

#[test]
fn films() {
    let plane = Plane::from_fn(300, 200, soft);
    let (tone, device) = (ToneTable::identity(), DeviceGrid::square(Dpi::new(720.0).expect("a resolution")));
    let sizes = [(720, 40), (1441, 33), (300, 20), (170, 20), (97, 10)];
    hold("films", 0xedd1_c7df_9230_9f11, |sum| {
        for (lpi, degrees) in [(55.0, 22.5), (45.0, 45.0), (60.0, 90.0)] {
            let (ruling, angle) = (Lpi::new(lpi).expect("a ruling"), Degrees::new(degrees).expect("an angle"));
            let dots = Dots::new(device, ruling, angle, &DotShape::Round);
            for (width, height) in sizes {
                let field = Field::new(&plane, &tone, &dots, width, height);
                let (mut cursor, mut row) = (FieldCursor::default(), vec![0; field.words()]);
                for y in 0..height {
                    field.row(y, &mut cursor, &mut row);
                    sum.add(row.iter().flat_map(|word| word.to_le_bytes()));
                }
            }
        }
    });
}

#[test]
fn separations() {
    let picture = picture(203, 61, true);
    hold("separations", 0xb45a_9465_0ba6_29e8, |sum| {
        for screens in [3, 8, 11] {
            let table = ColorTable::of_nodes(screens, |node, screen| noise(node * 16 + screen));
            table.planes(&picture).iter().for_each(|plane| sum.plane(plane));
        }
    });
}

#[test]
fn resampling() {
    for (clear, sum) in [(false, 0x06c4_daf8_1f44_47a2), (true, 0x1ae4_cbce_8c67_78a8)] {
        let picture = picture(131, 90, clear);
        hold(if clear { "resampling, clear" } else { "resampling" }, sum, |sum| {
            for (width, height) in [(600, 411), (140, 100), (40, 30)] {
                sum.picture(&resized(&picture, width, height, &Progress::none()).expect("it fits"));
            }
        });
    }
}

#[test]
fn enlarging() {
    for (clear, sum) in [(false, 0x9175_f98d_6c2b_5f7c), (true, 0x3797_0181_74b5_d08e)] {
        let art = Art { picture: picture(131, 90, clear), ppi: Ppi::new(72.0).expect("a resolution") };
        let settings = PrepSettings {
            max_width_mm: Some(Mm::new(33.0).expect("a width")),
            sharpen_amount: 0.0,
            ..PrepSettings::default()
        };
        hold(if clear { "enlarging, clear" } else { "enlarging" }, sum, |sum| {
            sum.picture(&prepare(&art, &settings, Detail::Full, &Progress::none()).expect("it fits").picture);
        });
    }
}

#[test]
fn repairing() {
    for (clear, sum) in [(false, 0x731d_b91c_a8a1_9588), (true, 0x2bf0_2e32_d2bd_a9ef)] {
        let art = Art { picture: picture(61, 52, clear), ppi: Ppi::new(72.0).expect("a resolution") };
        let settings = PrepSettings {
            max_width_mm: Some(Mm::new(15.4).expect("a width")),
            sharpen_amount: 0.0,
            enlarging: Enlarging::Repair,
            ..PrepSettings::default()
        };
        hold(if clear { "repairing, clear" } else { "repairing" }, sum, |sum| {
            sum.picture(&prepare(&art, &settings, Detail::Full, &Progress::none()).expect("it fits").picture);
        });
    }
}

#[test]
fn chokes_and_spreads() {
    let plane = Plane::from_fn(403, 120, soft);
    hold("chokes and spreads", 0x8a33_fa1d_7d47_1d31, |sum| {
        for reach in [1.0, 2.5, 7.2] {
            sum.plane(&choke(&plane, reach, &Progress::none()).expect("not cancelled"));
            sum.plane(&spread(&plane, reach, &Progress::none()).expect("not cancelled"));
        }
    });
}
