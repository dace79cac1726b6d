//! Tables in and out, counts and evidence.

use broodhue::book::evidence::{self, Question};
use broodhue::book::export::{self, Table};
use broodhue::book::photos::Subject;
use broodhue::book::regions;
use broodhue::book::scores::{self, Said};
use broodhue::book::tallies::{self, Selection};
use broodhue::book::{Book, broods, decisions, departures, fish, import, photos, revise, sittings};
use broodhue::counts::Counts;
use broodhue::error::Result;
use broodhue::inherit::{Class, EarlierSire, Origin};
use broodhue::sheet::Sheet;
use broodhue::units::{Sex, View};
use jiff::civil::date;

use crate::common::{HASH, book, by, day, keep, keep_photo, seen, sitting};

/// Invented: a red-free daughter and her brothers, taken from a notebook.
const FISH: &str = "fish,sex,line,cross,born,red,pure\n\
    s1,m,Lowmere,,,red,\n\
    d1,f,Tarnwick,,,red,yes\n\
    d2,f,Tarnwick,,,red,\n\
    '=x,f,,KA,,absent,\n";

const COUNTS: &str = "cross,sire,dam,brood,dropped,axis,class,sex,count,earlier_sire\n\
    KA,s1,d1+d2,KA-1,2026-01-02,red,absent,m,7,?\n\
    KA,s1,d1+d2,KA-1,2026-01-02,red,red,m,18,?\n\
    KA,s1,d1+d2,KA-1,2026-01-02,red,red,,3,?\n";

fn take_fish(book: &mut Book, text: &str) -> Result<import::Taken> {
    book.write(|w| import::fish(w, "fish.csv", text.as_bytes(), &by("Ann")))
}

fn new_and_known(taken: import::Taken) -> (usize, usize) {
    (taken.new, taken.known)
}

fn take_counts(book: &mut Book, text: &str) -> Result<import::Taken> {
    book.write(|w| import::counts(w, "counts.csv", text.as_bytes(), false, &by("Ann")))
}

fn count(book: &Book, axis: &str) -> Counts {
    let selection = Selection { cross: None, view: View::Above, include_proposed: false };
    let axes = [axis.to_owned()];
    tallies::counts(&book.read(), &Sheet::starting().unwrap(), &axes, &selection).unwrap().remove(0)
}

#[test]
fn a_notebook_comes_in_and_counts() {
    let (_dir, mut book) = book();
    assert_eq!(new_and_known(take_fish(&mut book, FISH).unwrap()), (4, 0));
    assert_eq!(fish::get(&book.read(), "=x").unwrap().cross.as_deref(), Some("KA"));
    take_counts(&mut book, COUNTS).unwrap();
    assert_eq!(new_and_known(take_counts(&mut book, COUNTS).unwrap()), (0, 1));
    let counts = count(&book, "red");
    let numbers: Vec<_> = counts.rows.iter().map(|r| (r.place.sex, r.class.as_str(), r.confirmed, r.of)).collect();
    let male = Some(Sex::Male);
    assert_eq!(numbers, [(None, "absent", 0, 3), (None, "red", 3, 3), (male, "absent", 7, 25), (male, "red", 18, 25)]);
}

