//! A facility's book of many years: invented by one SQL file, counted rightly, and the cost of reading it measured.
//!
//! The plain run fills a small one. `cargo test --release --test many -- --ignored --nocapture` fills one of 20 000 photos and
//! 400 000 fish (2.3 GB in the folder for temporary files) and prints what reading it costs; `BROODHUE_BROODS=10` makes
//! each of its 200 crosses smaller (25 otherwise).
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "figures and skipped checks are told")]

#[path = "web/client.rs"]
#[allow(dead_code, reason = "shared with the page's own tests")]
mod client;
#[path = "many/facility.rs"]
mod facility;
#[path = "common/http.rs"]
#[allow(dead_code, reason = "shared with the page's own tests")]
mod http;

use std::path::Path;
use std::time::{Duration, Instant};

use broodhue::book::evidence::{self, Question};
use broodhue::book::lightness::card_points;
use broodhue::book::tallies::{self, Selection};
use broodhue::book::{Book, broods, generations, progress, scoring, sheets};
use broodhue::inherit::{DEFAULT_ERROR, JudgeOptions, Model, SexSystem, SexSystems, built_in, judge};
use broodhue::lightness::{control_chart, trend};
use broodhue::units::View;

use client::Server;
use facility::{Size, facility};

const ALL: Selection<'_> = Selection { cross: None, view: View::Above, include_proposed: false };

/// What `fill.sql` says of fish `i`, from 1: whether a person called it red-free.
fn absent(i: u32) -> bool {
    (u64::from(i) * 7919 % 100 < 25) != i.is_multiple_of(97)
}

#[test]
fn a_small_facility_is_counted_as_it_was_invented() {
    let dir = tempfile::tempdir().unwrap();
    let size = Size { crosses: 4, broods: 3, lines: 2 };
    facility(dir.path(), size);
    let book = Book::open(dir.path()).unwrap();
    let (read, sheet) = (book.read(), sheets::latest(&book.read()).unwrap());
    let red_body = ["red-body".to_owned()];
    let counts = tallies::counts(&read, &sheet, &red_body, &ALL).unwrap().remove(0);
    // Of a brood's 80 fish the last 40 are those of its later sitting.
    let latest = |i: &u32| (i - 1) % 80 >= 40;
    let wanted = (1..=size.fish()).filter(latest).filter(|i| absent(*i)).count();
    let rows = counts.rows.iter().filter(|r| r.class == "absent");
    assert_eq!(rows.map(|r| r.confirmed as usize).sum::<usize>(), wanted);
    assert_eq!(counts.rows.iter().map(|r| r.confirmed).sum::<u32>(), size.fish() / 2);
    let males = counts.rows.iter().filter(|r| r.place.sex == Some(broodhue::units::Sex::Male));
    assert_eq!(males.map(|r| r.confirmed).sum::<u32>(), size.fish() / 4);

    for brood in broods::list(&read).unwrap() {
        let found = progress::of_brood(&read, &sheet, &brood).unwrap();
        assert_eq!((found.confirmed, found.fish()), (80, 80));
    }
    let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
    let sorted = tallies::tallies(&read, &sheet, "red-body", &question.all_crosses()).unwrap();
    let differ = (1..=size.fish()).filter(latest).filter(|i| i.is_multiple_of(97)).count();
    let rate = (differ as f64 + 0.5) / (f64::from(size.fish() / 2) + 1.0);
    assert!((scoring::error_rate(&question, &sorted).unwrap() - rate).abs() < 1e-12);
    let line = generations::of_line(&read, "Line 1", "lightness", View::Above).unwrap();
    assert_eq!((line.broods.len(), line.broods[0].fish), (6, 40));
}

/// Processor time of this process so far.
fn spent() -> Duration {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let fields: Vec<&str> = stat.rsplit(") ").next().unwrap().split(' ').collect();
    // Fields 14 and 15 of proc(5), in hundredths of a second; the first one here is field 3.
    let ticks: u64 = fields[11..=12].iter().map(|f| f.parse::<u64>().unwrap()).sum();
    Duration::from_millis(10 * ticks)
}

/// Prints what a piece of work cost; once before, so that the file is in memory.
fn cost(what: &str, mut work: impl FnMut()) {
    work();
    let (before, start) = (spent(), Instant::now());
    work();
    let (cost, took) = ((spent() - before).as_secs_f64(), start.elapsed().as_secs_f64());
    println!("{what}: {cost:.2} s of processor time, {took:.2} s by the clock");
}

#[test]
#[ignore = "fills two gigabytes"]
fn a_large_facility_is_read_in_moments() {
    let broods = std::env::var("BROODHUE_BROODS").map_or(25, |n| n.parse().unwrap());
    let size = Size { crosses: 200, broods, lines: 10 };
    let dir = tempfile::tempdir().unwrap();
    facility(dir.path(), size);
    measure(dir.path(), size);
}

fn measure(dir: &Path, size: Size) {
    println!("{} photos, {} fish, {} broods", size.fish() / 20, size.fish(), size.crosses * size.broods);
    let book = Book::open(dir).unwrap();
    let read = book.read();
    let sheet = sheets::latest(&read).unwrap();
    let axes = tallies::axes(&read, &sheet).unwrap();
    cost("counts of one axis", || drop(tallies::counts(&read, &sheet, &axes[..1], &ALL).unwrap()));
    cost("counts of all axes", || drop(tallies::counts(&read, &sheet, &axes, &ALL).unwrap()));
    cost("trend of one line of ten", || {
        let input = generations::of_line(&read, "Line 1", "lightness", View::Above).unwrap();
        trend(&input).unwrap();
        control_chart(&card_points(&read).unwrap()).unwrap();
    });
    let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
    let gathered = || {
        let sorted = tallies::tallies(&read, &sheet, "red-body", &question.all_crosses()).unwrap();
        scoring::error_rate(&question, &sorted).unwrap();
        evidence::from_tallies(&read, &question, &sorted).unwrap().0
    };
    cost("inherit: evidence out of the book", || drop(gathered()));
    let evidence = gathered();
    let models: Vec<Model> =
        built_in().unwrap().into_iter().map(|m| Model::new(m, SexSystems::Known(SexSystem::Xy))).collect();
    cost("inherit: judging all modes", || drop(judge(&evidence, &models, &JudgeOptions::new(DEFAULT_ERROR)).unwrap()));
    let server = Server::start(dir);
    cost("the page's first view", || assert_eq!(server.get("/").status, 200));
    cost("the page of one brood", || assert_eq!(server.get("/brood/C1-1").status, 200));
}
