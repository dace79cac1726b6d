#![allow(clippy::unwrap_used, reason = "a test may panic")]
//! The layer order of the house: a module imports only modules above it.

use std::fs;
use std::path::{Path, PathBuf};

/// From top to bottom, as in `src/lib.rs`.
const LAYERS: [&str; 25] = [
    "units",
    "error",
    "cautions",
    "cells",
    "command_line",
    "geometry",
    "colour",
    "stats",
    "photo",
    "card",
    "floor",
    "calibrate",
    "fish",
    "features",
    "sheet",
    "score",
    "counts",
    "inherit",
    "kin",
    "lightness",
    "plan",
    "book",
    "report",
    "pipeline",
    "web",
];

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// The first path component below `src`, without `.rs`.
fn module_of(root: &Path, file: &Path) -> String {
    let below = file.strip_prefix(root).unwrap();
    let first = below.components().next().unwrap().as_os_str().to_string_lossy().into_owned();
    first.trim_end_matches(".rs").to_owned()
}

/// Names right after each `crate::`, those in a braced list included, over as many lines as it takes.
fn imports(text: &str) -> Vec<String> {
    let lines = text.lines().map(str::trim).filter(|l| !l.starts_with("//"));
    let text = lines.collect::<Vec<_>>().join(" ");
    let mut found = Vec::new();
    for (at, _) in text.match_indices("crate::") {
        let rest = &text[at + "crate::".len()..];
        let names = rest.strip_prefix('{').map_or(vec![rest], listed);
        let word =
            |name: &str| name.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
        found.extend(names.into_iter().map(word).filter(|word| !word.is_empty()));
    }
    found
}

/// The entries of a list up to the brace that closes it; commas in braces within it part nothing.
fn listed(text: &str) -> Vec<&str> {
    let (mut depth, mut from, mut entries) = (0, 0, Vec::new());
    for (at, c) in text.char_indices() {
        match c {
            ',' if depth == 0 => {
                entries.push(&text[from..at]);
                from = at + 1;
            }
            '}' if depth == 0 => {
                entries.push(&text[from..at]);
                return entries;
            }
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
    }
    entries
}

fn rank(module: &str) -> Option<usize> {
    LAYERS.iter().position(|l| *l == module)
}

/// Every `use crate::` that points downwards, as `file: module imports module`.
fn breaches(root: &Path) -> Vec<String> {
    let mut files = Vec::new();
    sources(root, &mut files);
    let mut out = Vec::new();
    for file in files {
        let module = module_of(root, &file);
        let Some(own) = rank(&module) else { continue };
        for import in imports(&fs::read_to_string(&file).unwrap()) {
            let below = import == "commands" || rank(&import).is_some_and(|r| r > own);
            if below && import != module {
                out.push(format!("{}: {module} imports {import}", file.display()));
            }
        }
    }
    out
}

#[test]
fn modules_import_only_upwards() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    assert_eq!(breaches(&root), Vec::<String>::new());
}

#[test]
fn every_module_stands_in_the_list() {
    let lib = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/lib.rs")).unwrap();
    for line in lib.lines().filter_map(|l| l.strip_prefix("pub mod ")) {
        let name = line.trim_end_matches(';');
        assert!(rank(name).is_some() || name == "commands", "{name} has no place in the layer order");
    }
}

#[test]
fn a_planted_breach_is_caught() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("card")).unwrap();
    fs::write(folder.path().join("card/find.rs"), "use crate::{error::Result, book::Book};\n").unwrap();
    fs::write(folder.path().join("units.rs"), "fn f() { crate::web::serve() }\n").unwrap();
    fs::write(folder.path().join("photo.rs"), "use crate::{\n    error::Result,\n    plan::Pair,\n};\n").unwrap();
    fs::write(folder.path().join("stats.rs"), "use crate::{error::{Error, Result}, report};\n").unwrap();
    let mut found = breaches(folder.path());
    found.sort();
    let said: Vec<&str> = found.iter().filter_map(|f| f.split(": ").nth(1)).collect();
    assert_eq!(said, ["card imports book", "photo imports plan", "stats imports report", "units imports web"]);
}

#[test]
fn only_the_book_speaks_sql_and_only_commands_parse_arguments() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    for file in files {
        let (module, text) = (module_of(&root, &file), fs::read_to_string(&file).unwrap());
        assert!(module == "book" || !text.contains("rusqlite"), "{} uses rusqlite", file.display());
        assert!(module == "commands" || !text.contains("clap::"), "{} uses clap", file.display());
        assert!(module != "report" || !text.contains("crate::book"), "{} reads the book", file.display());
    }
}
