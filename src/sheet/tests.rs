//! The starting sheet against literal features, and what is said about broken sheets.

use proptest::prelude::*;

use super::*;
use crate::features::{Features, PartColour, ShareErrors, Shares};
use crate::fish::Flag;
use crate::units::Sex;

fn colour(lightness: f64, chroma: f64) -> PartColour {
    PartColour {
        lightness,
        a: 0.0,
        b: chroma,
        chroma,
        hue: 90.0,
        saturation: 0.0,
        lightness_se: 0.5,
        a_se: 0.5,
        b_se: 0.5,
        chroma_se: 0.5,
        hue_se: 5.0,
    }
}

fn shares(trunk: f64, finnage: f64, fish: f64) -> Shares {
    Shares { trunk: Some(trunk), finnage: Some(finnage), fish: Some(fish) }
}

/// A fully red fish of the breed's grey base, all parts visible.
fn red_fish() -> Features {
    Features {
        trunk: Some(colour(50.0, 40.0)),
        finnage: Some(colour(55.0, 40.0)),
        ground: Some(colour(52.0, 10.0)),
        red_share: shares(0.62, 0.7, 0.64),
        orange_share: shares(0.0, 0.0, 0.0),
        yellow_share: shares(0.0, 0.0, 0.0),
        reflective_share: shares(0.0, 0.0, 0.0),
        net: Some(0.12),
        ..Features::default()
    }
}

fn class_of(features: &Features, axis: &str) -> Proposal {
    let sheet = Sheet::starting().unwrap();
    propose(&sheet, features, &Subject::default()).into_iter().find(|p| p.axis == axis).unwrap()
}

#[test]
fn a_red_grey_fish_is_proposed_as_such_with_its_numbers() {
    let fish = red_fish();
    let body = class_of(&fish, "red-body");
    assert_eq!((body.class.as_str(), body.because[0].as_str()), ("full", "red share of the trunk 62 % is above 15 %"));
    assert!(body.confidence > 0.999 && body.confidence <= 1.0);
    assert_eq!(class_of(&fish, "red-finnage").class, "full");
    assert_eq!(class_of(&fish, "body-colour").class, "red");
    assert_eq!(class_of(&fish, "base").class, "grey");
    assert_eq!(class_of(&fish, "yellow").class, "absent");
}

#[test]
fn body_colour_follows_the_table_of_the_design() {
    let with = |red: f64, orange: f64, yellow: f64, ground: PartColour| Features {
        red_share: shares(red, red, red),
        orange_share: shares(orange, orange, orange),
        yellow_share: shares(yellow, yellow, yellow),
        ground: Some(ground),
        ..red_fish()
    };
    let grey = colour(55.0, 10.0);
    let shiny = |lightness: f64| Features {
        ground: None,
        reflective_share: shares(0.9, 0.0, 0.7),
        reflective: Some(colour(lightness, 6.0)),
        ..with(0.0, 0.0, 0.0, grey)
    };
    for (fish, class) in [
        (with(0.5, 0.1, 0.0, grey), "red"),
        (with(0.1, 0.5, 0.0, grey), "orange"),
        (with(0.0, 0.1, 0.5, grey), "yellow"),
        (with(0.4, 0.0, 0.4, grey), "mixed"),
        (with(0.0, 0.0, 0.0, colour(82.0, 8.0)), "white"),
        (with(0.0, 0.0, 0.0, colour(82.0, 20.0)), "none yet"),
        (with(0.1, 0.0, 0.0, colour(82.0, 8.0)), "none yet"),
        (with(0.0, 0.0, 0.0, grey), "none yet"),
        (shiny(78.0), "white"),
        (shiny(70.0), "none yet"),
    ] {
        assert_eq!(class_of(&fish, "body-colour").class, class, "{:?}", class_of(&fish, "body-colour"));
    }
}

