//! Every kind of edit in a file of its own: its values with their ranges, defaults and hints, what it
//! is called, how it is put in words, what it refuses, and what it does to the screens. The registry
//! below is the one list of them: the job file's schema, the fields of the window and the words of the
//! command line come from it.
//!
//! Lengths are in millimetres on the print, areas in square millimetres, tones are coverage (fraction
//! of ink), places are fractions of the print, so that a proxy and the full size agree.

mod field;
mod kind;
mod on;
#[macro_use]
mod registry;

use super::{ConflictFix, TuneError};
use crate::bounds;
use crate::screens::ScreenName;
pub use field::{Field, Type, Value};
pub use kind::{Again, Info, Menu, Offer, Start};
use kind::{Kind, Values};
pub(super) use on::On;

registry! {
    merge::Merge,
    re_ink::ReInk,
    drop::Drop,
    order::Order,
    trim::Trim,
    curve::Curve,
    tone_range::ToneRange,
    gain::Gain,
    density::Density,
    clear_background::ClearBackground,
    invert::Invert,
    posterise::Posterise,
    choke::Choke,
    spread::Spread,
    specks::Specks,
    pinholes::Pinholes,
    soften::Soften,
    sharpen::Sharpen,
    mask_region::MaskRegion,
    mask::Mask,
    knock_out::KnockOut,
    subtract::Subtract,
    swap::Swap,
    hits::Hits,
    copy::Copy,
    split::Split,
    from_art::FromArt,
    import::Import,
    add::Add,
}

impl Edit {
    /// All kinds: names, labels, help and values.
    pub fn kinds() -> &'static [Info] {
        &KINDS
    }

    /// What there is to know of its kind.
    pub fn info(&self) -> &'static Info {
        &KINDS[self.place()]
    }

    /// In a word or two, for lists.
    pub fn label(&self) -> &'static str {
        self.info().label
    }

    /// Its values, to be changed, in the order of its kind's fields.
    pub fn values(&mut self) -> Vec<Value<'_>> {
        each!(self, edit => edit.values())
    }

    /// What it works on and how, in a short phrase: "Teal by 0.2 mm". The kind of edit itself is
    /// its [`Edit::label`].
    pub fn in_words(&self) -> String {
        each!(self, edit => edit.words())
    }

    /// Whether its numbers and names make sense; if not, which one and why.
    pub fn check(&self) -> Result<(), String> {
        bounds::check(self).map_err(|e| e.what().to_owned())?;
        if self.adds().is_some_and(ScreenName::is_blank) {
            return Err("the new screen needs a name".to_owned());
        }
        each!(self, edit => edit.check())
    }

    /// The screens that must be there for it.
    pub fn needs(&self) -> Vec<&ScreenName> {
        each!(self, edit => edit.needs())
    }

    /// The screen that it adds.
    pub fn adds(&self) -> Option<&ScreenName> {
        each!(self, edit => edit.adds())
    }

    /// The screen that is gone after it.
    pub fn removes(&self) -> Option<&ScreenName> {
        each!(self, edit => edit.removes())
    }

    /// The screen that takes in the one that goes.
    pub fn takes_in(&self) -> Option<&ScreenName> {
        each!(self, edit => edit.takes_in())
    }

    /// What it asks of the separation itself, if it has the screens separated again.
    pub fn again(&self) -> Option<Again<'_>> {
        each!(self, edit => edit.again())
    }

    pub(super) fn fixes_without(&self, missing: &ScreenName, usual: Vec<ConflictFix>) -> Vec<ConflictFix> {
        each!(self, edit => edit.fixes_without(missing, usual))
    }

    pub(super) fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        each!(self, edit => edit.apply(on))
    }
}
