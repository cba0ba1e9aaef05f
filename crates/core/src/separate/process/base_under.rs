//! An underbase that goes under chosen screens only: wherever it would print more than those
//! screens do, it is held to what they cover, and the other screens are solved again without it.

use rayon::prelude::*;

use super::table::Table;
use crate::color::linearize;
use crate::separate::model::{MAX_SCREENS, PerScreen};
use crate::separate::plan::Plan;
use crate::separate::problem::{Pull, improve};
use crate::separate::{ScreenPart, SeparationSettings};

/// Changes the table where the base is not free to lie.
pub(super) fn hold_bases(table: &mut Table, plan: &Plan, settings: &SeparationSettings, parts: &[ScreenPart]) {
    if settings.underbase.under.is_none() {
        return;
    }
    let is_base = |i: &usize| parts[*i] == ScreenPart::Underbase;
    let over: Vec<usize> =
        (0..parts.len()).filter(|i| !is_base(i) && settings.underbase.goes_under(&settings.screens[*i].name)).collect();
    let bases: Vec<usize> = (0..parts.len()).filter(is_base).collect();
    let (lanes, n, side) = (table.lanes, table.screens, table.side);
    table.data.par_chunks_mut(lanes).enumerate().for_each(|(at, data)| {
        let mut a: PerScreen = [0.0; MAX_SCREENS];
        a.iter_mut().zip(&data[..n]).for_each(|(a, v)| *a = f32::from(*v) / 65535.0);
        let covered = |a: &PerScreen| 1.0 - over.iter().map(|&i| 1.0 - a[i]).product::<f32>();
        if bases.iter().all(|&i| a[i] <= covered(&a)) {
            return;
        }
        let node = [at / (side * side), at / side % side, at % side];
        let color = node.map(|v| linearize(v as f32 / (side - 1) as f32));
        // What the chosen screens cover changes as they are solved again; it settles soon.
        for _ in 0..4 {
            let mut target = plan.target(color);
            let most = covered(&a);
            bases.iter().for_each(|&i| target.high[i] = target.high[i].min(most));
            improve(&plan.model, &plan.costs, &target, &Pull::NONE, &mut a, 20);
        }
        let most = covered(&a);
        bases.iter().for_each(|&i| a[i] = a[i].min(most));
        data[..n].iter_mut().zip(a).for_each(|(v, a)| *v = (a * 65535.0).round() as u16);
    });
}
