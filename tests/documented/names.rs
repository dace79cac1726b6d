//! Whether commands, options, tests and benches that are named exist.

use std::collections::HashMap;
use std::fs;
use std::path::Path;
use std::sync::{LazyLock, Mutex};

use super::blocks::words;
use super::{root, run};

/// What `--help` says, by the words of the command.
static HELP: LazyLock<Mutex<HashMap<Vec<String>, String>>> = LazyLock::new(Mutex::default);

fn help(command: &[String]) -> String {
    let mut known = HELP.lock().unwrap();
    let ask = || {
        let output = run::program().args(command).arg("--help").output().unwrap();
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    known.entry(command.to_vec()).or_insert_with(ask).clone()
}

/// Whether a help text lists this command.
fn lists(help: &str, name: &str) -> bool {
    let commands = help.split("Commands:").nth(1).unwrap_or_default();
    commands.lines().any(|l| l.strip_prefix("  ").and_then(|l| l.split(' ').next()) == Some(name))
}

/// Looks up each `broodhue …` in a line, also behind a pipe, and the targets of cargo's lines.
pub(crate) fn look_up(line: &str) -> Result<(), String> {
    line.split('|').try_for_each(|part| {
        let mut words = words(part);
        match words.iter().position(|w| w == "broodhue" || w == "cargo") {
            Some(at) if words[at] == "cargo" => cargo(&words[at + 1..]),
            Some(at) => broodhue(&words.split_off(at + 1)),
            None => Ok(()),
        }
    })
}

/// The same for a `code span` of a sentence, which may leave the program's name out.
pub(crate) fn look_up_span(span: &str) -> Result<(), String> {
    // `NAME=VALUE` before a command sets its surroundings.
    let words: Vec<String> = words(span).into_iter().skip_while(|w| w.contains('=')).collect();
    match words.first().map(String::as_str) {
        Some("cargo" | "broodhue") => look_up(span),
        Some(first) if lists(&help(&[]), first) => broodhue(&words),
        _ => Ok(()),
    }
    .map_err(|fault| format!("`{span}`: {fault}"))
}

fn broodhue(words: &[String]) -> Result<(), String> {
    let mut depth = 0;
    while words.get(depth).is_some_and(|w| lists(&help(&words[..depth]), w)) {
        depth += 1;
    }
    let is_name = |w: &String| w.starts_with(|c: char| c.is_ascii_lowercase());
    if depth == 0 && words.first().is_some_and(is_name) {
        return Err(format!("broodhue has no command {}", words[0]));
    }
    let known = help(&words[..depth]);
    let options = words.iter().filter_map(|w| w.strip_prefix("--")).map(|w| w.split('=').next().unwrap_or(w));
    let mut unknown = options.filter(|o| !o.is_empty() && !known.contains(&format!("--{o}")) && *o != "help");
    // `--mode` is a second name of `--modes`, which help does not list.
    unknown.find(|o| *o != "mode").map_or(Ok(()), |o| Err(format!("there is no option --{o} here")))
}

/// `--test NAME`, `--bench NAME` and the words that choose among a test's functions.
pub(crate) fn cargo(words: &[String]) -> Result<(), String> {
    if !words.first().is_some_and(|w| w == "test" || w == "bench") {
        return Ok(());
    }
    let mut words = words[1..].iter().map(String::as_str).filter(|w| *w != "--");
    let mut targets: Vec<String> = Vec::new();
    while let Some(word) = words.next() {
        match word {
            "--test" | "--bench" => {
                let folder = if word == "--test" { "tests" } else { "benches" };
                let target = format!("{folder}/{}.rs", words.next().unwrap_or_default());
                if !root().join(&target).exists() {
                    return Err(format!("there is no {target}"));
                }
                targets.push(target);
            }
            "--features" | "--megapixels" => {
                words.next();
            }
            option if option.starts_with('-') => {}
            chosen => {
                let last = chosen.rsplit("::").next().unwrap_or(chosen);
                if !targets.iter().any(|t| mentions(&root().join(t), last)) {
                    return Err(format!("nothing in {targets:?} is called {chosen}"));
                }
            }
        }
    }
    Ok(())
}

/// Whether a test's file, or one in its folder, has a function or module with this in its name.
fn mentions(target: &Path, name: &str) -> bool {
    let named = |text: &str| text.lines().any(|l| (l.contains("fn ") || l.contains("mod ")) && l.contains(name));
    let inside = fs::read_dir(target.with_extension("")).into_iter().flatten().map(|e| e.unwrap().path());
    inside.chain([target.to_owned()]).filter(|p| p.is_file()).any(|p| named(&fs::read_to_string(p).unwrap_or_default()))
}
