//! An edit as words of the command line: arguments made from the fields of its kind, and the edit made
//! from what was given. Values without a default come in their order, the others are options.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::{Arg, ArgAction, ArgMatches, Args, Command, FromArgMatches, value_parser};
use serde_json::{Map, Value as Json, json, to_value};
use strikeoff_core::screens::Screens;
use strikeoff_core::tune::edits::{Field, Info, Type};
use strikeoff_core::tune::{Curve, Edit, Place};
use strikeoff_core::units::{Coverage, MM_PER_INCH, Mm};
use strikeoff_files::job::read_grey;

use super::choices::{RegionChoice, SourceChoice, ink, place, point};
use super::what::find;

/// An edit of a kind, with what was given for its values.
pub struct Typed {
    /// Which kind.
    pub kind: &'static Info,
    /// What was given.
    pub given: ArgMatches,
}

/// The option that names the shelf an ink is taken from.
const SHELF: &str = "shelf";

/// The subcommand of a kind.
pub fn command(kind: &'static Info) -> Command {
    let mut command = Command::new(kind.name.as_str()).about(kind.help.as_str());
    for field in &kind.fields {
        command = match field.of {
            Type::Region => RegionChoice::augment_args(command),
            Type::Source => SourceChoice::augment_args(command),
            _ => command.arg(argument(field)),
        };
    }
    if kind.fields.iter().any(|field| matches!(field.of, Type::Ink | Type::OtherInk)) {
        let shelf = Arg::new(SHELF).long(SHELF).value_name("FILE").value_parser(value_parser!(PathBuf));
        command = command.arg(shelf.help("The shop's ink shelf (JSON); without it that of the shop profile"));
    }
    command
}

fn argument(field: &'static Field) -> Arg {
    let mut arg = Arg::new(field.key).help(help(field));
    arg = match field.of {
        Type::Coverage => arg.value_parser(value_parser!(Coverage)),
        Type::Length => arg.value_parser(value_parser!(Mm)),
        Type::Number => arg.value_parser(value_parser!(f64)).allow_hyphen_values(true),
        Type::Count => arg.value_parser(value_parser!(u8)),
        Type::Place => arg.value_parser(place),
        Type::Curve => arg.value_parser(point).num_args(2..),
        Type::Screens => arg.value_delimiter(',').num_args(1..),
        Type::Picture => arg.value_parser(value_parser!(PathBuf)),
        Type::Switch => return arg.long(field.option()).action(ArgAction::SetTrue),
        Type::Screen | Type::NewScreen | Type::Ink | Type::OtherInk | Type::Region | Type::Source => arg,
    };
    arg = arg.value_name(field.option().to_uppercase());
    match &field.default {
        None => arg.required(true),
        Some(Json::Null) => arg.long(field.option()),
        Some(default) => arg.long(field.option()).default_value(written(field.of, default)),
    }
}

/// A default as it would be typed.
fn written(of: Type, default: &Json) -> String {
    match (of, default) {
        (Type::Coverage, Json::Number(part)) => format!("{}%", part.as_f64().unwrap_or_default() * 100.0),
        (Type::Length, Json::Number(mm)) => format!("{mm}mm"),
        (_, Json::String(word)) => word.clone(),
        (_, other) => other.to_string(),
    }
}

/// What a value does, with its range where it has a unit of its own.
fn help(field: &Field) -> String {
    let unit = if field.unit.is_empty() { String::new() } else { format!(" {}", field.unit) };
    match (field.of, field.range) {
        (Type::Number | Type::Length | Type::Count, Some([min, max])) => {
            format!("{}; {min} to {max}{unit}", field.hint)
        }
        _ => field.hint.clone(),
    }
}

impl Typed {
    /// The picture that it reads.
    pub fn picture(&self) -> Option<&Path> {
        self.of(Type::Picture).and_then(|field| self.given.get_one::<PathBuf>(field.key)).map(PathBuf::as_path)
    }

    /// The ink shelf that it reads, if it is not the shop's.
    pub fn shelf(&self) -> Option<&PathBuf> {
        self.given.try_get_one::<PathBuf>(SHELF).ok().flatten()
    }

    fn of(&self, of: Type) -> Option<&'static Field> {
        self.kind.fields.iter().find(|field| field.of == of)
    }

    /// The edit, with screens under the names that the job has for them.
    pub fn edit(&self, screens: &Screens) -> anyhow::Result<Edit> {
        let mut values = Map::new();
        values.insert("kind".into(), self.kind.name.as_str().into());
        for field in &self.kind.fields {
            if let Some(value) = self.value(field, screens)? {
                values.insert(field.key.into(), value);
            }
        }
        let mut edit: Edit = serde_json::from_value(values.into())?;
        // A picture's pixels are no part of its data.
        if let (Some(picture), Some(path)) = (edit.grey_mut(), self.picture()) {
            *picture = read_grey(path)?;
        }
        if edit.removes().is_some() && screens.list.len() == 1 {
            bail!("\"{}\" is the only screen; a job needs one", screens.list[0].name);
        }
        edit.check().map_err(anyhow::Error::msg)?;
        Ok(edit)
    }

    /// A value as a job file has it; none if it was not given and has no default.
    fn value(&self, field: &Field, screens: &Screens) -> anyhow::Result<Option<Json>> {
        let text = || self.given.get_one::<String>(field.key);
        let known = |name: &String| find(screens, name.trim());
        Ok(match field.of {
            Type::Screen => text().map(known).transpose()?.map(to_value).transpose()?,
            Type::NewScreen => text().map(|name| json!(name)),
            Type::Screens => {
                let names = self.given.get_many::<String>(field.key).into_iter().flatten();
                Some(to_value(names.map(known).collect::<Result<Vec<_>, _>>()?)?)
            }
            Type::Ink | Type::OtherInk => match text() {
                Some(name) => Some(to_value(ink(name, self.shelf())?)?),
                None => None,
            },
            Type::Coverage => self.given.get_one::<Coverage>(field.key).map(to_value).transpose()?,
            Type::Length => self.given.get_one::<Mm>(field.key).map(to_value).transpose()?,
            Type::Number => match self.given.get_one::<f64>(field.key) {
                // JSON has no such numbers, so they are refused before the edit is made.
                Some(number) if !number.is_finite() => {
                    let [min, max] = field.range.unwrap_or_default();
                    bail!("{} must be {min} to {max} {}, not {number}", field.title, field.unit)
                }
                number => number.map(|number| json!(number)),
            },
            Type::Count => self.given.get_one::<u8>(field.key).map(|count| json!(count)),
            Type::Switch => Some(json!(self.given.get_flag(field.key))),
            Type::Place => self.given.get_one::<Place>(field.key).map(to_value).transpose()?,
            Type::Curve => {
                let points = self.given.get_many::<[f64; 2]>(field.key).into_iter().flatten();
                Some(to_value(Curve::new(points.copied().collect())?)?)
            }
            Type::Region => {
                let side_mm = |px: usize| px as f64 / screens.ppi.get() * MM_PER_INCH;
                let choice = RegionChoice::from_arg_matches(&self.given)?;
                Some(to_value(choice.region([side_mm(screens.width), side_mm(screens.height)]))?)
            }
            Type::Source => Some(to_value(SourceChoice::from_arg_matches(&self.given)?.source())?),
            Type::Picture => match self.picture() {
                Some(path) => Some(to_value(read_grey(path)?)?),
                None => None,
            },
        })
    }
}
