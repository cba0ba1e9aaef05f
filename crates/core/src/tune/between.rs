//! Edits of one screen by another.

use rayon::prelude::*;

use super::multiply::{multiply_coverage, multiply_film};
use super::tone::smooth;
use crate::raster::{FULL, Plane};
use crate::units::Coverage;

/// `a = f(a, b)`, value by value.
///
/// # Panics
/// If the planes differ in size: screens of one job never do.
fn combine(a: &mut Plane<u16>, b: &Plane<u16>, f: impl Fn(u16, u16) -> u16 + Sync) {
    assert_eq!((a.width(), a.height()), (b.width(), b.height()), "screens differ in size");
    a.data_mut().par_chunks_mut(1 << 14).zip(b.data().par_chunks(1 << 14)).for_each(|(a, b)| {
        for (a, &b) in a.iter_mut().zip(b) {
            *a = f(*a, b);
        }
    });
}

/// Merges `from` into `into` by multiply. `balance` below one half lightens `from` first, above
/// it `into`; at one half both count in full.
pub(super) fn merge(into: &mut Plane<u16>, from: &Plane<u16>, balance: Coverage) {
    let share = |part: f64| ((part * 2.0).min(1.0) * f64::from(FULL)).round() as u16;
    let (of_from, of_into) = (share(balance.get()), share(1.0 - balance.get()));
    combine(into, from, |a, b| multiply_coverage(multiply_film(a, of_into), multiply_film(b, of_from)));
}

/// Keeps ink only where `by` prints.
pub(super) fn mask(plane: &mut Plane<u16>, by: &Plane<u16>) {
    combine(plane, by, multiply_film);
}

/// Takes ink out where `by` prints.
pub(super) fn knock_out(plane: &mut Plane<u16>, by: &Plane<u16>) {
    combine(plane, by, |a, b| multiply_film(a, FULL - b));
}

/// Takes a share of the other's coverage off.
pub(super) fn subtract(plane: &mut Plane<u16>, by: &Plane<u16>, amount: Coverage) {
    let amount = (amount.get() * f64::from(FULL)).round() as u16;
    combine(plane, by, |a, b| a.saturating_sub(multiply_film(b, amount)));
}

/// Moves the tones between `from` and `to` out of `plane`; together both are what it was.
pub(super) fn split(plane: &mut Plane<u16>, from: Coverage, to: Coverage, soft: Coverage) -> Plane<u16> {
    let (from, to, soft) = (from.get(), to.get(), soft.get().max(1e-9));
    let mut moved = plane.clone();
    super::tone::map_tone(&mut moved, |c| {
        let rise = if from <= 0.0 { 1.0 } else { smooth((c - from) / soft + 0.5) };
        let fall = if to >= 1.0 { 0.0 } else { smooth((c - to) / soft + 0.5) };
        c * rise * (1.0 - fall)
    });
    combine(plane, &moved, u16::saturating_sub);
    moved
}

#[cfg(test)]
mod tests {
    use super::*;

    fn c(v: f64) -> Coverage {
        Coverage::new(v).unwrap()
    }

    fn two() -> (Plane<u16>, Plane<u16>) {
        let a = Plane::from_fn(64, 64, |x, y| ((x * 1031 + y * 57) % 65_536) as u16);
        let b = Plane::from_fn(64, 64, |x, y| ((x * 13 + y * 1021) % 65_536) as u16);
        (a, b)
    }

    #[test]
    fn the_balance_runs_from_one_screen_over_plain_multiply_to_the_other() {
        let (a, b) = two();
        let at = |v| {
            let mut into = a.clone();
            merge(&mut into, &b, c(v));
            into
        };
        assert_eq!(at(0.0), a);
        assert_eq!(at(1.0), b);
        let plain: Vec<u16> = a.data().iter().zip(b.data()).map(|(&a, &b)| multiply_coverage(a, b)).collect();
        assert_eq!(at(0.5).data(), plain);
    }

    #[test]
    fn a_mask_and_its_knock_out_add_up() {
        let (a, b) = two();
        let (mut kept, mut out, mut less) = (a.clone(), a.clone(), a.clone());
        mask(&mut kept, &b);
        knock_out(&mut out, &b);
        subtract(&mut less, &b, c(1.0));
        for i in 0..a.data().len() {
            let (sum, whole) = (i32::from(kept.data()[i]) + i32::from(out.data()[i]), i32::from(a.data()[i]));
            assert!((sum - whole).abs() <= 1);
            assert_eq!(less.data()[i], a.data()[i].saturating_sub(b.data()[i]));
        }
    }

    #[test]
    fn a_split_loses_no_ink() {
        let (a, _) = two();
        let mut rest = a.clone();
        let moved = split(&mut rest, c(0.3), c(0.7), c(0.1));
        for i in 0..a.data().len() {
            assert_eq!(rest.data()[i] + moved.data()[i], a.data()[i]);
            let tone = f64::from(a.data()[i]) / 65_535.0;
            if (0.36..0.64).contains(&tone) {
                assert_eq!(rest.data()[i], 0);
            } else if !(0.24..0.76).contains(&tone) {
                assert_eq!(moved.data()[i], 0);
            }
        }
    }
}
