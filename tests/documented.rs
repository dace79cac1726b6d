//! The documents keep their word: every command that the README and `docs/` show is run as written, in the order of the
//! file, and what a `console` block shows is compared with what comes out.
//!
//! In the Markdown, code blocks marked `sh` hold commands; blocks marked `console` hold commands behind `$ ` and below each
//! what it prints, with a line `…` (or a line's end `…`) for what is left out. Numbers are not compared, words are. A comment
//! before the block says what is special about it:
//!
//! - `<!-- needs: demo -->`: the demo's book is at hand as `broodhue-demo` from here on in this file.
//! - `<!-- until stopped -->`: the command runs until it is stopped; its first line of output is waited for.
//! - `<!-- save as: NAME -->`: the block is a file that the reader saves under this name.
//! - `<!-- not run: why -->`: nothing of the block is run, only the names of broodhue's commands and options are looked up.
//!
//! Of `cargo test` and `cargo bench` lines only the names of the tests and benches are looked up.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "documented/blocks.rs"]
mod blocks;
#[path = "documented/names.rs"]
mod names;
#[path = "documented/run.rs"]
mod run;
#[path = "documented/shown.rs"]
mod shown;

use std::fs;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use blocks::{Block, Kind};
use run::Desk;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// README, DEVELOPERS and everything in `docs/` that is Markdown.
fn documents() -> Vec<PathBuf> {
    let mut all = vec![root().join("README.md"), root().join("DEVELOPERS.md")];
    for folder in ["docs", "docs/guide"] {
        let entries = fs::read_dir(root().join(folder)).unwrap().map(|e| e.unwrap().path());
        all.extend(entries.filter(|p| p.extension().is_some_and(|e| e == "md")));
    }
    all.sort();
    all
}

/// Runs one document; what is wrong with it, and its text with the numbers that came out.
fn play(document: &Path, text: &str) -> (Vec<String>, String) {
    let place = document.strip_prefix(root()).unwrap_or(document).display().to_string();
    let (mut faults, mut renewed) = (Vec::new(), text.to_owned());
    let blocks = blocks::read(text);
    let mut desk = None;
    for Block { kind, needs_demo, commands, file } in &blocks {
        if let Some((name, text)) = file {
            desk.get_or_insert_with(Desk::new).save(name, text);
        }
        for command in commands {
            let said = match kind {
                Kind::NotRun => names::look_up(&command.text).map(|()| String::new()),
                Kind::Run | Kind::UntilStopped => {
                    desk.get_or_insert_with(Desk::new).run(&command.text, *needs_demo, *kind == Kind::UntilStopped)
                }
            };
            let compared = said.and_then(|said| match &command.shows {
                Some(shows) => shown::compare(shows, &said),
                None => Ok(Vec::new()),
            });
            match compared {
                Ok(pairs) => shown::renew(&mut renewed, command, &pairs),
                Err(fault) => faults.push(format!("{place}:{}: `{}`: {fault}", command.line, command.text)),
            }
        }
    }
    (faults, renewed)
}

#[test]
fn every_command_that_is_shown_runs_as_written() {
    let faults: Vec<String> = documents().par_iter().flat_map(|d| play(d, &fs::read_to_string(d).unwrap()).0).collect();
    assert!(faults.is_empty(), "\n{}\n", faults.join("\n"));
}

#[test]
fn commands_and_options_named_in_sentences_exist() {
    let faults: Vec<String> = documents()
        .iter()
        .flat_map(|d| {
            let text = fs::read_to_string(d).unwrap();
            let spans = blocks::spans(&text).into_iter().filter_map(|span| names::look_up_span(&span).err());
            spans.map(|fault| format!("{}: {fault}", d.display())).collect::<Vec<_>>()
        })
        .collect();
    assert!(faults.is_empty(), "\n{}\n", faults.join("\n"));
}

#[test]
fn a_wrong_option_a_wrong_name_and_a_wrong_output_are_caught() {
    let text = "```sh\nbroodhue sheet show --colour\n```\n\
                ```console\n$ broodhue card list\n layout  card  paint\n…\n```\n\
                <!-- not run: needs a network -->\n```sh\nbroodhue confirm --lanterns\n```\n\
                ```sh\ncargo test --test nowhere\n```\n\
                ```console\n$ broodhue completions bash\n_broodhue() {\n…\n```\n";
    let (faults, _) = play(Path::new("planted.md"), text);
    let at: Vec<&str> = faults.iter().map(|f| f.split(':').nth(1).unwrap()).collect();
    assert_eq!(at, ["2", "5", "11", "14"], "{faults:#?}");
}

/// Writes the numbers that come out today into the documents, and fails where that changed one, so that somebody looks.
#[test]
#[ignore = "writes into docs/"]
fn renew_the_numbers_shown() {
    let changed: Vec<String> = documents()
        .par_iter()
        .filter_map(|d| {
            let before = fs::read_to_string(d).unwrap();
            let (faults, after) = play(d, &before);
            assert!(faults.is_empty(), "\n{}\n", faults.join("\n"));
            fs::write(d, &after).unwrap();
            (before != after).then(|| d.display().to_string())
        })
        .collect();
    assert!(changed.is_empty(), "look at what changed in {changed:?}");
}
