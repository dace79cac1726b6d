//! The calibration as a whole, on cards whose camera is known.

use proptest::prelude::*;

use super::{Calibration, Verdict};
use crate::card::reference::{Edition, chart};
use crate::card::{Card, KnownColour, Layout, LeftOut, PatchReading};
use crate::colour::{Lab, LinearRgb, ciede2000, srgb_decode, srgb_encode, xyz_from_lab};
use crate::floor::LightField;
use crate::geometry::{Homography, Point};

/// Linear sRGB of a colour: the inverse of the profile's matrix, by elimination.
fn srgb_of(lab: Lab) -> [f64; 3] {
    let back = Homography(crate::colour::SRGB_TO_XYZ_D50).inverse().unwrap().0;
    let xyz = xyz_from_lab(lab);
    back.map(|row| row[0] * xyz.x + row[1] * xyz.y + row[2] * xyz.z)
}

/// A phone: white balance, a channel mix and a contrast curve; 8 bits.
#[derive(Debug, Clone, Copy)]
struct Phone {
    gains: [f64; 3],
    mix: f64,
    contrast: f64,
}

const PHONE: Phone = Phone { gains: [0.8, 0.75, 0.68], mix: 0.08, contrast: 0.3 };

impl Phone {
    fn light(self, lab: Lab) -> LinearRgb {
        let [r, g, b] = srgb_of(lab);
        let mean = (r + g + b) / 3.0;
        let channel = |v: f64, gain: f64| {
            let e = srgb_encode(((v * (1.0 - self.mix) + mean * self.mix) * gain).clamp(0.0, 1.0));
            let bent = e + self.contrast * e * (1.0 - e) * (2.0 * e - 1.0);
            srgb_decode((bent * 255.0).round() / 255.0) as f32
        };
        LinearRgb::new(channel(r, self.gains[0]), channel(g, self.gains[1]), channel(b, self.gains[2]))
    }
}

fn card_of(layout: Layout, colours: &[Lab], columns: usize, phone: Phone) -> Card {
    let patch = |(i, lab): (usize, &Lab)| PatchReading {
        centre: Point::new((i % columns) as f64 * 40.0, (i / columns) as f64 * 40.0),
        linear: phone.light(*lab),
        spread: [0.001; 3],
        pixels: 400,
        clipped_share: 0.0,
        left_out: None,
    };
    Card {
        layout,
        corners: [Point::default(); 4],
        patches: colours.iter().enumerate().map(patch).collect(),
        pitch_px: 40.0,
        mirrored: false,
        to_px: Homography([[40.0, 0.0, 0.0], [0.0, 40.0, 0.0], [0.0, 0.0, 1.0]]),
        unit_mm: None,
        known: Vec::new(),
        notes: Vec::new(),
    }
}

fn chart_colours() -> Vec<Lab> {
    chart(Edition::After2014).iter().map(|r| r.lab).collect()
}

fn chart_card(phone: Phone) -> Card {
    card_of(Layout::Chart24, &chart_colours(), 6, phone)
}

fn read(card: &Card) -> Calibration {
    Calibration::from_card(card, Edition::After2014, &LightField::even(0.0))
}

/// Colours of pale and coloured fish (invented).
const FISH: [(f64, f64, f64); 5] =
    [(78.0, 2.0, 14.0), (66.0, 6.0, 22.0), (50.0, 45.0, 35.0), (62.0, 30.0, 50.0), (38.0, 12.0, 14.0)];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]
    #[test]
    fn fish_are_read_through_any_sane_phone(
        gains in (0.6f64..0.85, 0.6f64..0.85, 0.6f64..0.85), mix in 0.0f64..0.15, contrast in 0.0f64..0.5,
    ) {
        let phone = Phone { gains: gains.into(), mix, contrast };
        let calibration = read(&chart_card(phone));
        prop_assert_eq!(calibration.verdict, Verdict::Good, "{:?}", calibration.reasons);
        for (l, a, b) in FISH {
            let (truth, seen) = (Lab::new(l, a, b), calibration.lab(phone.light(Lab::new(l, a, b))));
            prop_assert!((seen.l - l).abs() < 0.8 && ciede2000(seen, truth) < 1.5, "{:?} for {:?}", seen, truth);
            prop_assert!(calibration.error(seen).l < 2.0);
        }
    }
}

#[test]
fn a_clipped_patch_is_left_out_and_named_and_does_not_count() {
    let mut card = chart_card(PHONE);
    card.patches[15].clipped_share = 0.9;
    card.patches[15].linear = LinearRgb::new(1.0, 1.0, 0.2);
    let calibration = read(&card);
    assert_eq!(calibration.left_out, [(15, LeftOut::Clipped)]);
    assert_eq!(calibration.leave_one_out.len(), 23);
    assert!(calibration.fit.unwrap().loo_max_de00 < 6.0);
}