#[test]
fn what_cannot_be_seen_is_undecided_and_says_so() {
    let fish = Features { red_share: Shares { finnage: None, ..red_fish().red_share }, ..red_fish() };
    let p = class_of(&fish, "red-finnage");
    assert_eq!(p.class, UNDECIDED);
    assert!(p.confidence.abs() < 1e-12);
    assert_eq!(p.because, ["red share of the finnage cannot be seen"]);
    // No net, but a ground: a weak start remains, and near the limit it does not carry a class.
    let fish = Features { net: None, ground: Some(colour(62.0, 10.0)), ..red_fish() };
    assert_eq!(class_of(&fish, "base").class, UNDECIDED);
    let fish = Features { net: None, ground: Some(colour(75.0, 10.0)), ..red_fish() };
    assert_eq!(class_of(&fish, "base").class, "blond");
}

#[test]
fn confidence_is_the_mass_of_the_error_on_the_class_side() {
    // Φ(1) = 0.841345, Φ(-1) = 0.158655: NIST Engineering Statistics Handbook 1.3.6.7.1 (cumulative normal table).
    let sheet = parse("t", &STARTING.replace("margin = 0.01", "margin = 0.0")).unwrap();
    let fish = Features {
        red_share: shares(0.17, 0.17, 0.17),
        share_se: ShareErrors { red: shares(0.02, 0.02, 0.02), ..ShareErrors::default() },
        ..red_fish()
    };
    let p = propose(&sheet, &fish, &Subject::default()).into_iter().find(|p| p.axis == "red-body").unwrap();
    assert!((p.confidence - 0.841_345).abs() < 1e-5, "{}", p.confidence);
}

