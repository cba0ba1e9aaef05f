//! Tests of `curve.rs`, apart from it because the `levels` bench takes that file in.

use super::curve::Curve;
use crate::press::DotGain;
use crate::simd;
use crate::units::{Coverage, Lpi};

/// 0.15 of an 8-bit code.
const CLOSE: f32 = 0.15 * 257.0;

fn gain(gain: &DotGain) -> Curve<4> {
    let curve = gain.curve(Lpi::new(45.0).unwrap());
    Curve::new(&|v| curve.print(v) * 65_535.0, CLOSE)
}

fn wedge() -> DotGain {
    let at = |v: f64| Coverage::new(v).unwrap();
    DotGain::Measured { name: "wedge".into(), points: vec![(at(0.3), at(0.6)), (at(0.5), at(0.63))] }
}

#[test]
fn parabolas_follow_soft_curves_and_refuse_sharp_ones() {
    let growing = |v: f32| (v + 0.3 * v.sqrt() * (1.0 - v)) * 65_535.0;
    let curve = Curve::<4>::new(&growing, CLOSE);
    assert!(curve.parts.is_some(), "it grows at its edges");
    for step in 0..=4096 {
        let (made, exact) = (f32::from(curve.table[step]), growing(step as f32 / 4096.0));
        assert!((made - exact).abs() <= CLOSE + 0.5, "{step}: {made} for {exact}");
    }
    assert!(Curve::<4>::new(&|v| v * 65_535.0, CLOSE).parts.is_some());
    assert!(Curve::<4>::new(&|v| if v < 0.51 { 0.0 } else { 65_535.0 }, CLOSE).parts.is_none());
    assert!(Curve::<4>::new(&|v| (v * 7.3).min(1.0) * 65_535.0, CLOSE).parts.is_none());
}

#[test]
fn usual_gains_are_smooth_and_keep_their_ends() {
    for points in [0.0, 10.0, 20.0, 28.0, 35.0, 45.0] {
        let curve = gain(&DotGain::AtHalf { points });
        assert!(curve.parts.is_some(), "{points} points");
        assert_eq!(curve.table[0], 0, "no ink stays none, {points} points");
        assert!(curve.table[4096] >= 65_534, "solid stays solid, {points} points");
    }
    assert!(gain(&wedge()).parts.is_none());
}

#[test]
fn every_value_is_read_alike_at_every_level() {
    let row: Vec<u16> = (0..=u16::MAX).collect();
    for curve in [gain(&DotGain::default()), gain(&wedge())] {
        let mut plain = vec![0; row.len()];
        curve.read_plain(&row, &mut plain);
        for (level, token) in simd::each() {
            for from in [0, 1, 17, 33] {
                let mut read = vec![7; row.len() - from];
                curve.read(token, &row[from..], &mut read);
                assert!(read == plain[from..], "{level:?} from {from}");
            }
        }
    }
}

#[test]
fn pixels_are_read_alike_at_every_level() {
    let curve = Curve::<1>::new(&|v| v.sqrt() * 255.0, 0.1);
    let band = |k: usize| -> [u16; 96] { std::array::from_fn(|x| (x * 683 * (k + 1)) as u16) };
    let bands = [band(0), band(1), band(2)];
    let mut plain = [[0; 4]; 96];
    curve.read_pixels_plain(&bands, &mut plain);
    for (level, token) in simd::each() {
        for count in [0, 1, 16, 33, 96] {
            let mut read = vec![[9; 4]; count];
            curve.read_pixels(token, &bands, &mut read);
            assert!(read == plain[..count], "{level:?}, {count} pixels");
        }
    }
}
