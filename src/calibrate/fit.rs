//! Which model explains a card best: candidates compared by leave-one-out.

use super::camera::{Camera, times};
use super::patch::Patch;
use super::residue::{Residue, peculiar};
use super::solve::{Prior, solve, start};
use super::suspect::suspects;
use crate::card::LeftOut;
use crate::colour::{Lab, ciede2000};

/// One way to explain a card.
struct Candidate {
    name: &'static str,
    prior: Prior,
    /// Whether what is left unexplained is carried over to the colours between the patches.
    carries: bool,
}

/// The candidates for a card with coloured patches.
fn candidates() -> [Candidate; 3] {
    [
        Candidate { name: "linear", prior: Prior::linear(), carries: true },
        Candidate { name: "root-polynomial", prior: Prior::root_polynomial(), carries: true },
        Candidate { name: "joint", prior: Prior::joint(), carries: true },
    ]
}

/// The name of the only model a grey card allows.
pub(super) const WHITE_BALANCE: &str = "white-balance";

/// A camera and what it leaves unexplained.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Explained {
    pub(super) camera: Camera,
    /// `None` where nothing is carried over.
    pub(super) residue: Option<Residue>,
}

impl Explained {
    /// CIELAB of a patch.
    fn lab(&self, patch: &Patch) -> Lab {
        let lab = self.camera.lab(patch);
        let [l, a, b] = self.residue.as_ref().map_or([0.0; 3], |r| r.correction(lab));
        Lab::new(lab.l + l, lab.a + a, lab.b + b)
    }
}

/// How a patch was read by a fit that had not seen it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Unseen {
    /// The patch's place in the card's order.
    pub(super) index: usize,
    /// CIEDE2000 to what it should be.
    pub(super) de00: f64,
    /// Differences of lightness, chroma and hue in units of CIEDE2000.
    pub(super) difference: [f64; 3],
    /// What the patch should be.
    pub(super) wanted: Lab,
    /// What it was read as.
    pub(super) read: Lab,
    /// Expected variance of the difference, in units of the variance that neighbours share: how little the other patches
    /// say about it, and what is peculiar to its own reading and print.
    pub(super) variance: f64,
}

/// The model chosen for a card.
#[derive(Debug)]
pub(super) struct Chosen {
    pub(super) name: &'static str,
    pub(super) explained: Explained,
    /// CIEDE2000 of the patches in the fit.
    pub(super) inside: Vec<f64>,
    /// Every unclipped patch, read by a fit without it.
    pub(super) outside: Vec<Unseen>,
    /// Patches found shaded or glaring, by their place in the card's order.
    pub(super) suspects: Vec<(usize, LeftOut)>,
}

impl Chosen {
    fn outside_mean(&self) -> f64 {
        self.outside.iter().map(|u| u.de00).sum::<f64>() / self.outside.len().max(1) as f64
    }
}

/// The candidate with the smallest leave-one-out mean; `None` without patches.
pub(super) fn choose(patches: &[Patch], coloured: bool) -> Option<Chosen> {
    if patches.is_empty() {
        return None;
    }
    if !coloured {
        let only = Candidate { name: WHITE_BALANCE, prior: Prior::gains(), carries: false };
        return Some(weigh(&only, patches));
    }
    candidates().iter().map(|c| weigh(c, patches)).min_by(|a, b| a.outside_mean().total_cmp(&b.outside_mean()))
}

/// Fits a candidate to all patches and once without each.
fn weigh(candidate: &Candidate, patches: &[Patch]) -> Chosen {
    let all: Vec<&Patch> = patches.iter().collect();
    let (explained, suspects) = explain(candidate, &start(&all), &all);
    let inside = patches
        .iter()
        .filter(|p| !suspects.iter().any(|s| s.0 == p.index))
        .map(|p| ciede2000(explained.lab(p), p.lab))
        .collect();
    let outside = (0..patches.len())
        .map(|i| {
            let rest: Vec<&Patch> = patches.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, p)| p).collect();
            // The search starts at the fit to all; it ends at the minimum without the patch all the same.
            let (without, _) = explain(candidate, &explained.camera, &rest);
            unseen(&without, &patches[i])
        })
        .collect();
    Chosen { name: candidate.name, explained, inside, outside, suspects }
}

/// Fits the patches, leaves out those that look shaded or glaring, and fits again when there were any.
fn explain(candidate: &Candidate, from: &Camera, patches: &[&Patch]) -> (Explained, Vec<(usize, LeftOut)>) {
    let mut camera = solve(from.clone(), &candidate.prior, patches);
    let suspects = if candidate.carries { suspects(&camera, patches) } else { Vec::new() };
    let kept: Vec<&Patch> = patches.iter().copied().filter(|p| !suspects.iter().any(|s| s.0 == p.index)).collect();
    if !suspects.is_empty() {
        camera = solve(camera, &candidate.prior, &kept);
    }
    let residue = candidate
        .carries
        .then(|| {
            let given: Vec<Lab> = kept.iter().map(|p| camera.lab(p)).collect();
            let wanted: Vec<Lab> = kept.iter().map(|p| p.lab).collect();
            Residue::of(&given, &wanted)
        })
        .flatten();
    (Explained { camera, residue }, suspects)
}

fn unseen(without: &Explained, patch: &Patch) -> Unseen {
    let lab = without.lab(patch);
    let difference = [lab.l - patch.lab.l, lab.a - patch.lab.a, lab.b - patch.lab.b];
    let remoteness = without.residue.as_ref().map_or(1.0, |r| r.remoteness(without.camera.lab(patch)));
    Unseen {
        index: patch.index,
        de00: ciede2000(lab, patch.lab),
        difference: times(&patch.frame, difference),
        wanted: patch.lab,
        read: lab,
        variance: remoteness + peculiar(patch.lab),
    }
}
