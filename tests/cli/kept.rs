//! Photos of the book by the names a person knows: found again by their path, missing, taken in twice under two hashes.

use std::fs;
use std::path::Path;

use image::ImageEncoder;
use image::codecs::jpeg::JpegEncoder;

use super::score::{book, json, ok, said};
use super::{broodhue, outcome};

/// What is said of a command that fails with this code.
fn refused(folder: &Path, args: &[&str], code: i32) -> String {
    let (_, message, found) = outcome(broodhue(folder).args(args));
    assert_eq!(found, code, "{args:?}: {message}");
    message
}

/// The tray turned by a right angle and saved again, without any EXIF.
fn turned(folder: &Path) {
    let picture = image::open(folder.join("tray.jpg")).unwrap().rotate90();
    let mut file = fs::File::create(folder.join("turned.jpg")).unwrap();
    let (width, height) = (picture.width(), picture.height());
    let encoder = JpegEncoder::new_with_quality(&mut file, 92);
    encoder.write_image(picture.to_rgb8().as_raw(), width, height, image::ExtendedColorType::Rgb8).unwrap();
}

#[test]
fn one_picture_under_two_hashes_is_said_to_look_alike() {
    let dir = book();
    let folder = dir.path();
    let first = said(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    assert!(!first.contains("looks like"), "{first}");
    turned(folder);
    let note = said(folder, &["score", "turned.jpg", "--brood", "K4-1", "--sitting", "2026-08-08"]);
    assert!(note.contains("turned.jpg looks like the photo tray.jpg, which has its fish in the same places"), "{note}");
    // A byte after the end of the picture: another file, taken in the same second.
    let mut bytes = fs::read(folder.join("tray.jpg")).unwrap();
    bytes.push(0);
    fs::write(folder.join("copy.jpg"), bytes).unwrap();
    let note = said(folder, &["score", "copy.jpg", "--brood", "K4-1"]);
    assert!(note.contains("copy.jpg looks like the photo tray.jpg, which was taken in the same second"), "{note}");
    let command = "`broodhue confirm --photo copy.jpg --set-aside 'same as tray.jpg'`";
    assert!(note.contains(command), "{note}");
    ok(folder, &["confirm", "--photo", "copy.jpg", "--set-aside", "same as tray.jpg"]);
    // On another day it is another sitting, which takes the place of the first instead of adding to it.
    let other = said(folder, &["score", "turned.jpg", "--brood", "K4-1", "--sitting", "2026-08-09", "--instead"]);
    let harm = "one of the sittings of 2026-08-08 and 2026-08-09 takes the place of the other in the counts";
    assert!(other.contains("turned.jpg looks like the photo tray.jpg") && other.contains(harm), "{other}");
}

#[test]
fn a_photo_that_carries_no_day_says_that_today_is_taken() {
    let dir = book();
    let folder = dir.path();
    turned(folder);
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let before = jiff::ZonedDateTime::now().date();
    let (line, message, code) = outcome(broodhue(folder).args(["score", "turned.jpg", "--brood", "K4-1", "--json"]));
    let line: serde_json::Value = serde_json::from_str(&line).unwrap();
    let day = line["kept"]["sitting"].as_str().unwrap();
    assert!(code == 0 && (day == before.to_string() || day == jiff::ZonedDateTime::now().date().to_string()), "{day}");
    let undated = format!("the photo carries no day, so today, {day}, is taken for its sitting");
    let warnings = line["warnings"].as_array().unwrap();
    let warning = warnings.iter().filter_map(|w| w.as_str()).find(|w| w.starts_with(&undated));
    assert!(warning.is_some_and(|w| w.contains("--sitting DAY")), "{warnings:?}");
    assert!(message.contains(&format!("note: turned.jpg: {undated}")), "{message}");
    assert!(
        message.contains("turned.jpg looks like the photo tray.jpg"),
        "a copy of another sitting's photo: {message}"
    );
    let right = ["score", "turned.jpg", "--sitting", "2026-08-09", "--instead", "--json"];
    let (line, message, _) = outcome(broodhue(folder).args(right));
    assert!(!line.contains("carries no day") && !message.contains("carries no day"), "{message}");
}

#[test]
fn a_lost_original_is_named_by_its_photo_and_put_back() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let hash = json(folder, &["export", "measurements", "--json"])["rows"][0]["hash"].as_str().unwrap().to_owned();
    fs::remove_file(folder.join(format!("broodhue-book/originals/{}/{hash}.jpg", &hash[..2]))).unwrap();
    let again = refused(folder, &["score", "--again"], 1);
    assert!(
        again.contains("tray.jpg (brood K4-1 on 2026-08-08): its original is missing") && !again.contains(&hash),
        "{again}"
    );
    let backup = refused(folder, &["book", "backup", "safe.backup"], 1);
    assert!(
        backup.contains("tray.jpg (brood K4-1 on 2026-08-08)") && backup.contains("put each file back"),
        "{backup}"
    );
    let restored = refused(folder, &["book", "restore", "safe.backup", "--book", "back"], 1);
    assert!(restored.contains("the original of tray.jpg (brood K4-1 on 2026-08-08) is missing"), "{restored}");
    let fish = |book: &str| json(folder, &["book", "info", "--json", "--book", book])["regions"].clone();
    assert_eq!(fish("back"), fish("broodhue-book"));
    ok(folder, &["score", "tray.jpg", "--again"]);
    ok(folder, &["book", "backup", "whole.backup"]);
    ok(folder, &["book", "check"]);
}

