//! The commands on the invented lines of the demo (Lowmere, Tarnwick, Farrow), taken in from tables.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;

const FISH: &str = "fish,sex,line,cross,born,red-body,pure
Lowmere-1,m,Lowmere,,,full,
Tarnwick-1,f,Tarnwick,,,full,
K1-s,m,,K1,,full,
K1-d,f,,K1,,full,
K2-p,f,,K2,,absent,
K2-q,f,Lowmere Pale,K2,,absent,
K2-r,m,Lowmere Pale,K2,2026-05-02,absent,
K3-a,f,,K3,,full,
Farrow-1,m,Farrow,,,full,yes
";

const COUNTS: &str = "cross,sire,dam,brood,dropped,axis,class,sex,count
K1,Lowmere-1,Tarnwick-1,K1-1,2026-01-10,red-body,full,m,14
K1,Lowmere-1,Tarnwick-1,K1-1,2026-01-10,red-body,full,f,16
K2,K1-s,K1-d,K2-1,2026-05-02,red-body,full,m,9
K2,K1-s,K1-d,K2-1,2026-05-02,red-body,absent,m,3
K2,K1-s,K1-d,K2-1,2026-05-02,red-body,full,f,9
K2,K1-s,K1-d,K2-1,2026-05-02,red-body,absent,f,4
K2,K1-s,K1-d,K2-2,2026-06-01,red-body,full,m,11
K2,K1-s,K1-d,K2-2,2026-06-01,red-body,absent,m,3
K2,K1-s,K1-d,K2-2,2026-06-01,red-body,full,f,8
K2,K1-s,K1-d,K2-2,2026-06-01,red-body,absent,f,3
K3,Farrow-1,K2-p,K3-1,2026-10-20,red-body,full,m,12
K3,Farrow-1,K2-p,K3-1,2026-10-20,red-body,full,f,11
K4,K2-r,K2-q,K4-1,2026-10-25,red-body,absent,m,9
K4,K2-r,K2-q,K4-1,2026-10-25,red-body,absent,f,10
";

fn broodhue(folder: &Path, words: &[&str]) -> Command {
    let mut command = Command::cargo_bin("broodhue").unwrap();
    command.current_dir(folder).env_remove("BROODHUE_BOOK").args(words);
    command
}

/// A book with the tables taken in.
fn book(fish: &str, counts: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("fish.csv"), fish).unwrap();
    fs::write(folder.path().join("counts.csv"), counts).unwrap();
    broodhue(folder.path(), &["book", "new"]).assert().success();
    broodhue(folder.path(), &["import", "fish", "fish.csv"]).assert().success();
    broodhue(folder.path(), &["import", "counts", "counts.csv"]).assert().success();
    folder
}

fn json(folder: &Path, words: &[&str]) -> Value {
    let out = broodhue(folder, words).arg("--json").assert().success().get_output().stdout.clone();
    serde_json::from_slice(&out).unwrap()
}

fn text(folder: &Path, words: &[&str]) -> String {
    let out = broodhue(folder, words).assert().success().get_output().stdout.clone();
    String::from_utf8(out).unwrap()
}

fn fails(folder: &Path, words: &[&str], code: i32) -> String {
    let out = broodhue(folder, words).assert().code(code).get_output().stderr.clone();
    String::from_utf8(out).unwrap()
}

const ASKED: [&str; 4] = ["--axis", "red-body", "--target", "absent"];

fn with<'a>(command: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&[command], ASKED.as_slice(), more].concat()
}

