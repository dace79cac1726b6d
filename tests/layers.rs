#![allow(clippy::unwrap_used, reason = "a test may panic")]
//! The layer order of the house: a module imports only modules above it.

use std::fs;
use std::path::{Path, PathBuf};

/// From top to bottom, as in `src/lib.rs`.
const LAYERS: [&str; 22] = [
    "units",
    "error",
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

/// Names right after each `crate::`, those in a braced list included.
fn imports(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for line in text.lines().map(str::trim).filter(|l| !l.starts_with("//")) {
        for (at, _) in line.match_indices("crate::") {
            let rest = &line[at + "crate::".len()..];
            let names = rest.strip_prefix('{').map_or(rest, |r| r.split('}').next().unwrap_or(r));
            let many = rest.starts_with('{');
            for name in names.split(',').take(if many { usize::MAX } else { 1 }) {
                let word: String = name.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                if !word.is_empty() {
                    found.push(word);
                }
            }
        }
    }
    found
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
    let mut found = breaches(folder.path());
    found.sort();
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].ends_with("card imports book"));
    assert!(found[1].ends_with("units imports web"));
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
