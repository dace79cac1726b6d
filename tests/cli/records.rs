//! `book`, `fish`, `cross`, `brood`, `import`, `export`, `counts`: a notebook comes in, is counted and goes out again.

use std::fs;
use std::path::Path;

use serde_json::Value;

use super::{broodhue, outcome};

/// Runs a command that must succeed and hands back its stdout.
pub(super) fn ok(folder: &Path, args: &[&str]) -> String {
    let (out, message, code) = outcome(broodhue(folder).args(args));
    assert_eq!(code, 0, "{args:?}: {message}");
    out
}

pub(super) fn fails(folder: &Path, args: &[&str], code: i32) -> String {
    let (out, message, found) = outcome(broodhue(folder).args(args));
    assert_eq!((found, out.as_str()), (code, ""), "{args:?}: {message}");
    message
}

/// An invented book: two founders, their cross and one brood.
pub(super) fn book() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    ok(folder, &["book", "new", "--by", "Ann"]);
    ok(folder, &["fish", "add", "Lowmere-1", "--sex", "m", "--line", "Lowmere", "--class", "red-body=full"]);
    ok(folder, &["fish", "add", "Tarnwick-1", "--sex", "f", "--line", "Tarnwick"]);
    ok(folder, &["cross", "add", "K1", "--sire", "Lowmere-1", "--dam", "Tarnwick-1", "--from", "2025-07-05"]);
    ok(folder, &["brood", "add", "K1-1", "--cross", "K1", "--dropped", "2025-08-09..2025-08-10", "--young", "20"]);
    dir
}