#[test]
fn inherit_judges_the_demo_lines() {
    let folder = book(FISH, COUNTS);
    let found = json(folder.path(), &with("inherit", &["--fish", "K3-a"]));
    assert_eq!(found["schema"], "broodhue.inherit/1");
    assert_eq!((found["axis"].as_str(), found["target"].as_str()), (Some("red-body"), Some("absent")));
    assert!((found["error_rate"].as_f64().unwrap() - 0.01).abs() < 1e-12);
    let mode = |name: &str| {
        found["modes"].as_array().unwrap().iter().find(|m| m["mode"] == name).unwrap_or_else(|| panic!("{name}"))
    };
    assert_eq!(found["modes"].as_array().unwrap().len(), 14);
    assert_eq!(mode("autosomal-recessive")["verdict"], "allowed");
    for wrong in ["y-linked", "autosomal-dominant"] {
        assert_eq!(mode(wrong)["verdict"], "ruled-out", "{wrong}: {}", mode(wrong)["because"]);
    }
    // 10^14 times less likely, but no cross fails by itself after Holm once a breeder's own score may be wrong.
    assert_eq!(mode("x-linked-recessive")["verdict"], "disfavoured");
    let second = mode("autosomal-recessive")["crosses"]
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["cross"] == "K2" && c["sex"] == "m");
    assert_eq!(second.unwrap()["observed"]["absent"], 6);
    assert_eq!(second.unwrap()["expected"]["absent"], 6.5);
    let verdict = found["verdict"].as_str().unwrap();
    assert!(verdict.starts_with("Of the modes listed"), "{verdict}");
    let suspect = &found["suspects"][0];
    assert!(suspect["carrier"].as_f64().unwrap() > 0.8, "{suspect}");
    let printed = text(folder.path(), &with("inherit", &["--punnett", "K2"]));
    assert_eq!(
        printed.matches("it fits; the cross that suits it least").count(),
        1,
        "said once of all modes it holds for: {printed}"
    );
    assert!(printed.contains("eggs \\ sperm") && printed.contains("m/m target"), "{printed}");
    assert!(found["punnett"].is_null(), "nobody asked for it");
    let table = &json(folder.path(), &with("inherit", &["--punnett", "K2"]))["punnett"];
    assert_eq!((table["dam"].as_str(), table["sire"].as_str()), (Some("+/m"), Some("+/m")));
    assert_eq!(table["eggs"][1], serde_json::json!({"gamete": "m", "probability": 0.5}));
    assert_eq!(
        table["cells"][1],
        serde_json::json!([{"genotype": "+/m", "class": "other"}, {"genotype": "m/m", "class": "target"}])
    );
}

#[test]
fn next_ranks_pairs_and_warns() {
    let folder = book(FISH, COUNTS);
    let found = json(folder.path(), &with("next", &["--aim", "target"]));
    assert_eq!(found["schema"], "broodhue.next/1");
    let pairs = found["pairs"].as_array().unwrap();
    assert_eq!(pairs.len(), 4 * 5);
    for key in ["sire", "dam", "bits", "target_odds", "fry_for_95", "fry_for_99", "inbreeding", "warnings"] {
        assert!(!pairs[0][key].is_null(), "{key} of {}", pairs[0]);
    }
    let pair = |sire: &str, dam: &str| pairs.iter().find(|p| p["sire"] == sire && p["dam"] == dam).unwrap();
    let sibs = pair("K2-r", "K2-q");
    assert_eq!(sibs["warnings"][0], "related: brother and sister");
    assert_eq!(sibs["inbreeding"], 0.375);
    assert!(sibs["target_odds"].as_f64().unwrap() > 0.95);
    let mother_and_son = pair("K1-s", "Tarnwick-1");
    assert_eq!(mother_and_son["warnings"][0], "related: mother and son");
    for size in ["4", "8", "12", "20"] {
        assert!(pairs.iter().all(|p| p["bits"][size].as_f64().unwrap() >= 0.0));
    }
    assert!(text(folder.path(), &with("next", &[])).contains("bits/12"));
}

/// A line `sire,dam` of `next` with its warnings in one.
fn warned(found: &Value, sire: &str, dam: &str) -> Option<String> {
    let pair = found["pairs"].as_array().unwrap().iter().find(|p| p["sire"] == sire && p["dam"] == dam)?;
    let warnings = pair["warnings"].as_array().unwrap().iter().map(|w| w.as_str().unwrap());
    Some(warnings.collect::<Vec<_>>().join("; "))
}

