//! Prices of ink and tidiness would cost colour, so the solver's aim is moved by what the print misses,
//! step by step (Bregman's iteration), until the print itself has the colour. A colour out of the inks'
//! reach keeps the soft approach that it would have without.

use super::model::{PerScreen, SolverModel};
use super::problem::{Costs, Target};

/// The furthest that an aim is moved, in OKLab.
const MOST: f32 = 0.06;

/// How far one colour's aim is moved.
#[derive(Debug, Clone, Copy)]
pub(super) struct Correction {
    /// In OKLab.
    pub shift: [f32; 3],
    /// What the print may leave of the colour in the end.
    may_leave: [f32; 3],
}

impl Correction {
    /// One that has come so far.
    pub fn of_shift(shift: [f32; 3]) -> Self {
        Self { shift, may_leave: [0.0; 3] }
    }

    /// Finds out what the print may leave of a colour that is now solved as `a`; `free` are costs
    /// without prices.
    pub fn look_ahead(&mut self, model: &SolverModel, free: &Costs, target: &Target, a: &PerScreen) {
        self.may_leave = target.may_leave(model, free, a);
    }

    /// Moves the aim by what the print of `a` leaves beyond what it may.
    pub fn move_on(&mut self, model: &SolverModel, target: &Target, a: &PerScreen) {
        let left = target.short_of(model, a);
        let shift: [f32; 3] = std::array::from_fn(|k| self.shift[k] + left[k] - self.may_leave[k]);
        let length = shift.iter().map(|v| v * v).sum::<f32>().sqrt();
        self.shift = shift.map(|v| v * (MOST / length.max(MOST)));
    }
}
