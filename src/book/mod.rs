//! The book: the breeder's records, a folder with one SQLite file, the original photos by hash and small previews.
//!
//! Everything that writes runs inside [`Book::write`]: one transaction, all of it or nothing. Scores and all else that a
//! person decides are logs that only grow; what holds today is a view over them. Nothing is removed: fish, photos and
//! regions are set aside with a reason and can be brought back. The day and the moment are always arguments.

pub mod aside;
pub mod backup;
pub mod broods;
pub mod check;
pub mod classes;
mod consistent;
pub mod corrections;
pub mod crosses;
pub mod decisions;
pub mod departures;
pub mod empties;
pub mod evidence;
pub mod export;
mod failure;
mod fathers;
mod files;
pub mod fish;
pub mod generations;
pub mod hand;
pub mod import;
mod import_fish;
pub mod lightness;
pub mod living;
mod log;
mod mates;
pub mod measurements;
mod migrations;
mod names;
pub mod odd_days;
mod open;
pub mod opinions;
pub mod originals;
mod overlap;
pub mod pair;
pub mod paternity;
pub mod pedigree;
pub mod photo_tally;
pub mod photos;
mod possible_dams;
pub mod progress;
pub mod regions;
mod replaced;
pub mod revise;
mod revise_brood;
mod revise_cross;
pub mod rules;
pub mod scores;
pub mod scoring;
mod seen;
pub mod settings;
mod sheet_rows;
pub mod sheets;
pub mod sittings;
mod stays;
mod stock;
pub mod taken_back;
pub mod tallies;
pub mod twins;
mod values;

use std::path::{Path, PathBuf};

use rusqlite::{Connection, TransactionBehavior};

use crate::error::Result;

pub use decisions::By;
pub use migrations::SCHEMA_VERSION;
pub use open::DEFAULT_DIR;
pub use possible_dams::PossibleDam;

/// An open book. Reading goes through [`Book::read`], writing through [`Book::write`].
#[derive(Debug)]
pub struct Book {
    conn: Connection,
    dir: PathBuf,
}

/// The records, to be read.
#[derive(Debug, Clone, Copy)]
pub struct Read<'c> {
    pub(super) conn: &'c Connection,
    dir: &'c Path,
}

impl Read<'_> {
    /// Runs `work` on the records as they are at one moment, whoever writes meanwhile; many small questions then cost a
    /// fraction of what each costs by itself, since each would lock the file anew.
    fn at_one_moment<T>(&self, work: impl FnOnce() -> Result<T>) -> Result<T> {
        // Within a transaction there is one moment already.
        let moment = self.conn.is_autocommit().then(|| self.conn.unchecked_transaction()).transpose()?;
        let value = work()?;
        moment.map_or(Ok(()), rusqlite::Transaction::commit)?;
        Ok(value)
    }
}

/// The records, inside a transaction that is kept as a whole or not at all.
#[derive(Debug, Clone, Copy)]
pub struct Write<'c> {
    read: Read<'c>,
}

impl<'c> std::ops::Deref for Write<'c> {
    type Target = Read<'c>;

    fn deref(&self) -> &Read<'c> {
        &self.read
    }
}

impl Book {
    /// The folder of the book.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The records for reading.
    pub fn read(&self) -> Read<'_> {
        Read { conn: &self.conn, dir: &self.dir }
    }

    /// Runs `work` as one transaction and keeps what it wrote only if it succeeds.
    ///
    /// # Errors
    /// Whatever `work` fails with; a full disk, a read-only folder, another program that is writing.
    pub fn write<T>(&mut self, work: impl FnOnce(&Write<'_>) -> Result<T>) -> Result<T> {
        let transaction = self
            .conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|e| failure::of(&self.dir, &e))?;
        let write = Write { read: Read { conn: &transaction, dir: &self.dir } };
        let value = work(&write).map_err(|e| failure::placed(&self.dir, e))?;
        photo_tally::sort(&transaction).map_err(|e| failure::of(&self.dir, &e))?;
        transaction.commit().map_err(|e| failure::of(&self.dir, &e))?;
        Ok(value)
    }
}
