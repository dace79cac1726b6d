//! `measure` on a sample image, on lists and batches, and on everything that is no photo.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::{broodhue, outcome};

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images").join(name)
}

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures").join(name)
}

fn lines(out: &str) -> Vec<Value> {
    out.lines().map(|l| serde_json::from_str(l).unwrap()).collect()
}

/// A picture of one colour, as PNG.
fn plain(path: &Path, width: u32, height: u32, level: u8) {
    image::RgbImage::from_pixel(width, height, image::Rgb([level; 3])).save(path).unwrap();
}

/// Width and height of a PNG that claims a size it does not have (the checksum over the header is right).
fn claiming_png(path: &Path) {
    let mut bytes = Vec::new();
    let encoder = image::codecs::png::PngEncoder::new(&mut bytes);
    image::ImageEncoder::write_image(encoder, &[0; 12], 2, 2, image::ExtendedColorType::Rgb8).unwrap();
    let side = 100_000u32.to_be_bytes();
    bytes[16..20].copy_from_slice(&side);
    bytes[20..24].copy_from_slice(&side);
    let sum = crc(&bytes[12..29]).to_be_bytes();
    bytes[29..33].copy_from_slice(&sum);
    fs::write(path, bytes).unwrap();
}

/// CRC-32 as PNG uses it (ISO/IEC 15948 annex D), bit by bit.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |mut c, b| {
        c ^= u32::from(*b);
        (0..8).for_each(|_| c = if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 });
        c
    })
}

#[test]
fn a_sample_tray_gives_the_line_of_the_contract() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(sample("K4-1.jpg"), folder.path().join("tray.jpg")).unwrap();
    let run = || outcome(broodhue(folder.path()).args(["measure", "tray.jpg", "--card-pitch-mm", "13.5", "--json"]));
    let (out, message, code) = run();
    assert_eq!((code, message.as_str()), (0, ""));
    assert_eq!(run().0, out, "the same input gives the same bytes");
    let photo = &lines(&out)[0];
    for key in ["schema", "photo", "hash", "width", "height", "taken", "card", "fish", "warnings"] {
        assert!(photo.get(key).is_some(), "{key}");
    }
    assert_eq!((&photo["schema"], &photo["photo"]), (&Value::from("broodhue.photo/1"), &Value::from("tray.jpg")));
    let card = &photo["card"];
    assert_eq!((&card["found"], &card["layout"]), (&Value::Bool(true), &Value::from("chart-24")));
    assert_eq!((card["corners"].as_array().unwrap().len(), card["patches"].as_array().unwrap().len()), (4, 24));
    for key in ["mirrored", "fit", "verdict", "reasons"] {
        assert!(!card[key].is_null(), "{key}");
    }
    for key in ["model", "mean_de00", "max_de00", "loo_mean_de00", "loo_max_de00"] {
        assert!(!card["fit"][key].is_null(), "{key}");
    }
    let fish = photo["fish"].as_array().unwrap();
    assert!(!fish.is_empty());
    for (i, f) in fish.iter().enumerate() {
        assert_eq!(f["n"], Value::from(i + 1));
        keys_of_a_fish(f);
    }
}

fn keys_of_a_fish(f: &Value) {
    let direct = "n centre box area_px length_mm standard_length_mm trunk finnage ground red_share orange_share yellow_share \
                  black_share reflective_share red_strength net glare_share view sex flags proposals";
    for key in direct.split(' ') {
        assert!(f.get(key).is_some(), "{key}");
    }
    for part in ["trunk", "finnage", "ground"] {
        for key in ["lightness", "a", "b", "chroma", "hue", "saturation", "lightness_se"] {
            assert!(f[part].is_null() || f[part][key].is_f64(), "{part}.{key}");
        }
    }
    for p in f["proposals"].as_array().unwrap() {
        let confidence = p["confidence"].as_f64().unwrap();
        assert!((0.0..=1.0).contains(&confidence) && p["class"].is_string() && p["because"][0].is_string(), "{p}");
    }
    assert!(f["sex"].is_null());
}

#[test]
fn without_json_a_person_reads_a_table() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(sample("K4-1.jpg"), folder.path().join("tray.jpg")).unwrap();
    let (out, _, code) = outcome(broodhue(folder.path()).args(["measure", "tray.jpg"]));
    assert_eq!(code, 0);
    assert!(out.starts_with("tray.jpg: colours "), "{out}");
    assert!(out.lines().nth(1).is_some_and(|l| l.contains("red body") && l.contains("flags")), "{out}");
}

