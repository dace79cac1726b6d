//! `completions` and `man`: the command line as shells and `man` want it described.

use std::path::PathBuf;

use clap_complete::Shell;

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

/// Writes one page a command, the whole program's among them, and names the folder.
pub(super) fn man(args: &ManArgs, command: clap::Command) -> Result<Done> {
    let place = args.folder.display();
    let cannot = |e| Error::failed(&place, e, "choose a folder that can be written");
    std::fs::create_dir_all(&args.folder).map_err(cannot)?;
    clap_mangen::generate_to(command, &args.folder).map_err(cannot)?;
    desk::print(format_args!("{place}: broodhue.1 and one page a command\n"))?;
    Ok(Done::All)
}
