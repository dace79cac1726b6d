//! Slips of the pen: a mistyped class, one class named twice, an axis named twice, parents that are no pair, impossible days and numbers.

use std::fs;
use std::path::Path;

use super::records::{book, fails, ok};
use super::score::said;
use super::{broodhue, outcome};

#[test]
fn a_class_that_is_new_on_an_axis_of_ones_own_is_named_with_what_may_be_meant() {
    let dir = book();
    let folder = dir.path();
    let rows = |classes: &[(&str, u32)]| {
        let row = |(class, n): &(&str, u32)| format!("K1,Lowmere-1,Tarnwick-1,K1-2,2025-09-20,tint,{class},,{n}\n");
        let head = "cross,sire,dam,brood,dropped,axis,class,sex,count\n".to_owned();
        fs::write(folder.join("counts.csv"), head + &classes.iter().map(row).collect::<String>()).unwrap();
    };
    rows(&[("gold", 7), ("plain", 18), ("Plain", 3), ("glod", 1)]);
    let first = said(folder, &["import", "counts", "counts.csv"]);
    assert!(first.contains("the sheet has no axis tint"), "{first}");
    assert!(first.contains("Plain and plain are kept as two classes") && first.contains("glod and gold"), "{first}");
    rows(&[("gold", 8), ("plain", 21)]);
    assert_eq!(said(folder, &["import", "counts", "counts.csv", "--replace"]), "", "gold and plain are known by now");
    rows(&[("gold", 8), ("plain", 20)]);
    let replaced = ok(folder, &["import", "counts", "counts.csv", "--replace"]);
    assert_eq!(
        replaced,
        "counts.csv: counts of 0 broods and axes new, of 1 in the place of others, of 0 known already\n"
    );

    let typed = |name: &str, class: &str| said(folder, &["fish", "add", name, "--class", class]);
    assert_eq!(typed("P", "tint=gold"), "fish P: written down\n");
    for (name, class, meant) in [("Q", "glod", "gold"), ("R", "Gold", "gold"), ("S", "plai n", "plain")] {
        let note = typed(name, &format!("tint={class}"));
        let said = format!("tint has no class {class} in the book so far");
        assert!(note.contains(&said) && note.contains(&format!("did you mean {meant}?")), "{note}");
        said_out(folder, name);
    }
    let new = typed("T", "tint=blue");
    assert!(new.contains("no class blue in the book so far (gold, plain)") && !new.contains("did you mean"), "{new}");
    let on_sheet = typed("U", "red-body=Full");
    assert!(on_sheet.contains("(full, reduced, absent)") && on_sheet.contains("did you mean full?"), "{on_sheet}");
}

/// Takes a fish's tint out again, so that it is no known class for the next.
fn said_out(folder: &std::path::Path, name: &str) {
    said(folder, &["fish", "set", name, "--class", "tint=none"]);
}

#[test]
fn blanks_beside_a_class_and_two_axes_in_one_are_refused() {
    let dir = book();
    let folder = dir.path();
    for class in ["tint= gold", "tint=gold ", "tint =gold"] {
        for args in [["fish", "add", "Q", "--class", class], ["fish", "set", "Lowmere-1", "--class", class]] {
            assert!(fails(folder, &args, 2).contains("begins or ends with a blank"), "{class}");
        }
    }
    let two = fails(folder, &["fish", "add", "Q", "--class", "tint=gold, base=grey"], 2);
    assert!(two.contains("one class of tint") && two.contains("--class tint=gold --class base=grey"), "{two}");
}

#[test]
fn a_target_that_is_the_middle_and_an_axis_named_twice_are_refused() {
    let dir = book();
    let folder = dir.path();
    let question = ["--axis", "red-body", "--target", "full", "--middle", "full"];
    for command in [&["inherit"][..], &["next"], &["candidates"], &["report", "line.html"]] {
        let refused = fails(folder, &[command, &question].concat(), 2);
        assert!(refused.contains("full cannot be the target and lie between"), "{refused}");
    }
    let axis = ["--axis", "red-body", "--target", "full"];
    let pair = ["predict", "--sire", "Lowmere-1", "--dam", "Tarnwick-1"];
    let refused = fails(folder, &[&pair[..], &axis, &axis].concat(), 2);
    assert!(refused.contains("red-body is named twice"), "{refused}");
    let with = fails(folder, &[&["inherit"][..], &axis, &["--with", "red-body=absent"]].concat(), 2);
    assert!(with.contains("--with: red-body is named twice"), "{with}");
    let errors = ["--error-rate", "0.2", "--largest-error", "0.1"];
    for command in [&["inherit"][..], &pair] {
        let below = fails(folder, &[command, &axis, &errors].concat(), 2);
        assert!(below.contains("--largest-error: 0.1 is below the error rate of 0.2"), "{below}");
    }
}

