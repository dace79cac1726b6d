//! Nothing is lost: the program is killed at random moments while it works on a book, runs out of disk, meets a second
//! program, or loses its power. Whatever it had acknowledged is there afterwards, and the book checks clean.
//!
//! A plain run kills 24 times; `BROODHUE_KILLS=1000 cargo test --test kills -- --nocapture` a thousand times.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "figures and skipped checks are told")]

#[path = "kills/deeds.rs"]
mod deeds;
#[path = "kills/disk.rs"]
mod disk;
#[path = "common/http.rs"]
mod http;
#[path = "kills/old.rs"]
mod old;
#[path = "kills/page.rs"]
mod page;
#[path = "kills/power.rs"]
mod power;
#[path = "book/common.rs"]
#[allow(dead_code, reason = "shared with the book's own tests")]
mod records;
#[path = "kills/world.rs"]
mod world;

use std::collections::BTreeMap;
use std::time::Duration;

use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};

use deeds::Deed;
use world::World;

#[test]
fn whatever_was_acknowledged_survives_a_kill() {
    let kills: usize = std::env::var("BROODHUE_KILLS").map_or(24, |n| n.parse().unwrap());
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(8);
    let mut world = World::new();
    // How long each deed takes when it is left alone decides when it may be struck.
    let mut takes: BTreeMap<Deed, Duration> = BTreeMap::new();
    for deed in Deed::ALL {
        world.strike(deed, None, &mut rng);
        takes.insert(deed, world.ran);
    }
    let mut struck: BTreeMap<Deed, usize> = BTreeMap::new();
    let mut rounds = 0;
    while struck.values().sum::<usize>() < kills {
        let deed = if rounds < Deed::ALL.len() { Deed::ALL[rounds] } else { *Deed::ALL.choose(&mut rng).unwrap() };
        let after = takes[&deed].mul_f64(rng.random_range(0.0..1.0));
        world.strike(deed, Some(after), &mut rng);
        *struck.entry(deed).or_default() += usize::from(world.was_killed);
        rounds += 1;
        assert!(rounds < 10 * kills + 10, "strikes come while the program works: {struck:?}");
    }
    world.holds_everything();
    println!("{rounds} rounds, killed {struck:?}; {} acknowledged, none lost", world.acknowledged);
}
