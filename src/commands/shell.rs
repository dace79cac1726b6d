//! `completions` and `man`: the command line as shells and `man` want it described.

use std::path::{Path, PathBuf};

use clap_complete::Shell;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

use super::Done;
use super::desk;
use crate::error::{Error, Result};

/// Arguments of `completions`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue completions bash > ~/.local/share/bash-completion/completions/broodhue")]
pub(super) struct CompletionArgs {
    /// The shell.
    shell: Shell,
}

/// Arguments of `man`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue man man1 && man ./man1/broodhue-score.1")]
pub(super) struct ManArgs {
    /// The folder they are written into; made if it is not there.
    folder: PathBuf,
}

/// Prints the completions for one shell.
pub(super) fn completions(args: &CompletionArgs, mut command: clap::Command) -> Result<Done> {
    let mut script = Vec::new();
    let name = command.get_name().to_owned();
    clap_complete::generate(args.shell, &mut command, name, &mut script);
    desk::print(String::from_utf8_lossy(&script))?;
    Ok(Done::All)
}

/// The day on which a command last changed, as pages of the manual bear one.
const CHANGED: &str = "2026-11-26";

/// Writes the page of a command and of every one below it.
fn pages(command: &clap::Command, folder: &Path) -> std::io::Result<()> {
    command.get_subcommands().filter(|c| !c.is_hide_set()).try_for_each(|c| pages(c, folder))?;
    let page = Man::new(command.clone().after_help(None::<&str>))
        .date(CHANGED)
        .source(concat!("Broodhue ", env!("CARGO_PKG_VERSION")))
        .manual("Broodhue");
    let mut text = Vec::new();
    page.render(&mut text)?;
    if let Some(help) = command.get_after_help() {
        examples(&help.to_string()).to_writer(&mut text)?;
    }
    std::fs::write(folder.join(page.get_filename()), text)
}

/// The examples at the end of a help text, each on a line of its own, and what is said about them.
fn examples(help: &str) -> Roff {
    let mut roff = Roff::new();
    roff.control("SH", ["EXAMPLES"]);
    for line in help.lines().map(str::trim).filter(|line| !line.is_empty()) {
        let (said, command) = match line.find("broodhue ") {
            Some(0) => ("", line),
            Some(at) if line[..at].ends_with(": ") => line.split_at(at),
            _ => (line, ""),
        };
        if !said.starts_with("Example") && !said.is_empty() {
            roff.control("PP", []);
            roff.text([roman(said.trim())]);
        }
        if !command.is_empty() {
            roff.control("PP", []);
            roff.control("RS", ["4"]);
            roff.text([roman(command)]);
            roff.control("RE", []);
        }
    }
    roff
}

/// Writes one page a command, the whole program's among them, and names the folder.
pub(super) fn man(args: &ManArgs, command: clap::Command) -> Result<Done> {
    let place = args.folder.display();
    let cannot = |e| Error::failed(&place, e, "choose a folder that can be written");
    std::fs::create_dir_all(&args.folder).map_err(cannot)?;
    let mut command = command.disable_help_subcommand(true);
    command.build();
    pages(&command, &args.folder).map_err(cannot)?;
    desk::print(format_args!("{place}: broodhue.1 and one page a command\n"))?;
    Ok(Done::All)
}
