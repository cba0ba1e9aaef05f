//! Which screens may print a colour together, each of them solid.

use super::{ScreenPart, SeparationSettings};
use crate::ink::Garment;

/// The sets of solid screens that a colour may be printed with: bare fabric, every ink alone or on
/// the underbase, and the underbase alone.
pub(super) fn solid_sets(settings: &SeparationSettings, garment: &Garment) -> Vec<Vec<usize>> {
    let parts = settings.parts(garment.is_white());
    let base_off = garment.is_white() && !settings.underbase.on_white;
    let is_base = |i: &usize| parts[*i] == ScreenPart::Underbase;
    let bases: Vec<usize> = (0..parts.len()).filter(is_base).filter(|_| !base_off).collect();
    let mut sets = vec![Vec::new()];
    for many in 1..=bases.len() {
        if settings.underbase.under.is_none() {
            sets.push(bases[..many].to_vec());
        }
    }
    for screen in (0..parts.len()).filter(|i| !is_base(i)) {
        sets.push(vec![screen]);
        if settings.underbase.goes_under(&settings.screens[screen].name) {
            for many in 1..=bases.len() {
                let mut set = bases[..many].to_vec();
                set.push(screen);
                set.sort_unstable();
                sets.push(set);
            }
        }
    }
    sets
}