#[test]
fn next_minds_age_and_how_long_ago_she_was_a_virgin() {
    let folder = book(FISH, COUNTS);
    let today = jiff::ZonedDateTime::now().date();
    let days = |n: i64| today.saturating_sub(jiff::ToSpan::days(n)).to_string();
    let add = |name: &str, more: &[&str]| {
        broodhue(folder.path(), &[&["fish", "add", name], more].concat()).assert().success();
    };
    add("young", &["--sex", "m", "--born", &days(6)]);
    add("grown", &["--sex", "m", "--born", &days(90)]);
    add("now", &["--sex", "f", "--virgin-on", &days(1)]);
    add("then", &["--sex", "f", "--virgin-on", &days(400)]);
    fs::write(folder.path().join("unborn.csv"), format!("fish,sex,born\nunborn,m,{}\n", days(-30))).unwrap();
    broodhue(folder.path(), &["import", "fish", "unborn.csv"]).assert().success();
    let found = json(folder.path(), &with("next", &[]));
    let young = warned(&found, "young", "now").unwrap();
    assert!(young.contains("young is too young: 6 days") && !young.contains("virgin"), "{young}");
    let then = warned(&found, "grown", "then").unwrap();
    assert!(then.contains("then is known as a virgin only until") && !then.contains("too young"), "{then}");
    assert_eq!(warned(&found, "unborn", "now"), None, "not born yet");
}

/// By hand: full sibs 1/4, of unrecorded parents too; an earlier sire with 1/4 of a brood gives 1/4 · 1/4 with its daughter.
#[test]
fn kin_knows_unrecorded_parents_and_earlier_sires() {
    let fish = "fish,sex,cross\nD,f,\nY,m,\nZ,m,\ns1,m,K1\nd1,f,K1\ns3,m,K3\nd3,f,K3\n";
    let folder = book(fish, "cross,sire,dam,brood,dropped,axis,class,sex,count\n");
    let run = |words: &[&str]| {
        broodhue(folder.path(), words).assert().success();
    };
    run(&["cross", "add", "K2", "--sire", "Y", "--dam", "D"]);
    run(&["brood", "add", "K2-1", "--cross", "K2", "--earlier-sire", "Z"]);
    run(&["fish", "add", "d2", "--sex", "f", "--cross", "K2", "--brood", "K2-1"]);
    run(&["fish", "add", "s2", "--sex", "m", "--cross", "K2", "--brood", "K2-1"]);
    let found = json(folder.path(), &["kin"]);
    let kinship = |a: &str, b: &str| {
        let pairs = found["kinship"].as_array().unwrap();
        let pair = pairs.iter().find(|p| (p[0] == a && p[1] == b) || (p[0] == b && p[1] == a)).unwrap();
        pair[2].as_f64().unwrap()
    };
    for (a, b, expected) in [
        ("s1", "d1", 0.25),
        ("s3", "d3", 0.25),
        ("s1", "d3", 0.0),
        ("Z", "d2", 0.0625),
        ("Y", "d2", 0.1875),
        // Two sibs each by Y or Z: the dam's part 1/8, the sires' (9/16 + 1/16) / 8.
        ("s2", "d2", 0.125 + 0.625 / 8.0),
    ] {
        // Four digits are printed.
        assert!((kinship(a, b) - expected).abs() <= 5e-5, "{a} × {b}: {}", kinship(a, b));
    }
}

#[test]
fn predict_goes_forward_with_fish_and_with_genotypes() {
    let folder = book(FISH, COUNTS);
    let found =
        json(folder.path(), &with("predict", &["--sire", "K2-r", "--dam", "K3-a", "--mode", "autosomal-recessive"]));
    let share = found["axes"][0]["expected"]["young"]["absent"].as_f64().unwrap();
    assert!((share - 0.5).abs() < 0.05, "{found}");
    let genotypes = json(
        folder.path(),
        &["predict", "--sire", "X+/Y,+/m", "--dam", "X+/Xm,+/m", "--modes", "x-linked-recessive,autosomal-recessive"],
    );
    let both =
        genotypes["joint"].as_array().unwrap().iter().find(|c| {
            c["classes"] == serde_json::json!({"x-linked-recessive": "target", "autosomal-recessive": "target"})
        });
    assert!((both.unwrap()["sons"].as_f64().unwrap() - 0.125).abs() < 1e-12);
    // Fish of the book without an axis: the only one that is counted, once its mutant class is named.
    let pair = ["predict", "--sire", "K2-r", "--dam", "K3-a"];
    let only = json(folder.path(), &[&pair[..], &["--target", "absent"]].concat());
    assert_eq!(only["axes"][0]["axis"], "red-body");
    let asked = fails(folder.path(), &pair, 2);
    assert!(asked.contains("--target; the classes of red-body are absent, full"), "{asked}");
    let swapped = fails(folder.path(), &with("predict", &["--sire", "K2-q", "--dam", "K2-r"]), 1);
    assert!(swapped.contains("cannot be a dam"), "{swapped}");
}