#[test]
fn evidence_holds_the_pedigree_the_pooled_dams_and_the_earlier_sire() {
    let (_dir, mut book) = book();
    take_fish(&mut book, FISH).unwrap();
    take_counts(&mut book, COUNTS).unwrap();
    let question = Question { axis: "red", target: "absent", middle: None, view: View::Above };
    let (found, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
    let brood = found.broods.iter().find(|b| b.name == "KA-1").unwrap();
    assert_eq!((brood.counts.male, brood.counts.unsexed), ([18, 0, 7], [3, 0, 0]));
    assert_eq!((brood.parents.len(), brood.earlier_sires()), (2, [EarlierSire::Unknown].into()));
    let of = |name: &str| &found.breeders[found.find(name).unwrap()];
    assert_eq!((of("=x").class, of("d1").class, of("d1").pure), (Some(Class::Target), Some(Class::Other), true));
    // Her brood may have four pairs of parents: she stands in an uncounted one of the same parents.
    let Origin::Brood(own) = of("=x").origin else { panic!("a founder") };
    assert_eq!((found.broods[own].counts.total(), &found.broods[own].parents), (0, &brood.parents));
}

/// A fish recorded without its brood comes out of its cross's only one, or the only one dropped when it was born.
#[test]
fn a_fish_is_tied_to_the_brood_it_can_only_come_from() {
    let (_dir, mut book) = book();
    take_fish(&mut book, "fish,sex,cross,born\ns1,m,,\nd1,f,,\nx,f,KA,\ny,m,KA,2026-01-02\n").unwrap();
    let head = "cross,sire,dam,brood,dropped,axis,class,sex,count\n";
    let origin = |book: &Book, name: &str| -> String {
        let question = Question { axis: "red", target: "absent", middle: None, view: View::Above };
        let (found, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
        let Origin::Brood(own) = found.breeders[found.find(name).unwrap()].origin else { panic!("a founder") };
        found.broods[own].name.clone()
    };
    take_counts(&mut book, &format!("{head}KA,s1,d1,KA-1,2026-01-02,red,absent,,7\n")).unwrap();
    assert_eq!((origin(&book, "x").as_str(), origin(&book, "y").as_str()), ("KA-1", "KA-1"));
    take_counts(&mut book, &format!("{head}KA,s1,d1,KA-2,2026-02-02,red,absent,,5\n")).unwrap();
    assert_eq!((origin(&book, "x").as_str(), origin(&book, "y").as_str()), ("KA, brood of x", "KA-1"));
}

#[test]
fn a_bad_row_is_named_and_nothing_of_the_file_is_taken() {
    let (_dir, mut book) = book();
    let error = take_fish(&mut book, &FISH.replace("d2,f", "d2,w")).unwrap_err();
    assert_eq!(error.to_string(), "fish.csv, line 4: column sex: 'w' is no sex; hint: write m, f or nothing");
    assert!(fish::get(&book.read(), "s1").is_err());
    take_fish(&mut book, FISH).unwrap();
    for (from, to, said) in [
        (",18,", ",-1,", "line 3: column count: '-1' is no count"),
        (",18,", ",1.5,", "line 3: column count: '1.5' is no count"),
        ("KA,s1,d1+d2,KA-1,2026-01-02,red,red,,3", "KA,s1,d1+zz,KA-1,2026-01-02,red,red,,3", "line 4: column dam"),
        ("KA,s1,d1+d2", "KA,d1,d1+d2", "line 2, column sire: 'd1': cross KA: d1 is female"),
        ("red,red,m", "red,absent,m", "line 3: column class: 'absent' stands twice"),
        ("s1,d1+d2,KA-1", "nobody,d1+d2,KA-1", "line 2, column sire: 'nobody'"),
    ] {
        let error = take_counts(&mut book, &COUNTS.replacen(from, to, 3)).unwrap_err();
        assert!(error.to_string().contains(said), "{error}");
        assert!(broods::known(&book.read(), "KA-1").is_err());
    }
}

#[test]
fn a_table_that_knows_more_fills_in_what_the_book_does_not_know() {
    let (_dir, mut book) = book();
    assert_eq!(new_and_known(take_fish(&mut book, "fish,sex,cross\nA,,KA\nB,m,\n").unwrap()), (2, 0));
    let more =
        "fish,sex,line,cross,brood,born,pure,note,red\nA,f,Lowmere,KA,KA-1,2026-01-02,yes,pale,absent\nB,m,,,,,,,\n";
    let taken = take_fish(&mut book, more).unwrap();
    assert_eq!((taken.new, taken.known, taken.filled_in.len()), (0, 1, 1));
    let said = taken.filled_in[0].1.join("; ");
    assert!(said.contains("born 2026-01-02") && said.contains("red absent"), "{said}");
    let a = fish::get(&book.read(), "A").unwrap();
    assert_eq!((a.sex, a.line.as_deref(), a.brood.as_deref()), (Some(Sex::Female), Some("Lowmere"), Some("KA-1")));
    assert_eq!((a.born, a.pure, a.note.as_deref()), (Some(date(2026, 1, 2)), true, Some("pale")));
    assert_eq!(a.classes["red"], "absent");
    assert_eq!(new_and_known(take_fish(&mut book, more).unwrap()), (0, 2));
    // What an empty place says is no want of knowledge.
    for (row, said, command) in [
        ("B,KA,,", "column cross: 'KA' but B is in the book as a founder", "broodhue fish set B --cross CROSS"),
        ("B,,died,", "column gone: 'died' but B is in the book as one that is here", "broodhue fish left B --moved"),
        ("B,,,bent", "column set_aside: 'bent' but B is in the book and not set aside", "fish set-aside B --why"),
    ] {
        let error = take_fish(&mut book, &format!("fish,cross,gone,set_aside\n{row}\n")).unwrap_err().to_string();
        assert!(error.contains(said) && error.contains(command), "{error}");
    }
}

#[test]
fn two_rows_that_contradict_each_other_are_named() {
    let (_dir, mut book) = book();
    let error = take_fish(&mut book, "fish,sex,born\nF1,m,\nF1,f,\n").unwrap_err().to_string();
    assert!(error.contains("fish.csv, line 3: column sex: 'f' but line 2 says 'm' for the same fish F1"), "{error}");
    assert!(!error.contains("in the book with"), "{error}");
    assert!(fish::get(&book.read(), "F1").is_err());
    take_fish(&mut book, "fish,sex\nF1,m\n").unwrap();
    let error = take_fish(&mut book, "fish,sex\nF1,f\n").unwrap_err().to_string();
    assert!(error.contains("but F1 is in the book with 'm'") && error.contains("broodhue fish set F1"), "{error}");
}

#[test]
fn a_day_of_departure_without_a_departure_is_named() {
    let (_dir, mut book) = book();
    let error = take_fish(&mut book, "fish,gone,gone_on\nB,,2026-01-01\n").unwrap_err();
    let said = "fish.csv, line 2: column gone_on: '2026-01-01' is a day, but gone is empty; hint: write moved or died";
    assert_eq!(error.to_string(), said);
    assert!(fish::get(&book.read(), "B").is_err());
}

#[test]
fn an_undo_after_a_table_of_fish_takes_nothing_back() {
    let (_dir, mut book) = book();
    book.write(|w| fish::set_aside(w, "Lowmere-1", Some("bent spine"), &by("Ann"))).unwrap();
    let table = "fish,gone,gone_on\nB,died,2026-01-01\nC,died,2026-02-01\n";
    assert_eq!(new_and_known(take_fish(&mut book, table).unwrap()), (2, 0));
    let error = book.write(|w| decisions::undo(w, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("table fish.csv") && error.hint.contains("fish left"), "{error}");
    let gone = |book: &Book, name: &str| fish::get(&book.read(), name).unwrap().gone;
    assert_eq!((gone(&book, "B").as_deref(), gone(&book, "C").as_deref()), (Some("died"), Some("died")));
    // Taken in once more, it brings nothing, and is no act of its own.
    book.write(|w| fish::set_gone(w, "Lowmere-1", Some(fish::Gone::Moved), None, &by("Ann"))).unwrap();
    assert_eq!(new_and_known(take_fish(&mut book, table).unwrap()), (0, 2));
    book.write(|w| decisions::undo(w, &by("Ann"))).unwrap();
    assert_eq!(gone(&book, "Lowmere-1"), None);
}

#[test]
fn a_brood_that_is_in_the_book_otherwise_is_named() {
    let (_dir, mut book) = book();
    take_fish(&mut book, FISH).unwrap();
    take_counts(&mut book, COUNTS).unwrap();
    for (from, to, column, known) in [
        ("2026-01-02", "2026-01-03", "dropped", "'2026-01-02'"),
        ("d1+d2", "d2", "dam", "'d1+d2'"),
        (",?", ",s1", "earlier_sire", "with ?"),
    ] {
        let error = take_counts(&mut book, &COUNTS.replace(from, to)).unwrap_err().to_string();
        assert!(error.contains("line 2") && error.contains(column) && error.contains(known), "{error}");
    }
}

#[test]
fn what_is_taken_back_later_leaves_fewer_gone_between_two_sittings() {
    let (_dir, mut book) = book();
    let first = date(2026, 3, 7);
    let leave = |book: &mut Book, number, on| {
        book.write(|w| departures::record(w, "K1-1", fish::Gone::Moved, None, number, on, &by("Ann"))).unwrap();
    };
    leave(&mut book, 2, first);
    leave(&mut book, -2, date(2026, 3, 21));
    let brood = broods::known(&book.read(), "K1-1").unwrap();
    let sheet = Sheet::starting().unwrap();
    let since = sittings::since(&book.read(), &sheet, &brood, (first, date(2026, 3, 21)), View::Above).unwrap();
    assert_eq!((since[0].moved, since[0].missing()), (-2, 2));
}

#[test]
fn other_counts_by_hand_need_to_be_asked_for() {
    let (_dir, mut book) = book();
    take_fish(&mut book, FISH).unwrap();
    take_counts(&mut book, COUNTS).unwrap();
    let other = COUNTS.replace(",18,", ",20,");
    assert!(take_counts(&mut book, &other).unwrap_err().hint.contains("--replace"));
    book.write(|w| import::counts(w, "counts.csv", other.as_bytes(), true, &by("Ann"))).unwrap();
    assert_eq!(count(&book, "red").rows[3].confirmed, 20);
}

#[test]
fn an_empty_tray_takes_no_sittings_place_and_unscored_fish_say_so() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "full")]);
    let photo = photos::named(&book.read(), HASH).unwrap();
    let regions = regions::of_photo(&book.read(), &photo).unwrap();
    book.write(|w| scores::accept(w, &scores::acceptable(&regions, 0.0), None, &by("Ann"))).unwrap();
    let later = Subject::Sitting { brood: "K1-1".into(), day: date(2026, 6, 1) };
    keep_photo(&mut book, &HASH.replace("00", "aa"), &later, &[]);
    assert_eq!(count(&book, "red-body").rows[0].confirmed, 2);
    let brood = broods::known(&book.read(), "K1-1").unwrap();
    assert_eq!(regions::of_latest_sitting(&book.read(), &brood, View::Above).unwrap().len(), 2);
    keep_photo(&mut book, &HASH.replace("00", "bb"), &later, &[seen(1, 0.0, 0.0, "full")]);
    let counts = count(&book, "red-body");
    assert!(counts.rows.is_empty() && counts.warnings[0].contains("takes the place of 2026-05-02"), "{counts:?}");
}

