//! Everything the user can make the bench do, as data: views send commands, only the bench
//! applies them. A command knows its words, its keys and whether undo takes it back.

use std::path::PathBuf;
use strikeoff_core::screens::ScreenName;

use egui::{Key, KeyboardShortcut, Modifiers};
use strikeoff_core::color::Rgb8;
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::{Act, Job, RunRecord};
use strikeoff_core::moire::AngleSet;
use strikeoff_files::press_print::ReadPrint;
use strikeoff_files::profile::ShopProfile;
use strikeoff_files::reorder::Again;
use strikeoff_files::sheet::SheetKind;

use crate::render::View;
use crate::ui::format::ordinal;
use crate::view_state::{Sheet, Side};

/// One thing to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Command {
    /// Choose a picture or a job with a file dialog.
    Open,
    /// Open the file at a path: a picture starts a new job.
    OpenPath(PathBuf),
    /// Go back to the demo job.
    OpenDemo,
    /// One step back.
    Undo,
    /// One step forward.
    Redo,
    /// Show a view on the table.
    Look(View),
    /// Compare with a second view, or stop comparing.
    Compare(Option<View>),
    /// Show or hide a screen.
    ToggleShown(ScreenName),
    /// Show only this screen, or all again if it is the only one.
    OnlyThis(ScreenName),
    /// Show or hide the chosen screen.
    ToggleChosen,
    /// Show only the chosen screen, or all again.
    OnlyChosen,
    /// Show every screen.
    ShowAll,
    /// Choose a screen.
    Select(Option<ScreenName>),
    /// Choose the screen so many places further in the print order.
    SelectStep(i32),
    /// Move a screen to a place in the print order, from 0.
    Move {
        /// The screen.
        screen: ScreenName,
        /// Its new place.
        to: usize,
    },
    /// Move the chosen screen so many places.
    MoveStep(i32),
    /// Put a flash, a flash with cool-down, or nothing after a screen.
    CycleStop(ScreenName),
    /// Take a screen's ink out where the artwork has only background, or leave it there again.
    TrimBackground(ScreenName),
    /// Take a screen out.
    Drop(ScreenName),
    /// Print a screen with another ink.
    ReInk {
        /// The screen.
        screen: ScreenName,
        /// Its new ink.
        ink: Ink,
    },
    /// Look for ink sets on the shelf.
    SuggestInks,
    /// Do an act whose cost was shown.
    Do(Box<Act>),
    /// Multiply one screen into another.
    Merge {
        /// The screen that goes.
        from: ScreenName,
        /// The screen that stays.
        into: ScreenName,
    },
    /// Look at the proof on another garment of the job.
    LookOn(usize),
    /// Add a garment to look at.
    AddGarment(Garment),
    /// Add a garment of a colour.
    AddGarmentColor(Rgb8),
    /// Take a garment off the row.
    RemoveGarment(usize),
    /// Separate again for the garment looked at.
    SeparateForThis,
    /// Print the same films on a garment of the row too.
    PrintOnToo(usize),
    /// Make a garment that the job prints on its first: that of findings, costs and sheets.
    MakeFirst(usize),
    /// Print no more on a garment of the row.
    PrintNoMoreOn(usize),
    /// A changed job with the name of the change.
    Change {
        /// The job as it is to be.
        job: Box<Job>,
        /// What was done, for undo.
        what: String,
        /// Whether it belongs to a drag of the pointer: all changes of one drag are one undo step.
        drag: bool,
    },
    /// Give all screens angles.
    SetAngles(AngleSet),
    /// Draw the crop on the table, or go back to the print.
    Crop(bool),
    /// Zoom in about the middle of the table.
    ZoomIn,
    /// Zoom out.
    ZoomOut,
    /// The whole shirt in sight.
    ZoomFit,
    /// The print fills the table.
    ZoomPrint,
    /// Actual size on this display.
    ActualSize,
    /// Folds and grain on or off.
    ToggleFabric,
    /// Loupe on or off.
    ToggleLoupe,
    /// Light or dark.
    ToggleTheme,
    /// Frame and job times on or off.
    ToggleTimes,
    /// The findings' drawer open or shut.
    ToggleFindings,
    /// Show where a finding is, by its place in the list, or stop showing it.
    ShowFinding(Option<usize>),
    /// Stop the long work that runs.
    Cancel,
    /// Save the job where it is kept, or ask where.
    Save,
    /// Save the job at a path.
    SaveTo(PathBuf),
    /// Keep the job as it is now under a name.
    KeepVersion {
        /// The name: "client proof 1", "as printed".
        name: String,
        /// Whatever is worth knowing.
        note: String,
    },
    /// Write a run down and keep the job as it was printed.
    KeepRun(Box<RunRecord>),
    /// Make the job what is printed again, as the reorder shows it.
    PrintAgain(Again),
    /// Make the job what a named version was.
    GoToVersion(String),
    /// Take a named version out of the job.
    DropVersion(String),
    /// Open a job that a killed window left; its place in the list.
    OpenRecovered(usize),
    /// Throw such a job away.
    DiscardRecovered(usize),
    /// Make a screen from a grey picture.
    ImportGrey(PathBuf),
    /// Choose a grey picture with the system's dialog.
    ChooseGrey,
    /// Make films into a folder.
    MakeFilms(PathBuf),
    /// Write a sheet to a file.
    MakeSheet(SheetKind, PathBuf),
    /// Choose where a sheet goes with the system's dialog.
    ChooseSheet(SheetKind),
    /// Choose a folder with the system's dialog.
    ChooseFolder,
    /// Choose where to save with the system's dialog.
    ChooseSave,
    /// Change what this computer remembers of the window.
    Prefer(Box<crate::Preferences>),
    /// Change what new jobs of this shop begin with.
    ChangeShop(Box<ShopProfile>),
    /// Write the shop profile to a file.
    ExportShop(PathBuf),
    /// Take the shop profile from a file.
    ImportShop(PathBuf),
    /// Read the calibration print on the table into the shop profile.
    ReadPress {
        /// Its readings.
        print: ReadPrint,
        /// What the fingerprint is to be called.
        name: String,
    },
    /// Take an ink's colour from a measurement, by its place on the shelf.
    MeasureInk {
        /// Its place.
        at: usize,
        /// The file.
        path: PathBuf,
    },
    /// Show a hint of the tour, or none.
    Tour(Option<usize>),
    /// Show a panel at the right.
    Panel(Side),
    /// Open a sheet, or close the open one.
    Sheet(Option<Sheet>),
}

