//! Out of which parents a fish without a brood of its own came, and which dams a brood names.

use broodhue::book::crosses::{Dam, NewCross, Stay};
use broodhue::book::evidence::{self, Question};
use broodhue::book::{Book, broods, crosses, fish, import, revise};
use broodhue::error::{Error, Result};
use broodhue::inherit::{EarlierSire, Evidence, Origin};
use broodhue::sheet::Sheet;
use broodhue::units::View;
use jiff::civil::date;

use crate::common::{book, by};

const FISH: &str =
    "fish,sex,cross,red\nS1,m,,red\nS2,m,,absent\nD1,f,,red\nD2,f,,red\nD3,f,,red\nE1,f,,red\nX1-a,m,X1,absent\n";
const HEAD: &str = "cross,sire,dam,brood,dropped,axis,class,sex,count,earlier_sire\n";
const FIRST: &str = "X1,S1,D1+D2,X1-1,2025-07-01,red,absent,,5,S2\n";

fn take(book: &mut Book, rows: &str) -> Result<import::Taken> {
    book.write(|w| import::counts(w, "counts.csv", format!("{HEAD}{rows}").as_bytes(), false, &by("Ann")))
}

fn gathered(rows: &str) -> Evidence {
    let (_dir, mut book) = book();
    book.write(|w| import::fish(w, "fish.csv", FISH.as_bytes(), &by("Ann"))).unwrap();
    take(&mut book, rows).unwrap();
    let question = Question { axis: "red", target: "absent", middle: None, view: View::Above };
    evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap().0
}

/// The names of the possible dams of a fish, and of the earlier sire.
fn parents(found: &Evidence, fish: &str) -> (Vec<String>, Option<String>) {
    let one = found.breeders.iter().find(|b| b.fish.starts_with(fish)).unwrap();
    let Origin::Brood(own) = one.origin else { panic!("a founder") };
    let name = |at: usize| found.breeders[at].fish.clone();
    let males = found.broods[own].earlier_sires().into_iter().map(|male| match male {
        EarlierSire::Known(sire) => name(sire),
        EarlierSire::Unknown => "?".to_owned(),
    });
    let males: Vec<String> = males.collect();
    assert!(males.len() < 2, "{males:?}");
    let earlier = males.into_iter().next();
    (found.broods[own].parents.iter().map(|pair| name(pair.dam)).collect(), earlier)
}

/// The table says that X1-1 is of D1 or D2, and some of it of S2: so is whoever came out of that brood, named or not.
#[test]
fn a_fish_or_sister_of_the_only_brood_has_its_parents() {
    let of_first = (vec!["D1".to_owned(), "D2".to_owned()], Some("S2".to_owned()));
    let found = gathered(&format!("{FIRST}X2,X1-a,E1,X2-1,2025-12-01,red,red,,11,\n"));
    assert_eq!(parents(&found, "X1-a"), of_first);
    let third = "X1,,D3,X1-2,2025-09-01,red,red,,3,";
    let sister = "X3,S1,a sister of cross X1,X3-1,2025-12-01,red,red,,4,\n";
    assert_eq!(parents(&gathered(&format!("{FIRST}{sister}")), "a sister of cross X1"), of_first);
    // Of two broods she may be of any dam, and of the earlier sire where both name him.
    let any = |earlier: Option<&str>| {
        let dams = ["D1", "D2", "D3"].map(str::to_owned).to_vec();
        (dams, earlier.map(str::to_owned))
    };
    let both = gathered(&format!("{FIRST}{third}S2\n{sister}"));
    assert_eq!(parents(&both, "a sister of cross X1"), any(Some("S2")));
    assert_eq!(parents(&both, "X1-a"), any(Some("S2")));
    assert_eq!(parents(&gathered(&format!("{FIRST}{third}\n{sister}")), "a sister of cross X1"), any(None));
}

fn dams(book: &Book, brood: &str) -> Vec<String> {
    broods::known(&book.read(), brood).unwrap().dams.iter().map(|d| d.dam.to_string()).collect()
}

