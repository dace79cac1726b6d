//! Cards in drawn scenes: turned, tilted, mirrored, shaded, under glare, small, cut, covered, several, and others that only
//! look like the chart. Each is found in its place and order, or said to be what it is.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod common;

use broodhue::card::{self, FindOptions, Layout, Search};
use broodhue::geometry::Point;
use broodhue::photo::{self, Limits};
use common::render::brood::{self, Place, Recipe, Setup};
use common::render::chart::{Chart, LOOKALIKE};
use common::render::clutter::Clutter;
use common::render::truth::Truth;

/// A small tray without fish, the card on the table beside it.
fn bare(seed: u64) -> Setup {
    let recipe = Recipe { size: (1200, 900), place: Place::OnTable, kinds: Vec::new(), ..Recipe::tidy(seed) };
    brood::setup(&recipe)
}

fn look(setup: &Setup) -> (Search, Truth) {
    let shot = setup.draw();
    let photo = photo::read("drawn.jpg", &shot.jpeg(92), Limits::default()).unwrap();
    (card::find(&photo, &FindOptions::default()), shot.truth)
}

/// Whether every patch centre lies within a fifth of a pitch of its true place, in the order of the print.
fn right(search: &Search, truth: &Truth) -> bool {
    const NEAR: f64 = 0.2;
    let pitch = truth.patches[0].distance(truth.patches[1]);
    search.card.as_ref().is_some_and(|c| {
        c.patches.len() == 24 && c.patches.iter().zip(&truth.patches).all(|(p, q)| p.centre.distance(*q) < NEAR * pitch)
    })
}

#[test]
fn any_turn_is_found_in_order() {
    for turn in [0.0, 45.0, 90.0, 137.0, 180.0, 250.0, -8.0] {
        let mut setup = bare(1);
        setup.scene.charts[0].turn = turn;
        let (search, truth) = look(&setup);
        assert!(right(&search, &truth), "turned by {turn}°: {}", search.reason);
        assert_eq!(search.card.unwrap().layout, Layout::Chart24, "turned by {turn}°");
    }
}

#[test]
fn a_tilted_camera_still_finds_it() {
    for (tilt, towards) in [(20.0, 30.0), (35.0, 120.0), (45.0, 270.0)] {
        let mut setup = bare(2);
        setup.view.centre = setup.scene.charts[0].centre;
        setup.view.tilt = tilt;
        setup.view.tilt_towards = towards;
        let (search, truth) = look(&setup);
        assert!(right(&search, &truth), "tilted by {tilt}°: {}", search.reason);
    }
}

#[test]
fn a_mirrored_picture_is_said_to_be_mirrored() {
    let mut setup = bare(3);
    setup.view.mirrored = true;
    let (search, truth) = look(&setup);
    assert!(right(&search, &truth), "{}", search.reason);
    assert!(search.card.unwrap().mirrored);
}

#[test]
fn partial_shade_and_glare_do_not_hide_it() {
    let mut setup = bare(4);
    let at = setup.scene.charts[0].centre;
    setup.scene.clutter.push(Clutter::Shade { at, turn: 20.0, depth: 0.5, softness: 4.0 });
    let (search, truth) = look(&setup);
    assert!(right(&search, &truth), "shade: {}", search.reason);

    let mut setup = bare(5);
    setup.scene.charts[0].glare = Some((Point::new(1.2, -0.4), 0.9, 0.6));
    let (search, truth) = look(&setup);
    assert!(right(&search, &truth), "glare: {}", search.reason);
}

#[test]
fn sixteen_pixels_a_patch_are_enough() {
    let mut setup = bare(6);
    let now = setup.truth().patches;
    setup.scene.charts[0].pitch *= 17.0 / now[0].distance(now[1]);
    let (search, truth) = look(&setup);
    assert!(right(&search, &truth), "{}", search.reason);
}

