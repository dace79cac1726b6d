//! What the program is doing when it is killed.

use std::fmt::Write as _;
use std::fs;
use std::time::Duration;

use broodhue::photo::identity;
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use crate::world::{FISH, World, restores};
use crate::{old, page};

/// Rows of a file of fish.
pub(crate) const ROWS: u32 = 400;

/// Photos scored in one go.
const PHOTOS: usize = 6;

/// Classes that are confirmed in turn.
pub(crate) const CLASSES: [&str; 3] = ["absent", "reduced", "full"];

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Deed {
    Score,
    Import,
    Confirm,
    Page,
    Backup,
    Migrate,
}

impl Deed {
    pub(crate) const ALL: [Self; 6] =
        [Self::Score, Self::Import, Self::Confirm, Self::Page, Self::Backup, Self::Migrate];
}

pub(crate) fn run(world: &mut World, deed: Deed, round: usize, after: Option<Duration>, rng: &mut ChaCha8Rng) {
    match deed {
        Deed::Score => score(world, round, after),
        Deed::Import => import(world, round, after),
        Deed::Confirm => confirm(world, after, rng),
        Deed::Page => page::decide(world, after, rng),
        Deed::Backup => back_up(world, round, after),
        Deed::Migrate => old::migrate(world, round, after),
    }
}

/// A small grey photo that is like no other: its comment says which one it is.
fn grey(number: usize) -> Vec<u8> {
    let plain = include_bytes!("../fixtures/grey.jpg");
    let words = format!("photo {number:08}");
    let length = u16::try_from(words.len() + 2).unwrap().to_be_bytes();
    [&plain[..2], &[0xff, 0xfe], &length, words.as_bytes(), &plain[2..]].concat()
}

/// What was printed of a photo was kept before.
fn score(world: &mut World, round: usize, after: Option<Duration>) {
    let mut args = vec!["score".to_owned()];
    for i in 0..PHOTOS {
        let name = format!("grey-{round}-{i}.jpg");
        fs::write(world.beside(&name), grey(round * PHOTOS + i)).unwrap();
        args.push(name);
    }
    args.extend(["--brood", "K1-1", "--sitting", "2026-05-02", "--json"].map(str::to_owned));
    let child = world.start(&args.iter().map(String::as_str).collect::<Vec<_>>());
    let (out, _) = world.end(child, after);
    for line in out.lines().filter_map(|l| serde_json::from_str::<serde_json::Value>(l).ok()) {
        world.photos.insert(line["hash"].as_str().unwrap().to_owned());
        world.acknowledged += 1;
    }
    for i in 0..PHOTOS {
        let bytes = fs::read(world.beside(&format!("grey-{round}-{i}.jpg"))).unwrap();
        let kept = broodhue::book::photos::find(&world.book().read(), &identity(&bytes)).unwrap().is_some();
        assert!(kept || !world.photos.contains(&identity(&bytes)), "round {round}: photo {i} was acknowledged");
    }
}

/// All of a file or nothing of it.
fn import(world: &mut World, round: usize, after: Option<Duration>) {
    let word = format!("i{round:05}-");
    let mut text = "fish,sex,line,cross,born,red-body\n".to_owned();
    for i in 0..ROWS {
        writeln!(text, "{word}{i},m,Lowmere,,,full").unwrap();
    }
    fs::write(world.beside("fish.csv"), text).unwrap();
    let child = world.start(&["import", "fish", "fish.csv"]);
    let (out, _) = world.end(child, after);
    world.acknowledged += usize::from(!out.is_empty());
    world.holds_import(&word, !out.is_empty());
    world.imports.insert(word, !out.is_empty());
}

/// A class said in the terminal holds once the program has answered.
fn confirm(world: &mut World, after: Option<Duration>, rng: &mut ChaCha8Rng) {
    let n = rng.random_range(1..=FISH);
    let class = CLASSES[rng.random_range(0..CLASSES.len())];
    let (number, said) = (n.to_string(), format!("red-body={class}"));
    let child = world.start(&["confirm", "--photo", "tray.jpg", "--fish", &number, "--class", &said, "--by", "Ann"]);
    let (out, _) = world.end(child, after);
    let owed = world.classes.get_mut(&n).unwrap();
    if out.is_empty() {
        owed.maybe.insert(class.to_owned());
    } else {
        owed.sure = Some(class.to_owned());
        world.acknowledged += 1;
    }
}

/// A backup is whole or is not there under its name.
fn back_up(world: &mut World, round: usize, after: Option<Duration>) {
    let name = format!("book-{round}.backup");
    let child = world.start(&["book", "backup", &name]);
    let (out, _) = world.end(child, after);
    let file = world.beside(&name);
    assert!(out.is_empty() || file.exists(), "an acknowledged backup is there");
    world.acknowledged += usize::from(!out.is_empty());
    if file.exists() {
        restores(&file, &world.beside("restored"));
        fs::remove_file(file).unwrap();
    }
}
