//! The page of the client's file that the job uses, read again when the job goes to another one.

use std::sync::Arc;

use strikeoff_core::Progress;
use strikeoff_core::raster::Art;
use strikeoff_files::art::{FileFacts, ReadOptions, receive_bytes_watched};

use super::slot::Outcome;
use crate::session::Document;
use crate::session::Same;

/// Which page of which file.
#[derive(Debug, Clone, PartialEq)]
pub struct PageKey {
    file: Same<Vec<u8>>,
    page: usize,
}

impl PageKey {
    /// The page that the document's job uses.
    pub fn of(doc: &Document) -> Self {
        Self { file: Same(doc.art_bytes.clone()), page: doc.job.prep.page }
    }
}

/// A page that was read.
pub struct Page {
    /// Its picture.
    pub art: Arc<Art>,
    /// Facts of the file, as this page has them.
    pub facts: Arc<FileFacts>,
}

/// Reads the page that the document's job uses.
pub fn read_page(doc: &Document) -> impl FnOnce(&mut (), &Progress) -> Outcome<Page> + use<> {
    let (name, bytes, page) = (doc.art_name.clone(), doc.art_bytes.clone(), doc.job.prep.page);
    move |(), progress| {
        let read = receive_bytes_watched(&name, &bytes, ReadOptions { page }, progress);
        let page = read.map(|read| Page { art: Arc::new(read.art), facts: Arc::new(read.facts) });
        Some(page.map_err(|error| error.to_string()))
    }
}