#[test]
fn of_two_cards_one_is_taken_and_the_other_named() {
    let mut setup = bare(7);
    let second = Chart::new(setup.scene.charts[0].centre + Point::new(0.0, 75.0), 9.0);
    setup.scene.charts[0].centre.y = -20.0;
    setup.scene.charts.push(Chart { centre: Point::new(second.centre.x, 50.0), ..second });
    let (search, truth) = look(&setup);
    assert_eq!(search.others.len(), 1);
    let taken = search.card.unwrap().centre();
    let middle = |corners: &[Point]| corners.iter().fold(Point::default(), |s, p| s + *p) * 0.25;
    let places = [middle(&truth.corners.unwrap()), middle(&truth.other_cards[0])];
    assert!(places.iter().any(|p| p.distance(taken) < 10.0));
    assert!(places.iter().any(|p| p.distance(search.others[0].centre()) < 10.0));
}

#[test]
fn of_two_different_cards_the_known_one_is_taken() {
    let mut setup = bare(7);
    let known = Chart::new(Point::new(setup.scene.charts[0].centre.x, 50.0), 9.0);
    let other = Chart { colours: LOOKALIKE, ..Chart::new(Point::new(known.centre.x, -20.0), brood::CARD_PITCH) };
    setup.scene.charts = vec![known, other];
    let (search, truth) = look(&setup);
    assert!(right(&search, &truth), "{}", search.reason);
    assert_eq!(search.card.as_ref().unwrap().layout, Layout::Chart24);
    assert_eq!(search.others.iter().map(|c| c.layout.clone()).collect::<Vec<_>>(), [Layout::Unknown24]);
}

#[test]
fn a_card_of_other_colours_is_not_read_as_the_chart() {
    let mut setup = bare(8);
    setup.scene.charts[0].colours = LOOKALIKE;
    let (search, _) = look(&setup);
    if let Some(card) = search.card {
        assert_eq!(card.layout, Layout::Unknown24);
    }
}

/// Dots of 0.06 mm (a phone), 0.1 mm (a tablet) and 0.25 mm (a monitor), at 0.1 to 0.25 millimetres a picture pixel.
#[test]
fn a_chart_on_a_screen_is_not_read_as_the_chart() {
    for (width, dots, turn) in [(1200, 0.25, 4.0), (2400, 0.25, 2.0), (2400, 0.1, -5.0), (3000, 0.06, 7.0)] {
        let recipe =
            Recipe { size: (width, width * 3 / 4), place: Place::OnTable, kinds: Vec::new(), ..Recipe::tidy(12) };
        let mut setup = brood::setup(&recipe);
        setup.scene.charts[0].dots = Some(dots);
        setup.scene.charts[0].turn = turn;
        let (search, truth) = look(&setup);
        assert!(right(&search, &truth), "dots of {dots}: {}", search.reason);
        let card = search.card.unwrap();
        assert_eq!(card.layout, Layout::Unknown24, "dots of {dots} at a width of {width}");
        assert!(card.notes.iter().any(|n| n.contains("screen")), "{:?}", card.notes);
    }
}

#[test]
fn where_there_is_no_card_none_is_found_and_the_reason_is_given() {
    let mut setup = bare(9);
    setup.scene.charts.clear();
    let (search, _) = look(&setup);
    assert!(search.card.is_none());
    assert!(!search.reason.is_empty());
}

/// A card with a third of it out of the picture, or under a lid, is refused or its patches are never put elsewhere.
#[test]
fn a_cut_or_covered_card_is_never_put_in_a_wrong_place() {
    let mut cut = bare(10);
    cut.view.centre.x -= 70.0;
    let (search, truth) = look(&cut);
    assert!(search.card.is_none() || right(&search, &truth), "cut");

    let mut covered = bare(11);
    let (at, lab) = (covered.scene.charts[0].centre + Point::new(24.0, 0.0), [62.0, 14.0, 18.0]);
    covered.scene.clutter.push(Clutter::Cover { at, half: Point::new(14.0, 40.0), turn: 0.0, lab });
    let (search, truth) = look(&covered);
    assert!(search.card.is_none() || right(&search, &truth), "covered");
}
