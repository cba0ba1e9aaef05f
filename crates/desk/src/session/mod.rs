//! What is saved or must not be lost: the job on the table with its history, its place on the disk, the
//! recovery folder, and what this computer remembers. And the errands that open and save.

mod document;
mod errands;
mod keeping;
mod keys;
mod machine;
mod on_table;
mod opening;
mod preferences;
mod screens;
mod shop;
mod writing;

pub use document::{Document, OlderScreens};
pub use errands::{Errands, FindAngles, ReadPress};
pub use keeping::{Ask as KeeperAsk, Keeper, Report, Seat};
pub use keys::{Same, Value};
pub use machine::Machine;
pub use on_table::{OnTable, Revision};
pub use opening::{Ask, Chosen, NotOpened, Open, Opened};
pub use preferences::{Keep, KeepShop, LEAST_POINTS, NOMINAL_POINTS_PER_MM, Preferences, ThemeChoice};
pub use screens::{Evaluate, ScreensKey};
pub use shop::Shop;
pub use writing::{Write, Written};

use std::path::PathBuf;
use std::sync::Arc;

use strikeoff_files::job::{JobFile, Recoverable};

/// What is saved or must not be lost.
pub struct Session {
    /// Inks and garments at hand.
    pub shop: Arc<Shop>,
    /// The job behind the command "Demo job".
    pub demo: Option<Box<Document>>,
    /// The job on the table.
    pub table: Option<OnTable>,
    /// The thread with the recovery folder.
    pub keeper: Option<Keeper>,
    /// Jobs that a killed window left, on offer.
    pub found: Vec<Recoverable>,
    /// Settings of a job that has lost its artwork, for the next picture that is opened.
    pub orphan: Option<Box<JobFile>>,
    /// What was lost of the job that was opened, a sentence each.
    pub lost: Vec<String>,
    /// What this computer remembers.
    pub machine: Machine,
}

impl Session {
    /// One with nothing on the table.
    pub fn new(shop: Shop, demo: Option<Document>) -> Self {
        Self {
            shop: Arc::new(shop),
            demo: demo.map(Box::new),
            table: None,
            keeper: None,
            found: Vec::new(),
            orphan: None,
            lost: Vec::new(),
            machine: Machine::default(),
        }
    }

    /// The document on the table.
    pub fn doc(&self) -> Option<&Document> {
        self.table.as_ref().map(OnTable::doc)
    }

    /// Whether the job differs from the file it is kept in.
    pub fn is_unsaved(&self) -> bool {
        self.table.as_ref().is_some_and(OnTable::is_unsaved)
    }

    /// The folder for locks, which is the recovery folder.
    pub fn locks(&self) -> Option<PathBuf> {
        self.keeper.as_ref().map(|keeper| keeper.folder().to_owned())
    }

    /// Has the job written to the recovery folder, or its copy taken away if it is saved.
    pub fn write_recovery(&mut self) {
        let (Some(keeper), Some(table)) = (&self.keeper, &mut self.table) else { return };
        let revision = table.revision();
        keeper.ask(if table.is_unsaved() {
            KeeperAsk::Write { revision: revision.clone(), doc: Box::new(table.doc().clone()) }
        } else {
            KeeperAsk::Saved(table.doc().path.clone())
        });
        table.kept = Some(revision);
    }

    /// The job goes off the table. Unsaved, it stays in the recovery folder.
    pub fn leave(&mut self) -> Option<OnTable> {
        if self.table.as_ref().is_some_and(|table| !table.is_kept()) {
            self.write_recovery();
        }
        let mut table = self.table.take();
        if let Some(keeper) = &self.keeper {
            let unsaved = table.as_ref().is_some_and(OnTable::is_unsaved);
            if let (true, Some(job)) = (unsaved, table.as_mut().and_then(|table| table.recovered.take())) {
                keeper.ask(KeeperAsk::Discard(job));
            }
            keeper.ask(if unsaved { KeeperAsk::Leave } else { KeeperAsk::Saved(None) });
        }
        table
    }
}

impl Drop for Session {
    /// What is not saved when the window closes is offered when it opens again.
    fn drop(&mut self) {
        self.leave();
    }
}