#[test]
fn each_bad_file_gives_one_message_a_line_and_exit_code_1() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("folder.jpg")).unwrap();
    fs::write(at("empty.jpg"), b"").unwrap();
    fs::write(at("text.jpg"), b"Dear fish, today we had fourteen young.\n").unwrap();
    let whole = fs::read(sample("K4-1.jpg")).unwrap();
    fs::write(at("cut.jpg"), &whole[..300]).unwrap();
    fs::write(at("half.jpg"), &whole[..whole.len() / 2]).unwrap();
    claiming_png(&at("claims.png"));
    plain(&at("tiny.png"), 3, 3, 120);
    for (name, words) in [
        ("missing.jpg", "no such file"),
        ("folder.jpg", "folder"),
        ("empty.jpg", "empty"),
        ("text.jpg", ""),
        ("cut.jpg", ""),
        ("half.jpg", ""),
        ("claims.png", "100000"),
        ("tiny.png", "3 × 3"),
    ] {
        let (out, message, code) = outcome(broodhue(folder.path()).args(["measure", "--json", name]));
        assert_eq!(code, 1, "{name}: {message}");
        assert_eq!(message.lines().count(), 1, "{name}: {message}");
        assert!(message.starts_with(&format!("broodhue: {name}: ")), "{message}");
        assert!(message.contains(words) && message.contains("hint: "), "{name}: {message}");
        let line = &lines(&out)[0];
        assert_eq!((&line["schema"], &line["photo"]), (&Value::from("broodhue.photo/1"), &Value::from(name)));
        assert!(line["error"].is_string() && line["hint"].as_str().is_some_and(|h| !h.is_empty()), "{line}");
    }
}

#[test]
fn odd_but_readable_photos_are_measured_and_say_what_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::copy(fixture("cmyk.jpg"), at("cmyk.jpg")).unwrap();
    fs::copy(fixture("grey.jpg"), at("grey.jpg")).unwrap();
    plain(&at("black.png"), 640, 480, 0);
    plain(&at("white.png"), 640, 480, 255);
    for name in ["cmyk.jpg", "grey.jpg", "black.png", "white.png"] {
        let (out, message, code) = outcome(broodhue(folder.path()).args(["measure", "--json", name]));
        assert_eq!(code, 0, "{name}: {message}");
        let photo = &lines(&out)[0];
        let card = &photo["card"];
        assert_eq!(
            (&card["found"], &card["fit"], &card["verdict"]),
            (&Value::Bool(false), &Value::Null, &Value::from("poor"))
        );
        assert!(card["reasons"][0].is_string(), "{card}");
        assert!(photo["warnings"].to_string().contains("no usable colour card"), "{photo}");
        assert_eq!(photo["fish"].as_array().unwrap().len(), 0, "{name}");
    }
}

#[test]
fn without_a_card_nothing_is_proposed_unless_asked() {
    let folder = tempfile::tempdir().unwrap();
    let picture = image::open(sample("K4-1.jpg")).unwrap().to_rgb8();
    // The card is painted over with the colour beside it.
    let mut bare = picture.clone();
    let (out, _, _) = outcome(broodhue(folder.path()).arg("measure").arg(sample("K4-1.jpg")).arg("--json"));
    let corners = lines(&out)[0]["card"]["corners"].clone();
    let range = |axis: usize| {
        let values: Vec<f64> = corners.as_array().unwrap().iter().map(|c| c[axis].as_f64().unwrap()).collect();
        let (low, high) = (values.iter().copied().fold(f64::MAX, f64::min), values.iter().copied().fold(0.0, f64::max));
        (low as u32).saturating_sub(8)..(high as u32 + 8)
    };
    for y in range(1) {
        for x in range(0) {
            if x < bare.width() && y < bare.height() {
                let beside = *picture.get_pixel(range(0).start.saturating_sub(4), y);
                bare.put_pixel(x, y, beside);
            }
        }
    }
    bare.save(folder.path().join("bare.png")).unwrap();
    let proposals = |arguments: &[&str]| {
        let (out, _, code) = outcome(broodhue(folder.path()).args(["measure", "bare.png", "--json"]).args(arguments));
        assert_eq!(code, 0);
        let photo = lines(&out).remove(0);
        assert_eq!(photo["card"]["found"], Value::Bool(false));
        photo["fish"].as_array().unwrap().iter().map(|f| f["proposals"].as_array().unwrap().len()).collect::<Vec<_>>()
    };
    let (without, asked) = (proposals(&[]), proposals(&["--without-card"]));
    assert!(!without.is_empty() && without.iter().all(|n| *n == 0), "{without:?}");
    assert!(asked.iter().all(|n| *n == 5), "{asked:?}");
}

#[test]
fn one_bad_photo_does_not_stop_a_batch_and_lines_come_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::copy(sample("K4-1.jpg"), at("big.jpg")).unwrap();
    plain(&at("a.png"), 40, 40, 90);
    plain(&at("b.png"), 40, 40, 90);
    let (out, message, code) =
        outcome(broodhue(folder.path()).args(["measure", "--json", "big.jpg", "no.jpg", "a.png", "b.png"]));
    assert_eq!(code, 3);
    let names: Vec<Value> = lines(&out).iter().map(|l| l["photo"].clone()).collect();
    assert_eq!(names, ["big.jpg", "no.jpg", "a.png", "b.png"]);
    assert!(message.contains("no.jpg") && message.lines().count() == 1, "{message}");
}

