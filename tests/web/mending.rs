//! Mending on the page: measured again, refused where it meets nothing, caught up with where it was taken back elsewhere.

use broodhue::fish::{Asked, Correction};
use broodhue::geometry::Point;
use broodhue::photo::Limits;
use broodhue::pipeline::{self, Given, MeasureOptions, Uncorrected};
use broodhue::sheet::Sheet;
use serde_json::json;

use super::client::Server;
use super::decisions::ask;
use super::seed;

#[test]
fn mending_measures_again_and_undo_brings_the_old_state_back() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let before = seed::fish(dir.path(), &hash);
    let drop = json!({ "correction": { "do": "drop", "n": 2 } });
    let mended = server.post("/mend", &ask(&hash, "Nell", &drop));
    assert_eq!(mended.status, 200, "{}", mended.body);
    assert_eq!(seed::fish(dir.path(), &hash).len(), before.len() - 1);
    assert_eq!(server.post("/undo", &ask(&hash, "Nell", &json!({}))).status, 200);
    let after = seed::fish(dir.path(), &hash);
    assert_eq!(after.len(), before.len());
    // Who was never touched is the same region all along.
    assert_eq!(after[0].id, before[0].id);
}

/// A scored fish that is taken apart, or is none after all, is counted no more beside what came of it, until that is taken back.
#[test]
fn a_scored_outline_that_was_mended_away_is_set_aside() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let before = seed::fish(dir.path(), &hash);
    let fish = before.iter().find(|r| r.n == 2).unwrap();
    let said = json!({ "region": fish.id.number(), "axis": "red-body", "class": "full" });
    assert_eq!(server.post("/decide", &ask(&hash, "Nell", &said)).status, 200);
    let scored = || seed::fish(dir.path(), &hash).into_iter().filter(|r| !r.classes.is_empty()).collect::<Vec<_>>();
    let drop = json!({ "correction": { "do": "drop", "n": 2 } });
    assert_eq!(server.post("/mend", &ask(&hash, "Nell", &drop)).status, 200);
    let [gone] = &scored()[..] else { panic!("not one") };
    assert_eq!((gone.id, gone.set_aside.as_deref()), (fish.id, Some("mended: not a fish")));
    assert!(!server.get("/brood/K2-1").body.contains("data-number=\"2\" data-state=\"confirmed\""));
    assert_eq!(server.post("/undo", &ask(&hash, "Nell", &json!({}))).status, 200);
    let [back] = &scored()[..] else { panic!("not one") };
    assert_eq!((back.id, &back.set_aside, back.from_earlier), (fish.id, &None, false));
}

/// What came of a split stays the same fish when the photo is measured again, although the whole of before stays on record under it.
#[test]
fn the_halves_of_a_scored_fish_keep_their_scores() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let before = seed::fish(dir.path(), &hash);
    let fish = before.iter().find(|r| r.n == 2).unwrap();
    let say = |region: i64, class: &str| {
        let said = json!({ "region": region, "axis": "red-body", "class": class });
        assert_eq!(server.post("/decide", &ask(&hash, "Nell", &said)).status, 200);
    };
    say(fish.id.number(), "full");
    let far = |a: Point| fish.outline.iter().copied().max_by(|p, q| a.distance(*p).total_cmp(&a.distance(*q))).unwrap();
    let tip = far(fish.centre);
    let ends = [tip, far(tip)].map(|p| fish.centre.lerp(p, 0.6));
    let split = json!({ "correction": { "do": "split", "n": 2, "points": ends.map(|p| [p.x, p.y]) } });
    assert_eq!(server.post("/mend", &ask(&hash, "Nell", &split)).status, 200);
    let halves: Vec<i64> = seed::fish(dir.path(), &hash)
        .iter()
        .filter(|r| before.iter().all(|b| b.id != r.id))
        .map(|r| r.id.number())
        .collect();
    assert_eq!(halves.len(), 2);
    halves.iter().for_each(|id| say(*id, "absent"));
    let other = before.iter().find(|r| r.n == 5).unwrap();
    let drop = json!({ "correction": { "do": "drop", "n": other.n } });
    assert_eq!(server.post("/mend", &ask(&hash, "Nell", &drop)).status, 200);
    let after = seed::fish(dir.path(), &hash);
    assert_eq!(after.iter().filter(|r| r.set_aside.is_none()).count(), before.len());
    let scored: Vec<i64> = after
        .iter()
        .filter(|r| r.set_aside.is_none() && !r.classes.is_empty() && !r.from_earlier)
        .map(|r| r.id.number())
        .collect();
    assert_eq!(scored, halves);
}

#[test]
fn a_correction_that_meets_nothing_is_refused_and_not_kept() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let nothing = json!({ "correction": { "do": "drop", "n": 99 } });
    let refused = server.post("/mend", &ask(&hash, "Nell", &nothing));
    assert_eq!((refused.status, refused.body.contains("no fish 99")), (409, true), "{}", refused.body);
    let book = broodhue::book::Book::open(dir.path()).unwrap();
    assert!(broodhue::book::corrections::of_photo(&book.read(), &hash).unwrap().is_empty());
}