#[test]
fn shaded_and_glaring_patches_are_left_out_but_still_count() {
    let mut card = chart_card(PHONE);
    card.patches[9].linear *= 0.35;
    card.patches[14].linear += LinearRgb::new(0.12, 0.12, 0.12);
    let calibration = read(&card);
    assert_eq!(calibration.left_out, [(9, LeftOut::Shaded), (14, LeftOut::Glare)]);
    let fit = calibration.fit.clone().unwrap();
    assert_eq!(calibration.leave_one_out.len(), 24);
    assert!(fit.loo_max_de00 > 8.0 && fit.max_de00 < 4.0, "{fit:?}");
    // The rest is read as if nothing had happened.
    for (l, a, b) in FISH {
        assert!((calibration.lab(PHONE.light(Lab::new(l, a, b))).l - l).abs() < 1.0);
    }
}

#[test]
fn a_grey_card_sets_white_balance_and_says_so() {
    let greys: Vec<Lab> = [95.0, 81.0, 66.0, 50.0, 35.0].map(|l| Lab::new(l, 0.0, 0.0)).to_vec();
    let phone = Phone { contrast: 0.0, ..PHONE };
    let mut card = card_of(Layout::Described, &greys, 5, phone);
    card.known = greys.iter().map(|&lab| KnownColour { lab, error: 0.5 }).collect();
    let calibration = read(&card);
    assert_eq!(calibration.fit.as_ref().unwrap().model, "white-balance");
    assert_eq!(calibration.verdict, Verdict::Fair);
    assert!(calibration.reasons.iter().any(|r| r.contains("greys only")), "{:?}", calibration.reasons);
    let grey = calibration.lab(phone.light(Lab::new(70.0, 0.0, 0.0)));
    assert!(ciede2000(grey, Lab::new(70.0, 0.0, 0.0)) < 1.0, "{grey:?}");
    assert!(calibration.error(Lab::new(50.0, 40.0, 30.0)).a > 5.0);
}

/// What a card file says of its own colours is common to all its patches, as where a learned card has its chart's error.
#[test]
fn a_card_file_s_own_error_is_part_of_every_error() {
    let card = |error: f64| {
        let mut card = card_of(Layout::Described, &chart_colours(), 6, PHONE);
        card.known = chart_colours().into_iter().map(|lab| KnownColour { lab, error }).collect();
        read(&card)
    };
    let (sure, unsure) = (card(0.0), card(3.0));
    for (l, a, b) in FISH {
        let lab = Lab::new(l, a, b);
        let (sure, unsure) = (sure.error(lab), unsure.error(lab));
        // Three units over three axes are √3 on each, more than this clean card's own error.
        for (sure, unsure) in [(sure.l, unsure.l), (sure.a, unsure.a), (sure.b, unsure.b)] {
            assert!(sure < 3f64.sqrt() && unsure > 3f64.sqrt() && unsure < 3.0, "{sure} {unsure}");
        }
    }
}

#[test]
fn without_a_known_card_the_profile_speaks_and_the_verdict_is_poor() {
    let mut card = chart_card(PHONE);
    card.layout = Layout::Unknown24;
    for calibration in [read(&card), Calibration::from_profile("no card found")] {
        assert_eq!((calibration.verdict, &calibration.fit), (Verdict::Poor, &None));
        assert_eq!(calibration.reasons.len(), 1);
        // Linear 0.214041 is encoded 0.5, L* 53.39 (IEC 61966-2-1; CIE 15).
        assert!((calibration.lab(LinearRgb::new(0.214_041, 0.214_041, 0.214_041)).l - 53.389).abs() < 0.01);
    }
    let mut covered = chart_card(PHONE);
    covered.patches.iter_mut().for_each(|p| p.pixels = 0);
    let calibration = read(&covered);
    assert_eq!((calibration.verdict, calibration.left_out.len()), (Verdict::Poor, 24));
}

#[test]
fn errors_grow_beyond_the_card() {
    let calibration = read(&chart_card(PHONE));
    let (inside, outside) = (Lab::new(60.0, 20.0, 20.0), Lab::new(50.0, 110.0, 90.0));
    let (near, far) = (calibration.error(inside), calibration.error(outside));
    assert!(far.l > 1.5 * near.l && far.a > 2.0 * near.a, "{near:?} {far:?}");
}

#[test]
fn a_leaning_light_over_the_card_is_read_out_of_it() {
    let mut card = chart_card(PHONE);
    for p in &mut card.patches {
        p.linear *= 1.0 + 0.08 * (p.centre.x as f32 - 100.0) / 100.0;
    }
    let calibration = read(&card);
    for (l, a, b) in FISH {
        let seen = calibration.lab(PHONE.light(Lab::new(l, a, b)));
        assert!((seen.l - l).abs() < 1.2, "{seen:?} for {l}");
    }
}