impl Command {
    /// A change of the job as a step of its own.
    pub fn change(job: Job, what: impl Into<String>) -> Self {
        Self::Change { job: Box::new(job), what: what.into(), drag: false }
    }

    /// The commands of the keyboard map, in its order.
    pub fn with_keys() -> Vec<Self> {
        let films = Self::Sheet(Some(Sheet::Export));
        let mut list = vec![
            Self::Open,
            Self::Sheet(Some(Sheet::Save)),
            Self::Save,
            films,
            Self::Sheet(Some(Sheet::Ticket)),
            Self::Sheet(Some(Sheet::Inks)),
            Self::Redo,
            Self::Undo,
        ];
        list.extend(View::ALL.map(Self::Look));
        list.extend([
            Self::SelectStep(-1),
            Self::SelectStep(1),
            Self::MoveStep(-1),
            Self::MoveStep(1),
            Self::ToggleChosen,
            Self::OnlyChosen,
            Self::ShowAll,
            Self::ZoomIn,
            Self::ZoomOut,
            Self::ZoomFit,
            Self::ZoomPrint,
            Self::ActualSize,
            Self::ToggleFabric,
            Self::ToggleLoupe,
            Self::ToggleFindings,
            Self::ToggleTheme,
            Self::ToggleTimes,
            Self::Cancel,
            Self::Sheet(Some(Sheet::Find)),
            Self::Sheet(Some(Sheet::Preferences)),
            Self::Sheet(Some(Sheet::Keys)),
        ]);
        list
    }

