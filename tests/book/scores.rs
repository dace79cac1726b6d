//! Scores: only a person makes them, they never move to another fish, and each can be taken back.

use std::collections::BTreeMap;

use broodhue::book::decisions::Within;
use broodhue::book::photos::Subject;
use broodhue::book::regions::{self, Region};
use broodhue::book::scores::{self, Said};
use broodhue::book::{Book, Write, broods, decisions, fish as records, photos, revise, taken_back};
use broodhue::sheet;
use broodhue::units::Sex;
use jiff::civil::date;

use crate::common::{HASH, book, by, keep_photo, keep_with_sheet, seen, sitting};

fn fish(book: &Book) -> Vec<Region> {
    let photo = photos::named(&book.read(), HASH).unwrap();
    regions::of_photo(&book.read(), &photo).unwrap()
}

fn class(book: &Book, n: u32) -> Option<String> {
    let all = fish(book);
    let one = all.iter().find(|r| r.n == n).unwrap();
    one.classes.get("red-body").map(|c| c.class().to_owned())
}

fn say(book: &mut Book, who: &str, n: u32, class: &str) {
    let id = fish(book).iter().find(|r| r.n == n).unwrap().id;
    let said = Said { classes: vec![("red-body".into(), class.into())], sex: None };
    book.write(|w| scores::correct(w, id, &said, Some("seen by eye"), &by(who))).unwrap();
}

#[test]
fn a_proposal_is_no_score_until_a_person_agrees() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "undecided")]);
    assert_eq!(class(&book, 1), None);
    let open = scores::acceptable(&fish(&book), 0.9);
    assert_eq!(open.len(), 1, "the undecided one cannot be agreed to");
    book.write(|w| scores::accept(w, &open, None, &by("Ann"))).unwrap();
    assert_eq!((class(&book, 1).as_deref(), class(&book, 2)), (Some("full"), None));
    assert!(scores::acceptable(&fish(&book), 0.9).is_empty());
}

#[test]
fn undo_goes_back_step_by_step_and_outlives_a_restart() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    say(&mut book, "Ann", 1, "full");
    say(&mut book, "Ann", 1, "reduced");
    say(&mut book, "Ann", 1, "absent");
    let folder = book.dir().to_path_buf();
    drop(book);
    let mut book = Book::open(&folder).unwrap();
    for expected in [Some("reduced"), Some("full"), None] {
        assert!(book.write(|w| decisions::undo(w, &by("Ann"))).unwrap().is_some());
        assert_eq!(class(&book, 1).as_deref(), expected);
    }
    assert!(book.write(|w| decisions::undo(w, &by("Ann"))).unwrap().is_none());
    assert_eq!(decisions::latest(&book.read(), 100).unwrap().iter().filter(|d| d.what == "undo").count(), 3);
}

#[test]
fn undo_does_not_override_what_another_person_said_since() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    say(&mut book, "Ann", 1, "full");
    say(&mut book, "Ben", 1, "absent");
    book.write(|w| decisions::undo(w, &by("Ann"))).unwrap();
    assert_eq!(class(&book, 1).as_deref(), Some("absent"));
}

#[test]
fn undo_leaves_a_class_that_another_person_came_round_to() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    for (who, class) in [("Ann", "full"), ("Ben", "absent"), ("Ben", "full")] {
        say(&mut book, who, 1, class);
    }
    book.write(|w| decisions::undo(w, &by("Ann"))).unwrap();
    assert_eq!(class(&book, 1).as_deref(), Some("full"));
    // Once Ben has taken back both, nobody says anything any more.
    for expected in [Some("absent"), None] {
        book.write(|w| decisions::undo(w, &by("Ben"))).unwrap();
        assert_eq!(class(&book, 1).as_deref(), expected);
    }
}

#[test]
fn an_undo_gives_the_class_back_to_who_said_it() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    say(&mut book, "Tom", 1, "full");
    say(&mut book, "Nell", 1, "absent");
    let undo = book.write(|w| decisions::undo(w, &by("Nell"))).unwrap().unwrap();
    let stands = fish(&book)[0].classes["red-body"].clone();
    assert_eq!((stands.class(), stands.by()), ("full", "Tom"));
    let lines = taken_back::lines(&book.read(), undo.id).unwrap();
    assert_eq!(lines, ["brood K1-1, tray.jpg: fish 1: red-body full (was absent)"]);
    // A second scorer's table names the same person.
    let id = fish(&book)[0].id;
    book.write(|w| scores::opinion(w, id, "red-body", "absent", &by("Nell"))).unwrap();
    let both = scores::two_scores(&book.read(), "red-body", "Nell").unwrap();
    assert_eq!((both[0].first.class(), both[0].first.by()), ("full", "Tom"));
}

