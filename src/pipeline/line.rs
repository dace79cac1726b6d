//! A line of `measure --json`, read back: what was measured elsewhere, to be kept in a book.

use std::collections::BTreeSet;

use super::{FishReport, PhotoReport, SCHEMA};
use crate::features::Feature;
use crate::stats::Interval;

/// Most fish that one line may hold: a tray of a few hundred is full.
const MOST_FISH: usize = 10_000;

/// No fish in a tray is longer, in millimetres.
const LONGEST_MM: f64 = 2000.0;

/// No error of a measurement is larger, in the unit of any feature.
const LARGEST_ERROR: f64 = 1000.0;

/// What is wrong with a text that is no such line, without the words of the reader, which name its own types.
pub fn no_line(error: &serde_json::Error) -> String {
    if error.is_eof() {
        return "is cut short: no whole line of `measure --json`".to_owned();
    }
    format!("is no line of `measure --json` (column {})", error.column())
}

/// The measurement in a line.
///
/// # Errors
/// What is wrong with it: not such a line, of another schema, a hash that is none, fish with one number, figures that cannot be.
pub fn read(text: &str) -> Result<PhotoReport, String> {
    let report: PhotoReport = serde_json::from_str(text).map_err(|e| no_line(&e))?;
    if report.schema != SCHEMA {
        return Err(format!("has the schema '{}', not '{SCHEMA}'", report.schema));
    }
    if report.hash.len() != 64 || !report.hash.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
        return Err(format!("'{}' is no hash of a photo", report.hash));
    }
    if report.fish.len() > MOST_FISH {
        return Err(format!("has {} fish, more than {MOST_FISH}", report.fish.len()));
    }
    let numbers: BTreeSet<u32> = report.fish.iter().map(|f| f.n).collect();
    if numbers.len() < report.fish.len() || numbers.contains(&0) {
        return Err("has two fish with one number, or one without".to_owned());
    }
    if let Some(one) = report.fish.iter().find(|f| f.outline.len() < 3) {
        return Err(format!("fish {} has no outline", one.n));
    }
    impossible(&report).map_or(Ok(report), Err)
}

