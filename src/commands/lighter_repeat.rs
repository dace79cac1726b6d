//! `lighter --repeat`: how far readings of the same fish, or of the card, differ in a set-up; those of fish are kept in the
//! book for later comparisons.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::Done;
use super::desk;
use super::lighter_sides::Sides;
use crate::book::lightness as records;
use crate::error::{Error, Result};
use crate::lightness::{Reading, Repeat, card_readings, repeatability};
use crate::units::tidy;

/// Reads the repeats that were named, or all of the book, one answer a set-up; with `card` those of the card.
pub(super) fn run(sides: &mut Sides<'_>, named: &[&str], card: bool, as_json: bool) -> Result<Done> {
    let readings = match (card, named.is_empty()) {
        (true, true) => sides.all_cards()?,
        (true, false) => of_cards(sides, named)?,
        (false, true) => sides.all_portraits()?,
        (false, false) => {
            sides.open_where_there_is_one();
            of_photos(sides, named)?
        }
    };
    sides.say_unheeded();
    let mut by_set_up: BTreeMap<String, Vec<Reading>> = BTreeMap::new();
    for reading in readings {
        by_set_up.entry(reading.set_up.clone()).or_default().push(reading);
    }
    let found: Vec<Repeat> = by_set_up.iter().filter_map(|(name, of)| repeatability(name, of).ok()).collect();
    if found.is_empty() {
        if card {
            let hint = "photograph the card with a tray twice, with the same phone: `broodhue lighter --repeat --of-card one.jpg two.jpg`";
            return Err(Error::failed("--repeat", "no readable card was photographed twice in one set-up", hint));
        }
        let hint = "photograph the same fish twice, letting it swim and settle in between, in water and within a few minutes in \
                    all: `broodhue score PHOTO --fish F`, or `broodhue lighter --repeat one.jpg two.jpg`";
        return Err(Error::failed("--repeat", "no fish was photographed twice in one set-up", hint));
    }
    // Repeats from the book's own portraits are its set-up's error from now on; photos from outside only answer, and so
    // does the card, which lies flat and still where a fish does not.
    if named.is_empty() && !card {
        sides.book()?.write(|book| found.iter().try_for_each(|r| records::keep_set_up(book, &r.setup)))?;
    }
    for one in &found {
        if as_json { desk::print_json(&line(one, card))? } else { desk::print(format_args!("{}\n", words(one)))? }
    }
    if card {
        desk::note(
            "note: of the card's patches, each read by a calibration without it; a fish moves and bends, so comparisons go by repeats of fish",
        );
    }
    Ok(sides.done())
}

fn of_photos(sides: &mut Sides<'_>, named: &[&str]) -> Result<Vec<Reading>> {
    let mut out = Vec::new();
    for text in named {
        let (subject, place) = text.split_once('=').map_or((None, *text), |(name, rest)| (Some(name), rest));
        let (photo, n) = match place.rsplit_once('#') {
            Some((photo, n)) => {
                let n = n.parse().map_err(|_| Error::usage(text, "no number of a fish after the #", "PHOTO#N"))?;
                (photo, n)
            }
            None => (place, only_fish(sides, place)?),
        };
        out.push(sides.of_photo(photo, n, Some(subject.unwrap_or("the fish")))?);
    }
    Ok(out)
}

fn of_cards(sides: &mut Sides<'_>, named: &[&str]) -> Result<Vec<Reading>> {
    let mut out = Vec::new();
    for photo in named {
        out.extend(card_readings(photo, &sides.report(photo)?.conditions));
    }
    Ok(out)
}

fn only_fish(sides: &mut Sides<'_>, photo: &str) -> Result<u32> {
    match sides.numbers(photo)?.as_slice() {
        [one] => Ok(*one),
        fish => {
            let hint = format!("say which: {photo}#N, or NAME={photo}#N for several fish");
            Err(Error::failed(photo, format!("there are {} fish in this photo", fish.len()), hint))
        }
    }
}

fn line(repeat: &Repeat, card: bool) -> Value {
    let mut value = json!({
        "schema": "broodhue.repeat/1", "of": if card { "card" } else { "fish" },
        "set_up": repeat.setup.name, "subjects": repeat.subjects, "photos": repeat.photos,
        "within_sd": repeat.setup.spread[0].within, "df": repeat.setup.spread[0].df,
        "same_photo_sd": repeat.setup.spread[0].same_photo.map(|s| s.sd),
        "smallest_detectable": repeat.smallest_detectable,
        "icc": repeat.icc, "icc_low": repeat.icc_interval.map(|i| i.low), "icc_high": repeat.icc_interval.map(|i| i.high),
        "because": repeat.because,
    });
    tidy(&mut value);
    value
}

fn words(repeat: &Repeat) -> String {
    let icc = match (repeat.icc, repeat.icc_interval) {
        (Some(icc), Some(i)) => format!("; repeatability (ICC) {icc:.2}, 95 % interval {:.2} to {:.2}", i.low, i.high),
        _ => "; one subject alone gives no ICC".to_owned(),
    };
    format!("{}: {}{icc}", repeat.setup.name, repeat.because)
}