#[test]
fn corners_that_can_be_no_card_s_are_refused_and_not_kept() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let kept = || {
        let book = broodhue::book::Book::open(dir.path()).unwrap();
        let card = broodhue::book::corrections::card_of_photo(&book.read(), &hash, None).unwrap();
        (card, broodhue::book::measurements::latest(&book.read(), &hash).unwrap())
    };
    let before = kept();
    for corners in [
        [[100.0, 100.0], [400.0, 100.0], [100.0, 300.0], [400.0, 300.0]],
        [[100.0, 100.0], [110.0, 100.0], [110.0, 110.0], [100.0, 110.0]],
        [[0.0, 0.0], [1e12, 0.0], [1e12, 1e12], [0.0, 1e12]],
    ] {
        let answer = server.post("/corners", &ask(&hash, "Nell", &json!({ "corners": corners })));
        assert!((400..500).contains(&answer.status), "{corners:?}: {} {}", answer.status, answer.body);
        assert!(answer.body.contains("corner") && answer.body.contains("hint"), "{}", answer.body);
    }
    assert_eq!(kept(), before);
}

#[test]
fn what_was_taken_back_elsewhere_is_caught_up_with_when_the_page_opens() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let drop = json!({ "correction": { "do": "drop", "n": 2 } });
    assert_eq!(server.post("/mend", &ask(&hash, "Nell", &drop)).status, 200);
    // The terminal takes it back, and measures nothing.
    let mut book = broodhue::book::Book::open(dir.path()).unwrap();
    book.write(|w| broodhue::book::decisions::undo(w, &seed::by("Nell"))).unwrap();
    assert_eq!(seed::fish(dir.path(), &hash).len(), 12);
    assert_eq!(server.get("/brood/K2-1").status, 200);
    assert_eq!(seed::fish(dir.path(), &hash).len(), 13);
}

#[test]
fn only_new_outlines_are_measured_and_the_result_is_that_of_the_whole_photo() {
    let picture = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K2-1-tray-a.jpg");
    let photo = broodhue::pipeline::open(&picture, Limits::default()).unwrap();
    let sheet = Sheet::starting().unwrap();
    let given = Given { sheet: &sheet, empty: None };
    let mut options = MeasureOptions { card_pitch_mm: Some(12.4), ..MeasureOptions::default() };
    let uncorrected = Uncorrected::measure(&photo, given, &options).unwrap();
    assert_eq!(
        uncorrected.corrected(&photo, given, &options).report,
        pipeline::measure(&photo, given, &options).unwrap().report
    );
    let drop = |n| Correction::Drop { n, was: None };
    options.fish.corrections = vec![drop(13), Correction::Merge { a: 1, b: 2, was: None }, drop(40)];
    let (quick, whole) =
        (uncorrected.corrected(&photo, given, &options), pipeline::measure(&photo, given, &options).unwrap());
    assert_eq!(quick.report, whole.report);
    assert_eq!(quick.unmet.iter().map(|unmet| unmet.asked).collect::<Vec<_>>(), [Asked::Correction(2)]);
    assert!(uncorrected.is_of(&photo, &sheet, &options), "corrections do not matter");
    assert!(!uncorrected.is_of(&photo, &sheet, &MeasureOptions::default()), "another pitch does");
}

/// Without the card's size a crumb passes for a fish and is dropped by hand; with it nobody takes the crumb for one, and the drop that is
/// replayed must not meet the fish that has its number now.
#[test]
fn a_correction_meets_the_same_thing_again_or_nothing() {
    let picture = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K4-1.jpg");
    let photo = broodhue::pipeline::open(&picture, Limits::default()).unwrap();
    let sheet = Sheet::starting().unwrap();
    let given = Given { sheet: &sheet, empty: None };
    let mut options = MeasureOptions::default();
    let found = pipeline::measure(&photo, given, &options).unwrap();
    let smallest = found.regions.iter().min_by(|a, b| a.area_px.total_cmp(&b.area_px)).unwrap();
    assert!(smallest.area_px < 300.0, "no crumb among them");
    options.fish.corrections = vec![Correction::Drop { n: smallest.n, was: None }];
    let dropped = pipeline::measure(&photo, given, &options).unwrap();
    assert_eq!((dropped.regions.len(), dropped.unmet.len()), (found.regions.len() - 1, 0));
    let kept = dropped.report.options.clone();
    assert_eq!(kept.as_said(), options);
    let again = pipeline::measure(&photo, given, &kept).unwrap();
    assert_eq!(again.report, dropped.report);
    let sized = MeasureOptions { card_pitch_mm: Some(12.4), ..kept };
    let without = MeasureOptions { card_pitch_mm: Some(12.4), ..MeasureOptions::default() };
    let (replayed, plain) =
        (pipeline::measure(&photo, given, &sized).unwrap(), pipeline::measure(&photo, given, &without).unwrap());
    assert_eq!((replayed.regions.len(), replayed.unmet.len()), (plain.regions.len(), 1));
}

#[test]
fn a_photo_whose_original_is_lost_is_called_by_its_name() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    std::fs::remove_file(dir.path().join(format!("originals/{}/{hash}.jpg", &hash[..2]))).unwrap();
    let server = Server::start(dir.path());
    let drop = json!({ "correction": { "do": "drop", "n": 2 } });
    let corners = json!({ "corners": [[0, 0], [100, 0], [100, 100], [0, 100]] });
    for (path, what) in [("/mend", drop), ("/corners", corners)] {
        let answer = server.post(path, &ask(&hash, "Nell", &what));
        assert!(answer.status >= 400 && !answer.body.contains(&hash), "{}", answer.body);
        assert!(
            answer.body.contains("K2-1-tray-a.jpg (brood K2-1 on 2026-03-07): its original is missing"),
            "{}",
            answer.body
        );
    }
}