#[test]
fn fixed_counts_the_young_of_the_line() {
    let folder = book(FISH, COUNTS);
    let found = json(folder.path(), &["fixed", "Lowmere Pale", "--axis", "red-body", "--class", "absent"]);
    let axis = &found["axes"][0];
    assert_eq!((axis["young"].as_u64(), axis["exceptions"].as_u64()), (Some(19), Some(0)));
    // One-sided 95 % limit of 0 of 19: 1 - 0.05^(1/19).
    assert!((axis["upper_share"].as_f64().unwrap() - (1.0 - 0.05_f64.powf(1.0 / 19.0))).abs() < 1e-9);
    assert!(found["together"].is_null(), "one axis");
    assert_eq!(
        (axis["crosses"][0]["more_for_95"].as_u64(), axis["crosses"][0]["cross"].as_str()),
        (Some(0), Some("K4"))
    );
    let unknown = fails(folder.path(), &["fixed", "Nowhere", "--axis", "red-body", "--class", "absent"], 1);
    assert!(unknown.contains("line Nowhere") && unknown.contains("Lowmere Pale, Tarnwick"), "{unknown}");
}

/// Several axes of one line at once: what it takes for all of them, not for each alone.
#[test]
fn fixed_looks_at_several_axes_at_once() {
    let yellow = "K4,K2-r,K2-q,K4-1,2026-10-25,yellow,absent,m,6\nK4,K2-r,K2-q,K4-1,2026-10-25,yellow,absent,f,5\n";
    let folder = book(FISH, &format!("{COUNTS}{yellow}"));
    let both =
        ["fixed", "Lowmere Pale", "--axis", "red-body", "--class", "absent", "--axis", "yellow", "--class", "absent"];
    let found = json(folder.path(), &both);
    let together = &found["together"];
    assert_eq!((together["young_for_95"].as_u64(), together["young_for_99"].as_u64()), (Some(13), Some(19)));
    let cross = &together["crosses"][0];
    // (1 - 0.75^19)(1 - 0.75^11), by hand.
    let shown = (1.0 - 0.75_f64.powi(19)) * (1.0 - 0.75_f64.powi(11));
    assert!((cross["would_have_shown"].as_f64().unwrap() - shown).abs() < 1e-12);
    // 25 and 17 young: 0.9917; 24 and 16: 0.9890.
    assert_eq!((cross["more_for_95"].as_u64(), cross["more_for_99"].as_u64()), (Some(0), Some(6)));
    let printed = text(folder.path(), &both);
    assert!(printed.contains("All axes at once.") && printed.contains("if the genes are not linked"), "{printed}");
}

#[test]
fn candidates_name_what_speaks_against() {
    let folder = book(FISH, COUNTS);
    let found = json(folder.path(), &with("candidates", &[]));
    let of = |name: &str| found["traits"].as_array().unwrap().iter().find(|t| t["trait"] == name).unwrap().clone();
    assert_eq!(of("ashveil")["fits"], true);
    assert!(of("windlethorn")["against"].as_str().unwrap().contains("cross K"), "{}", of("windlethorn"));
}

#[test]
fn bad_questions_are_named() {
    let folder = book(FISH, COUNTS);
    for (words, code, says) in [
        (vec!["inherit", "--axis", "stripes", "--target", "absent"], 2, "stripes"),
        (vec!["inherit", "--axis", "red-body", "--target", "purple"], 2, "no class purple"),
        (with("inherit", &["--modes", "three-locus"]), 2, "three-locus"),
        (with("inherit", &["--error-rate", "0.9"]), 2, "0.9"),
        (with("inherit", &["--recombination", "0.7"]), 2, "0.7"),
        (with("inherit", &["--fish", "nobody"]), 1, "nobody"),
        (with("predict", &["--sire", "nobody", "--dam", "K2-p"]), 1, "nobody"),
    ] {
        let error = fails(folder.path(), &words, code);
        assert!(error.contains(says) && error.contains("hint:"), "{words:?}: {error}");
    }
    let empty = book(FISH, "cross,sire,dam,brood,dropped,axis,class,sex,count\n");
    let error = fails(empty.path(), &with("inherit", &[]), 1);
    assert!(error.contains("holds no counts"), "{error}");
}