#[test]
fn a_brood_counted_by_hand_and_from_photos_counts_once() {
    let (_dir, mut book) = book();
    let by_hand = "cross,sire,dam,brood,dropped,axis,class,sex,count\nK1,,,K1-1,2026-01-01,red-body,full,,9\n";
    take_counts(&mut book, by_hand).unwrap();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "full")]);
    assert_eq!(count(&book, "red-body").rows[0].confirmed, 9);
    let photo = photos::named(&book.read(), HASH).unwrap();
    let id = regions::of_photo(&book.read(), &photo).unwrap()[0].id;
    let said = Said { classes: vec![("red-body".into(), "absent".into())], sex: Some(Sex::Male) };
    book.write(|w| scores::correct(w, id, &said, None, &by("Ann"))).unwrap();
    let counts = count(&book, "red-body");
    let row = &counts.rows[0];
    assert_eq!((row.class.as_str(), row.confirmed, row.of, row.place.sitting), ("absent", 1, 1, Some(day())));
    assert_eq!((counts.excluded.unconfirmed, row.open), (1, 1));
    assert!(counts.warnings[0].contains("by hand and from photos"), "{:?}", counts.warnings);
}

#[test]
fn young_fish_are_later_and_those_that_left_widen_the_bounds() {
    let (_dir, mut book) = book();
    let late = broods::NewBrood {
        name: "K1-2".into(),
        cross: "K1".into(),
        dropped_from: Some(date(2026, 4, 20)),
        young: Some(12),
        ..broods::NewBrood::default()
    };
    book.write(|w| broods::add(w, &late)).unwrap();
    let subject = photos::Subject::Sitting { brood: "K1-2".into(), day: day() };
    keep_photo(&mut book, HASH, &subject, &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "full")]);
    book.write(|w| departures::record(w, "K1-2", fish::Gone::Moved, Some(Sex::Male), 4, day(), &by("Ann"))).unwrap();
    let counts = count(&book, "red-body");
    assert!(counts.rows.is_empty());
    assert_eq!((counts.excluded.unsettled, counts.excluded.moved, counts.excluded.not_seen), (2, 4, 6));
}

