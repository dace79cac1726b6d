//! Errors gathered over many photos, and the figures made of them.

use broodhue::colour::{Lab, ciede2000};

use super::{Measured, pair};
use crate::common::render::truth::{FishTruth, Truth};

/// What was gathered.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    /// Photos, and photos whose card was found.
    pub photos: (usize, usize),
    /// Photos whose card was put in a wrong place or order.
    pub card_wrong: usize,
    /// Lone fish: found, there.
    pub lone: (usize, usize),
    /// Touching fish: found, there.
    pub touching: (usize, usize),
    /// Pale fish (trunk within ΔL* 5 of a white floor): found, there.
    pub pale: (usize, usize),
    /// Measured fish: true, all.
    pub measured: (usize, usize),
    /// Heads of the fish compared: at the right end, known.
    pub heads: (usize, usize),
    /// Measured less true number of fish, a photo.
    pub count_errors: Vec<f64>,
    /// Trunk: measured less true L*.
    pub lightness: Vec<f64>,
    /// Trunk: that difference over its standard error.
    pub standardised: Vec<f64>,
    /// Trunk: CIEDE2000.
    pub de00: Vec<f64>,
    /// Trunk: measured less true red share.
    pub red: Vec<f64>,
    /// Measured over true total length, less 1.
    pub length: Vec<f64>,
    /// Measured over true standard length, less 1.
    pub standard_length: Vec<f64>,
    /// Proposals other than `undecided` and `not shown`: right, all.
    pub proposals: (usize, usize),
    /// Leave-one-out means.
    pub leave_one_out: Vec<f64>,
}

/// Adds one to `hit.1`, and to `hit.0` when it was a hit.
fn count(hits: &mut (usize, usize), hit: bool) {
    hits.0 += usize::from(hit);
    hits.1 += 1;
}

impl Tally {
    /// Adds one photo; `floor` is the floor's true CIELAB.
    pub fn add(&mut self, truth: &Truth, seen: &Measured, floor: [f64; 3]) {
        count(&mut self.photos, seen.card.found);
        self.card_wrong += usize::from(seen.card.found && !card_right(truth, seen));
        self.leave_one_out.extend(seen.card.fit.as_ref().map(|f| f.loo_mean_de00));
        let pairs = pair(&truth.fish, &seen.fish);
        for (i, t) in truth.fish.iter().enumerate() {
            let found = pairs.iter().any(|p| p.0 == i);
            if t.touching {
                count(&mut self.touching, found);
            } else if !t.cut {
                count(&mut self.lone, found);
            }
            let near_floor = t.trunk.is_some_and(|l| (l.l - floor[0]).abs() <= 5.0);
            if floor[0] > 80.0 && near_floor && !t.touching && !t.cut {
                count(&mut self.pale, found);
            }
        }
        self.measured.0 += pairs.len();
        self.measured.1 += seen.fish.len();
        self.count_errors.push(seen.fish.len() as f64 - truth.fish.len() as f64);
        for (i, j) in pairs {
            let (t, s) = (&truth.fish[i], &seen.fish[j]);
            if !t.touching && !t.cut {
                self.compare(t, s);
            }
        }
    }

    fn compare(&mut self, t: &FishTruth, s: &super::measured::FishSeen) {
        if let (Some(lab), Some(seen)) = (t.trunk, s.trunk) {
            self.lightness.push(seen.lightness - lab.l);
            self.standardised.push((seen.lightness - lab.l) / seen.lightness_se);
            self.de00.push(ciede2000(seen.lab(), Lab::new(lab.l, lab.a, lab.b)));
        }
        if let Some(heading) = s.heading.map(f64::to_radians) {
            let ahead = t.ends.0 - t.ends.1;
            count(&mut self.heads, ahead.x * heading.cos() + ahead.y * heading.sin() > 0.0);
        }
        self.red.extend(s.red_share.and_then(|r| r.trunk).map(|r| r - t.red.trunk));
        self.length.extend(s.length_mm.map(|l| l / t.length_mm - 1.0));
        self.standard_length.extend(s.standard_length_mm.map(|l| l / t.standard_length_mm - 1.0));
        for p in s.proposals.iter().filter(|p| p.class != "undecided" && p.class != "not shown") {
            if let Some((_, class)) = t.classes.iter().find(|(axis, _)| *axis == p.axis) {
                count(&mut self.proposals, *class == p.class);
            }
        }
    }

    /// Share of the 95 % intervals of L* that hold the truth.
    pub fn coverage(&self) -> f64 {
        within(&self.standardised, 1.96)
    }