#[test]
fn a_close_call_says_which_limit_is_near() {
    let fish = Features { red_share: shares(0.148, 0.6, 0.3), ..red_fish() };
    let p = class_of(&fish, "red-body");
    assert_eq!(p.class, UNDECIDED);
    insta::assert_snapshot!(p.because.join("\n"), @r"
    red share of the trunk 14.8 % ± 1.0 % is near the limit 15.0 %
    leans to reduced with confidence 0.58, below the sheet's 0.80
    ");
}

#[test]
fn sex_age_and_flags_count() {
    let text = STARTING.replacen("name = \"red-body\"", "name = \"red-body\"\nmales_only = true", 1).replacen(
        "name = \"yellow\"\nsettled",
        "name = \"yellow\"\nfrom_age_days = 60\nsettled",
        1,
    );
    let sheet = parse("t", &text).unwrap();
    let of = |subject: &Subject, axis: &str| {
        propose(&sheet, &red_fish(), subject).into_iter().find(|p| p.axis == axis).unwrap()
    };
    let male = Subject { sex: Some(Sex::Male), age_days: Some(60), ..Subject::default() };
    let female = Subject { sex: Some(Sex::Female), age_days: Some(59), ..Subject::default() };
    assert_eq!(of(&male, "red-body").class, "full");
    assert_eq!(of(&female, "red-body").class, NOT_SHOWN);
    assert_eq!(of(&Subject::default(), "red-body").class, NOT_SHOWN);
    assert_eq!(of(&male, "yellow").class, "absent");
    assert_eq!(of(&female, "yellow").class, NOT_SHOWN);
    assert_eq!(of(&Subject::default(), "yellow").class, NOT_SHOWN);
    let touching = Subject { flags: [Flag::Touching].into(), ..male.clone() };
    assert!((of(&touching, "red-body").confidence - 0.9 * of(&male, "red-body").confidence).abs() < 1e-12);
}

#[test]
fn the_hash_is_of_the_meaning_not_of_comments() {
    let plain = Sheet::starting().unwrap();
    let commented = parse("t", &STARTING.replace("confidence = 0.8", "# a note\n\nconfidence = 0.8   ")).unwrap();
    let windows = parse("t", &STARTING.replace('\n', "\r\n")).unwrap();
    let changed = parse("t", &STARTING.replace("confidence = 0.8", "confidence = 0.9")).unwrap();
    assert_eq!(plain.hash.len(), 64);
    assert_eq!((&plain.hash, &plain.hash), (&commented.hash, &windows.hash));
    assert_ne!(plain.hash, changed.hash);
}

#[test]
fn the_limits_of_the_starting_sheet_are_the_defaults() {
    assert_eq!(Sheet::starting().unwrap().limits, Limits::default());
}

#[test]
fn broken_sheets_are_refused_with_line_and_hint() {
    let one = |axis: &str| format!("name = \"x\"\nconfidence = 0.8\n[[axis]]\nname = \"a\"\n{axis}");
    let class = |when: &str| {
        one(&format!("[[axis.class]]\nname = \"p\"\notherwise = true\n[[axis.class]]\nname = \"q\"\nwhen = [{when}]\n"))
    };
    for (text, line, words) in [
        ("name = \"x\"\nconfidence = ".to_owned(), 2, "expected"),
        ("name = \"x\"\nconfidence = 1.5\naxis = []".to_owned(), 2, "confidence is 1.5"),
        ("name = \"x\"\nconfidence = 0.8\nwhat = 1\naxis = []".to_owned(), 3, "unknown field `what`"),
        ("name = \"x\"\nconfidence = 0.8\naxis = []\n[limits]\nchroma = nan".to_owned(), 4, "chroma is NaN"),
        ("name = \"x\"\nconfidence = 0.8\naxis = []\n[limits]\nred_hue = [345, 500]".to_owned(), 4, "red_hue is 500"),
        (one(""), 3, "missing field `class`"),
        (one("[[axis.class]]\nname = \"p\"\notherwise = true\n"), 3, "fewer than two classes"),
        (class("{ feature = \"gill\", above = 1 }"), 10, "no feature 'gill'"),
        (class("{ feature = \"net\" }"), 10, "no limit"),
        (class("{ feature = \"net\", above = 0.2, below = 0.1 }"), 10, "leaves nothing"),
        (class("{ feature = \"net\", above = 0.2, margin = -1 }"), 10, "margin"),
        (class("{ at_least = 3, of = [{ feature = \"net\", above = 0.2 }] }"), 10, "at_least = 3 of 1"),
        (class("{ feature = \"net\", above = nan }"), 10, "net is never NaN"),
        (class("{ feature = \"net\", below = inf }"), 10, "net is never inf"),
        (class("{ feature = \"red_share.trunk\", above = -3 }"), 10, "trunk is never -3"),
        (class("{ feature = \"trunk.lightness\", above = 150 }"), 10, "runs from 0 to 100"),
        (class("{ feature = \"red_share.trunk\", below = 0 }"), 10, "never below 0"),
        (class("{ feature = \"trunk.hue\", below = -20 }"), 10, "runs from 0 to 360"),
        (class("{ above = 0.2 }"), 10, "a condition is"),
        (class("{ feature = \"net + glare_share\", above = 0.2 }"), 10, "only shares can be added"),
        (class("{ feature = \"net\", above = 0.2 }").replace("\"p\"", "\"undecided\""), 6, "the program itself says"),
        (class("{ feature = \"net\", above = 0.2 }").replace("\"p\"", "\"q\""), 3, "the class 'q' twice"),
    ] {
        let error = parse("s.toml", &text).unwrap_err();
        assert_eq!(error.place, format!("s.toml, line {line}"), "{error}");
        assert!(error.message.contains(words) && !error.hint.is_empty(), "{error}");
    }
    let percent = class("{ feature = \"red_share.trunk\", above = 15 }");
    assert_eq!(parse("s.toml", &percent).unwrap_err().hint, "15 % is written as 0.15");
}

proptest! {
    #[test]
    fn every_proposal_is_a_class_with_a_confidence(
        red in 0.0..1.0f64, yellow in 0.0..0.5f64, se in 0.0..0.2f64, lightness in 5.0..95.0f64, seen in any::<bool>(),
    ) {
        let sheet = Sheet::starting().unwrap();
        let fish = Features {
            red_share: Shares { trunk: Some(red), finnage: seen.then_some(red), fish: Some(red) },
            yellow_share: shares(yellow, yellow, yellow),
            ground: seen.then(|| colour(lightness, 10.0)),
            net: None,
            share_se: ShareErrors { red: shares(se, se, se), ..ShareErrors::default() },
            ..red_fish()
        };
        for p in propose(&sheet, &fish, &Subject::default()) {
            let axis = sheet.axis(&p.axis).unwrap();
            prop_assert!((0.0..=1.0).contains(&p.confidence), "{p:?}");
            prop_assert!(p.class == UNDECIDED || p.confidence >= sheet.confidence);
            prop_assert!(p.class == UNDECIDED || axis.classes.iter().any(|c| c.name == p.class));
            prop_assert!(!p.because.is_empty());
        }
    }
}
