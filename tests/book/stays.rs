//! How long parents were together, and in whom stored sperm lies: who met the male, who left last, who was dead, apart or in another
//! cross by then.

use broodhue::book::broods::{self, EarlierSire, NewBrood};
use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::evidence::{self, Question};
use broodhue::book::export::{self, Table};
use broodhue::book::fish::{self, Gone, NewFish};
use broodhue::book::{Book, aside, import, odd_days, paternity};
use broodhue::inherit::{Evidence, Model, ScoringError, SexSystem, SexSystems, built_in};
use broodhue::sheet::Sheet;
use broodhue::units::{Sex, View};
use jiff::civil::{Date, date};
use tempfile::TempDir;

use crate::common::{by, new_fish};

fn on(month: i8, day: i8) -> Date {
    date(2026, month, day)
}

fn from(day: Date) -> Stay {
    Stay { day_in: Some(day), day_out: None }
}

fn until(first: Date, last: Date) -> Stay {
    Stay { day_in: Some(first), day_out: Some(last) }
}

fn male(name: &str) -> NewFish {
    new_fish(name, Sex::Male, None)
}

fn female(name: &str) -> NewFish {
    new_fish(name, Sex::Female, None)
}

/// Of class absent.
fn absent(fish: NewFish) -> NewFish {
    NewFish { classes: [("red-body".to_owned(), "absent".to_owned())].into(), ..fish }
}

/// Without any hidden allele.
fn pure(fish: NewFish) -> NewFish {
    NewFish { pure: true, ..fish }
}