#[test]
fn two_unnamed_sisters_named_with_a_brood_are_two() {
    let (_dir, mut book) = book();
    let sister = || Dam::SisterOf("K1".into());
    let both = [sister(), sister()].map(|dam| (dam, Stay::default())).to_vec();
    let named = (Dam::Fish("Tarnwick-1".into()), Stay::default());
    let dams_of_cross = both.into_iter().chain([named]).collect();
    let cross = NewCross { name: "K2".into(), dams: dams_of_cross, ..NewCross::default() };
    book.write(|w| crosses::add(w, &cross)).unwrap();
    let mut add = |name: &str, dams: &[Dam]| -> Result<(), Error> {
        let new = broods::NewBrood { name: name.into(), cross: "K2".into(), dams: dams.to_vec(), ..Default::default() };
        book.write(|w| broods::add(w, &new))
    };
    add("K2-1", &[sister(), sister()]).unwrap();
    let fewer = add("K2-2", &[sister(), sister(), sister()]).unwrap_err().to_string();
    assert!(fewer.contains("named 3 times") && fewer.contains("only 2"), "{fewer}");
    let twice = Dam::Fish("Tarnwick-1".into());
    assert!(add("K2-3", &[twice.clone(), twice]).unwrap_err().to_string().contains("twice"));
    assert_eq!(dams(&book, "K2-1"), ["a sister of cross K1"; 2]);
}

/// A table opens the cross that unnamed dams came from, with as many of them as it names; a named dam stands once.
#[test]
fn a_table_brings_unnamed_sisters_and_no_dam_twice() {
    let (_dir, mut book) = book();
    let row = "A2,,a sister of cross Z1+a sister of cross Z1,A2-1,2025-07-01,red,red,,3,\n";
    take(&mut book, row).unwrap();
    assert_eq!(dams(&book, "A2-1"), ["a sister of cross Z1"; 2]);
    assert_eq!(take(&mut book, row).unwrap().known, 1);
    let twice = take(&mut book, "A3,,Tarnwick-1+Tarnwick-1,A3-1,2025-07-01,red,red,,3,\n").unwrap_err().to_string();
    assert!(twice.contains("line 2") && twice.contains("dam") && twice.contains("twice"), "{twice}");
}

/// In an older order of things, or by chance, one fish is called like two with a plus sign between them.
#[test]
fn a_name_that_is_one_dam_and_two_is_refused() {
    let (_dir, mut book) = book();
    let one = "fish,sex\nx+y,f\nx,f\n";
    book.write(|w| import::fish(w, "fish.csv", one.as_bytes(), &by("Ann"))).unwrap();
    let row = |dam: &str, brood: &str| format!("A4,,{dam},{brood},2025-07-01,red,red,,3,\n");
    take(&mut book, &row("x+y", "A4-1")).unwrap();
    assert_eq!(dams(&book, "A4-1"), ["x+y"]);
    book.write(|w| import::fish(w, "fish.csv", b"fish,sex\ny,f\n", &by("Ann"))).unwrap();
    let both = take(&mut book, &row("x+y", "A4-2")).unwrap_err().to_string();
    assert!(both.contains("'x+y' is one fish by its name, and several by theirs"), "{both}");
    take(&mut book, &row("y+x", "A4-2")).unwrap();
    assert_eq!(dams(&book, "A4-2"), ["y", "x"]);
    for name in ["none", "?"] {
        let table = format!("fish,sex\n{name},f\n");
        let refused =
            book.write(|w| import::fish(w, "fish.csv", table.as_bytes(), &by("Ann"))).unwrap_err().to_string();
        assert!(refused.contains("line 2, column fish") && refused.contains("stands for"), "{refused}");
    }
}

#[test]
fn no_fish_is_born_after_it_left() {
    let (_dir, mut book) = book();
    let (left, born) = (date(2025, 1, 16), date(2025, 7, 8));
    book.write(|w| fish::set_gone(w, "Lowmere-1", Some(fish::Gone::Died), Some(left), &by("Ann"))).unwrap();
    let change = revise::FishChange { born: revise::To::Is(born), ..Default::default() };
    let said = book.write(|w| revise::fish(w, "Lowmere-1", &change, &by("Ann"))).unwrap_err().to_string();
    assert!(said.contains("2025-01-16") && said.contains("2025-07-08"), "{said}");
}

#[test]
fn an_unknown_brood_in_a_table_of_fish_is_named_with_its_column() {
    let (_dir, mut book) = book();
    let text = b"fish,brood\nq,Q9-1\n";
    let said = book.write(|w| import::fish(w, "fish.csv", text, &by("Ann"))).unwrap_err().to_string();
    assert!(said.contains("line 2") && said.contains("brood") && said.contains("Q9-1"), "{said}");
}