#[test]
fn names_from_stdin_and_hostile_names_survive() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["a b.png", "-dash.png", "quote\"s.png", "<b>.png", "ünï.png", "line\nbreak.png"] {
        plain(&folder.path().join(name), 20, 20, 90);
    }
    let (out, _, code) = outcome(
        broodhue(folder.path())
            .args(["measure", "--json", "-"])
            .write_stdin("a b.png\nquote\"s.png\r\n\n<b>.png\nünï.png\n"),
    );
    assert_eq!((code, lines(&out).len()), (0, 4));
    let (out, _, code) =
        outcome(broodhue(folder.path()).args(["measure", "--json", "-"]).write_stdin("line\nbreak.png\0a b.png\0"));
    assert_eq!((code, &lines(&out)[0]["photo"]), (0, &Value::from("line\nbreak.png")));
    let (_, _, code) = outcome(broodhue(folder.path()).args(["measure", "--json", "--", "-dash.png"]));
    assert_eq!(code, 0);
    let (_, message, code) = outcome(broodhue(folder.path()).args(["measure", "-"]).write_stdin(""));
    assert_eq!(code, 2);
    assert!(message.contains("no photo was named on stdin"), "{message}");
}

#[cfg(unix)]
#[test]
fn a_name_that_is_not_utf8_is_read_and_shown() {
    use std::os::unix::ffi::OsStringExt;
    let folder = tempfile::tempdir().unwrap();
    let name = OsString::from_vec(b"fr\xf6n.png".to_vec());
    let bytes = {
        plain(&folder.path().join("x.png"), 20, 20, 90);
        fs::read(folder.path().join("x.png")).unwrap()
    };
    fs::write(folder.path().join(&name), bytes).unwrap();
    let (out, _, code) = outcome(broodhue(folder.path()).args(["measure", "--json"]).arg(&name));
    assert_eq!((code, &lines(&out)[0]["photo"]), (0, &Value::from("fr\u{fffd}n.png")));
}

#[test]
fn wrong_usage_is_told_apart_from_failure() {
    let folder = tempfile::tempdir().unwrap();
    plain(&folder.path().join("a.png"), 60, 60, 90);
    for arguments in [
        &["measure"][..],
        &["measure", "a.png", "--card-corners", "1,2,3,4"][..],
        &["measure", "a.png", "--card-corners", "1,2,x"][..],
        &["measure", "a.png", "--card-pitch-mm", "0"][..],
        &["measure", "a.png", "--box", "9,9,3,3"][..],
        &["measure", "a.png", "--split", "1", "4,4"][..],
        &["measure", "a.png", "--view", "below"][..],
        &["measure", "a.png", "--tray", "1,1,2,2"][..],
    ] {
        let (_, message, code) = outcome(broodhue(folder.path()).args(arguments));
        assert_eq!(code, 2, "{arguments:?}: {message}");
        assert!(!message.is_empty());
    }
}

/// What was said of the fish and meets none could not be done; the rest is, and the line says it too.
#[test]
fn what_is_said_of_no_fish_fails_and_says_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(sample("K4-1.jpg"), folder.path().join("tray.jpg")).unwrap();
    plain(&folder.path().join("a.png"), 60, 60, 90);
    let run =
        |args: &[&str]| outcome(broodhue(folder.path()).args([&["measure", "tray.jpg", "--json"], args].concat()));
    let whole = lines(&run(&[]).0).remove(0);
    let centre = whole["fish"][0]["centre"].as_array().unwrap();
    let there = format!("{},{}", centre[0], centre[1]);
    for (args, said, hint) in [
        (&["--drop", "99"][..], "there is no fish 99 to correct", "take a number"),
        (&["--merge", "4,4"], "fish 4 cannot be merged with itself", "two halves"),
        (&["--add", &there], "is outlined at", "split it"),
        (&["--box", "9000,9000,9100,9100"], "lies outside of the picture", "pixels of the upright picture"),
    ] {
        let (out, message, code) = run(args);
        assert!(code == 1 && message.contains(said) && message.contains("hint: "), "{args:?}: {code} {message}");
        assert!(message.contains(hint), "{message}");
        let line = lines(&out).remove(0);
        let warnings = line["warnings"].as_array().unwrap();
        assert!(warnings.iter().any(|w| w.as_str().unwrap().contains(said)), "{warnings:?}");
        let boxed = args.contains(&"--box");
        assert_eq!(line["fish"].as_array().unwrap().len() == whole["fish"].as_array().unwrap().len(), !boxed);
    }
    let (out, _, code) = run(&["--drop", "1"]);
    assert_eq!(
        (code, lines(&out)[0]["fish"].as_array().unwrap().len() + 1),
        (0, whole["fish"].as_array().unwrap().len())
    );
    let (out, _, code) = run(&["a.png", "--drop", "99"]);
    assert_eq!((code, lines(&out).len()), (3, 2), "a batch of which some failed");
}

#[test]
fn help_shows_an_example() {
    let folder = tempfile::tempdir().unwrap();
    for arguments in [&["measure", "--help"][..], &["sheet", "show", "--help"][..], &["sheet", "check", "--help"][..]] {
        let (out, _, code) = outcome(broodhue(folder.path()).args(arguments));
        assert_eq!(code, 0);
        assert!(out.contains("Example: broodhue "), "{out}");
    }
}