/// Unknown fish, a female sire, a fish that is its own ancestor, a cross dated before its parents were born,
/// negative and fractional counts; nothing of the table is taken in.
#[test]
fn bad_tables_are_named_and_nothing_is_taken_in() {
    let head = "cross,sire,dam,brood,dropped,axis,class,sex,count\n";
    for (fish, row, says) in [
        (FISH, "K9,Nobody-1,Tarnwick-1,K9-1,,red-body,full,m,3\n", "Nobody-1"),
        (FISH, "K9,Tarnwick-1,Tarnwick-1,K9-1,,red-body,full,m,3\n", "Tarnwick-1"),
        (FISH, "K1,K1-s,Tarnwick-1,K1-1,,red-body,full,m,3\n", "K1-s"),
        (FISH, "K5,K2-r,K1-d,K5-1,2025-12-01,red-body,full,m,3\n", "K2-r"),
        (FISH, "K2,K2-r,K1-d,K2-1,,red-body,full,m,3\n", "its own ancestor"),
        (FISH, "K1,Lowmere-1,Tarnwick-1,K1-1,,red-body,full,m,-3\n", "-3"),
        (FISH, "K1,Lowmere-1,Tarnwick-1,K1-1,,red-body,full,m,2.5\n", "2.5"),
    ] {
        let folder = book(fish, head);
        fs::write(
            folder.path().join("bad.csv"),
            format!("{head}K1,Lowmere-1,Tarnwick-1,K1-9,,red-body,full,f,5\n{row}"),
        )
        .unwrap();
        let error = fails(folder.path(), &["import", "counts", "bad.csv"], 1);
        assert!(error.contains(says) && error.contains("bad.csv"), "{row}: {error}");
        let after = fails(folder.path(), &with("inherit", &[]), 1);
        assert!(after.contains("holds no counts"), "{row}: {after}");
    }
}

/// A dam was with S1, who lacks the red, until the day before she came to S2, who is full and carries nothing: nine without
/// red are no proof against a recessive, for a year S1 may have fathered them.
#[test]
fn a_brood_after_another_cross_counts_as_of_two_sires() {
    let folder = tempfile::tempdir().unwrap();
    let add = |words: &[&str]| {
        let out = broodhue(folder.path(), words).assert().success();
        String::from_utf8_lossy(&out.get_output().stderr).into_owned()
    };
    add(&["book", "new", "--by", "Nell"]);
    add(&["fish", "add", "S1", "--sex", "m", "--class", "red-body=absent"]);
    add(&["fish", "add", "S2", "--sex", "m", "--class", "red-body=full", "--pure"]);
    add(&["fish", "add", "D1", "--sex", "f", "--class", "red-body=absent", "--virgin-on", "2025-01-01"]);
    add(&["cross", "add", "A", "--sire", "S1", "--dam", "D1", "--from", "2025-01-01", "--to", "2025-02-01"]);
    add(&["cross", "add", "B", "--sire", "S2", "--dam", "D1", "--from", "2025-02-02", "--to", "2025-04-01"]);
    assert!(!add(&["brood", "add", "A-1", "--cross", "A", "--dropped", "2025-01-30"]).contains("two sires"));
    assert!(add(&["brood", "add", "B-1", "--cross", "B", "--dropped", "2025-03-05"]).contains("two sires"));
    let late = add(&["brood", "add", "A-3", "--cross", "A", "--dropped", "2026-09-01"]);
    assert!(late.contains("after its parents parted"), "{late}");
    let counts = "cross,sire,dam,brood,dropped,axis,class,sex,count\nA,S1,D1,A-1,2025-01-30,red-body,absent,,30\n\
                  B,S2,D1,B-1,2025-03-05,red-body,absent,,9\nB,S2,D1,B-1,2025-03-05,red-body,full,,21\n";
    fs::write(folder.path().join("counts.csv"), counts).unwrap();
    add(&["import", "counts", "counts.csv"]);
    let words =
        ["inherit", "--axis", "red-body", "--target", "absent", "--modes", "autosomal-recessive,autosomal-dominant"];
    let found = json(folder.path(), &words);
    let recessive = found["modes"].as_array().unwrap().iter().find(|m| m["mode"] == "autosomal-recessive").unwrap();
    assert_eq!(recessive["verdict"], "allowed", "{recessive}");
    assert!(add(&words).contains("D1 was also with S1 (cross A, until 2025-02-01)"));
    // What the days tell goes out with the table and comes in again.
    let out = broodhue(folder.path(), &["export", "counts", "--csv"]).assert().success();
    let table = String::from_utf8_lossy(&out.get_output().stdout).into_owned();
    assert!(table.lines().any(|l| l.starts_with("B,S2,D1,B-1,2025-03-05,,,S1,")), "{table}");
    fs::write(folder.path().join("again.csv"), table).unwrap();
    add(&["import", "counts", "again.csv"]);
    // The same pair again has nobody else's sperm to fear; another male has.
    let next =
        json(folder.path(), &["next", "--axis", "red-body", "--target", "absent", "--modes", "autosomal-recessive"]);
    assert!(next.to_string().contains("not a virgin (dam of A, B)"), "{next}");
}

