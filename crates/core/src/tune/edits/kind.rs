//! What every kind of edit says of itself and does.

use super::super::{ConflictFix, Place, TuneError};
use super::field::sentence;
use super::{Edit, Field, On, Type, Value};
use crate::bounds;
use crate::ink::Ink;
use crate::screens::{NewName, ScreenName};

/// The values of a kind of edit, in the order in which they are listed; made by `edit!`.
pub trait Values: serde::Serialize + schemars::JsonSchema + Into<Edit> + 'static {
    /// Their names and types.
    const FIELDS: &'static [(&'static str, Type)];

    /// The values, to be changed.
    fn values(&mut self) -> Vec<Value<'_>>;

    /// The screens among them that must be there.
    fn needs(&self) -> Vec<&ScreenName>;

    /// The screen among them that it adds.
    fn adds(&self) -> Option<&ScreenName>;
}

/// A kind of edit.
pub(in crate::tune) trait Kind: Values {
    /// In a word or two, for lists.
    const LABEL: &'static str;
    /// The menu that offers it.
    const MENU: Menu = Menu::Change;

    /// What it works on and how, in a short phrase: "Teal by 0.2 mm".
    fn words(&self) -> String;

    /// Why its values do not go together; each has been held to its own range.
    fn check(&self) -> Result<(), String> {
        Ok(())
    }

    /// Does it.
    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError>;

    /// The screen that is gone after it.
    fn removes(&self) -> Option<&ScreenName> {
        None
    }

    /// The screen that takes in the one that goes.
    fn takes_in(&self) -> Option<&ScreenName> {
        None
    }

    /// What it asks of the separation itself, if it has the screens separated again.
    fn again(&self) -> Option<Again<'_>> {
        None
    }

    /// What can be done if a screen that it names is not there, of what is usual then.
    fn fixes_without(&self, _missing: &ScreenName, usual: Vec<ConflictFix>) -> Vec<ConflictFix> {
        usual
    }

    /// Edits of this kind that a menu offers for a screen, each with its name there and with values that
    /// do little until they are changed.
    fn offers(_start: &Start<'_>) -> Vec<(&'static str, Self)> {
        Vec::new()
    }
}

/// What an edit asks of the separation.
#[derive(Debug, Clone, Copy)]
pub enum Again<'a> {
    /// Separate for another ink of a screen.
    With(&'a ScreenName, &'a Ink),
    /// Separate without a screen.
    Without(&'a ScreenName),
    /// Separate with one screen more.
    Added(&'a NewName, &'a Ink, Place),
}

/// The menus that offer edits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Menu {
    /// On one screen.
    Change,
    /// On a screen by another.
    WithAnother,
    /// Makes a new screen.
    NewScreen,
}

/// What an offered edit begins from.
pub struct Start<'a> {
    /// The screen that is chosen.
    pub screen: &'a ScreenName,
    /// Another screen, if there is one.
    pub other: Option<&'a ScreenName>,
    /// The chosen screen's ink.
    pub ink: &'a Ink,
    /// A free name like the one that is wished for.
    pub free: &'a dyn Fn(&str) -> NewName,
}

/// An edit that a menu offers.
pub struct Offer {
    /// Which menu.
    pub menu: Menu,
    /// Its name there.
    pub label: &'static str,
    /// The edit.
    pub edit: Edit,
}

/// What there is to know of a kind of edit.
#[derive(Debug)]
pub struct Info {
    /// Name in the job file and on the command line: `tone-range`.
    pub name: String,
    /// In a word or two, for lists.
    pub label: &'static str,
    /// What it does, without a full stop.
    pub help: String,
    /// Its values.
    pub fields: Vec<Field>,
}

impl Info {
    pub(super) fn of<K: Kind>(type_name: &str) -> Self {
        let schema = bounds::schema_of::<K>();
        Self {
            name: kebab(type_name),
            label: K::LABEL,
            help: sentence(schema["description"].as_str().unwrap_or_default()),
            fields: K::FIELDS.iter().map(|(key, of)| Field::of(key, *of, schema)).collect(),
        }
    }
}

/// `ToneRange` as `tone-range`.
fn kebab(name: &str) -> String {
    let mut out = String::new();
    for (at, letter) in name.char_indices() {
        if letter.is_uppercase() && at > 0 {
            out.push('-');
        }
        out.extend(letter.to_lowercase());
    }
    out
}
