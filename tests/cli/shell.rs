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
    // Date, source and manual each in its place; an example a line.
    let head = page("broodhue-book-check.1").lines().find(|l| l.starts_with(".TH")).unwrap().to_owned();
    let rest = head.strip_prefix(".TH broodhue-book-check 1 ").unwrap();
    assert!(rest.split('-').next().is_some_and(|year| year.parse::<u16>().is_ok()), "{head}");
    assert!(rest.contains(env!("CARGO_PKG_VERSION")) && rest.ends_with("Broodhue"), "{head}");
    let (set, check) = (page("broodhue-cross-set.1"), page("broodhue-sheet-check.1"));
    for (page, example) in [
        (&set, "broodhue cross set K2 \\-\\-to 2026\\-02\\-14"),
        (&set, "broodhue cross set K2 \\-\\-of K1\\-d \\-\\-from 2025\\-12\\-01"),
        (&check, "broodhue sheet check my\\-sheet.toml"),
    ] {
        assert!(page.contains(&format!(".RS 4\n{example}\n.RE\n")), "no '{example}' in\n{page}");
    }
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
