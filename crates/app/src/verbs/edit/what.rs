//! What `strikeoff edit` is to do: an edit, whose words come from the list of kinds, or a change
//! of the list of edits.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::{ArgMatches, Command, Error, FromArgMatches, Subcommand};
use strikeoff_core::names::{self};
use strikeoff_core::screens::ScreenName;
use strikeoff_core::screens::Screens;
use strikeoff_core::tune::Edit;

use super::typed::{Typed, command};

/// What is done to the screens.
pub enum What {
    /// An edit, put at the end of the list.
    Edit(Typed),
    /// Something with the list itself.
    OfList(OfList),
}

/// What is done with the list of edits.
#[derive(Subcommand)]
pub enum OfList {
    /// Show the list of edits, and which of them cannot be applied
    List,
    /// Switch an edit on again
    On {
        /// Its number in the list
        number: usize,
    },
    /// Switch an edit off; it stays in the list
    Off {
        /// Its number in the list
        number: usize,
    },
    /// Apply an edit earlier or later
    Move {
        /// Its number in the list
        number: usize,
        /// Its new number
        to: usize,
    },
    /// Delete an edit from the list
    Delete {
        /// Its number in the list
        number: usize,
    },
    /// Fix an edit that cannot be applied
    Fix {
        /// Its number in the list
        number: usize,
        /// Which of the fixes that the list offers
        #[arg(default_value_t = 1)]
        choice: usize,
    },
}

impl Subcommand for What {
    fn augment_subcommands(parent: Command) -> Command {
        let parent = Edit::kinds().iter().fold(parent, |parent, kind| parent.subcommand(command(kind)));
        OfList::augment_subcommands(parent).subcommand_required(true).arg_required_else_help(true)
    }

    fn augment_subcommands_for_update(parent: Command) -> Command {
        Self::augment_subcommands(parent)
    }

    fn has_subcommand(name: &str) -> bool {
        Edit::kinds().iter().any(|kind| kind.name == name) || OfList::has_subcommand(name)
    }
}

impl FromArgMatches for What {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, Error> {
        let typed = matches.subcommand().and_then(|(name, given)| {
            let kind = Edit::kinds().iter().find(|kind| kind.name == name)?;
            Some(Typed { kind, given: given.clone() })
        });
        match typed {
            Some(typed) => Ok(Self::Edit(typed)),
            None => OfList::from_arg_matches(matches).map(Self::OfList),
        }
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

impl What {
    /// The picture that it reads.
    pub fn picture(&self) -> Option<&Path> {
        if let Self::Edit(typed) = self { typed.picture() } else { None }
    }

    /// The ink shelf that it reads, if it is not the shop's.
    pub fn shelf(&self) -> Option<&PathBuf> {
        if let Self::Edit(typed) = self { typed.shelf() } else { None }
    }
}

/// A screen by name, or by its ink's; case, blanks, `-` and `_` are ignored as on the shelf.
pub(in crate::verbs) fn find(screens: &Screens, name: &str) -> anyhow::Result<ScreenName> {
    let list = &screens.list;
    match names::find(list, name, |s| &s.name).or_else(|| names::find(list, name, |s| &s.ink.name)) {
        Some(screen) => Ok(screen.name.clone()),
        None => {
            let names: Vec<_> = screens.list.iter().map(|s| s.name.as_str()).collect();
            bail!("the job has no screen \"{name}\"; it has {}", names.join(", "))
        }
    }
}