#[test]
fn young_that_left_after_the_sitting_are_of_those_not_seen_there() {
    let (_dir, mut book) = book();
    let twelve = revise::BroodChange { young: revise::To::Is(12), ..Default::default() };
    book.write(|w| revise::brood(w, "K1-1", &twelve, &by("Ann"))).unwrap();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "full")]);
    let later = date(2026, 6, 1);
    let mut leave = |what, number| {
        book.write(|w| departures::record(w, "K1-1", what, None, number, later, &by("Ann"))).unwrap();
        let excluded = count(&book, "red-body").excluded;
        (excluded.moved, excluded.died, excluded.not_seen)
    };
    assert_eq!(leave(fish::Gone::Died, 3), (0, 3, 7));
    // Of twelve two were seen: two of those that left since were among them, and are counted as they were seen.
    assert_eq!(leave(fish::Gone::Moved, 9), (9, 1, 0));
}

#[test]
fn a_later_sitting_replaces_an_earlier_one_except_for_fish_that_left_between() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "full")]);
    let later = photos::Subject::Sitting { brood: "K1-1".into(), day: date(2026, 6, 2) };
    let second = HASH.replace("00", "ff");
    let third = HASH.replace("00", "ee");
    // Two trays of one sitting add up.
    keep_photo(&mut book, &second, &later, &[seen(1, 0.0, 0.0, "full")]);
    keep_photo(&mut book, &third, &later, &[seen(1, 0.0, 0.0, "absent")]);
    let brood = broods::known(&book.read(), "K1-1").unwrap();
    let all = regions::of_brood(&book.read(), &brood).unwrap();
    let open = scores::acceptable(&all, 0.5);
    let first = all[0].id;
    book.write(|w| scores::accept(w, &open, None, &by("Ann"))).unwrap();
    let numbers = |book: &Book| -> Vec<_> {
        count(book, "red-body").rows.iter().map(|r| (r.place.sitting, r.class.clone(), r.confirmed)).collect()
    };
    let june = Some(date(2026, 6, 2));
    assert_eq!(numbers(&book), [(june, "absent".into(), 1), (june, "full".into(), 1)]);
    book.write(|w| scores::set_gone(w, first, fish::Gone::Moved, None, &by("Ann"))).unwrap();
    assert_eq!(numbers(&book)[1], (Some(day()), "full".into(), 1));
}

