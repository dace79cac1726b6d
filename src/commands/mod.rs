//! The command line: one thin file a subcommand, each parse → check → one library call → print.

mod book;
mod brood;
mod candidates;
mod card;
mod card_check;
mod confirm;
mod confirm_page;
mod counts;
mod cross;
mod demo;
mod desk;
mod export;
mod files;
mod fish;
mod fixed;
mod import;
mod inherit;
mod joint;
mod kin;
mod lighter;
mod lighter_repeat;
mod lighter_sides;
mod measure;
mod measure_table;
mod next;
mod patience;
mod photo_args;
mod predict;
mod punnett;
mod question;
mod report;
mod report_story;
mod score;
mod score_lines;
mod score_out;
mod score_tasks;
mod sheet;
mod shell;
mod slips;
mod table;
mod trend;

use std::ffi::OsString;
use std::io::Write;
use std::process::ExitCode;
use std::sync::LazyLock;

use clap::{CommandFactory, Parser, Subcommand};

use crate::book::SCHEMA_VERSION;
use crate::error::{Error, ErrorKind};

/// What `--version` says: the program's own version, and the layout of the books it writes.
static VERSION: LazyLock<String> =
    LazyLock::new(|| format!("{} (book layout {SCHEMA_VERSION})", env!("CARGO_PKG_VERSION")));

/// From a tray photo to class counts a breeder can trust, and from the counts to decisions.
#[derive(Debug, Parser)]
#[command(name = "broodhue", bin_name = "broodhue", version = VERSION.as_str(), about, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Run the whole job on an invented breeder's records and drawn pictures.
    Demo(demo::Args),
    /// Measure photos without a book, in a table or as one JSON line a photo.
    Measure(measure::Args),
    /// List, print, learn or check colour cards.
    Card(card::Args),
    /// Show or check a scoring sheet, or fit its limits to confirmed fish.
    Sheet(sheet::Args),
    /// Make, describe, check, copy or restore the book of records, or change its settings.
    Book(book::Args),
    /// Write down, mend, list, show or set aside fish, or say that one left.
    Fish(fish::Args),
    /// Write down, mend and list crosses.
    Cross(cross::Args),
    /// Write down, mend and list broods.
    Brood(brood::Args),
    /// Take in tables of fish or counts.
    Import(import::Args),
    /// Hand out tables of counts, fish, measurements or scores.
    Export(export::Args),
    /// Measure photos, propose classes, keep both in the book.
    Score(score::Args),
    /// Agree to proposals, correct them, set aside, take back.
    Confirm(confirm::Args),
    /// Count confirmed fish by class, cross, brood, sitting and sex.
    Counts(counts::Args),
    /// Inbreeding, kinship and founders' shares.
    Kin(kin::Args),
    /// Lighter, darker or not told apart.
    Lighter(Box<lighter::Args>),
    /// Lightness, or another feature, over the generations of a line.
    Trend(trend::Args),
    /// Judge which modes of inheritance the counts allow.
    Inherit(Box<inherit::Args>),
    /// Test candidate traits against counts and measured colour.
    Candidates(Box<candidates::Args>),
    /// Predict the classes of a planned cross.
    Predict(Box<predict::Args>),
    /// Say whether a line breeds true.
    Fixed(Box<fixed::Args>),
    /// Plan the next cross.
    Next(Box<next::Args>),
    /// One self-contained page that tells the line's story.
    Report(Box<report::Args>),
    /// Print completions for a shell.
    Completions(shell::CompletionArgs),
    /// Write the manual pages.
    Man(shell::ManArgs),
}

/// How a command ended when nothing failed outright.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Done {
    /// All of it (exit code 0).
    All,
    /// A batch of which some photos failed (exit code 3).
    Some,
    /// The one thing that was asked for failed, and why has been said (exit code 1).
    None,
}

impl Done {
    /// How a command ended of whose photos so many failed, each of which has been told.
    fn of(failed: usize, photos: usize) -> Self {
        match (failed, photos) {
            (0, _) => Self::All,
            (_, 1) => Self::None,
            _ => Self::Some,
        }
    }
}

/// Parses the arguments, runs the command and says how it went; messages go to stderr, data to stdout.
pub fn run(args: impl IntoIterator<Item = OsString>) -> ExitCode {
    let cli = match Cli::try_parse_from(args) {
        Ok(cli) => cli,
        Err(e) => {
            // Nothing is left to tell anyone when the terminal itself is gone.
            let _closed = e.print();
            return ExitCode::from(u8::try_from(e.exit_code()).unwrap_or(2));
        }
    };
    let outcome = match cli.command {
        Command::Demo(args) => demo::run(&args),
        Command::Measure(args) => measure::run(&args),
        Command::Card(args) => card::run(&args),
        Command::Sheet(args) => sheet::run(&args),
        Command::Book(args) => book::run(&args),
        Command::Fish(args) => fish::run(&args),
        Command::Cross(args) => cross::run(&args),
        Command::Brood(args) => brood::run(&args),
        Command::Import(args) => import::run(&args),
        Command::Export(args) => export::run(&args),
        Command::Score(args) => score::run(&args),
        Command::Confirm(args) => confirm::run(&args),
        Command::Counts(args) => counts::run(&args),
        Command::Kin(args) => kin::run(&args),
        Command::Lighter(args) => lighter::run(&args),
        Command::Trend(args) => trend::run(&args),
        Command::Inherit(args) => inherit::run(&args),
        Command::Candidates(args) => candidates::run(&args),
        Command::Predict(args) => predict::run(&args),
        Command::Fixed(args) => fixed::run(&args),
        Command::Next(args) => next::run(&args),
        Command::Report(args) => report::run(&args),
        Command::Completions(args) => shell::completions(&args, Cli::command()),
        Command::Man(args) => shell::man(&args, Cli::command()),
    };
    match outcome {
        Ok(Done::All) => ExitCode::SUCCESS,
        Ok(Done::Some) => ExitCode::from(3),
        Ok(Done::None) => ExitCode::from(1),
        Err(e) => fail(&e),
    }
}

/// One message on stderr.
fn say(error: &Error) {
    // Nothing is left to tell anyone when stderr itself is gone.
    let _closed = writeln!(std::io::stderr(), "broodhue: {error}");
}

fn fail(error: &Error) -> ExitCode {
    say(error);
    match error.kind {
        ErrorKind::Usage => ExitCode::from(2),
        ErrorKind::Failed | ErrorKind::TooDear => ExitCode::from(1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every command below one, itself included, with its whole name.
    fn all(command: &clap::Command, name: &str, into: &mut Vec<(String, String)>) {
        let example = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        into.push((name.to_owned(), example));
        command.get_subcommands().for_each(|c| all(c, &format!("{name} {}", c.get_name()), into));
    }

    #[test]
    fn every_command_shows_an_example_of_itself() {
        let mut found = Vec::new();
        Cli::command().get_subcommands().for_each(|c| all(c, &format!("broodhue {}", c.get_name()), &mut found));
        assert!(found.len() > 40, "{}", found.len());
        let without = found.iter().filter(|(name, example)| !example.contains(name.as_str()));
        assert_eq!(without.map(|(name, _)| name).collect::<Vec<_>>(), Vec::<&String>::new());
    }
}