/// A figure that nothing measured can have; one would drown all that it is added up with.
fn impossible(report: &PhotoReport) -> Option<String> {
    let error_fits = |se: f64| (0.0..=LARGEST_ERROR).contains(&se);
    let features = Feature::every();
    let of_fish = |fish: &FishReport| {
        let off = features.iter().find_map(|feature| {
            let found = feature.read(&fish.features)?;
            let Interval { low, high } = feature.readable();
            let fits = (low..=high).contains(&found.value) && error_fits(found.se);
            (!fits).then(|| format!("{feature} {:?} ± {:?}", found.value, found.se))
        });
        let lengths = [fish.length_mm, fish.standard_length_mm].into_iter().flatten();
        let long = || {
            lengths.into_iter().find(|mm| !(0.0..=LONGEST_MM).contains(mm)).map(|mm| format!("a length of {mm:?} mm"))
        };
        let said = off.or_else(long)?;
        Some(format!("says of fish {} what cannot be: {said}", fish.n))
    };
    let errors = &report.conditions.calibration_se;
    let calibration = errors.iter().find(|(_, se)| !se.iter().copied().all(error_fits));
    report.fish.iter().find_map(of_fish).or_else(|| {
        let (n, se) = calibration?;
        Some(format!("says of fish {n} what cannot be: calibrated to {se:?}"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::{Limits, identity};
    use crate::pipeline::{self, Given, MeasureOptions};
    use crate::sheet::Sheet;

    /// The line of a small grey picture, in which nothing is found.
    fn grey() -> serde_json::Value {
        let bytes = include_bytes!("../../tests/fixtures/grey.jpg");
        let photo = crate::photo::read("grey.jpg", bytes, Limits::default()).unwrap();
        let (sheet, options) = (Sheet::starting().unwrap(), MeasureOptions::default());
        let report = pipeline::measure(&photo, Given { sheet: &sheet, empty: None }, &options).unwrap().report;
        assert_eq!(report.hash, identity(bytes));
        serde_json::from_str(&report.line().unwrap()).unwrap()
    }

    #[test]
    fn a_line_comes_back_as_it_was_written() {
        let text = grey().to_string();
        assert_eq!(read(&text).unwrap().line().unwrap(), text);
    }

    /// The line of the small picture with one fish in it, whose `change` is as a line has it.
    fn with_fish(change: impl FnOnce(&mut serde_json::Value)) -> Result<PhotoReport, String> {
        let colour = |l: f64| {
            serde_json::json!({"lightness": l, "a": 2.0, "b": 9.0, "chroma": 9.2, "hue": 77.0, "saturation": 13.0,
            "lightness_se": 0.5, "a_se": 0.5, "b_se": 0.5, "chroma_se": 0.5, "hue_se": 3.0})
        };
        let share = serde_json::json!({"trunk": 0.2, "finnage": 0.3, "fish": null});
        let mut fish = serde_json::json!({
            "n": 3, "centre": [5.0, 5.0], "box": [1, 1, 9, 9], "area_px": 40.0, "length_mm": 24.0, "standard_length_mm": 17.0,
            "trunk": colour(101.5), "finnage": colour(60.0), "ground": null, "red_share": share, "orange_share": share,
            "yellow_share": share, "black_share": share, "reflective_share": share, "red_strength": {"trunk": 30.0, "finnage": null},
            "net": null, "glare_share": 0.0, "view": "above", "sex": null, "flags": [], "proposals": [], "length_px": 9.0,
            "standard_length_px": 7.0, "heading": 10.0, "number": 1, "outline": [[1.0, 1.0], [9.0, 1.0], [9.0, 9.0]],
        });
        change(&mut fish);
        let mut line = grey();
        line["fish"] = serde_json::json!([fish]);
        read(&line.to_string())
    }

    #[test]
    fn figures_that_cannot_be_are_refused() {
        assert_eq!(with_fish(|_| ()).map(|report| report.fish.len()), Ok(1));
        let said = |pointer: &str, value: f64| {
            with_fish(|fish| *fish.pointer_mut(pointer).unwrap() = value.into()).unwrap_err()
        };
        assert_eq!(
            said("/trunk/lightness", 1e300),
            "says of fish 3 what cannot be: lightness of the trunk 1e300 ± 0.5"
        );
        for (pointer, value) in [
            ("/trunk/a", -1e9),
            ("/finnage/chroma_se", 1e200),
            ("/red_share/trunk", 1.5),
            ("/red_share/finnage", -0.1),
            ("/red_strength/trunk", 1e5),
            ("/length_mm", 1e9),
            ("/standard_length_mm", -4.0),
        ] {
            assert!(said(pointer, value).contains("what cannot be"), "{pointer}");
        }
        let mut line = grey();
        line["conditions"]["calibration_se"] = serde_json::json!([[3, [1e300, 1.0, 1.0]]]);
        assert!(read(&line.to_string()).unwrap_err().contains("calibrated to"));
    }

    #[test]
    fn what_is_no_line_is_named() {
        for (key, value, said) in [
            ("schema", "broodhue.photo/9".into(), "schema"),
            ("hash", "../../etc/passwd".into(), "no hash"),
            ("hash", "ABCD".repeat(16).into(), "no hash"),
            ("width", serde_json::Value::Null, "is no line of `measure --json` (column"),
        ] {
            let mut line = grey();
            line[key] = value;
            let error = read(&line.to_string()).unwrap_err();
            assert!(error.contains(said), "{key}: {error}");
        }
        assert!(read("").is_err() && read("[1]").is_err());
        assert!(read(&"[".repeat(100_000)).is_err(), "nested beyond any depth");
    }
}