#[test]
fn sire_and_dam_taken_for_one_another_change_places() {
    let dir = book();
    let folder = dir.path();
    let refused = fails(folder, &["fish", "set", "Tarnwick-1", "--sex", "m"], 1);
    assert!(refused.contains("broodhue cross set K1 --replace Tarnwick-1=OTHER"), "{refused}");
    for name in ["Tarnwick-1", "Lowmere-1"] {
        ok(folder, &["fish", "set", name, "--sex", "none"]);
    }
    let swap = ["--replace", "Tarnwick-1=Lowmere-1", "--replace", "Lowmere-1=Tarnwick-1"];
    assert_eq!(
        said(folder, &[&["cross", "set", "K1"][..], &swap].concat()),
        "cross K1: dam Lowmere-1 (was Tarnwick-1); sire Tarnwick-1 (was Lowmere-1)\n"
    );
    ok(folder, &["fish", "set", "Tarnwick-1", "--sex", "m"]);
    ok(folder, &["fish", "set", "Lowmere-1", "--sex", "f"]);
    ok(folder, &["book", "check"]);
}

/// The printed command through a shell, for a name that means something to one: it does what it says, and nothing else.
#[cfg(unix)]
#[test]
fn a_command_to_copy_holds_whatever_a_fish_is_called() {
    let dir = book();
    let folder = dir.path();
    let name = "a\"b 'c' $(touch made) `touch made` \\d;e";
    ok(folder, &["fish", "set", "Tarnwick-1", "--name", name]);
    ok(folder, &["fish", "add", "OTHER", "--sex", "f"]);
    let refused = fails(folder, &["fish", "set", name, "--sex", "m"], 1);
    let command =
        refused.split("say first who it was: broodhue ").nth(1).unwrap().split("; where sire and dam").next().unwrap();
    let program = assert_cmd::cargo::cargo_bin("broodhue");
    let script = format!("\"$0\" {command}");
    let copied =
        std::process::Command::new("sh").arg("-c").arg(script).arg(program).current_dir(folder).output().unwrap();
    assert!(copied.status.success(), "{command}: {}", String::from_utf8_lossy(&copied.stderr));
    assert!(ok(folder, &["cross", "list"]).contains("OTHER"));
    assert!(!folder.join("made").exists());
}

#[test]
fn parents_that_are_no_pair_are_refused_alike() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["fish", "add", "Lowmere-2", "--sex", "m"]);
    let axis = ["--axis", "red-body", "--target", "absent"];
    for (sire, dam, said, hint) in [
        ("Tarnwick-1", "Lowmere-1", "cannot be a dam: it is of the other sex", "--sire Lowmere-1 --dam Tarnwick-1"),
        ("Lowmere-1", "Lowmere-2", "Lowmere-2: cannot be a dam", "name a female"),
        ("Lowmere-1", "Lowmere-1", "is named as the sire and as the dam", "name a male and a female"),
    ] {
        let pair = ["--sire", sire, "--dam", dam];
        for command in [[&["kin"][..], &pair].concat(), [&["predict"], &pair[..], &axis].concat()] {
            let refused = fails(folder, &command, 1);
            assert!(refused.contains(said) && refused.contains(hint), "{refused}");
        }
    }
    ok(folder, &["kin", "--sire", "Lowmere-1", "--dam", "Tarnwick-1"]);
    let one = fails(folder, &["predict", "--sire", "Lowmere-1", "--dam", "Tarnwick-1", "--axis", "red-body"], 2);
    assert!(one.contains("1 axis with 0 target classes"), "{one}");
}