type Days<'a> = &'a [(&'a str, Stay)];

/// A cross with its sires, its dams and their days.
type Of<'a> = (&'a str, Days<'a>, Days<'a>);

/// Those fish and crosses, and a brood N of the last cross dropped on that day.
fn made(fish: &[NewFish], crosses: &[Of<'_>], dropped: Date, earlier: Option<&str>) -> (TempDir, Book) {
    let dir = tempfile::tempdir().unwrap();
    let mut book = Book::create(&dir.path().join("b")).unwrap();
    book.write(|w| {
        fish.iter().try_for_each(|one| fish::add(w, one, &by("Ann")))?;
        for (name, sires, dams) in crosses {
            let new = NewCross {
                name: (*name).into(),
                sires: sires.iter().map(|(name, stay)| ((*name).to_owned(), *stay)).collect(),
                dams: dams.iter().map(|(name, stay)| (Dam::Fish((*name).into()), *stay)).collect(),
                ..NewCross::default()
            };
            crosses::add(w, &new)?;
        }
        let brood = NewBrood {
            name: "N".into(),
            cross: crosses.last().map(|(name, ..)| (*name).to_owned()).unwrap_or_default(),
            dropped_from: Some(dropped),
            dropped_to: Some(dropped),
            earlier_sire: earlier.map(EarlierSire::named),
            ..NewBrood::default()
        };
        broods::add(w, &brood)
    })
    .unwrap();
    (dir, book)
}

fn died(book: &mut Book, name: &str, day: Date) {
    book.write(|w| fish::set_gone(w, name, Some(Gone::Died), Some(day), &by("Ann"))).unwrap();
}

fn found(book: &Book) -> paternity::Paternity {
    paternity::of_brood(&broods::known(&book.read(), "N").unwrap())
}

/// The earlier sire by name.
fn earlier(book: &Book) -> Option<String> {
    found(book).earlier.map(|sire| sire.name().to_owned())
}

/// Which dams may have young of his.
fn holders(book: &Book) -> Vec<String> {
    found(book).matings.iter().filter(|m| m.stored.is_some()).map(|m| m.dam.to_string()).collect()
}

/// The possible dams and every male they may have had it by.
fn parents(book: &Book) -> (Vec<String>, Vec<String>) {
    let found = found(book);
    let sires = found.matings.iter().flat_map(|m| m.sires.iter().flatten().cloned()).collect();
    (found.matings.iter().map(|m| m.dam.to_string()).collect(), sires)
}

/// Counts 20 full and 9 absent for N of that cross, and weighs it under an autosomal recessive at an error of 1 %.
fn count(book: &mut Book, cross: &str) {
    let text = format!(
        "cross,sire,dam,brood,dropped,axis,class,sex,count\n{cross},,,N,,red-body,full,,20\n{cross},,,N,,red-body,absent,,9\n"
    );
    book.write(|w| import::counts(w, "counts.csv", text.as_bytes(), false, &by("Ann"))).unwrap();
}

fn ln_likelihood(book: &Book) -> f64 {
    let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
    let (evidence, _): (Evidence, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
    let mode = built_in().unwrap().into_iter().find(|mode| mode.name == "autosomal-recessive").unwrap();
    let model = Model::new(mode, SexSystems::Known(SexSystem::Xy));
    model.ln_likelihood(&evidence, &ScoringError::even(0.01, 2)).unwrap()
}

/// V, a virgin who shows the class, and D2, who had been with S2 who shows it, are both with the pure S3. Neither pair with S3 gives such
/// young, nor D2 with S2: all nine are mis-scored. By hand: ln(29 over 9) + 9 ln 0.01 + 20 ln 0.99, since 29 over 9 is 10 015 005.
#[test]
fn a_dam_holds_no_sperm_of_a_male_whom_only_another_dam_met() {
    let fish = || {
        let v = NewFish { virgin_on: Some(on(3, 1)), ..absent(female("V")) };
        [v, pure(female("D2")), absent(male("S2")), pure(male("S3"))]
    };
    let a: Of<'_> = ("A", &[("S2", Stay::default())], &[("D2", until(on(1, 1), on(2, 28)))]);
    let c: Of<'_> = ("C", &[("S3", Stay::default())], &[("V", from(on(3, 2))), ("D2", from(on(3, 2)))]);
    let by_hand = 10_015_005_f64.ln() + 9.0 * 0.01_f64.ln() + 20.0 * 0.99_f64.ln();
    for named in [None, Some("S2")] {
        let (_dir, mut book) = made(&fish(), &[a, c], on(4, 10), named);
        assert_eq!((earlier(&book).as_deref(), holders(&book)), (Some("S2"), vec!["D2".to_owned()]));
        count(&mut book, "C");
        assert!((ln_likelihood(&book) - by_hand).abs() < 1e-9, "{}", ln_likelihood(&book));
    }
}

/// Of two dams who came from different males each holds her own's sperm, and the last to leave is the earlier sire of a table. A male whom
/// the breeder names may have been with any dam, but for a virgin of whom nothing says so.
#[test]
fn whose_sperm_a_dam_holds_is_told_by_whom_she_was_with_and_by_the_breeder() {
    let males = ["S1", "S2", "S3"].map(male);
    let virgin = NewFish { virgin_on: Some(on(1, 1)), ..female("V") };
    let fish: Vec<NewFish> = males.into_iter().chain([female("D1"), female("D2"), virgin]).collect();
    let a: Of<'_> = ("A", &[("S1", Stay::default())], &[("D1", until(on(1, 2), on(2, 28)))]);
    let b: Of<'_> = ("B", &[("S2", Stay::default())], &[("D2", until(on(1, 2), on(2, 20)))]);
    let c: Of<'_> = ("C", &[("S3", Stay::default())], &[("D1", from(on(3, 2))), ("D2", from(on(3, 2)))]);
    let (_dir, book) = made(&fish, &[a, b, c], on(4, 10), None);
    let both = vec!["D1".to_owned(), "D2".to_owned()];
    assert_eq!((earlier(&book).as_deref(), holders(&book)), (Some("S1"), both));
    let held: Vec<_> = found(&book).matings.iter().map(|m| m.stored.as_ref().unwrap().name().to_owned()).collect();
    assert_eq!(held, ["S1", "S2"]);
    let note = &found(&book).notes[0];
    assert!(
        note.contains("several sires: D1 was also with S1 (cross A, until 2026-02-28), D2 was also with S2 (cross B"),
        "{note}"
    );
    assert!(!note.contains("cannot be counted in"), "{note}");
    let (_dir, book) = made(&fish, &[a, b, c], on(4, 10), Some("?"));
    assert_eq!((earlier(&book).as_deref(), holders(&book).len()), (Some("?"), 2));
    // A virgin until New Year, and then with S1 alone before S3.
    let of_v: Of<'_> = ("A", &[("S1", Stay::default())], &[("V", until(on(1, 2), on(2, 28)))]);
    let c: Of<'_> = ("C", &[("S3", Stay::default())], &[("V", from(on(3, 2)))]);
    let told = |named| earlier(&made(&fish, &[of_v, c], on(4, 10), Some(named)).1);
    assert_eq!([told("S1"), told("?"), told("S2")], [Some("S1".into()), Some("?".into()), None]);
    let (_dir, book) = made(&fish, &[of_v, c], on(4, 10), Some("S2"));
    assert!(found(&book).notes[0].contains("its earlier sire S2 is not counted in: V was a virgin until 2026-01-01"));
}

/// D1 came from S1, who left last, and D2 from S2; S2 and D2 alone show the class. Against plain sums over D2's share of the brood, over
/// that of stored sperm, and over what D2 and S2 are if one of them was mis-scored; half of the weight lies on no stored sperm
/// (docs/modes.md).
#[test]
fn each_dam_may_have_young_of_the_male_she_came_from() {
    let fish = [pure(female("D1")), absent(female("D2")), pure(male("S1")), absent(male("S2")), pure(male("S3"))];
    let a: Of<'_> = ("A", &[("S1", Stay::default())], &[("D1", until(on(1, 2), on(2, 28)))]);
    let b: Of<'_> = ("B", &[("S2", Stay::default())], &[("D2", until(on(1, 2), on(2, 20)))]);
    let c: Of<'_> = ("C", &[("S3", Stay::default())], &[("D1", from(on(3, 2))), ("D2", from(on(3, 2)))]);
    let (_dir, mut book) = made(&fish, &[a, b, c], on(4, 10), None);
    count(&mut book, "C");
    let seen = |share: f64| {
        let target = 0.01 + 0.98 * share;
        10_015_005.0 * target.powi(9) * (1.0 - target).powi(20)
    };
    const STEPS: u32 = 1000;
    let place = |i: u32| (f64::from(i) + 0.5) / f64::from(STEPS);
    // Two mutant alleles, one or none, as likely as each other before the fish is scored as showing two.
    let given = [(1.0, 0.99 / 1.01), (0.5, 0.01 / 1.01), (0.0, 0.01 / 1.01)];
    let mut stored = 0.0;
    for (of_dam, dam) in given {
        for (of_sire, sire) in given {
            let share = of_dam * of_sire;
            let over: f64 =
                (0..STEPS).flat_map(|i| (0..STEPS).map(move |j| place(i) * place(j))).map(|w| seen(w * share)).sum();
            stored += dam * sire * over / f64::from(STEPS * STEPS);
        }
    }
    let by_hand = (0.5 * seen(0.0) + 0.5 * stored).ln();
    assert!((ln_likelihood(&book) - by_hand).abs() < 1e-5, "{} {by_hand}", ln_likelihood(&book));
}

/// S0 visited for five days while S1 was with her; S1 was there for six weeks more, whether his first day is known or not.
#[test]
fn the_earlier_sire_is_the_male_who_left_last() {
    let fish = [female("D"), male("S0"), male("S1"), male("S2")];
    let b: Of<'_> = ("B", &[("S0", Stay::default())], &[("D", until(on(1, 15), on(1, 20)))]);
    let c: Of<'_> = ("C", &[("S2", Stay::default())], &[("D", from(on(3, 2)))]);
    for s1 in [until(on(1, 1), on(3, 1)), Stay { day_in: None, day_out: Some(on(3, 1)) }] {
        let days = [("D", s1)];
        let a: Of<'_> = ("A", &[("S1", Stay::default())], &days);
        assert_eq!(earlier(&made(&fish, &[a, b, c], on(4, 10), None).1).as_deref(), Some("S1"));
    }
    // Both stayed on past the last mating of a drop on 10 April, which was on 20 March: then who came last.
    let both = |s1: Stay, s0: Stay| {
        let (of_s1, of_s0) = ([("D", s1)], [("D", s0)]);
        let a: Of<'_> = ("A", &[("S1", Stay::default())], &of_s1);
        let b: Of<'_> = ("B", &[("S0", Stay::default())], &of_s0);
        earlier(&made(&fish, &[a, b, c], on(4, 10), None).1)
    };
    let late = both(until(on(1, 1), on(5, 1)), until(on(1, 15), on(4, 1)));
    assert_eq!(late.as_deref(), Some("S0"));
}

/// D9 died in December and dropped nothing in April; had she been the only dam, a day is wrong.
#[test]
fn a_dam_who_had_died_dropped_no_brood() {
    let fish = [female("D"), female("D9"), male("S1")];
    let stay = from(date(2025, 10, 1));
    let both: Of<'_> = ("K", &[("S1", Stay::default())], &[("D", stay), ("D9", stay)]);
    let (_dir, mut book) = made(&fish, &[both], on(4, 20), None);
    died(&mut book, "D9", date(2025, 12, 1));
    assert_eq!(parents(&book).0, ["D"]);
    died(&mut book, "D", on(4, 20));
    assert_eq!(parents(&book).0, ["D"]);
    died(&mut book, "D", on(4, 19));
    assert_eq!(parents(&book).0, ["D", "D9"]);
    let brood = broods::known(&book.read(), "N").unwrap();
    let said = odd_days::of_brood(&book.read(), &brood).unwrap();
    let of = |name: &str, day: &str| {
        let text =
            format!("fish {name}: died on {day}, but brood N of hers was dropped on 2026-04-20: check both days");
        assert!(said.contains(&text), "{said:?}");
    };
    of("D9", "2025-12-01");
    of("D", "2026-04-19");
}

/// S1 died two years before the brood: nothing of his was stored. Dead in December, he was not beside S2 in March.
#[test]
fn a_male_who_had_died_is_neither_sire_nor_beside_another() {
    let fish = [female("D9"), male("S1"), male("S2")];
    let a: Of<'_> = ("A", &[("S1", Stay::default())], &[("D9", from(date(2024, 1, 1)))]);
    let b: Of<'_> = ("B", &[("S2", Stay::default())], &[("D9", from(on(1, 1)))]);
    let (_dir, mut book) = made(&fish, &[a, b], on(4, 20), None);
    assert_eq!(earlier(&book).as_deref(), Some("S1"));
    died(&mut book, "S1", date(2024, 3, 1));
    // The cross has no day for him: she was with him from January on, until he died.
    assert_eq!((earlier(&book), parents(&book).1), (None, vec!["S2".to_owned()]));
    let stay = from(date(2025, 10, 1));
    let k: Of<'_> = ("K", &[("S1", stay), ("S2", stay)], &[("D9", stay)]);
    let (_dir, mut book) = made(&fish, &[k], on(4, 20), None);
    assert_eq!(parents(&book).1, ["S1", "S2"]);
    died(&mut book, "S1", date(2025, 12, 1));
    assert_eq!((parents(&book).1, earlier(&book).as_deref()), (vec!["S2".to_owned()], Some("S1")));
}

/// Apart from 1 December, or in another cross by then: who was put into the old cross on 10 December never met her.
#[test]
fn isolation_and_the_next_cross_end_a_stay_in_the_broods_own_cross_too() {
    let december = |day| date(2025, 12, day);
    let isolated = NewFish { isolated_since: Some(december(1)), ..female("I") };
    let fish = [isolated, female("D"), male("S1"), male("S2"), male("S3")];
    let october = from(date(2025, 10, 1));
    let k: Of<'_> = ("K", &[("S1", october), ("S2", from(december(20)))], &[("I", october)]);
    let (_dir, book) = made(&fish, &[k], on(3, 1), None);
    assert_eq!((parents(&book).1, earlier(&book)), (vec!["S1".to_owned()], None));
    let b: Of<'_> = ("B", &[("S3", Stay::default())], &[("D", from(december(1)))]);
    let a: Of<'_> = ("A", &[("S1", october), ("S2", from(december(10)))], &[("D", october)]);
    let (_dir, book) = made(&fish, &[b, a], on(1, 20), None);
    assert_eq!((parents(&book).1, earlier(&book).as_deref()), (vec!["S1".to_owned()], Some("S3")));
    // Of a brood of A without a day nothing says that it was begotten after she had left.
    let (_dir, mut book) = made(&fish, &[b, a], on(1, 20), None);
    let young = NewFish { cross: Some("A".into()), ..female("young") };
    book.write(|w| aside::brood(w, "N", Some("none"), &by("Ann")).and_then(|_| fish::add(w, &young, &by("Ann"))))
        .unwrap();
    let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
    let (evidence, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
    let parents = evidence.parents_of(evidence.find("young").unwrap());
    let names: Vec<&str> = parents.iter().map(|fish| evidence.breeders[*fish].fish.as_str()).collect();
    assert!(!names.contains(&"S3"), "{names:?}");
}

/// One after the other, in one cross or in three: the last is the sire, the one before him the earlier sire, and the first is named.
#[test]
fn three_sires_in_turn_count_in_one_cross_as_in_three() {
    let fish = [female("D"), male("S1"), male("S2"), male("S3")];
    let days = [("S1", from(on(1, 1))), ("S2", from(on(2, 1))), ("S3", from(on(3, 1)))];
    let one: Of<'_> = ("K", &days, &[("D", from(on(1, 1)))]);
    let each = days.map(|(_, stay)| [("D", stay)]);
    let sires = days.map(|(name, _)| [(name, Stay::default())]);
    let three: [Of<'_>; 3] = [("A", &sires[0], &each[0]), ("B", &sires[1], &each[1]), ("C", &sires[2], &each[2])];
    for crosses in [&[one][..], &three[..]] {
        let (_dir, book) = made(&fish, crosses, on(4, 20), None);
        let found = found(&book);
        assert_eq!((found.sire(), earlier(&book).as_deref(), &found.doubt), (Some("S3"), Some("S2"), &None));
        assert!(found.notes[0].contains("S1 (cross ") && found.notes[0].contains("cannot be counted in"), "{found:?}");
        let (_dir, book) = made(&fish, crosses, on(4, 20), Some("S1"));
        assert_eq!(earlier(&book).as_deref(), Some("S1"));
    }
}

/// Dropped nine days after S2 came, all of it is stored sperm of S1: a table of counts makes the same of it in another book, and is known
/// in its own.
#[test]
fn a_brood_out_of_stored_sperm_goes_out_and_comes_in_with_its_sire() {
    let fish = [female("D"), male("S1"), male("S2")];
    let a: Of<'_> = ("A", &[("S1", Stay::default())], &[("D", until(on(1, 1), on(2, 28)))]);
    let b: Of<'_> = ("B", &[("S2", Stay::default())], &[("D", from(on(3, 1)))]);
    let (dir, mut book) = made(&fish, &[a, b], on(3, 10), None);
    assert_eq!((found(&book).sire(), earlier(&book)), (Some("S1"), None));
    count(&mut book, "B");
    let out = |table| export::csv(&export::table(&book.read(), &Sheet::starting().unwrap(), table).unwrap().rows);
    let (fish, counts) = (out(Table::Fish), out(Table::Counts(View::Above)));
    let mut second = Book::create(&dir.path().join("second")).unwrap();
    let take = |w: &broodhue::book::Write<'_>| {
        import::fish(w, "fish.csv", fish.as_bytes(), &by("Ann"))?;
        import::counts(w, "counts.csv", counts.as_bytes(), false, &by("Ann"))
    };
    second.write(take).unwrap();
    assert_eq!((found(&second).sire(), earlier(&second)), (Some("S1"), None));
    assert!((ln_likelihood(&second) - ln_likelihood(&book)).abs() < 1e-12);
    let again = book.write(|w| import::counts(w, "counts.csv", counts.as_bytes(), false, &by("Ann"))).unwrap();
    assert_eq!((again.new, again.known), (0, 1));
}