/// Another picture of the same size in its place would be measured against as if it were the tray; named again, it is put back.
#[test]
fn a_changed_photo_of_the_empty_tray_is_refused_and_put_back() {
    let dir = book();
    let folder = dir.path();
    fs::copy(folder.join("tray.jpg"), folder.join("empty.jpg")).unwrap();
    let first = json(folder, &["score", "tray.jpg", "--brood", "K4-1", "--empty", "empty.jpg", "--json"]);
    let hash = first["options"]["empty"].as_str().unwrap().to_owned();
    let kept = folder.join(format!("broodhue-book/originals/{}/{hash}.empty", &hash[..2]));
    turned(folder);
    let picture = image::open(folder.join("turned.jpg")).unwrap().rotate270();
    picture.save_with_format(&kept, image::ImageFormat::Png).unwrap();
    let measured = || json(folder, &["export", "measurements", "--json"]);
    let before = measured();
    let again = refused(folder, &["score", "--again"], 1);
    assert!(
        again.contains("tray.jpg: the photo of the empty tray") && again.contains("is not the file that was taken in"),
        "{again}"
    );
    assert!(again.contains("hint: name that photo: broodhue score tray.jpg --again --empty PHOTO"), "{again}");
    assert_eq!(measured(), before);
    ok(folder, &["score", "tray.jpg", "--again", "--empty", "empty.jpg"]);
    let last = json(folder, &["score", "--again", "--json"]);
    assert_eq!(last["options"]["empty"], hash.as_str());
}

#[test]
fn a_changed_original_is_named_and_put_back() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let hash = json(folder, &["export", "measurements", "--json"])["rows"][0]["hash"].as_str().unwrap().to_owned();
    let original = folder.join(format!("broodhue-book/originals/{}/{hash}.jpg", &hash[..2]));
    let mut bytes = fs::read(&original).unwrap();
    bytes.push(0);
    fs::write(&original, bytes).unwrap();
    let named = "tray.jpg (brood K4-1 on 2026-08-08)";
    let changed = format!("the original of {named} is not the file that was taken in");
    let backup = refused(folder, &["book", "backup", "safe.backup"], 1);
    assert!(backup.contains(&changed) && backup.contains("put each file back"), "{backup}");
    let restored = refused(folder, &["book", "restore", "safe.backup", "--book", "back"], 1);
    assert!(restored.contains(&changed), "{restored}");
    let again = refused(folder, &["score", "--again"], 1);
    assert!(again.contains(&format!("{named}: its original is not the file that was taken in")), "{again}");
    assert_eq!(json(folder, &["book", "info", "--json"])["photos"], 1, "a changed file is no photo of its own");
    ok(folder, &["score", "tray.jpg", "--again"]);
    ok(folder, &["book", "backup", "whole.backup"]);
    ok(folder, &["book", "check"]);
}

#[test]
fn a_photo_is_found_by_the_path_it_was_scored_by() {
    let dir = book();
    let folder = dir.path();
    fs::create_dir(folder.join("Bilder für K4")).unwrap();
    let path = "Bilder für K4/F2 1a.jpg";
    fs::rename(folder.join("tray.jpg"), folder.join(path)).unwrap();
    ok(folder, &["score", path, "--brood", "K4-1"]);
    ok(folder, &["confirm", "--photo", path, "--fish", "1", "--class", "red-body=absent"]);
    ok(folder, &["confirm", "--photo", path, "--undo"]);
    // Under another name, and where no file is left.
    fs::rename(folder.join(path), folder.join("other.jpg")).unwrap();
    ok(folder, &["confirm", "--photo", "other.jpg", "--accept"]);
    ok(folder, &["confirm", "--photo", path, "--set-aside", "too dark"]);
    // Another picture of the same name is another picture.
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K3-1.jpg");
    fs::copy(sample, folder.join(path)).unwrap();
    assert!(refused(folder, &["confirm", "--photo", path, "--accept"], 1).contains("no such photo is in the book"));
}

#[test]
fn another_day_of_a_kept_photo_is_refused_as_another_brood_is() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let message = refused(folder, &["score", "tray.jpg", "--brood", "K4-1", "--sitting", "2026-08-09"], 1);
    assert!(message.contains("in the book already as tray.jpg of brood K4-1 on 2026-08-08"), "{message}");
    assert!(message.contains("--instead"), "{message}");
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1", "--sitting", "2026-08-08"]);
}

#[test]
fn what_is_undecided_is_said_after_agreeing() {
    let dir = book();
    let folder = dir.path();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K2-1-tray-b.jpg");
    fs::copy(sample, folder.join("tray.jpg")).unwrap();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let shown = ok(folder, &["confirm", "--brood", "K4-1", "--accept", "--at-least", "0"]);
    let counts = ok(folder, &["counts", "--json"]);
    let of = |line: &str| -> u64 {
        serde_json::from_str::<serde_json::Value>(line).unwrap()["excluded"]["undecided"].as_u64().unwrap()
    };
    let undecided: u64 = counts.lines().map(of).sum();
    assert!(undecided > 0, "the sample has a fish that no limit tells");
    assert!(shown.contains(&format!("left open; {undecided} undecided: look at them")), "{shown}");
    let again = ok(folder, &["confirm", "--brood", "K4-1", "--accept", "--at-least", "0"]);
    assert_eq!(again, format!("nothing is left to accept; {undecided} undecided: look at them\n"));
}