fn exported(book: &Book, table: Table) -> export::Exported {
    export::table(&book.read(), &Sheet::starting().unwrap(), table).unwrap()
}

#[test]
fn exported_fish_can_be_imported_again() {
    let (_dir, mut book) = book();
    take_fish(&mut book, FISH).unwrap();
    let text = export::csv(&exported(&book, Table::Fish).rows);
    assert!(text.contains("'=x,f"), "{text}");
    assert_eq!(new_and_known(take_fish(&mut book, &text).unwrap()), (0, 6));
}

/// A book's fish and counts move into an empty book with all that their tables can hold, an axis named like a formula too.
#[test]
fn exported_tables_make_the_same_fish_and_broods_elsewhere() {
    const KEPT: &str = "fish,sex,line,cross,brood,born,=1+1,pure,virgin_on,isolated_since,gone,gone_on,set_aside,note\n\
        s1,m,Lowmere,,,,red,,,,moved,,,\n\
        d1,f,Tarnwick,,,,red,yes,,,,,,\"two, of\nthe lot\"\n\
        d2,f,Tarnwick,,,,red,yes,,,died,2026-05-04,,\n\
        x,f,,KA,KA-1,2026-01-02,absent,,2026-03-01,2026-01-20,,,bent spine,\n";
    let counts = COUNTS.replace("earlier_sire", "earlier_sire,young").replace(",?", ",?,31").replace("d1+d2", "d2");
    let (_dir, mut first) = book();
    assert_eq!(new_and_known(take_fish(&mut first, KEPT).unwrap()), (4, 0));
    take_counts(&mut first, &counts).unwrap();
    let x = fish::get(&first.read(), "x").unwrap();
    assert_eq!((x.brood.as_deref(), x.set_aside.as_deref()), (Some("KA-1"), Some("bent spine")));
    assert_eq!((x.virgin_on, x.isolated_since), (Some(date(2026, 3, 1)), Some(date(2026, 1, 20))));
    let brood = broods::known(&first.read(), "KA-1").unwrap();
    assert_eq!((brood.young, brood.dropped_to, brood.dams.len()), (Some(31), Some(date(2026, 1, 2)), 1));

    let folder = tempfile::tempdir().unwrap();
    let mut second = Book::create(&folder.path().join("b")).unwrap();
    let text = export::csv(&exported(&first, Table::Fish).rows);
    assert!(text.lines().next().unwrap().contains(",'=1+1,"), "{text}");
    take_fish(&mut second, &text).unwrap();
    take_counts(&mut second, &export::csv(&exported(&first, Table::Counts(View::Above)).rows)).unwrap();
    assert_eq!(fish::list(&second.read()).unwrap(), fish::list(&first.read()).unwrap());
    let moved = broods::known(&second.read(), "KA-1").unwrap();
    assert_eq!((moved.young, moved.dropped_to, moved.dams.len()), (brood.young, brood.dropped_to, 1));
    assert_eq!(moved.earlier_sire, brood.earlier_sire);
    let error = take_fish(&mut second, &text.replace("died", "gone")).unwrap_err();
    assert!(error.to_string().contains("'gone' is neither moved nor died"), "{error}");
}

