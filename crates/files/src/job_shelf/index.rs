//! The index: one table in a database file. Nothing in it is the only copy of anything.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::types::Value;
use rusqlite::{Connection, params, params_from_iter};
use sha2::{Digest, Sha256};

use super::walk::Seen;
use super::words::Entry;
use super::{JobCard, ShelfError};
use crate::WriteError;

/// Version of the table and of what is found by; an index of another one is made again.
const VERSION: i64 = 1;

const TABLE: &str = "CREATE TABLE job (
    name TEXT PRIMARY KEY, bytes INTEGER NOT NULL, changed INTEGER NOT NULL, title TEXT NOT NULL, client TEXT NOT NULL,
    order_number TEXT NOT NULL, due TEXT NOT NULL, printed TEXT NOT NULL, garment TEXT NOT NULL, inks TEXT NOT NULL,
    words TEXT NOT NULL);
    CREATE INDEX job_changed ON job (changed);
    CREATE TABLE picture (name TEXT PRIMARY KEY, png BLOB NOT NULL);";

/// Between names of inks in one text; no name has it.
const BETWEEN: char = '\n';

/// An open index.
pub struct Index {
    db: Connection,
}

impl Index {
    /// That of a folder, made again if it is not whole.
    pub fn open(folder: &Path, cache: Option<&Path>) -> Result<Self, ShelfError> {
        let Some(cache) = cache else { return Ok(Self { db: made(Connection::open_in_memory()?)? }) };
        fs::create_dir_all(cache).map_err(|e| WriteError::io(cache, e))?;
        let path = place(folder, cache);
        let db = match opened(&path) {
            Ok(db) => db,
            Err(_) => {
                let _ = fs::remove_file(&path);
                opened(&path)?
            }
        };
        Ok(Self { db })
    }

    /// Names and stamps of all jobs in it.
    pub fn known(&self) -> Result<BTreeMap<String, Seen>, ShelfError> {
        let mut query = self.db.prepare("SELECT name, bytes, changed FROM job")?;
        let rows = query.query_map([], |row| Ok((row.get(0)?, Seen { bytes: row.get(1)?, changed: row.get(2)? })))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// How many jobs it has.
    pub fn count(&self) -> Result<usize, ShelfError> {
        Ok(self.db.query_row("SELECT count(*) FROM job", [], |row| row.get::<_, i64>(0))? as usize)
    }

    /// Takes jobs out.
    pub fn forget<'a>(&mut self, names: impl Iterator<Item = &'a str>) -> Result<(), ShelfError> {
        let change = self.db.transaction()?;
        for name in names {
            change.execute("DELETE FROM job WHERE name = ?1", [name])?;
            change.execute("DELETE FROM picture WHERE name = ?1", [name])?;
        }
        Ok(change.commit()?)
    }

    /// Puts jobs in, in place of what was there of them.
    pub fn put(&mut self, jobs: &[(&str, Seen, Entry)]) -> Result<(), ShelfError> {
        let change = self.db.transaction()?;
        for (name, seen, Entry { card, words }) in jobs {
            let inks = card.inks.join(&BETWEEN.to_string());
            change
                .prepare_cached("INSERT OR REPLACE INTO job VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)")?
                .execute(params![
                    name,
                    seen.bytes,
                    seen.changed,
                    card.title,
                    card.client,
                    card.order,
                    card.due,
                    card.printed,
                    card.garment,
                    inks,
                    words
                ])?;
            match &card.picture {
                Some(png) => change
                    .prepare_cached("INSERT OR REPLACE INTO picture VALUES (?1, ?2)")?
                    .execute(params![name, png])?,
                None => change.prepare_cached("DELETE FROM picture WHERE name = ?1")?.execute([name])?,
            };
        }
        Ok(change.commit()?)
    }

    /// Jobs in which every word stands, the ones changed last first, at most so many; and how many there are.
    pub fn find(&self, words: &[String], most: usize) -> Result<(Vec<JobCard>, usize), ShelfError> {
        // What is typed is looked for as it is: instr knows no signs of its own.
        let each: Vec<String> = (1..=words.len()).map(|at| format!("instr(words, ?{at}) > 0")).collect();
        let all = if each.is_empty() { "1".to_owned() } else { each.join(" AND ") };
        let typed = || words.iter().map(|word| Value::from(word.clone()));
        let count = self
            .db
            .prepare_cached(&format!("SELECT count(*) FROM job WHERE {all}"))?
            .query_row(params_from_iter(typed()), |row| row.get::<_, i64>(0))?;
        let mut query = self.db.prepare_cached(&format!(
            "SELECT name, title, client, order_number, due, printed, garment, inks,
                (SELECT png FROM picture WHERE picture.name = job.name)
             FROM job WHERE {all} ORDER BY changed DESC, name LIMIT ?{}",
            words.len() + 1
        ))?;
        let most = std::iter::once(Value::from(most.min(100_000) as i64));
        let rows = query.query_map(params_from_iter(typed().chain(most)), |row| {
            let inks: String = row.get(7)?;
            Ok(JobCard {
                path: PathBuf::from(row.get::<_, String>(0)?),
                title: row.get(1)?,
                client: row.get(2)?,
                order: row.get(3)?,
                due: row.get(4)?,
                printed: row.get(5)?,
                garment: row.get(6)?,
                inks: inks.split(BETWEEN).filter(|ink| !ink.is_empty()).map(str::to_owned).collect(),
                picture: row.get(8)?,
            })
        })?;
        Ok((rows.collect::<Result<_, _>>()?, count as usize))
    }
}

/// Where the index of a folder lies.
pub fn place(folder: &Path, cache: &Path) -> PathBuf {
    let sum = Sha256::digest(folder.as_os_str().as_encoded_bytes());
    let name: String = sum.iter().take(12).map(|byte| format!("{byte:02x}")).collect();
    cache.join(format!("jobs-{name}.sqlite"))
}

/// An index that is whole and of this version, or new.
fn opened(path: &Path) -> Result<Connection, rusqlite::Error> {
    let new = !path.exists();
    let db = Connection::open(path)?;
    // Another window may be at work on it.
    db.busy_timeout(Duration::from_secs(10))?;
    // It can be made again at any time: nothing waits for the disk.
    db.pragma_update(None, "synchronous", "OFF")?;
    if new {
        return made(db);
    }
    let version: i64 = db.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let whole: String = db.pragma_query_value(None, "quick_check", |row| row.get(0))?;
    if version != VERSION || whole != "ok" {
        return Err(rusqlite::Error::InvalidQuery);
    }
    Ok(db)
}

fn made(db: Connection) -> Result<Connection, rusqlite::Error> {
    db.execute_batch(&format!("BEGIN; {TABLE} PRAGMA user_version = {VERSION}; COMMIT;"))?;
    Ok(db)
}