#[test]
fn an_undo_of_a_brood_leaves_others_alone() {
    let (_dir, mut book) = book();
    let other = broods::NewBrood { name: "K1-2".into(), cross: "K1".into(), ..broods::NewBrood::default() };
    book.write(|w| broods::add(w, &other)).unwrap();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let day = date(2026, 5, 2);
    let second = HASH.replace("00", "ff");
    keep_photo(&mut book, &second, &Subject::Sitting { brood: "K1-2".into(), day }, &[seen(1, 0.0, 0.0, "full")]);
    say(&mut book, "Ann", 1, "absent");
    let accept = |w: &Write<'_>| {
        let open = scores::acceptable(&regions::of_photo(w, &photos::named(w, &second)?)?, 0.5);
        scores::accept(w, &open, None, &by("Ann"))
    };
    book.write(accept).unwrap();
    let undo = |book: &mut Book, name: &str| {
        let brood = broods::known(&book.read(), name).unwrap();
        book.write(|w| decisions::undo_within(w, &by("Ann"), Within::Brood(&brood))).unwrap()
    };
    assert!(undo(&mut book, "K1-1").is_some());
    assert_eq!(class(&book, 1), None);
    assert!(undo(&mut book, "K1-1").is_none(), "nothing else of that brood");
    let last = undo(&mut book, "K1-2").unwrap();
    let lines = taken_back::lines(&book.read(), last.id).unwrap();
    assert_eq!(lines, ["brood K1-2, tray.jpg: fish 1: red-body open (was full)"]);
}

#[test]
fn a_record_is_named_and_no_older_decision_is_taken_back_in_its_place() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    say(&mut book, "Ann", 1, "absent");
    let line = revise::FishChange { line: revise::To::Is("Lowmere".into()), ..Default::default() };
    book.write(|w| revise::fish(w, "Lowmere-1", &line, &by("Ann"))).unwrap();
    let error = book.write(|w| decisions::undo(w, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("'Lowmere-1: line Lowmere'") && error.hint.contains("fish set"), "{error}");
    assert_eq!(class(&book, 1).as_deref(), Some("absent"));
    let photo = photos::named(&book.read(), HASH).unwrap();
    assert!(book.write(|w| decisions::undo_within(w, &by("Ann"), Within::Photo(&photo))).unwrap().is_some());
    assert_eq!(class(&book, 1), None);
    // A photo that was moved to another fish is a record too.
    say(&mut book, "Ann", 1, "absent");
    book.write(|w| photos::shows_instead(w, &photo, &Subject::Portrait("Lowmere-1".into()), &by("Ann"))).unwrap();
    let error = book.write(|w| decisions::undo(w, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("tray.jpg: fish Lowmere-1") && error.hint.contains("--instead"), "{error}");
}

/// Two fish in the portrait of one: neither is known to be it until the other is set aside.
#[test]
fn a_portrait_of_two_fish_says_nothing_of_the_one_it_is_named_after() {
    let (_dir, mut book) = book();
    let two = [seen(1, 0.0, 0.0, "absent"), seen(2, 50.0, 0.0, "absent")];
    keep_photo(&mut book, HASH, &Subject::Portrait("Lowmere-1".into()), &two);
    say(&mut book, "Ann", 1, "absent");
    let own = |book: &Book| records::get(&book.read(), "Lowmere-1").unwrap().classes["red-body"].clone();
    let crowded = |book: &Book| {
        let photo = photos::find(&book.read(), HASH).unwrap().unwrap();
        regions::crowded(&book.read(), &photo).unwrap()
    };
    assert_eq!(own(&book), "full");
    assert!(regions::of_portraits(&book.read(), "Lowmere-1").unwrap().is_empty());
    assert!(crowded(&book).unwrap().message.starts_with("shows 2 fish"));
    let other = fish(&book)[1].id;
    book.write(|w| scores::set_aside(w, other, Some("another fish"), &by("Ann"))).unwrap();
    assert_eq!(own(&book), "absent");
    assert!(crowded(&book).is_none() && !regions::of_portraits(&book.read(), "Lowmere-1").unwrap().is_empty());
}

#[test]
fn a_portraits_class_is_the_fishs_until_it_is_taken_back_or_set_aside() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &Subject::Portrait("Lowmere-1".into()), &[seen(1, 0.0, 0.0, "full")]);
    let own = |book: &Book| records::get(&book.read(), "Lowmere-1").unwrap().classes.get("red-body").cloned();
    let own = |book: &Book, class: &str| assert_eq!(own(book).as_deref(), Some(class));
    say(&mut book, "Ann", 1, "absent");
    own(&book, "absent");
    book.write(|w| decisions::undo(w, &by("Ann"))).unwrap();
    own(&book, "full");
    say(&mut book, "Ann", 1, "absent");
    for (reason, expected) in [(Some("another fish"), "full"), (None, "absent")] {
        book.write(|w| photos::set_aside(w, HASH, reason, &by("Ann"))).unwrap();
        own(&book, expected);
    }
    let id = fish(&book)[0].id;
    for (reason, expected) in [(Some("a shadow"), "full"), (None, "absent")] {
        book.write(|w| scores::set_aside(w, id, reason, &by("Ann"))).unwrap();
        own(&book, expected);
    }
    // Taking back a later word of the portrait brings back what holds without it, whichever of the two logs that stands in.
    let recorded = |book: &mut Book, class: &str| {
        let change = revise::FishChange {
            classes: BTreeMap::from([("red-body".into(), Some(class.into()))]),
            ..Default::default()
        };
        book.write(|w| revise::fish(w, "Lowmere-1", &change, &by("Ann"))).unwrap()
    };
    recorded(&mut book, "reduced");
    say(&mut book, "Ann", 1, "full");
    own(&book, "full");
    book.write(|w| decisions::undo(w, &by("Ann"))).unwrap();
    own(&book, "reduced");
    // The portrait's own class, said once more, holds again.
    say(&mut book, "Ann", 1, "absent");
    own(&book, "absent");
    // What is written down of the fish afterwards holds, even where it was written down once before.
    let said = recorded(&mut book, "full");
    assert!(said[0].contains("full (was absent)"), "{said:?}");
    own(&book, "full");
}

