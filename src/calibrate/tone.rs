//! The camera's tone curve as tables, for reading many pixels.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "table places are clamped to the table")]

use super::camera::{Camera, TERMS};
use super::patch::{Patch, readable};
use super::solve::{Prior, solve, start};
use crate::card::Card;
use crate::card::reference::{self, Edition};
use crate::colour::{LinearRgb, srgb_encode};
use crate::floor::LightField;

/// Points of a table over the square root of light: read linearly between them, it is right to 1e-5 of white.
const POINTS: usize = 2049;

/// From the file's linear light to the scene's and back; beyond white both go on straight.
#[derive(Debug, Clone, PartialEq)]
pub struct Tone {
    scene: Vec<f32>,
    file: Vec<f32>,
}

impl Tone {
    /// The curve that a card alone shows, before anything is known of the light on the floor; without a card, or with one
    /// whose colours nobody knows, the file's light is taken for the scene's.
    pub fn of_card(card: Option<&Card>, edition: Edition) -> Self {
        let known = card.map(|c| (c, reference::of_card(c, edition)));
        let patches = known.map_or_else(Vec::new, |(c, r)| readable(c, &r, &LightField::even(0.0)).0);
        if !patches.iter().any(|p| !p.neutral) {
            return Self::of(&Camera([0.0; TERMS]));
        }
        let patches: Vec<&Patch> = patches.iter().collect();
        Self::of(&solve(start(&patches), &Prior::joint(), &patches))
    }

    pub(super) fn of(camera: &Camera) -> Self {
        let mut scene = Vec::with_capacity(POINTS);
        let mut highest = 0.0f64;
        for i in 0..POINTS {
            let root = i as f64 / (POINTS - 1) as f64;
            // A curve that turned back would have no way back: hold it level instead.
            highest = highest.max(camera.tone(srgb_encode(root * root)));
            scene.push(highest as f32);
        }
        let file = turned_round(&scene);
        Self { scene, file }
    }

    /// The scene's light behind the file's.
    pub fn scene(&self, file: LinearRgb) -> LinearRgb {
        LinearRgb::new(read(&self.scene, file.red), read(&self.scene, file.green), read(&self.scene, file.blue))
    }

    /// What the file would hold for the scene's light.
    pub(super) fn file(&self, scene: LinearRgb) -> LinearRgb {
        LinearRgb::new(read(&self.file, scene.red), read(&self.file, scene.green), read(&self.file, scene.blue))
    }
}

/// The inverse of a rising table over square roots that ends at its highest value, over square roots again.
fn turned_round(table: &[f32]) -> Vec<f32> {
    let last = (table.len() - 1) as f32;
    let top = table[table.len() - 1];
    let mut above = 0;
    (0..table.len())
        .map(|i| {
            let root = i as f32 / last;
            let value = root * root * top;
            while above < table.len() && table[above] < value {
                above += 1;
            }
            if above == 0 {
                return 0.0;
            }
            let at = above.min(table.len() - 1);
            let (low, high) = (table[at - 1], table[at]);
            let part = if high > low { ((value - low) / (high - low)).clamp(0.0, 1.0) } else { 1.0 };
            ((at as f32 - 1.0 + part) / last).powi(2)
        })
        .collect()
}

/// Reads a table over the square root of 0…1; below 0 it is turned about 0, beyond 1 the last slope goes on.
#[inline]
fn read(table: &[f32], value: f32) -> f32 {
    above_zero(table, value.abs()).copysign(value)
}

#[inline]
fn above_zero(table: &[f32], value: f32) -> f32 {
    let last = (table.len() - 1) as f32;
    if value >= 1.0 {
        let (top, below) = (table[table.len() - 1], table[table.len() - 2]);
        let step = 1.0 - ((last - 1.0) / last).powi(2);
        return top + (top - below) / step * (value - 1.0);
    }
    let t = value.sqrt() * last;
    let i = (t as usize).min(table.len() - 2);
    let (low, high) = (table[i], table[i + 1]);
    low + (high - low) * (t - i as f32)
}

#[cfg(test)]
mod tests {
    use super::super::camera::{TERMS, TONE};
    use super::*;

    proptest::proptest! {
        #[test]
        fn there_and_back_is_where_one_was(
            terms in (-0.3f64..0.3, -0.15f64..0.15, -0.1f64..0.1), light in 0.01f32..1.3,
        ) {
            let mut camera = Camera([0.0; TERMS]);
            camera.0[TONE].copy_from_slice(&[terms.0, terms.1, terms.2]);
            let tone = Tone::of(&camera);
            // The blue of a colour outside of sRGB lies below zero.
            let value = LinearRgb::new(light, light / 2.0, -light / 4.0);
            let scene = tone.scene(value);
            let back = tone.file(scene);
            for (v, b) in [(value.red, back.red), (value.green, back.green), (value.blue, back.blue)] {
                proptest::prop_assert!((v - b).abs() < 0.002 * v.abs().max(0.05), "{v} {b}");
            }
            if light < 1.0 {
                let direct = camera.tone(srgb_encode(f64::from(light)));
                proptest::prop_assert!((f64::from(scene.red) - direct).abs() < 1e-4);
            }
        }
    }
}
