//! What others' code goes into the program: from one registry alone, under known licences, listed in a generated file.
//!
//! `.ci/run` asks cargo-deny the same of every system; this needs no tool beyond cargo. After a change of dependencies,
//! `BROODHUE_RENEW=1 cargo test --test supply` writes the list anew and fails once, so that somebody looks at it.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "figures and skipped checks are told")]

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// Licences of which one at least must be on offer, or all where several hold at once.
const ALLOWED: [&str; 7] = ["0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "MIT", "Unicode-3.0", "Zlib"];

/// What cargo knows of every crate in the lock file; `None`, which is said, where some were never fetched.
fn metadata() -> Option<Value> {
    let args = ["metadata", "--format-version", "1", "--offline", "--locked", "--all-features"];
    let output = Command::new(env!("CARGO")).args(args).current_dir(env!("CARGO_MANIFEST_DIR")).output().unwrap();
    if !output.status.success() {
        println!("skipped, `cargo fetch --locked` first: {}", String::from_utf8_lossy(&output.stderr));
        return None;
    }
    Some(serde_json::from_slice(&output.stdout).unwrap())
}

/// The crates that the program is built from, without those of tests and benches alone.
fn built_from(all: &Value) -> Vec<&Value> {
    let nodes: BTreeMap<&str, &Value> =
        all["resolve"]["nodes"].as_array().unwrap().iter().map(|n| (n["id"].as_str().unwrap(), n)).collect();
    let mut open = vec![all["resolve"]["root"].as_str().unwrap()];
    let mut met = BTreeSet::new();
    while let Some(id) = open.pop() {
        if !met.insert(id) {
            continue;
        }
        for dep in nodes[id]["deps"].as_array().unwrap() {
            // What is only built by a fuzzer of its own never goes into the program.
            let built = |k: &Value| k["kind"] != "dev" && !k["target"].as_str().unwrap_or("").contains("fuzzing");
            if dep["dep_kinds"].as_array().unwrap().iter().any(built) {
                open.push(dep["pkg"].as_str().unwrap());
            }
        }
    }
    let packages = all["packages"].as_array().unwrap().iter();
    packages.filter(|p| p["source"] != Value::Null && met.contains(p["id"].as_str().unwrap())).collect()
}

/// Whether an SPDX expression leaves us an allowed choice; without brackets within brackets, as crates write them.
fn allowed(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], "");
    let one = |name: &str| ALLOWED.contains(&name.trim());
    let choice = |part: &str| part.split(" OR ").flat_map(|p| p.split('/')).any(one);
    if expression.contains('(') || !expression.contains(" OR ") {
        plain.split(" AND ").all(choice)
    } else {
        plain.split(" OR ").any(|part| part.split(" AND ").all(choice))
    }
}

#[test]
fn licences_are_read_as_they_are_written() {
    for (expression, expected) in [
        ("MIT OR Apache-2.0", true),
        ("MIT/Apache-2.0", true),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
        ("(MIT OR Apache-2.0) AND GPL-3.0", false),
        ("MIT AND GPL-3.0", false),
        ("GPL-3.0 OR MIT", true),
        ("GPL-3.0", false),
    ] {
        assert_eq!(allowed(expression), expected, "{expression}");
    }
}

#[test]
fn every_crate_comes_from_the_registry_under_a_known_licence() {
    let Some(all) = metadata() else { return };
    for package in built_from(&all) {
        let name = &package["name"];
        assert_eq!(package["source"], REGISTRY, "{name}");
        let licence = package["license"].as_str().unwrap_or("none");
        assert!(allowed(licence), "{name}: {licence}");
    }
}

#[test]
fn the_list_of_third_parties_is_the_one_that_is_built() {
    let mut list = "# Others' code in Broodhue\n\n\
        Written by `BROODHUE_RENEW=1 cargo test --test supply` from `cargo metadata`: every crate that the program may be built\n\
        from, on any system and with every feature, with the licence it states. SQLite, compiled in by `libsqlite3-sys`, is in\n\
        the public domain.\n\n| crate | version | licence |\n|---|---|---|\n"
        .to_owned();
    let Some(all) = metadata() else { return };
    let mut rows: Vec<_> = built_from(&all);
    rows.sort_by_key(|p| (p["name"].as_str().unwrap(), p["version"].as_str().unwrap()));
    for p in rows {
        let of = |key: &str| p[key].as_str().unwrap_or("–").to_owned();
        writeln!(list, "| {} | {} | {} |", of("name"), of("version"), of("license")).unwrap();
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/third-party.md");
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    if kept != list && std::env::var_os("BROODHUE_RENEW").is_some() {
        std::fs::write(&path, &list).unwrap();
    }
    assert!(kept == list, "docs/third-party.md is not current: BROODHUE_RENEW=1 cargo test --test supply");
}
