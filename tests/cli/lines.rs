//! Many photos: names on stdin, lines measured elsewhere and merged into one book, equal to the book of one process.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use rusqlite::Connection;
use rusqlite::types::Value;

use super::{broodhue, outcome};

/// Every row of a book but the moments at which it was written, and every file beside it.
type Content = BTreeMap<String, Vec<String>>;

fn content(book: &Path) -> Content {
    let conn = Connection::open(book.join("book.sqlite")).unwrap();
    let mut tables = conn.prepare("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").unwrap();
    let names: Vec<String> = tables.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    let mut all: Content = names.into_iter().map(|table| (table.clone(), rows(&conn, &table))).collect();
    for folder in ["originals", "previews"] {
        files(&book.join(folder), &mut all);
    }
    all
}

fn rows(conn: &Connection, table: &str) -> Vec<String> {
    let mut statement = conn.prepare(&format!("SELECT * FROM {table}")).unwrap();
    let columns: Vec<String> = statement.column_names().into_iter().map(str::to_owned).collect();
    let kept = |name: &str| !["kept_at", "measured_at", "made_at"].contains(&name);
    let read = statement.query_map([], |row| {
        let cells = columns.iter().enumerate().filter(|(_, name)| kept(name));
        Ok(cells.map(|(i, name)| format!("{name}={:?} ", row.get::<_, Value>(i).unwrap())).collect::<String>())
    });
    read.unwrap().map(Result::unwrap).collect()
}

fn files(folder: &Path, all: &mut Content) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, all);
        } else {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            all.insert(name, vec![format!("{:?}", fs::read(&path).unwrap())]);
        }
    }
}

fn new_book(folder: &Path, name: &str) {
    for args in [
        &["book", "new", "--by", "Ann", "--card-pitch-mm", "12.4"][..],
        &["cross", "add", "K4"],
        &["brood", "add", "K4-1", "--cross", "K4", "--dropped", "2026-01-01"],
        &["brood", "add", "K4-2", "--cross", "K4"],
    ] {
        let (_, message, code) = outcome(broodhue(folder).args(args).args(["--book", name]));
        assert_eq!(code, 0, "{args:?}: {message}");
    }
}

#[test]
fn lines_of_two_shards_make_the_book_that_one_process_makes() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    for (from, to) in [("K4-1.jpg", "a.jpg"), ("K1-1.jpg", "b.jpg")] {
        fs::copy(samples.join(from), folder.join(to)).unwrap();
    }
    new_book(folder, "one");
    new_book(folder, "merged");
    let run = |args: &[&str], expected: i32| {
        let (out, message, code) = outcome(broodhue(folder).args(args));
        assert_eq!(code, expected, "{args:?}: {message}");
        (out, message)
    };
    run(&["score", "a.jpg", "--brood", "K4-1", "--book", "one"], 0);
    run(&["score", "b.jpg", "--brood", "K4-2", "--sitting", "2026-09-01", "--book", "one"], 0);

    // Two shards: one names its photo on stdin, and its line says whose it is; the other is told on the command line.
    let mut shard = broodhue(folder);
    shard.args(["measure", "-", "--json", "--card-pitch-mm", "12.4"]).write_stdin("b.jpg\n");
    let (line, message, code) = outcome(&mut shard);
    assert_eq!(code, 0, "{message}");
    let mut told: serde_json::Value = serde_json::from_str(&line).unwrap();
    told["kept"] = serde_json::json!({ "brood": "K4-2", "sitting": "2026-09-01" });
    fs::write(folder.join("2.jsonl"), format!("{told}\n")).unwrap();
    let (line, _) = run(&["measure", "a.jpg", "--json", "--card-pitch-mm", "12.4"], 0);
    fs::write(folder.join("1.jsonl"), &line).unwrap();
    run(&["score", "--from", "1.jsonl", "--brood", "K4-1", "--book", "merged"], 0);
    run(&["score", "--from", "2.jsonl", "--book", "merged"], 0);
    let (one, merged) = (content(&folder.join("one")), content(&folder.join("merged")));
    assert_eq!(one.keys().collect::<Vec<_>>(), merged.keys().collect::<Vec<_>>());
    for (name, rows) in &one {
        assert!(rows == &merged[name], "{name} differs:\n{rows:.2000?}\n{:.2000?}", merged[name]);
    }

    // Once more, together with a line of a photo that failed and one that a killed worker cut short.
    fs::write(folder.join("rest.jsonl"), format!("{line}{{\"photo\":\"c.jpg\",\"error\":\"cut short\"}}\n{{\"pho"))
        .unwrap();
    let (_, message) = run(&["score", "--from", "rest.jsonl", "2.jsonl", "--brood", "K4-1", "--book", "merged"], 3);
    assert!(message.contains("c.jpg: cut short") && message.contains("rest.jsonl, line 3"), "{message}");
    assert!(message.contains("a.jpg: is in the book already with brood K4-1"), "{message}");
    assert!(content(&folder.join("merged"))["region"] == merged["region"], "what is there stays as it is");

    // A line that gives the file the name of another photo: the book's own name of it is said too.
    let renamed = line.replacen("\"photo\":\"a.jpg\"", "\"photo\":\"b.jpg\"", 1);
    assert_ne!(renamed, line);
    fs::write(folder.join("renamed.jsonl"), renamed).unwrap();
    let (_, message) = run(&["score", "--from", "renamed.jsonl", "--brood", "K4-1", "--book", "merged"], 0);
    assert!(message.contains("b.jpg: is in the book already as a.jpg with brood K4-1"), "{message}");
}

#[test]
fn a_line_is_held_to_its_file_and_its_sheet() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/grey.jpg");
    fs::copy(fixture, folder.join("grey.jpg")).unwrap();
    new_book(folder, "broodhue-book");
    let (line, _, _) = outcome(broodhue(folder).args(["measure", "grey.jpg", "--json"]));
    let refused = |line: &str, args: &[&str], code: i32, said: &str| {
        fs::write(folder.join("lines.jsonl"), line).unwrap();
        let (_, message, found) = outcome(broodhue(folder).args(["score", "--from", "lines.jsonl"]).args(args));
        assert!(found == code && message.contains(said), "{found}: {message}");
    };
    let changed = |key: &str, value: &str| {
        let mut line: serde_json::Value = serde_json::from_str(&line).unwrap();
        line[key] = value.into();
        line.to_string()
    };
    let brood = ["--brood", "K4-1"];
    refused(&changed("hash", &"0".repeat(64)), &brood, 1, "hash differs");
    refused(&changed("sheet", &"0".repeat(64)), &brood, 1, "another sheet");
    refused(&changed("photo", "gone.jpg"), &brood, 1, "no such file");
    refused(&line, &[], 1, "say what it shows");
    refused(&line, &["--brood", "K4-1", "--card-pitch-mm", "12"], 2, "carry the options");
    let (out, _, _) = outcome(broodhue(folder).args(["book", "info", "--json"]));
    assert!(out.contains("\"photos\":0"), "{out}");
}
