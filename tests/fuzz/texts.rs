//! Text that people write or other programs hand over: card, sheet, mode and trait files, tables, measured lines.

use broodhue::book::{Book, import};
use broodhue::card::{KnownColour, Layout, file as card_file};
use broodhue::error::{Error, Result};
use broodhue::inherit::traits::{EXAMPLE, parse_traits};
use broodhue::inherit::{self, BUILT_IN};
use broodhue::pipeline::line;
use broodhue::sheet::{self, Sheet, Subject};

use crate::records::by;
use crate::run::fuzz;

/// What TOML and CSV are made of, and numbers at their edges.
const WORDS: [&str; 30] = [
    "[[",
    "]]",
    "[",
    "]",
    "=",
    "\"",
    "'''",
    "\n",
    "\r\n",
    "#",
    ",",
    ";",
    ".",
    "{",
    "}",
    "true",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "-1",
    "0",
    "99999999999999999999",
    "4294967296",
    "\u{0}",
    "\u{feff}",
    "\u{202e}",
    "ü",
    "=cmd",
    "+",
];

/// Text, whatever the bytes.
fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn card_files() {
    let mut own = broodhue::card::Design::chart();
    own.known = own.colours.iter().map(|lab| KnownColour { lab: *lab, error: 0.5 }).collect();
    own.layout = Layout::Described;
    let seed = card_file::write("Lowmere card", &own).unwrap();
    fuzz(
        "card",
        1,
        &[seed.clone().into()],
        |m| m.spoil(&[&seed], &WORDS),
        |b| card_file::parse("fuzz", &text(b)).is_ok(),
    );
}

#[test]
fn sheets() {
    let seed = Sheet::starting().unwrap().text;
    let words =
        [&WORDS[..], &["axis", "class", "softness", "trunk.lightness", "red_share.trunk", "within", "share"]].concat();
    fuzz(
        "sheet",
        1,
        &[seed.clone().into()],
        |m| m.spoil(&[&seed], &words),
        |b| match sheet::parse("fuzz", &text(b)) {
            Ok(sheet) => {
                // A sheet that is taken can be used, whatever its numbers.
                let _proposals = sheet::propose(&sheet, &Default::default(), &Subject::default());
                true
            }
            Err(_) => false,
        },
    );
}

#[test]
fn modes_and_traits() {
    let seeds = [BUILT_IN, EXAMPLE];
    let words =
        [&WORDS[..], &["m/m", "+/m", "m/+", "X", "Y", "[[mode]]", "[[trait]]", "locus", "removed", "raised"]].concat();
    fuzz("mode", 1, &[BUILT_IN.into()], |m| m.spoil(&seeds, &words), |b| inherit::parse("fuzz", &text(b)).is_ok());
    fuzz("trait", 1, &[EXAMPLE.into()], |m| m.spoil(&seeds, &words), |b| parse_traits("fuzz", &text(b)).is_ok());
}

const FISH: &str =
    "fish,sex,line,cross,born,pure,red-body\nK1-s,m,Lowmere,K1,2025-08-09,,full\n\"a \"\"b\"\"\",f,,K1,,yes,\n";

const COUNTS: &str = "cross,sire,dam,brood,dropped,axis,class,sex,count,earlier_sire\n\
    K1,Lowmere-1,Tarnwick-1,K1-1,2026-01-01,red-body,full,m,7,\nK2,Lowmere-1,Tarnwick-1,K2-1,2026-03-01,red-body,absent,f,3,?\n";

/// Feeds a table to a book that forgets it again.
fn taken(book: &mut Book, table: &[u8], counts: bool) -> bool {
    let mut read = false;
    let forgotten: Result<()> = book.write(|w| {
        let outcome = if counts {
            import::counts(w, "t.csv", table, true, &by("Ann"))
        } else {
            import::fish(w, "t.csv", table, &by("Ann"))
        };
        read = outcome.is_ok();
        Err(Error::failed("", "forgotten", ""))
    });
    assert!(forgotten.is_err());
    read
}

#[test]
fn tables() {
    let (_dir, mut book) = crate::records::book();
    let seeds = [FISH, COUNTS];
    let words =
        [&WORDS[..], &["Lowmere-1+Tarnwick-1", "Tarnwick-1", "2026-02-30", "m", "f", "?", "yes", "K1", "red-body"]]
            .concat();
    fuzz("fish", 3, &[FISH.into()], |m| m.spoil(&seeds, &words), |b| taken(&mut book, b, false));
    fuzz("counts", 3, &[COUNTS.into()], |m| m.spoil(&seeds, &words), |b| taken(&mut book, b, true));
}

#[test]
fn lines() {
    let plain = r#"{"schema":"broodhue.photo/1","photo":"t.jpg","hash":"HASH","width":48,"height":32,"taken":"2026-05-02T10:30:00",
        "card":{"found":true,"corners":[[1,1],[9,1],[9,9],[1,9]],"verdict":"good","reasons":[],"left_out":[],"others":[]},
        "fish":[{"n":1,"centre":[5,5],"box":[1,2,8,9],"area_px":20,"red_share":{},"orange_share":{},"yellow_share":{},
        "black_share":{},"reflective_share":{},"red_strength":{},"view":"above","flags":["touching"],"proposals":[],
        "length_px":9,"number":1,"outline":[[1,2],[8,2],[8,9]]}],"conditions":{},"warnings":[],"program":"x","sheet":"y","options":{}}"#;
    let seed = plain.replace("HASH", &"0a".repeat(32));
    let words = [&WORDS[..], &["null", "[]", "\"n\":", "\"fish\":", "1e308", "-0.0", ":"]].concat();
    fuzz(
        "line",
        1,
        &[seed.clone().into()],
        |m| m.spoil(&[&seed], &words),
        |b| match line::read(&text(b)) {
            Ok(report) => report.line().is_ok(),
            Err(_) => false,
        },
    );
}
