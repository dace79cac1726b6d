//! Completions, manual pages, and what `--version` says.

use super::{broodhue, outcome};

/// The subcommands that `--help` lists, `help` itself left out.
fn subcommands(folder: &std::path::Path) -> Vec<String> {
    let help = outcome(broodhue(folder).arg("--help")).0;
    let list = help.split("Commands:").nth(1).unwrap().split("Options:").next().unwrap();
    let names = list.lines().filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    names.map(|l| l.split_whitespace().next().unwrap().to_owned()).filter(|n| n != "help").collect()
}

#[test]
fn completions_know_every_command_and_its_options() {
    let folder = tempfile::tempdir().unwrap();
    let names = subcommands(folder.path());
    assert!(names.len() > 20, "{names:?}");
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let (script, message, code) = outcome(broodhue(folder.path()).args(["completions", shell]));
        assert_eq!(code, 0, "{message}");
        assert!(names.iter().all(|n| script.contains(n.as_str())), "{shell} lacks a command");
        assert!(script.contains("card-pitch-mm") && script.contains("include-proposed"), "{shell} lacks options");
    }
    assert_eq!(outcome(broodhue(folder.path()).args(["completions", "abacus"])).2, 2);
}

#[test]
fn every_command_has_a_manual_page() {
    let folder = tempfile::tempdir().unwrap();
    let (_, message, code) = outcome(broodhue(folder.path()).args(["man", "pages"]));
    assert_eq!(code, 0, "{message}");
    let page = |name: &str| std::fs::read_to_string(folder.path().join("pages").join(name)).unwrap();
    for name in subcommands(folder.path()) {
        assert!(page(&format!("broodhue-{name}.1")).contains(".SH SYNOPSIS"), "{name}");
    }
    // Nested commands have pages of their own; the example that `--help` ends with is on the page, too.
    assert!(page("broodhue-fish-add.1").contains("red\\-body=full"));
    assert!(page("broodhue.1").contains(env!("CARGO_PKG_VERSION")));
    std::fs::write(folder.path().join("file"), "").unwrap();
    let (_, message, code) = outcome(broodhue(folder.path()).args(["man", "file/below"]));
    assert!(code == 1 && message.contains("file/below") && message.contains("hint"), "{message}");
}

#[test]
fn the_version_names_the_layout_of_the_book() {
    let folder = tempfile::tempdir().unwrap();
    let layout = broodhue::book::SCHEMA_VERSION;
    let said = format!("broodhue {} (book layout {layout})\n", env!("CARGO_PKG_VERSION"));
    assert_eq!(outcome(broodhue(folder.path()).arg("--version")).0, said);
}
