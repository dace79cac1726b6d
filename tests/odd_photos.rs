//! Photos nobody should take, and trays at the end of what can be: each gives fish, or none, and says what is wrong.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, reason = "pixel places of small pictures")]

mod common;

use std::io::Cursor;

use broodhue::geometry::Point;
use broodhue::photo::{self, Limits};
use broodhue::pipeline::{self, Given, MeasureOptions};
use broodhue::sheet::Sheet;
use common::figures::{Measured, pair};
use common::render::View;
use common::render::brood::{self, CARD_PITCH, Recipe, Setup};
use common::render::sent::Wear;
use image::RgbImage;

/// What the program reports of a picture; `pitch` as a person would give it.
fn report(picture: &RgbImage, pitch: Option<f64>) -> Measured {
    let mut bytes = Vec::new();
    picture.write_to(&mut Cursor::new(&mut bytes), image::ImageFormat::Png).unwrap();
    let photo = photo::read("odd.png", &bytes, Limits::default()).unwrap();
    let sheet = Sheet::starting().unwrap();
    let options = MeasureOptions { card_pitch_mm: pitch, ..MeasureOptions::default() };
    let measured = pipeline::measure(&photo, Given { sheet: &sheet, empty: None }, &options).unwrap();
    serde_json::from_value(serde_json::to_value(&measured.report).unwrap()).unwrap()
}

fn says(seen: &Measured, words: &str) -> bool {
    seen.warnings.iter().any(|w| w.as_str().is_some_and(|w| w.contains(words)))
}

/// A small tidy tray that fills the picture, changed by `change`.
fn tray(change: impl FnOnce(&mut Setup)) -> Setup {
    let mut setup = brood::setup(&Recipe { size: (1600, 1200), ..Recipe::tidy(2) });
    change(&mut setup);
    setup
}

#[test]
fn an_empty_tray_holds_no_fish_and_says_so() {
    let seen = report(&tray(|s| s.scene.fish.clear()).draw().image, Some(CARD_PITCH));
    assert!(seen.card.found && seen.fish.is_empty(), "{} fish", seen.fish.len());
    assert!(says(&seen, "no fish was found"), "{:?}", seen.warnings);
}

#[test]
fn a_tray_full_of_fry_is_counted() {
    let kinds = brood::some_of_each(5, 300);
    let recipe = Recipe { size: (3200, 2400), kinds, lengths: (7.0, 9.5), ..Recipe::tidy(4) };
    let shot = brood::setup(&recipe).draw();
    let seen = report(&shot.image, Some(CARD_PITCH));
    let (found, truth) = (seen.fish.len() as f64, shot.truth.fish.len() as f64);
    assert!(truth > 200.0, "the tray holds {truth}");
    assert!((0.9..1.1).contains(&(found / truth)), "{found} of {truth}");
}

#[test]
fn a_blurred_photo_flags_its_fish() {
    let seen = report(&tray(|s| s.camera.blur = 7.0).draw().image, Some(CARD_PITCH));
    let blurred = seen.fish.iter().filter(|f| f.flags.iter().any(|flag| flag == "blurred")).count();
    assert!(3 * blurred >= 2 * seen.fish.len(), "{blurred} of {} are flagged", seen.fish.len());
    let sharp = report(&tray(|_| ()).draw().image, Some(CARD_PITCH));
    let flagged = sharp.fish.iter().filter(|f| f.flags.iter().any(|flag| flag == "blurred")).count();
    assert!(5 * flagged <= sharp.fish.len(), "{flagged} of {} sharp ones are flagged", sharp.fish.len());
}

/// One fish from nose to tail across the picture, without a card.
#[test]
fn one_fish_that_fills_the_picture_is_one_fish() {
    let setup = tray(|s| {
        s.scene.fish.truncate(1);
        s.scene.clutter.clear();
        let box_ = s.truth().fish[0].bounds;
        let middle = Point::new((box_.x0 + box_.x1) / 2.0, (box_.y0 + box_.y1) / 2.0);
        let centre = s.view.to_plane().apply(middle);
        s.view = View::straight(1600, 1200, 1600.0 / 45.0, centre);
    });
    let shot = setup.draw();
    let seen = report(&shot.image, None);
    assert_eq!(seen.fish.len(), 1);
    let share = seen.fish[0].area_px / shot.truth.fish[0].area_px as f64;
    assert!((0.8..1.2).contains(&share), "{share} of its area");
}