#[test]
fn days_that_cannot_be_are_said_when_a_fish_is_written_down_or_taken_in() {
    let dir = book();
    let folder = dir.path();
    let days = ["--born", "2025-01-01", "--virgin-on", "2024-01-01", "--isolated-since", "2999-01-01"];
    let noted = said(folder, &[&["fish", "add", "F6", "--sex", "f"][..], &days].concat());
    assert!(noted.contains("fish F6: a virgin until 2024-01-01, but born 2025-01-01: check both days"), "{noted}");
    assert!(noted.contains("apart from males since 2999-01-01 is still to come"), "{noted}");
    fs::write(folder.join("fish.csv"), "fish,sex,born,virgin_on\nF7,f,9999-12-31,\nF8,m,,2024-01-01\n").unwrap();
    let noted = said(folder, &["import", "fish", "fish.csv"]);
    let future = "note: fish F7: born 9999-12-31 is still to come; kept as typed\n";
    assert_eq!(
        noted,
        format!("{future}note: fish F8: a virgin until 2024-01-01, but a male: check its sex, or take the day out\n")
    );
    assert_eq!(said(folder, &["import", "fish", "fish.csv"]), "", "what is known already was said before");
    let row = "K1,Lowmere-1,Tarnwick-1,K1-2,2999-01-01,red-body,full,,1\n";
    fs::write(folder.join("counts.csv"), format!("cross,sire,dam,brood,dropped,axis,class,sex,count\n{row}")).unwrap();
    let noted = said(folder, &["import", "counts", "counts.csv"]);
    assert!(noted.contains("brood K1-2: dropped 2999-01-01 is still to come"), "{noted}");
}

#[test]
fn a_number_out_of_its_range_is_told_the_range() {
    let dir = book();
    let folder = dir.path();
    let young = "write a whole number from 0 to 100000";
    for (args, hint) in [
        (&["brood", "add", "K1-2", "--cross", "K1", "--young", "-3"][..], young),
        (&["brood", "set", "K1-1", "--young", "100001"], young),
        (&["measure", "a.jpg", "--drop", "-1"], "write a whole number, 1 or more"),
        (&["measure", "a.jpg", "--merge", "-1,2"], "'-1' is no number of a region"),
        (&["measure", "a.jpg", "--card-pitch-mm", "1e300"], "too large or too small"),
        (&["measure", "a.jpg", "--box", "0,0,1e300,1e300"], "lies in no picture"),
        (&["lighter", "--groups", "K1-1", "--seed", "-1"], "write a whole number, 0 or more"),
    ] {
        let refused = fails(folder, args, 2);
        assert!(refused.contains(hint) && !refused.contains("-- -") && refused.len() < 200, "{refused}");
    }
}

/// Numbers of fish and pixels belong to one photo.
#[test]
fn what_is_said_of_one_photo_is_refused_for_several() {
    let dir = book();
    let folder = dir.path();
    let grey = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/grey.jpg")).unwrap();
    fs::write(folder.join("a.jpg"), &grey).unwrap();
    fs::write(folder.join("b.jpg"), [&grey[..], &[0]].concat()).unwrap();
    let both = ["score", "a.jpg", "b.jpg", "--brood", "K1-1"];
    let drop = fails(folder, &[&both[..], &["--drop", "3"]].concat(), 2);
    assert!(drop.contains("--drop: goes with one photo, and 2 are meant"), "{drop}");
    ok(folder, &both);
    let corners = "1,1,9,1,9,9,1,9";
    for typed in [
        &["--drop", "3"][..],
        &["--split", "3", "1,1,2,2"],
        &["--add", "1,1"],
        &["--merge", "3,4"],
        &["--card-corners", corners],
        &["--tray", corners],
        &["--box", "1,1,9,9"],
    ] {
        let refused = fails(folder, &[&["score", "--again", "--brood", "K1-1"], typed].concat(), 2);
        let hint = format!("hint: name that photo alone: broodhue score PHOTO --again {}", typed[0]);
        assert!(refused.contains(&hint), "{refused}");
    }
}

#[test]
fn a_variable_set_to_nothing_names_no_book() {
    let dir = book();
    let (out, message, code) = outcome(broodhue(dir.path()).env("BROODHUE_BOOK", "").args(["fish", "list"]));
    assert!(code == 0 && out.contains("Lowmere-1"), "{message}");
}

#[test]
fn a_fish_called_like_a_brood_is_said_to_be_the_one_that_is_compared() {
    let dir = book();
    ok(dir.path(), &["fish", "add", "K1-1"]);
    let said = fails(dir.path(), &["lighter", "K1-1", "Lowmere-1"], 1);
    assert!(said.contains("K1-1 is a fish and a brood; the fish is compared, and K1/K1-1 names the brood"), "{said}");
}
