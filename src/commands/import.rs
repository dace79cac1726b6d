//! `import`: a breeder's own tables come in, all of a file or nothing of it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use clap::Subcommand;

use super::desk::{self, BookArg, ByArg};
use super::slips::Before;
use super::{Done, files};
use crate::book::import::Taken;
use crate::book::{Book, import, odd_days};
use crate::error::Result;
use crate::units::counted;

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue import fish fish.csv")]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// A table of fish: fish,sex,line,cross,born,pure and one column an axis; also brood, virgin_on, isolated_since, gone,
    /// gone_on, set_aside and note, as `export fish` writes them. What the book does not know yet of a fish is taken over; that it is
    /// a founder, or here, is known, and `fish set` and `fish left` change it.
    #[command(after_help = "Example: broodhue import fish fish.csv")]
    Fish {
        /// The table.
        file: PathBuf,
        #[command(flatten)]
        book: BookArg,
        #[command(flatten)]
        by: ByArg,
    },
    /// A table of counts: cross,sire,dam,brood,dropped,axis,class,sex,count and, where known, young and earlier_sire.
    #[command(after_help = "Example: broodhue import counts counts.csv")]
    Counts {
        /// The table.
        file: PathBuf,
        /// Put these counts in the place of others of the same brood and axis.
        #[arg(long)]
        replace: bool,
        #[command(flatten)]
        book: BookArg,
        #[command(flatten)]
        by: ByArg,
    },
}

/// Runs the subcommand.
pub(super) fn run(args: &Args) -> Result<Done> {
    match &args.what {
        What::Fish { file, book, by } => {
            let text = read(file)?;
            let mut book = book.open()?;
            let by = by.decide(&book)?;
            let name = file.display().to_string();
            let before = Before::of(&book)?;
            let taken = book.write(|w| import::fish(w, &name, &text, &by))?;
            let filled_in = match taken.filled_in.len() {
                0 => String::new(),
                filled_in => format!(", {filled_in} filled in"),
            };
            desk::print(format_args!("{name}: {} fish new, {} known already{filled_in}\n", taken.new, taken.known))?;
            taken.filled_in.iter().for_each(|(fish, said)| desk::note_changes(fish, said));
            note_odd(&book, &taken)?;
            note_strange(&book, &before, &taken.classes)?;
        }
        What::Counts { file, replace, book, by } => {
            let text = read(file)?;
            let mut book = book.open()?;
            let by = by.decide(&book)?;
            let name = file.display().to_string();
            let before = Before::of(&book)?;
            let taken = book.write(|w| import::counts(w, &name, &text, *replace, &by))?;
            let new = counted(taken.new, "brood and axis", "broods and axes");
            let others = match taken.replaced {
                0 => String::new(),
                replaced => format!(", of {replaced} in the place of others"),
            };
            desk::print(format_args!("{name}: counts of {new} new{others}, of {} known already\n", taken.known))?;
            note_odd(&book, &taken)?;
            note_strange(&book, &before, &taken.classes)?;
        }
    }
    Ok(Done::All)
}

/// Says which days may be slips of the pen.
fn note_odd(book: &Book, taken: &Taken) -> Result<()> {
    taken.days.iter().for_each(|(what, day)| desk::note_future(what, Some(*day)));
    let names: Vec<&str> = taken.fish.iter().map(String::as_str).collect();
    desk::note_each(&odd_days::of_each_fish(&book.read(), &names)?);
    Ok(())
}

/// Says which classes are new.
fn note_strange(book: &Book, before: &Before, classes: &BTreeSet<(String, String)>) -> Result<()> {
    before.note_strange(book, classes.iter().map(|(axis, class)| (axis.as_str(), class.as_str())))
}

fn read(file: &Path) -> Result<Vec<u8>> {
    let bytes = files::read_bytes(file, "check the name of the table")?;
    // What is no text is left to the reader of tables, which names the line.
    Ok(files::text_of(&bytes).map_or(bytes, String::into_bytes))
}