#[test]
fn records_are_listed_as_they_were_typed() {
    let dir = book();
    insta::assert_snapshot!(ok(dir.path(), &["fish", "list"]), @r"
     fish        sex  line      cross    born  classes        state
     Lowmere-1   m    Lowmere   founder  –     red-body=full
     Tarnwick-1  f    Tarnwick  founder  –
    ");
    insta::assert_snapshot!(ok(dir.path(), &["cross", "list"]), @r"
     cross  role  fish        in          out
     K1     sire  Lowmere-1   2025-07-05  –
     K1     dam   Tarnwick-1  2025-07-05  –
    ");
    insta::assert_snapshot!(ok(dir.path(), &["brood", "list"]), @r"
     brood  cross  dropped                   young  possible dams  earlier sire
     K1-1   K1     2025-08-09 to 2025-08-10     20  Tarnwick-1     –
    ");
    let broods: Value = serde_json::from_str(&ok(dir.path(), &["brood", "list", "--json"])).unwrap();
    assert_eq!(broods["broods"][0]["possible_dams"][0]["with"][0]["sire"], "Lowmere-1");
}

#[test]
fn a_notebook_is_counted_with_exact_intervals() {
    let dir = book();
    fs::write(
        dir.path().join("counts.csv"),
        "cross,sire,dam,brood,dropped,axis,class,sex,count\n\
         K1,Lowmere-1,Tarnwick-1,K1-2,2025-09-20,red-body,absent,m,7\n\
         K1,Lowmere-1,Tarnwick-1,K1-2,2025-09-20,red-body,full,m,18\n",
    )
    .unwrap();
    assert_eq!(
        ok(dir.path(), &["import", "counts", "counts.csv"]),
        "counts.csv: counts of 1 brood and axis new, of 0 known already\n"
    );
    insta::assert_snapshot!(ok(dir.path(), &["counts", "--axis", "red-body"]), @r"
    red-body
     cross  brood  sitting  sex  class   confirmed  of  share  95 % interval
     K1     K1-2   by hand  m    absent          7  25   28 %   12 % to 49 %
     K1     K1-2   by hand  m    full           18  25   72 %   51 % to 88 %
    ");
    let counts: Value = serde_json::from_str(&ok(dir.path(), &["counts", "--axis", "red-body", "--json"])).unwrap();
    assert_eq!(counts["schema"], "broodhue.counts/1");
    let row = &counts["rows"][0];
    assert_eq!((&row["cross"], &row["brood"], &row["sitting"]), (&"K1".into(), &"K1-2".into(), &Value::Null));
    assert_eq!((&row["sex"], &row["class"], &row["confirmed"]), (&"m".into(), &"absent".into(), &7.into()));
    // 7 of 25: 0.1207 to 0.4939 (Clopper & Pearson 1934; R's binom.test).
    assert!((row["low"].as_f64().unwrap() - 0.1207).abs() < 5e-5);
    assert!((row["high"].as_f64().unwrap() - 0.4939).abs() < 5e-5);
    for key in ["unsettled", "not_shown", "undecided", "set_aside", "doubtful_paternity", "moved", "died"] {
        assert_eq!(counts["excluded"][key], 0, "{key}");
    }
    assert_eq!(ok(dir.path(), &["counts", "--json"]).lines().count(), 5, "one line an axis");
}

#[test]
fn every_table_goes_out_as_csv_and_json() {
    let dir = book();
    insta::assert_snapshot!(ok(dir.path(), &["export", "fish"]), @r"
    fish,sex,line,cross,brood,born,pure,virgin_on,isolated_since,gone,gone_on,set_aside,note,red-body
    Lowmere-1,m,Lowmere,,,,,,,,,,,full
    Tarnwick-1,f,Tarnwick,,,,,,,,,,,
    ");
    for table in ["counts", "fish", "measurements", "scores"] {
        let out = ok(dir.path(), &["export", table, "--json"]);
        let value: Value = serde_json::from_str(&out).unwrap();
        assert!(value["rows"].is_array(), "{table}");
    }
}

#[test]
fn a_note_with_blanks_at_its_ends_comes_back_into_the_same_book() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["fish", "set", "Lowmere-1", "--note", " pale eye "]);
    ok(folder, &["fish", "set-aside", "Lowmere-1", "--why", " bent spine "]);
    ok(folder, &["brood", "add", "K1-2", "--cross", "K1", "--note", " small "]);
    ok(folder, &["cross", "add", "K2", "--sire", "Lowmere-1", "--note", " late "]);
    fs::write(folder.join("fish.csv"), ok(folder, &["export", "fish"])).unwrap();
    ok(folder, &["import", "fish", "fish.csv"]);
    for (what, note) in [("fish", "pale eye"), ("brood", "small"), ("cross", "late")] {
        let listed = ok(folder, &[what, "list", "--json"]);
        assert!(listed.contains(&format!("\"{note}\"")), "{listed}");
    }
}

#[test]
fn a_bad_row_is_named_with_file_line_column_and_value() {
    let dir = book();
    fs::write(dir.path().join("fish.csv"), "fish,sex,line,cross,born\na,m,,,\nb,m,,,31.05.2026\n").unwrap();
    assert_eq!(
        fails(dir.path(), &["import", "fish", "fish.csv"], 1),
        "broodhue: fish.csv, line 3: column born: '31.05.2026' is no day; hint: write it as 2026-05-31\n"
    );
    assert!(!ok(dir.path(), &["fish", "list"]).contains(" a "), "nothing of the file is taken in");
}

#[test]
fn what_cannot_be_done_says_what_to_do() {
    let dir = book();
    for (args, code, said) in [
        (&["counts", "--axis", "pink"][..], 2, "axes: base, body-colour"),
        (&["counts", "--cross", "K9"], 1, "no cross of this name"),
        (&["fish", "show", "nobody"], 1, "see `broodhue fish list`"),
        (&["brood", "add", "x", "--cross", "K9"], 1, "no cross of this name"),
        (&["score", "x.jpg", "--brood", "K9-1"], 1, "no brood of this name"),
        (&["confirm", "--brood", "K9-1", "--accept"], 1, "no brood of this name"),
        (&["confirm", "--photo", "x.jpg"], 2, "nothing was asked for about it"),
        (&["confirm", "--undo"], 1, "nothing left to take back"),
        (&["book", "new"], 1, "there is a book here already"),
        (&["counts", "--book", "nowhere"], 1, "make one with `broodhue book new`"),
        (&["book", "new", "--book", "/proc/none"], 1, "/proc/none"),
    ] {
        let message = fails(dir.path(), args, code);
        assert!(message.contains(said) && message.contains("hint: "), "{args:?}: {message}");
        assert_eq!(message.lines().count(), 1, "{args:?}: {message}");
    }
}

#[test]
fn no_brood_is_dropped_before_its_parents_are_born() {
    let dir = book();
    ok(dir.path(), &["fish", "add", "late", "--sex", "m", "--born", "2026-01-01"]);
    ok(dir.path(), &["cross", "add", "K8", "--sire", "late"]);
    let message = fails(dir.path(), &["brood", "add", "K8-1", "--cross", "K8", "--dropped", "2025-12-01"], 1);
    assert!(message.contains("its parent late was born 2026-01-01"), "{message}");
    ok(dir.path(), &["brood", "add", "K8-1", "--cross", "K8", "--dropped", "2026-06-01"]);
}

#[test]
fn a_backup_comes_back_and_both_books_check_clean() {
    let dir = book();
    ok(dir.path(), &["book", "backup", "safe.backup"]);
    ok(dir.path(), &["book", "restore", "safe.backup", "--book", "again"]);
    ok(dir.path(), &["book", "check", "--book", "again"]);
    assert_eq!(ok(dir.path(), &["fish", "list"]), ok(dir.path(), &["fish", "list", "--book", "again"]));
    insta::assert_snapshot!(ok(dir.path(), &["book", "info", "--book", "again"]), @r"
    again (layout 2), kept by Ann, no card pitch
      fish                       2
      crosses                    1
      broods                     1
      sittings                   0
      photos                     0
      fish in photos             0
      confirmed scores           0
      counts by hand             0
      entries in the log         1
    ");
}

#[cfg(unix)]
#[test]
fn a_disk_that_takes_no_more_leaves_the_book_as_it_was() {
    let dir = book();
    let many: String = (0..5000).map(|i| format!("invented-{i},m,,,\n")).collect();
    fs::write(dir.path().join("fish.csv"), format!("fish,sex,line,cross,born\n{many}")).unwrap();
    let before = ok(dir.path(), &["fish", "list"]);
    // The shell's limit on file sizes stands for the full disk: 64 blocks of 512 bytes, less than the rows need.
    let program = assert_cmd::cargo::cargo_bin("broodhue");
    let script = format!("trap '' XFSZ; ulimit -f 64; exec '{}' import fish fish.csv", program.display());
    let output = std::process::Command::new("sh").args(["-c", &script]).current_dir(dir.path()).output().unwrap();
    let message = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1), "{message}");
    assert!(message.contains("nothing was changed") && message.contains("hint: "), "{message}");
    assert_eq!(ok(dir.path(), &["fish", "list"]), before);
    ok(dir.path(), &["book", "check"]);
}

#[test]
fn a_slip_of_the_pen_is_said_and_can_be_mended() {
    let dir = book();
    let folder = dir.path();
    let said = |args: &[&str]| outcome(broodhue(folder).args(args)).1;
    let future = said(&["brood", "add", "K1-9", "--cross", "K1", "--dropped", "2999-01-01"]);
    assert!(future.contains("note: dropped 2999-01-01 is still to come"), "{future}");
    let mended = said(&["brood", "set", "K1-9", "--dropped", "2025-09-20", "--young", "12"]);
    assert!(mended.contains("dropped from 2025-09-20 (was 2999-01-01)") && mended.contains("young 12"), "{mended}");
    let isolated = said(&["fish", "set", "Tarnwick-1", "--isolated-since", "2026-03-01"]);
    assert_eq!(isolated, "fish Tarnwick-1: isolated since 2026-03-01\n");
    assert_eq!(said(&["cross", "set", "K1", "--to", "2026-01-01"]).matches("2026-01-01").count(), 3);
    assert_eq!(said(&["book", "set", "--card-pitch-mm", "12.4"]), "broodhue-book: kept by Ann, card pitch 12.4 mm\n");
    let meant = fails(folder, &["fish", "show", "lowmere 1"], 1);
    assert!(meant.contains("did you mean Lowmere-1? names are matched exactly"), "{meant}");
    let alike = said(&["fish", "add", "lowmere-1"]);
    assert!(alike.contains("note: Lowmere-1 is in the book as well; is it another fish?"), "{alike}");
    let twice = fails(folder, &["fish", "add", "X", "--class", "red-body=full", "--class", "red-body=absent"], 2);
    assert_eq!(twice, "broodhue: --class: red-body is both full and absent; hint: name one class an axis\n");
    assert!(fails(folder, &["book", "set", "--by", " "], 2).contains("--by: is empty"));
    let comma = fails(folder, &["book", "set", "--card-pitch-mm", "12,4"], 2);
    assert!(comma.contains("write it with a point: 12.4"), "{comma}");
    let below = fails(folder, &["brood", "add", "K1-8", "--cross", "K1", "--young", "-3"], 2);
    assert!(below.contains("write a whole number from 0 to 100000"), "{below}");
    let axis = fails(folder, &["confirm", "--brood", "K1-1", "--accept", "--axis", "red"], 2);
    assert!(axis.contains("there is no axis of this name"), "{axis}");
    let moved = said(&["confirm", "--brood", "K1-1", "--moved", "2", "--on", "2025-09-01"]);
    assert_eq!(moved, "brood K1-1: 2 moved unscored on 2025-09-01 (by Ann)\n");
}

#[test]
fn no_command_writes_over_another_file() {
    let dir = book();
    fs::write(dir.path().join("tray.jpg"), b"\xff\xd8\xff\xe0 a photo").unwrap();
    let message = fails(dir.path(), &["report", "tray.jpg"], 2);
    assert!(message.contains("tray.jpg: would be no jpg file; hint: name it tray.html"), "{message}");
    assert!(fs::read(dir.path().join("tray.jpg")).unwrap().ends_with(b"a photo"));
    fs::rename(dir.path().join("tray.jpg"), dir.path().join("tray.html")).unwrap();
    let message = fails(dir.path(), &["report", "tray.html"], 1);
    assert!(message.contains("tray.html: is there already and holds something else"), "{message}");
    assert!(fs::read(dir.path().join("tray.html")).unwrap().ends_with(b"a photo"));
    ok(dir.path(), &["report", "line.html"]);
    ok(dir.path(), &["report", "line.html"]);
}

#[test]
fn more_fish_than_young_are_remarked_on() {
    let dir = book();
    let table = "cross,sire,dam,brood,dropped,axis,class,sex,count\n\
                 K1,Lowmere-1,Tarnwick-1,K1-1,2025-08-10,red-body,ful,,21\n";
    fs::write(dir.path().join("counts.csv"), table).unwrap();
    let (_, note, _) = outcome(broodhue(dir.path()).args(["import", "counts", "counts.csv"]));
    assert!(note.contains("red-body has no class ful on the sheet"), "{note}");
    let counts: Value = serde_json::from_str(&ok(dir.path(), &["counts", "--axis", "red-body", "--json"])).unwrap();
    let warning = counts["warnings"][0].as_str().unwrap();
    assert!(warning.contains("21 fish were seen or left, but 20 young were written down"), "{warning}");
}

#[test]
fn a_wrong_parent_cross_or_dam_is_put_right() {
    let dir = book();
    let folder = dir.path();
    let said = |args: &[&str]| {
        let (_, message, code) = outcome(broodhue(folder).args(args));
        assert_eq!(code, 0, "{args:?}: {message}");
        message
    };
    ok(folder, &["fish", "add", "Tarnwick-2", "--sex", "f"]);
    assert_eq!(
        said(&["cross", "set", "K1", "--replace", "Tarnwick-1=Tarnwick-2"]),
        "cross K1: dam Tarnwick-2 (was Tarnwick-1)\n"
    );
    assert_eq!(
        said(&["brood", "set", "K1-1", "--dam", "Tarnwick-2", "--earlier-sire", "?"]),
        "brood K1-1: dam Tarnwick-2 (was any of its cross); earlier sire ?\n"
    );
    assert_eq!(
        said(&["brood", "set", "K1-1", "--earlier-sire", "none", "--young", "none"]),
        "brood K1-1: young none (was 20); earlier sire none (was ?)\n"
    );
    assert_eq!(said(&["fish", "set", "Tarnwick-1", "--brood", "K1-1"]), "fish Tarnwick-1: cross K1; brood K1-1\n");
    assert_eq!(
        said(&["fish", "set", "Lowmere-1", "--class", "red-body=none", "--line", "none"]),
        "fish Lowmere-1: line none (was Lowmere); red-body none (was full)\n"
    );
    let refused = fails(folder, &["brood", "set-aside", "K1-1", "--why", "twice"], 1);
    assert!(refused.contains("cannot be set aside: fish Tarnwick-1 came from it"), "{refused}");
    said(&["fish", "set", "Tarnwick-1", "--cross", "none"]);
    assert_eq!(said(&["brood", "set-aside", "K1-1", "--why", "twice"]), "K1-1: set aside\n");
    let listed: Value = serde_json::from_str(&ok(folder, &["brood", "list", "--json"])).unwrap();
    assert_eq!(listed["broods"][0]["set_aside"], "twice");
    assert!(ok(folder, &["brood", "list"]).contains("set aside: twice"));
    assert_eq!(said(&["cross", "set-aside", "K1", "--why", "never was"]), "K1: set aside\n");
    assert!(ok(folder, &["cross", "list"]).contains("set aside: never was"));
    assert_eq!(said(&["cross", "set-aside", "K1", "--bring-back"]), "K1: back again\n");
    assert_eq!(said(&["cross", "set-aside", "K1", "--bring-back"]), "K1: was not set aside\n");
    ok(folder, &["book", "check"]);
}

#[test]
fn a_fish_that_left_can_be_here_after_all() {
    let dir = book();
    let folder = dir.path();
    let said = |args: &[&str]| outcome(broodhue(folder).args(args)).1;
    let how = fails(folder, &["fish", "left", "Lowmere-1"], 2);
    assert!(how.contains("--moved") && how.contains("--died") && how.contains("--back"), "{how}");
    assert_eq!(said(&["fish", "left", "Lowmere-1", "--back"]), "Lowmere-1: had not left\n");
    assert_eq!(said(&["fish", "left", "Lowmere-1", "--died", "--on", "2026-03-01"]), "Lowmere-1: died\n");
    assert!(ok(folder, &["fish", "show", "Lowmere-1"]).contains("died on 2026-03-01"));
    assert_eq!(said(&["fish", "left", "Lowmere-1", "--back"]), "Lowmere-1: here after all\n");
    assert_eq!(said(&["fish", "set-aside", "Lowmere-1", "--bring-back"]), "Lowmere-1: was not set aside\n");
}

#[test]
fn remarks_come_once_and_files_that_are_not_there_are_said_to_be_so() {
    let dir = book();
    let folder = dir.path();
    fs::write(folder.join("fish.csv"), "fish,red\na,x\nb,y\n").unwrap();
    let (_, notes, _) = outcome(broodhue(folder).args(["import", "fish", "fish.csv"]));
    assert_eq!(notes, "note: the sheet has no axis red; kept as typed\n");
    for args in [&["sheet", "check", "nope.toml"][..], &["import", "fish", "nope.csv"]] {
        let message = fails(folder, args, 1);
        assert!(message.contains(": there is no such file; hint: "), "{message}");
    }
    let table = "cross,sire,dam,brood,dropped,axis,class,sex,count\nK1,Lowmere-1,Dx,K1-2,,red-body,full,,1\n";
    fs::write(folder.join("counts.csv"), table).unwrap();
    let message = fails(folder, &["import", "counts", "counts.csv"], 1);
    assert!(message.contains("line 2, column dam: 'Dx': no fish of this name"), "{message}");
    let args = ["predict", "--sire", "zz", "--dam", "Tarnwick-1", "--axis", "red-body", "--target", "absent"];
    assert!(fails(folder, &args, 1).contains("see `broodhue fish list`"));
}