/// A photo of blotchy floor says that faint fish may be missed; as the camera wrote it, it does not.
#[test]
fn a_photo_sent_through_a_messenger_says_so() {
    let shot = brood::setup(&Recipe { size: (1600, 1200), ..Recipe::hard(2) }).draw();
    let worn = image::load_from_memory(&Wear::DIM.jpeg(&shot.image)).unwrap().to_rgb8();
    assert!(says(&report(&worn, Some(CARD_PITCH)), "compressed hard"));
    assert!(!says(&report(&shot.image, Some(CARD_PITCH)), "compressed hard"));
}

/// A floor too bright for the camera tells nothing of the light over it: that is said, and what is read is no surer than it is.
#[test]
fn a_photo_whose_floor_is_blown_out_says_so_and_claims_less() {
    let usual = report(&tray(|_| ()).draw().image, Some(CARD_PITCH));
    assert!(!says(&usual, "too bright for the camera") && usual.card.verdict == "good");
    let bright = tray(|s| s.camera.exposure *= 1.6);
    let shot = bright.draw();
    let seen = report(&shot.image, Some(CARD_PITCH));
    assert!(says(&seen, "too bright for the camera"), "{:?}", seen.warnings);
    assert_ne!(seen.card.verdict, "good");
    let off: Vec<f64> = pair(&shot.truth.fish, &seen.fish)
        .into_iter()
        .filter_map(|(i, j)| {
            let (truth, read) = (shot.truth.fish[i].trunk?, seen.fish[j].trunk?);
            Some((read.lightness - truth.l) / read.lightness_se)
        })
        .collect();
    let held = off.iter().filter(|z| z.abs() < 1.96).count();
    assert!(off.len() >= 5 && 10 * held >= 9 * off.len(), "{off:?}");
}

#[test]
fn strips_of_a_photo_are_read_without_harm() {
    let image = tray(|_| ()).draw().image;
    for (x, y, w, h) in [(0, 500, 1600, 40), (700, 0, 30, 1200), (300, 300, 16, 16)] {
        let strip = image::imageops::crop_imm(&image, x, y, w, h).to_image();
        let seen = report(&strip, Some(CARD_PITCH));
        assert!(!seen.card.found && says(&seen, "no usable colour card"), "{w} x {h}: {:?}", seen.warnings);
    }
}

#[test]
fn a_fish_on_the_card_spoils_neither_the_card_nor_the_others() {
    let setup = tray(|s| {
        let body = &s.scene.fish[0].body;
        let length = body.standard_length + body.tail;
        s.scene.fish[0].snout = s.scene.charts[0].centre + Point::new(length / 2.0, 0.0);
        s.scene.fish[0].heading = 0.0;
    });
    let shot = setup.draw();
    let seen = report(&shot.image, Some(CARD_PITCH));
    assert!(seen.card.found, "a card of which two or three patches are covered");
    let (found, others) = (seen.fish.len(), shot.truth.fish.len() - 1);
    assert!(found + 1 >= others && found <= others + 1, "{found} of {others}");
}

/// A street: walls, windows, sky and a road, drawn from blocks of many colours.
#[test]
fn a_street_is_no_tray() {
    let street = RgbImage::from_fn(1200, 900, |x, y| {
        let (i, j) = (x / 57, y / 43);
        let mix = (i * 73 + j * 151 + i * j * 29) % 211;
        let grain = (x * 7 + y * 13 + x * y % 31) % 40;
        image::Rgb([mix, mix * 3 % 256, mix * 7 % 256].map(|v| (v * 200 / 256 + grain) as u8))
    });
    let seen = report(&street, None);
    assert!(seen.fish.is_empty(), "{} fish in a street", seen.fish.len());
    assert!(
        says(&seen, "is plain: fish are found on a plain tray floor") && says(&seen, "no usable colour card"),
        "{:?}",
        seen.warnings
    );
}

/// Soft spots of half and of twice the light all over are no lamp's: of one floor under them nobody knows how light anything is.
#[test]
fn a_floor_of_many_lights_says_so() {
    let spotted = |depth: f64| {
        RgbImage::from_fn(1200, 900, |x, y| {
            let spots = (f64::from(x) / 25.0).sin() * (f64::from(y) / 25.0).sin();
            image::Rgb([(70.0 + depth * spots) as u8; 3])
        })
    };
    assert!(says(&report(&spotted(18.0), None), "give the tray's inside with --tray"));
    assert!(!says(&report(&spotted(1.0), None), "--tray"));
}
