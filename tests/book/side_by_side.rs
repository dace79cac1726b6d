//! Broods of males side by side: which of them fathered the young is open, the cross is not. Numbers are counted by hand.

use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::export::{self, Exported, Table};
use broodhue::book::tallies::{self, Selection};
use broodhue::book::{Book, broods, fish, import, paternity};
use broodhue::counts::Counts;
use broodhue::sheet::Sheet;
use broodhue::units::{Sex, View};
use jiff::civil::date;
use tempfile::TempDir;

use crate::common::{book, by, new_fish};

const COUNTS: &str = "cross,sire,dam,brood,dropped,axis,class,sex,count\n\
    KS,,D1+D2,N,2026-04-20,red-body,full,,20\n\
    KS,,D1+D2,N,2026-04-20,red-body,absent,,9\n";

fn from(month: i8, day: i8) -> Stay {
    Stay { day_in: Some(date(2026, month, day)), day_out: None }
}

/// S1 in cross KS from 1 January on with D1, S2 and D2 on these days, and a brood of 20 April with 29 fish.
fn of_two(s2: Stay, d2: Stay) -> (TempDir, Book) {
    let (dir, mut book) = book();
    let new = NewCross {
        name: "KS".into(),
        sires: [("S1", from(1, 1)), ("S2", s2)].map(|(name, stay)| (name.to_owned(), stay)).to_vec(),
        dams: [("D1", from(1, 1)), ("D2", d2)].map(|(name, stay)| (Dam::Fish(name.to_owned()), stay)).to_vec(),
        ..NewCross::default()
    };
    book.write(|w| {
        for (name, sex) in [("S1", Sex::Male), ("S2", Sex::Male), ("D1", Sex::Female), ("D2", Sex::Female)] {
            fish::add(w, &new_fish(name, sex, None), &by("Ann"))?;
        }
        crosses::add(w, &new)?;
        import::counts(w, "counts.csv", COUNTS.as_bytes(), false, &by("Ann"))
    })
    .unwrap();
    (dir, book)
}

fn counts(book: &Book) -> Counts {
    let selection = Selection { cross: Some("KS"), view: View::Above, include_proposed: false };
    let axes = ["red-body".to_owned()];
    tallies::counts(&book.read(), &Sheet::starting().unwrap(), &axes, &selection).unwrap().remove(0)
}

fn exported(book: &Book) -> Exported {
    export::table(&book.read(), &Sheet::starting().unwrap(), Table::Counts(View::Above)).unwrap()
}

/// What `inherit` weighs, `counts` counts and `export` writes, with word of the two names that fit into no column.
#[test]
fn they_count_for_their_cross_and_go_out() {
    let (_dir, book) = of_two(from(1, 1), from(1, 1));
    let found = counts(&book);
    let numbers: Vec<_> = found.rows.iter().map(|r| (r.class.as_str(), r.confirmed, r.of)).collect();
    assert_eq!(numbers, [("absent", 9, 29), ("full", 20, 29)]);
    assert_eq!((found.excluded.doubtful_paternity, &found.warnings), (0, &vec![]));
    let Exported { rows, notes } = exported(&book);
    assert_eq!(rows.iter().map(|row| row["count"].as_u64()).collect::<Vec<_>>(), [Some(9), Some(20)]);
    assert!(rows.iter().all(|row| row["sire"].is_null() && row["earlier_sire"].is_null()), "{rows:?}");
    assert_eq!(
        notes,
        [
            "red-body: brood N: S1 and S2 may each have fathered it, and a table names one sire at most, so it names none: where it \
          is read in, write them down with their days (`broodhue cross add KS --more`)"
        ]
    );
}

/// Read into another book and with both males written down there, the brood has the fathers it had.
#[test]
fn they_come_back_as_they_went() {
    let (_dir, first) = of_two(from(1, 1), from(1, 1));
    let folder = tempfile::tempdir().unwrap();
    let mut second = Book::create(&folder.path().join("b")).unwrap();
    let read = |book: &Book, table| export::table(&book.read(), &Sheet::starting().unwrap(), table).unwrap().rows;
    let tables = [Table::Fish, Table::Counts(View::Above)].map(|table| export::csv(&read(&first, table)));
    second
        .write(|w| {
            import::fish(w, "fish.csv", tables[0].as_bytes(), &by("Ann"))?;
            import::counts(w, "counts.csv", tables[1].as_bytes(), false, &by("Ann"))?;
            crosses::add_parents(w, "KS", &["S1", "S2"].map(|name| (name.to_owned(), from(1, 1))), &[])
        })
        .unwrap();
    let of = |book: &Book| paternity::of_brood(&broods::in_cross(&book.read(), "KS", "N").unwrap().unwrap());
    assert_eq!((of(&second).matings, of(&second).doubt), (of(&first).matings, None));
    assert_eq!(counts(&second).rows, counts(&first).rows);
    second.write(|w| import::counts(w, "counts.csv", tables[1].as_bytes(), false, &by("Ann"))).unwrap();
}

/// The mating behind 20 April lies between 21 and 30 March. S2 left on the 25th and D2 came on the 26th: D1 was with both males in
/// that time, D2 with S1 alone.
#[test]
fn dams_of_different_males_are_different_crosses_still() {
    let (_dir, book) = of_two(Stay { day_out: Some(date(2026, 3, 25)), ..from(1, 1) }, from(3, 26));
    let why = paternity::of_brood(&broods::known(&book.read(), "N").unwrap()).why_not_one();
    assert_eq!(why.as_deref(), Some("its possible dams were with different sires: S1, S2"));
    assert_eq!((counts(&book).rows.len(), counts(&book).excluded.doubtful_paternity), (0, 29));
    assert!(exported(&book).rows.is_empty());
}
