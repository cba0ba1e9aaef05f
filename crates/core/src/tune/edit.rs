//! The list of edits as data: an edit with its switch, and what is the same for every kind.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::GreyPicture;
use super::edits::{Drop, Edit, Merge, ReInk, Trim, Value};
use crate::ink::Ink;
use crate::screens::{NewName, ScreenName};
use crate::units::{Coverage, Mm};

/// An edit with its switch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EditEntry {
    /// Whether it is applied.
    pub on: bool,
    /// What it does.
    pub edit: Edit,
}

impl EditEntry {
    /// An edit that is switched on.
    pub fn on(edit: impl Into<Edit>) -> Self {
        Self { on: true, edit: edit.into() }
    }
}

impl Edit {
    /// Merge by plain multiply.
    pub fn merge(from: impl Into<ScreenName>, into: impl Into<ScreenName>) -> Self {
        Merge::plain(from, into).into()
    }

    /// Re-ink, coverages kept.
    pub fn re_ink(screen: impl Into<ScreenName>, ink: Ink) -> Self {
        ReInk::plain(screen, ink).into()
    }

    /// Drop, the other screens kept.
    pub fn drop(screen: impl Into<ScreenName>) -> Self {
        Drop::plain(screen).into()
    }

    /// Trim of light tones, hard.
    pub fn trim(screen: impl Into<ScreenName>, below: Coverage, background: bool) -> Self {
        Trim::plain(screen, below, background).into()
    }

    /// The names of screens that must be there for it, to be changed.
    fn needed(&mut self) -> Vec<&mut ScreenName> {
        let names = self.values().into_iter().flat_map(|value| match value {
            Value::Screen(name) => vec![name],
            Value::Screens(names) => names.iter_mut().collect(),
            _ => Vec::new(),
        });
        names.collect()
    }

    /// Lets it name `to` wherever it names `from` as a screen that must be there.
    pub fn rename(&mut self, from: &ScreenName, to: &ScreenName) {
        for name in self.needed().into_iter().filter(|name| **name == *from) {
            *name = to.clone();
        }
    }

    /// The name of the screen that it adds, to be changed.
    pub fn adds_mut(&mut self) -> Option<&mut NewName> {
        self.values().into_iter().find_map(|value| if let Value::NewScreen(name) = value { Some(name) } else { None })
    }

    /// The ink that it brings, to be changed.
    pub fn ink_mut(&mut self) -> Option<&mut Ink> {
        self.values().into_iter().find_map(|value| match value {
            Value::Ink(ink) => Some(ink),
            Value::OtherInk(ink) => ink.as_mut(),
            _ => None,
        })
    }

    /// The grey picture that it brings in.
    pub fn grey(&self) -> Option<&GreyPicture> {
        if let Self::Import(import) = self { Some(&import.picture) } else { None }
    }

    /// The grey picture that it brings in, to give it its pixels.
    pub fn grey_mut(&mut self) -> Option<&mut GreyPicture> {
        if let Self::Import(import) = self { Some(&mut import.picture) } else { None }
    }
}

pub(super) fn fraction(value: f64) -> Coverage {
    Coverage::new(value).unwrap_or_else(|_| unreachable!())
}

pub(super) fn zero() -> Coverage {
    fraction(0.0)
}

pub(super) fn twentieth() -> Coverage {
    fraction(0.05)
}

pub(super) fn tenth() -> Coverage {
    fraction(0.1)
}

pub(super) fn half() -> Coverage {
    fraction(0.5)
}

pub(super) fn one() -> Coverage {
    fraction(1.0)
}

pub(super) fn zero_mm() -> Mm {
    Mm::new(0.0).unwrap_or_else(|_| unreachable!())
}

pub(super) fn percent(part: Coverage) -> String {
    let value = part.get() * 100.0;
    if (value - value.round()).abs() < 0.05 { format!("{value:.0} %") } else { format!("{value:.1} %") }
}

pub(super) fn mm(length: Mm) -> String {
    format!("{length} mm")
}

pub(super) fn again(separate_again: bool) -> &'static str {
    if separate_again { ", separated again" } else { "" }
}
