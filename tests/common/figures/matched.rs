//! Which measured fish is which true one.

use super::measured::FishSeen;
use crate::common::render::truth::FishTruth;

/// A match lies within this share of the fish's length from its true centre.
const NEAR: f64 = 0.3;
/// A match's area is within this factor of the true area: half a fish, or two as one, is no match.
const AREA: f64 = 1.8;

/// Pairs (true, measured), each fish at most once, nearest first.
pub fn pair(truth: &[FishTruth], seen: &[FishSeen]) -> Vec<(usize, usize)> {
    let mut candidates: Vec<(f64, usize, usize)> = Vec::new();
    for (i, t) in truth.iter().enumerate() {
        let reach = NEAR * (t.bounds.x1 - t.bounds.x0).hypot(t.bounds.y1 - t.bounds.y0);
        for (j, s) in seen.iter().enumerate() {
            let d = t.centre.distance(s.centre);
            let ratio = s.area_px / (t.area_px as f64).max(1.0);
            if d <= reach && (1.0 / AREA..=AREA).contains(&ratio) && !s.flags.iter().any(|f| f == "cluster") {
                candidates.push((d, i, j));
            }
        }
    }
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, i, j) in candidates {
        if pairs.iter().all(|p| p.0 != i && p.1 != j) {
            pairs.push((i, j));
        }
    }
    pairs
}