/// Together to this day: with him there is no second sire, with any other male there is.
#[test]
fn the_same_pair_again_is_not_warned_of_stored_sperm() {
    let folder = book(FISH, COUNTS);
    broodhue(folder.path(), &["cross", "set", "K4", "--from", "2026-08-01"]).assert().success();
    let words = ["next", "--axis", "red-body", "--target", "absent", "--modes", "autosomal-recessive"];
    let next = json(folder.path(), &words);
    let warned = |sire: &str| {
        let pairs = next["pairs"].as_array().unwrap();
        let pair = pairs.iter().find(|p| p["sire"] == sire && p["dam"] == "K2-q").unwrap();
        pair["warnings"].to_string().contains("not a virgin (dam of K4)")
    };
    assert!(!warned("K2-r") && warned("K1-s"));
}

/// A brood of five possible dams after an earlier sire is beyond modes of two loci, and stops none of the commands.
#[test]
fn a_brood_of_many_possible_dams_stops_no_command() {
    let dams: String = ('p'..='t').map(|d| format!("W-{d},f,,,,full,\n")).collect();
    let fish = format!("{FISH}{dams}Sell-1,m,,,,full,\n");
    let of = |class: &str, n: u32| format!("W,K1-s,W-p+W-q+W-r+W-s+W-t,W-1,2026-05-20,red-body,{class},m,{n}\n");
    let folder = book(&fish, &format!("{COUNTS}{}{}", of("full", 15), of("absent", 5)));
    let folder = folder.path();
    broodhue(folder, &["brood", "set", "W-1", "--earlier-sire", "Sell-1"]).assert().success();
    let asked = ["--axis", "red-body", "--target", "absent", "--modes", "autosomal-recessive,two-locus-9-7"];
    let judged = json(folder, &[&["inherit"], &asked[..]].concat());
    assert_eq!(judged["modes"].as_array().unwrap().len(), 1);
    assert_eq!(judged["left_out"][0]["code"], "mode-not-weighed");
    for command in [vec!["next"], vec!["predict", "--sire", "K2-r", "--dam", "K2-q"], vec!["candidates"]] {
        broodhue(folder, &[command, asked.to_vec()].concat()).assert().success();
    }
    broodhue(folder, &[&["report", "line.html"], &asked[..]].concat()).assert().success();
    let page = fs::read_to_string(folder.join("line.html")).unwrap();
    assert!(page.contains("two-locus-9-7 is not weighed"), "the report says what it leaves out");
}

/// A report without the verdict that was asked for is written, and the exit code says that something is missing.
#[test]
fn a_report_without_the_verdict_asked_for_says_so() {
    let folder = book(FISH, "cross,sire,dam,brood,dropped,axis,class,sex,count\n");
    let words = ["report", "line.html", "--axis", "red-body", "--target", "absent"];
    let out = broodhue(folder.path(), &words).assert().code(1).get_output().stderr.clone();
    let said = String::from_utf8(out).unwrap();
    assert!(said.contains("without the inheritance that was asked for") && said.contains("no counts"), "{said}");
    assert!(folder.path().join("line.html").exists());
}