    /// The figures as lines of a table: name, value.
    pub fn lines(&self) -> Vec<(&'static str, String)> {
        let abs = |v: &[f64]| v.iter().map(|x| x.abs()).collect::<Vec<_>>();
        let share = |(a, n): (usize, usize)| format!("{:.3} ({a} of {n})", a as f64 / n.max(1) as f64);
        let lightness = abs(&self.lightness);
        let mean = self.lightness.iter().sum::<f64>() / self.lightness.len().max(1) as f64;
        vec![
            ("photos with the card found", share(self.photos)),
            ("cards in a wrong place", self.card_wrong.to_string()),
            ("leave-one-out CIEDE2000, median", format!("{:.2}", quantile(&self.leave_one_out, 0.5))),
            ("recall, lone fish", share(self.lone)),
            ("recall, touching fish", share(self.touching)),
            ("recall, pale fish on white", share(self.pale)),
            ("precision, all regions", share(self.measured)),
            ("heads at the right end", share(self.heads)),
            ("photos with count error ≤ 1", format!("{:.3}", within(&self.count_errors, 1.0))),
            ("bias of L*, mean", format!("{mean:.2}")),
            ("|ΔL*|, median", format!("{:.2}", quantile(&lightness, 0.5))),
            ("|ΔL*|, 95th percentile", format!("{:.2}", quantile(&lightness, 0.95))),
            ("CIEDE2000, median", format!("{:.2}", quantile(&self.de00, 0.5))),
            ("95 % intervals of L* holding the truth", format!("{:.3}", self.coverage())),
            ("red share within 0.05", format!("{:.3}", within(&self.red, 0.05))),
            ("red share within 0.03", format!("{:.3}", within(&self.red, 0.03))),
            ("total length, median error", format!("{:.3}", quantile(&abs(&self.length), 0.5))),
            ("standard length, median error", format!("{:.3}", quantile(&abs(&self.standard_length), 0.5))),
            ("proposed classes right", share(self.proposals)),
        ]
    }

    /// Takes over what another tally gathered.
    pub fn append(&mut self, mut other: Self) {
        let add = |a: &mut (usize, usize), b: (usize, usize)| *a = (a.0 + b.0, a.1 + b.1);
        add(&mut self.photos, other.photos);
        add(&mut self.lone, other.lone);
        add(&mut self.touching, other.touching);
        add(&mut self.pale, other.pale);
        add(&mut self.measured, other.measured);
        add(&mut self.heads, other.heads);
        add(&mut self.proposals, other.proposals);
        self.card_wrong += other.card_wrong;
        self.count_errors.append(&mut other.count_errors);
        self.lightness.append(&mut other.lightness);
        self.standardised.append(&mut other.standardised);
        self.de00.append(&mut other.de00);
        self.red.append(&mut other.red);
        self.length.append(&mut other.length);
        self.standard_length.append(&mut other.standard_length);
        self.leave_one_out.append(&mut other.leave_one_out);
    }

    /// One line a photo, for tuning.
    pub fn line(&self, name: &str) -> String {
        let lightness: Vec<f64> = self.lightness.iter().map(|x| x.abs()).collect();
        format!(
            "{name}: card {}{}, loo {:.2}, lone {:?}, touching {:?}, measured {:?}, |dL| {:.2}, worst {:.2}, dE {:.2}",
            self.photos.0,
            if self.card_wrong > 0 { " WRONG" } else { "" },
            quantile(&self.leave_one_out, 0.5),
            self.lone,
            self.touching,
            self.measured,
            quantile(&lightness, 0.5),
            quantile(&lightness, 1.0),
            quantile(&self.de00, 0.5),
        )
    }

    /// The figures as a table under a heading.
    pub fn table(&self, heading: &str) -> String {
        let rows = self.lines().into_iter().map(|(name, value)| format!("\n  {name:<42} {value}"));
        format!("\n{heading}{}", rows.collect::<String>())
    }
}

/// Whether the card's patches lie within half a pitch of the true ones, in the same order.
fn card_right(truth: &Truth, seen: &Measured) -> bool {
    let Some(patches) = &seen.card.patches else { return false };
    let pitch = truth.patches[0].distance(truth.patches[1]);
    patches.len() == 24 && patches.iter().zip(&truth.patches).all(|(p, q)| p.distance(*q) < 0.5 * pitch)
}

/// Share of values no farther than `limit` from zero; NaN of none.
pub fn within(values: &[f64], limit: f64) -> f64 {
    values.iter().filter(|v| v.abs() <= limit).count() as f64 / values.len() as f64
}

/// The quantile `q` by the nearest rank; NaN of none.
pub fn quantile(values: &[f64], q: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let rank = ((q * sorted.len() as f64).ceil() as usize).clamp(1, sorted.len().max(1)) - 1;
    sorted.get(rank).copied().unwrap_or(f64::NAN)
}