    /// In the words of the window.
    pub fn label(&self) -> String {
        match self {
            Self::Open => "Open a picture or a job".into(),
            Self::OpenPath(_) => "Open".into(),
            Self::OpenDemo => "Demo job".into(),
            Self::Undo => "Undo".into(),
            Self::Redo => "Redo".into(),
            Self::Look(view) => view.label().into(),
            Self::Compare(Some(view)) => format!("Compare with {}", view.label()),
            Self::Compare(None) => "Stop comparing".into(),
            Self::ToggleShown(name) => format!("Show or hide {name}"),
            Self::OnlyThis(name) => format!("Show only {name}"),
            Self::ToggleChosen => "Show or hide the chosen screen".into(),
            Self::OnlyChosen => "Show only the chosen screen".into(),
            Self::ShowAll => "Show all screens".into(),
            Self::Select(Some(name)) => format!("Choose {name}"),
            Self::Select(None) => "Select no screen".into(),
            Self::SelectStep(by) if *by < 0 => "Previous screen".into(),
            Self::SelectStep(_) => "Next screen".into(),
            Self::Move { screen, to } => format!("Print {screen} {}", ordinal(to + 1)),
            Self::MoveStep(by) if *by < 0 => "Print the chosen screen earlier".into(),
            Self::MoveStep(_) => "Print the chosen screen later".into(),
            Self::CycleStop(name) => format!("Flash after {name}"),
            Self::TrimBackground(name) => format!("Trim {name} out of the background"),
            Self::Drop(name) => format!("Drop {name}"),
            Self::ReInk { screen, ink } => format!("Print {screen} with {}", ink.name),
            Self::SuggestInks => "Suggest inks".into(),
            Self::Do(act) => act.words(),
            Self::Merge { from, into } => format!("Merge {from} into {into}"),
            Self::LookOn(_) => "Look on this garment".into(),
            Self::AddGarment(garment) => format!("Add garment {}", garment.name),
            Self::AddGarmentColor(color) => format!("Add garment {color}"),
            Self::RemoveGarment(_) => "Remove this garment".into(),
            Self::SeparateForThis => "Separate for this garment".into(),
            Self::PrintOnToo(_) => "Print on this garment too".into(),
            Self::MakeFirst(_) => "Findings and sheets for this garment".into(),
            Self::PrintNoMoreOn(_) => "Print no more on this garment".into(),
            Self::Change { what, .. } => what.clone(),
            Self::SetAngles(AngleSet::One) => "One angle for all screens".into(),
            Self::SetAngles(AngleSet::Spread) => "Spread the angles".into(),
            Self::SetAngles(AngleSet::Suggested) => "Best angles for this art".into(),
            Self::Crop(true) => "Crop on the table".into(),
            Self::Crop(false) => "Done cropping".into(),
            Self::ZoomIn => "Zoom in".into(),
            Self::ZoomOut => "Zoom out".into(),
            Self::ZoomFit => "Whole garment".into(),
            Self::ZoomPrint => "Whole print".into(),
            Self::ActualSize => "Actual size".into(),
            Self::ToggleFabric => "Show or hide folds and grain".into(),
            Self::ToggleLoupe => "Show or hide the loupe".into(),
            Self::ToggleTheme => "Light or dark".into(),
            Self::ToggleTimes => "Frame and job times".into(),
            Self::ToggleFindings => "Show or hide findings".into(),
            Self::ShowFinding(_) => "Show where a finding is".into(),
            Self::Cancel => "Stop the running work".into(),
            Self::Save => "Save the job".into(),
            Self::SaveTo(path) => format!("Save as {}", path.display()),
            Self::KeepVersion { name, .. } => format!("Keep as {name}"),
            Self::KeepRun(run) => format!("Write down the run of {}", run.date.words()),
            Self::PrintAgain(Again::Same) => "Print the same".into(),
            Self::PrintAgain(Again::Updated) => "Print it updated".into(),
            Self::GoToVersion(name) => format!("Go back to {name}"),
            Self::DropVersion(name) => format!("Delete the version {name}"),
            Self::OpenRecovered(_) => "Open the recovered job".into(),
            Self::DiscardRecovered(_) => "Discard the recovered job".into(),
            Self::ImportGrey(_) => "Screen from a grey picture".into(),
            Self::ChooseGrey => "Choose a grey picture".into(),
            Self::MakeFilms(_) => "Make films".into(),
            Self::MakeSheet(kind, path) => format!("Write the {} to {}", kind.title(), path.display()),
            Self::ChooseSheet(kind) => format!("Choose where the {} goes", kind.title()),
            Self::ChooseFolder => "Choose folder".into(),
            Self::ChooseSave => "Choose place".into(),
            Self::Panel(Side::Screen) => "Panel of the chosen screen".into(),
            Self::Panel(Side::Separation) => "Panel of the separation".into(),
            Self::Panel(Side::Edits) => "Panel of edits".into(),
            Self::Panel(Side::Versions) => "Panel of versions".into(),
            Self::Sheet(Some(Sheet::Save)) => "Save the job as".into(),
            Self::Sheet(Some(Sheet::Export)) => "Make films".into(),
            Self::Sheet(Some(Sheet::InkRoom)) => "Ink room".into(),
            Self::Sheet(Some(Sheet::Dropped)) => "Files that were dropped".into(),
            Self::Sheet(Some(Sheet::Quote)) => "Quote".into(),
            Self::Sheet(Some(Sheet::Jobs)) => "Jobs".into(),
            Self::Sheet(Some(Sheet::Run)) => "Runs of this job".into(),
            Self::Sheet(Some(Sheet::Reorder)) => "Reorder".into(),
            Self::Sheet(Some(Sheet::Paper(kind))) => format!("Make the {}", kind.title()),
            Self::Sheet(Some(Sheet::Ticket)) => "Ticket".into(),
            Self::Sheet(Some(Sheet::Inks)) => "Choose inks".into(),
            Self::Sheet(Some(Sheet::Find)) => "Find a command".into(),
            Self::Sheet(Some(Sheet::Preferences)) => "Preferences".into(),
            Self::Prefer(_) => "Preferences".into(),
            Self::ChangeShop(_) => "Change the shop profile".into(),
            Self::ExportShop(path) => format!("Write the shop profile to {}", path.display()),
            Self::ImportShop(path) => format!("Take the shop profile from {}", path.display()),
            Self::ReadPress { name, .. } => format!("Read the print as {name}"),
            Self::MeasureInk { .. } => "Take the ink from its measurement".into(),
            Self::Tour(Some(_)) => "Show the hints".into(),
            Self::Tour(None) => "No more hints".into(),
            Self::Sheet(Some(Sheet::Keys)) => "Keys".into(),
            Self::Sheet(Some(Sheet::About)) => "About".into(),
            Self::Sheet(Some(Sheet::Start)) => "Start".into(),
            Self::Sheet(Some(Sheet::Recovered)) => "Recovered jobs".into(),
            Self::Sheet(Some(Sheet::Lost)) => "What was lost".into(),
            Self::Sheet(Some(Sheet::Grey)) => "Screen from a grey picture".into(),
            Self::Sheet(None) => "Close".into(),
        }
    }

