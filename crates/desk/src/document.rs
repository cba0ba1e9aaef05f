//! What is saved: the job with its art, and the garments it is looked at on.

use std::path::PathBuf;
use std::sync::Arc;

use strikeoff_core::ink::Garment;
use strikeoff_core::job::{Art, Job};

/// A job on the bench.
#[derive(Debug, Clone)]
pub struct Document {
    /// Everything the user decided.
    pub job: Job,
    /// The client's picture.
    pub art: Arc<Art>,
    /// The picture's file name.
    pub art_name: String,
    /// The picture's file, byte for byte: what a job file keeps.
    pub art_bytes: Arc<Vec<u8>>,
    /// Garments the job may print on; the job's own is among them.
    pub garments: Vec<Garment>,
    /// Where the job is kept, once it is.
    pub path: Option<PathBuf>,
}

impl Document {
    /// A job on the bench that was not saved yet. `art` is what `art_bytes` decode to.
    pub fn new(job: Job, art: Art, art_name: impl Into<String>, art_bytes: Vec<u8>) -> Self {
        let garments = vec![job.garment.clone()];
        let (art, art_bytes) = (Arc::new(art), Arc::new(art_bytes));
        Self { job, art, art_name: art_name.into(), art_bytes, garments, path: None }
    }

    /// Adds a garment to look at, unless its colour is there; gives its place.
    pub fn add_garment(&mut self, garment: Garment) -> usize {
        if let Some(at) = self.garments.iter().position(|g| g.color == garment.color) {
            return at;
        }
        self.garments.push(garment);
        self.garments.len() - 1
    }
}