#[test]
fn measuring_again_keeps_a_score_with_its_fish() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "full")]);
    say(&mut book, "Ann", 1, "absent");
    let before = fish(&book);
    // The same two fish a little shifted, found in the other order, and a third.
    let again = [seen(1, 51.0, 0.0, "reduced"), seen(2, 1.0, 1.0, "full"), seen(3, 50.0, 60.0, "full")];
    let difference = keep_photo(&mut book, HASH, &sitting(), &again);
    assert_eq!((difference.same, difference.new, difference.lost), (2, 1, 0));
    assert_eq!(difference.proposals, ["fish 1: red-body full → reduced"]);
    assert_eq!((class(&book, 1), class(&book, 2).as_deref()), (None, Some("absent")));
    assert_eq!(fish(&book).iter().find(|r| r.n == 2).unwrap().id, before[0].id);
}

#[test]
fn a_scored_fish_that_is_seen_as_two_keeps_its_outline_and_its_score() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 50.0, "full")]);
    say(&mut book, "Ann", 1, "absent");
    let halves = [seen(1, -8.0, 0.0, "full"), seen(2, 12.0, 0.0, "full")];
    let difference = keep_photo(&mut book, HASH, &sitting(), &halves);
    assert_eq!((difference.same, difference.new, difference.lost, difference.kept), (0, 2, 1, vec![1]));
    let kept: Vec<_> = fish(&book).into_iter().filter(|r| r.from_earlier).collect();
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].classes["red-body"].class(), "absent");
    assert!(fish(&book).iter().filter(|r| !r.from_earlier).all(|r| r.classes.is_empty()));
}

#[test]
fn a_second_scorer_leaves_the_first_score_alone() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    say(&mut book, "Ann", 1, "full");
    let id = fish(&book)[0].id;
    book.write(|w| scores::opinion(w, id, "red-body", "reduced", &by("Ben"))).unwrap();
    assert_eq!(class(&book, 1).as_deref(), Some("full"));
    let two = scores::two_scores(&book.read(), "red-body", "Ben").unwrap();
    assert_eq!((two[0].first.class(), two[0].second.class()), ("full", "reduced"));
}

#[test]
fn a_class_that_the_sheet_does_not_have_is_refused() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let id = fish(&book)[0].id;
    let said = Said { classes: vec![("red-body".into(), "pink".into())], sex: None };
    let error = book.write(|w| scores::correct(w, id, &said, None, &by("Ann"))).unwrap_err();
    assert!(error.hint.contains("full, reduced, absent"), "{error}");
}

#[test]
fn an_axis_that_only_males_show_is_proposed_once_a_person_says_male() {
    let (_dir, mut book) = book();
    let sheet = sheet::parse(
        "test",
        "name = \"invented\"\nconfidence = 0.7\n[[axis]]\nname = \"tail-edge\"\nmales_only = true\n\
         [[axis.class]]\nname = \"red\"\nwhen = [{ feature = \"red_share.finnage\", above = 0.1 }]\n\
         [[axis.class]]\nname = \"plain\"\notherwise = true\n",
    )
    .unwrap();
    let mut one = seen(1, 0.0, 0.0, "full");
    one.features.red_share.finnage = Some(0.5);
    one.proposals[0].axis = "tail-edge".into();
    one.proposals[0].class = sheet::NOT_SHOWN.into();
    keep_with_sheet(&mut book, &sheet, HASH, &sitting(), &[one]);
    let proposed = |book: &Book| fish(book)[0].proposals[0].class.clone();
    assert_eq!(proposed(&book), sheet::NOT_SHOWN);
    let id = fish(&book)[0].id;
    let male = Said { classes: Vec::new(), sex: Some(Sex::Male) };
    book.write(|w| scores::correct(w, id, &male, None, &by("Ann"))).unwrap();
    assert_eq!(proposed(&book), "red");
}