/// A drop of several days comes back with both of them, and so a fish born in between can still be mended there.
#[test]
fn a_drop_of_several_days_goes_out_and_comes_in_whole() {
    let (_dir, mut first) = book();
    take_fish(&mut first, "fish,sex,cross,brood,born\ns1,m,,,\nd1,f,,,\nd2,f,,,\nx,f,KA,KA-1,2026-01-02\n").unwrap();
    let counts = "cross,sire,dam,brood,dropped,dropped_from,axis,class,sex,count\n\
        KA,s1,d1,KA-1,2026-01-05,2026-01-01,red,absent,,3\n";
    take_counts(&mut first, counts).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut second = Book::create(&folder.path().join("b")).unwrap();
    take_fish(&mut second, &export::csv(&exported(&first, Table::Fish).rows)).unwrap();
    take_counts(&mut second, &export::csv(&exported(&first, Table::Counts(View::Above)).rows)).unwrap();
    let brood = broods::known(&second.read(), "KA-1").unwrap();
    assert_eq!((brood.dropped_from, brood.dropped_to), (Some(date(2026, 1, 1)), Some(date(2026, 1, 5))));
    let late = counts.replace("2026-01-05,2026-01-01", "2026-01-05,2026-01-03");
    let mut third = Book::create(&folder.path().join("c")).unwrap();
    take_fish(&mut third, &export::csv(&exported(&first, Table::Fish).rows)).unwrap();
    let error = take_counts(&mut third, &late).unwrap_err();
    assert!(error.to_string().contains("before its brood KA-1 was dropped"), "{error}");
}

#[test]
fn exported_counts_can_be_imported_again() {
    let (_dir, mut book) = book();
    take_fish(&mut book, FISH).unwrap();
    take_counts(&mut book, COUNTS).unwrap();
    let text = export::csv(&exported(&book, Table::Counts(View::Above)).rows);
    assert!(text.contains("d1+d2") && text.contains("sitting"), "{text}");
    assert_eq!(new_and_known(take_counts(&mut book, &text).unwrap()), (0, 1));
}

#[test]
fn counts_go_out_by_view_and_say_what_they_left_out() {
    let (_dir, mut book) = book();
    keep(&mut book, (&Sheet::starting().unwrap(), View::Side), HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let photo = photos::named(&book.read(), HASH).unwrap();
    let regions = regions::of_photo(&book.read(), &photo).unwrap();
    book.write(|w| scores::accept(w, &scores::acceptable(&regions, 0.0), None, &by("Ann"))).unwrap();
    let side = exported(&book, Table::Counts(View::Side));
    assert_eq!((side.rows[0]["axis"].as_str(), side.rows[0]["count"].as_u64()), (Some("red-body"), Some(1)));
    assert_eq!(side.notes, Vec::<String>::new());
    let above = exported(&book, Table::Counts(View::Above));
    assert!(above.rows.is_empty());
    assert_eq!(above.notes, ["brood K1-1: 1 photo from another view not counted"]);
}

#[test]
fn flags_are_a_list_and_a_blank_cell_where_there_are_none() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let rows = exported(&book, Table::Measurements).rows;
    assert_eq!(rows[0]["flags"], serde_json::json!([]));
    let text = export::csv(&rows);
    let column = text.lines().next().unwrap().split(',').position(|c| c == "flags").unwrap();
    assert_eq!(text.lines().nth(1).unwrap().split(',').nth(column), Some(""), "{text}");
}

#[test]
fn broods_of_two_crosses_may_share_a_name() {
    let (_dir, mut book) = book();
    take_fish(&mut book, FISH).unwrap();
    take_counts(&mut book, &COUNTS.replace("KA-1", "1")).unwrap();
    take_counts(&mut book, &COUNTS.replace("KA-1", "1").replace("KA,", "KB,")).unwrap();
    assert!(broods::known(&book.read(), "1").unwrap_err().hint.contains("KA/1, KB/1"));
    assert_eq!(broods::known(&book.read(), "KB/1").unwrap().cross, "KB");
    assert_eq!(count(&book, "red").rows.len(), 8);
    let question = Question { axis: "red", target: "absent", middle: None, view: View::Above };
    let (found, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
    let labels: Vec<&str> =
        found.broods.iter().map(|brood| brood.label.as_str()).filter(|l| l.ends_with("/1")).collect();
    assert_eq!(labels, ["KA/1", "KB/1"]);
}