    /// Whether it does nothing without a job on the table.
    pub fn needs_job(&self) -> bool {
        match self {
            Self::Open
            | Self::OpenPath(_)
            | Self::OpenDemo
            | Self::ToggleFabric
            | Self::ToggleLoupe
            | Self::ToggleTheme
            | Self::ToggleTimes
            | Self::Cancel
            | Self::OpenRecovered(_)
            | Self::DiscardRecovered(_)
            | Self::ChooseFolder
            | Self::ChooseSheet(_)
            | Self::ChooseSave
            | Self::ChooseGrey
            | Self::Prefer(_)
            | Self::ChangeShop(_)
            | Self::ExportShop(_)
            | Self::ImportShop(_)
            | Self::MeasureInk { .. }
            | Self::Tour(_) => false,
            Self::Sheet(sheet) => {
                matches!(
                    sheet,
                    Some(
                        Sheet::Ticket
                            | Sheet::Quote
                            | Sheet::Run
                            | Sheet::Reorder
                            | Sheet::Export
                            | Sheet::Paper(_)
                            | Sheet::Inks
                            | Sheet::Save
                            | Sheet::Lost
                            | Sheet::Grey
                    )
                )
            }
            _ => true,
        }
    }

    /// Its keys, if it has any.
    pub fn keys(&self) -> Option<KeyboardShortcut> {
        const CTRL: Modifiers = Modifiers::COMMAND;
        const NONE: Modifiers = Modifiers::NONE;
        const SHIFT: Modifiers = Modifiers::SHIFT;
        let (modifiers, key) = match self {
            Self::Open => (CTRL, Key::O),
            Self::Sheet(Some(Sheet::Export)) => (CTRL, Key::E),
            Self::Save => (CTRL, Key::S),
            Self::Sheet(Some(Sheet::Save)) => (CTRL.plus(SHIFT), Key::S),
            Self::Sheet(Some(Sheet::Ticket)) => (CTRL, Key::T),
            Self::Sheet(Some(Sheet::Inks)) => (CTRL, Key::I),
            Self::Undo => (CTRL, Key::Z),
            Self::Redo => (CTRL.plus(SHIFT), Key::Z),
            Self::Look(View::Print) => (NONE, Key::Num1),
            Self::Look(View::Art) => (NONE, Key::Num2),
            Self::Look(View::Screen) => (NONE, Key::Num3),
            Self::Look(View::Dots) => (NONE, Key::Num4),
            Self::Look(View::Difference) => (NONE, Key::Num5),
            Self::Look(View::BuildUp) => (NONE, Key::Num6),
            Self::SelectStep(by) => (NONE, if *by < 0 { Key::Comma } else { Key::Period }),
            Self::MoveStep(by) => (CTRL, if *by < 0 { Key::Comma } else { Key::Period }),
            Self::ToggleChosen => (NONE, Key::H),
            Self::OnlyChosen => (NONE, Key::O),
            Self::ShowAll => (NONE, Key::A),
            Self::ZoomIn => (CTRL, Key::Equals),
            Self::ZoomOut => (CTRL, Key::Minus),
            Self::ZoomFit => (CTRL, Key::Num9),
            Self::ZoomPrint => (CTRL, Key::Num8),
            Self::ActualSize => (CTRL, Key::Num7),
            Self::ToggleFabric => (NONE, Key::G),
            Self::ToggleLoupe => (NONE, Key::L),
            Self::ToggleTheme => (NONE, Key::F9),
            Self::ToggleTimes => (NONE, Key::F8),
            Self::ToggleFindings => (NONE, Key::F),
            Self::Cancel => (NONE, Key::Escape),
            Self::Sheet(Some(Sheet::Find)) => (CTRL, Key::K),
            Self::Sheet(Some(Sheet::Preferences)) => (NONE, Key::F2),
            Self::Sheet(Some(Sheet::Keys)) => (NONE, Key::F1),
            _ => return None,
        };
        Some(KeyboardShortcut::new(modifiers, key))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_commands_share_their_keys() {
        let all = Command::with_keys();
        for (at, a) in all.iter().enumerate() {
            assert!(a.keys().is_some(), "{} is in the keyboard map without keys", a.label());
            for b in &all[..at] {
                assert_ne!(a.keys(), b.keys(), "{} and {}", a.label(), b.label());
            }
        }
    }
}
