//! Prices of ink and tidiness would cost colour, so the solver's aim is moved by what the print misses,
//! step by step (Bregman's iteration), until the print itself has the colour. A colour out of the inks'
//! reach keeps the soft approach that it would have without.

use super::model::{MAX_GARMENTS, PerScreen, SolverModel};
use super::problem::{Costs, PerGarment, Target};

/// The furthest that an aim is moved, in OKLab.
const MOST: f32 = 0.06;

/// How far one colour's aim is moved.
#[derive(Debug, Clone, Copy)]
pub(super) struct Correction {
    /// In OKLab, on each garment.
    pub shift: PerGarment,
    /// What the print may leave of the colour in the end.
    may_leave: PerGarment,
}

impl Correction {
    /// None yet.
    pub const NONE: Self = Self::of_shift([[0.0; 3]; MAX_GARMENTS]);

    /// One that has come so far.
    pub const fn of_shift(shift: PerGarment) -> Self {
        Self { shift, may_leave: [[0.0; 3]; MAX_GARMENTS] }
    }

    /// Finds out what the print may leave of a colour that is now solved as `a`; `free` are costs
    /// without prices.
    pub fn look_ahead(&mut self, model: &SolverModel, free: &Costs, target: &Target, a: &PerScreen) {
        self.may_leave = target.may_leave(model, free, a);
    }

    /// Moves the aim by what the print of `a` leaves beyond what it may.
    pub fn move_on(&mut self, model: &SolverModel, target: &Target, a: &PerScreen) {
        let left = target.short_of(model, a);
        for garment in 0..=model.also_on.len() {
            let (now, left, may) = (self.shift[garment], left[garment], self.may_leave[garment]);
            let shift: [f32; 3] = std::array::from_fn(|k| now[k] + left[k] - may[k]);
            let length = shift.iter().map(|v| v * v).sum::<f32>().sqrt();
            self.shift[garment] = shift.map(|v| v * (MOST / length.max(MOST)));
        }
    }
}
