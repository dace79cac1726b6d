//! Books drawn from known modes: the true mode is hardly ever ruled out, and the weights mean what they say.

use broodhue::inherit::{
    Breeder, Brood, Class, Counts, Evidence, JudgeOptions, Mating, Model, Origin, Sex, SexSystem, SexSystems, Verdict,
    built_in, judge,
};
use rand::prelude::*;
use rand_chacha::ChaCha8Rng;

const ERROR: f64 = 0.01;

fn models() -> Vec<Model> {
    let modes = built_in().unwrap().into_iter().map(|m| m.with_recombination(0.03));
    modes.map(|m| Model::new(m, SexSystems::Known(SexSystem::Xy))).collect()
}

fn draw(weights: impl Iterator<Item = f64> + Clone, random: &mut ChaCha8Rng) -> usize {
    let total: f64 = weights.clone().sum();
    let mut left = random.random::<f64>() * total;
    let count = weights.clone().count();
    for (i, w) in weights.enumerate() {
        left -= w;
        if left < 0.0 {
            return i;
        }
    }
    count - 1
}

/// A book under construction, with every fish's true genotype.
struct Drawn<'a> {
    model: &'a Model,
    random: &'a mut ChaCha8Rng,
    evidence: Evidence,
    truth: Vec<usize>,
}

impl Drawn<'_> {
    fn scored(&mut self, sex: Sex, genotype: usize) -> Class {
        let target = self.model.spaces[0].genotypes(sex)[genotype].class == Class::Target;
        let seen = target != self.random.random_bool(ERROR);
        if seen { Class::Target } else { Class::Other }
    }

    fn add(&mut self, sex: Sex, genotype: usize, class: Class, origin: Origin) -> usize {
        let fish = format!("f{}", self.truth.len());
        self.evidence.breeders.push(Breeder { fish, sex, class: Some(class), pure: false, origin });
        self.truth.push(genotype);
        self.truth.len() - 1
    }

    fn founder(&mut self, sex: Sex) -> usize {
        let priors = self.model.spaces[0].genotypes(sex).iter().map(|g| g.prior);
        let genotype = draw(priors, self.random);
        let class = self.scored(sex, genotype);
        self.add(sex, genotype, class, Origin::Founder)
    }

    /// A brood of `young`, two daughters and two sons of which are kept.
    fn brood(&mut self, sire: usize, dam: usize, young: u32) -> [usize; 4] {
        let index = self.evidence.broods.len();
        let mut counts = Counts::default();
        let mut kept = [vec![], vec![]];
        for _ in 0..young {
            let space = &self.model.spaces[0];
            let rows = Sex::BOTH.map(|sex| space.offspring(self.truth[dam], self.truth[sire], sex));
            let at = draw(rows.iter().flat_map(|r| r.iter().copied()), self.random);
            let daughters = rows[0].len();
            let (sex, genotype) = if at < daughters { (Sex::Female, at) } else { (Sex::Male, at - daughters) };
            let class = self.scored(sex, genotype);
            let row = if sex == Sex::Female { &mut counts.female } else { &mut counts.male };
            row[class.index()] += 1;
            kept[sex.index()].push((sex, genotype, class));
        }
        let name = format!("B{index}");
        let parents = vec![Mating { sire, dam }];
        self.evidence.broods.push(Brood {
            name: name.clone(),
            label: name.clone(),
            cross: name,
            parents,
            stored: std::collections::BTreeMap::new(),
            young: None,
            counts,
        });
        let mut fish = |sex: usize, n: usize| {
            let (sex, genotype, class) = kept[sex][n];
            self.add(sex, genotype, class, Origin::Brood(index))
        };
        [fish(0, 0), fish(0, 1), fish(1, 0), fish(1, 1)]
    }
}

/// Two founder pairs, sibs mated, a backcross and an outcross, 24 young each.
fn book(model: &Model, random: &mut ChaCha8Rng) -> Evidence {
    let evidence = Evidence { axis: "red-body".into(), target: "absent".into(), ..Evidence::default() };
    let mut drawn = Drawn { model, random, evidence, truth: vec![] };
    let [s, t] = [drawn.founder(Sex::Male), drawn.founder(Sex::Male)];
    let [d, e] = [drawn.founder(Sex::Female), drawn.founder(Sex::Female)];
    let first = drawn.brood(s, d, 24);
    let second = drawn.brood(t, e, 24);
    drawn.brood(first[2], first[0], 24);
    drawn.brood(s, first[1], 24);
    drawn.brood(second[2], first[1], 24);
    drawn.evidence
}

fn run(books: u32, seed: u64) {
    let models = models();
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (mut ruled_out, mut brier, mut promised, mut squares) = (0, 0.0, 0.0, 0.0);
    for _ in 0..books {
        let truth = random.random_range(0..models.len());
        let evidence = book(&models[truth], &mut random);
        let judgement = judge(&evidence, &models, &JudgeOptions::new(ERROR)).unwrap();
        ruled_out += u32::from(judgement.modes[truth].verdict == Verdict::RuledOut);
        let score: f64 =
            judgement.modes.iter().enumerate().map(|(i, m)| (m.weight - f64::from(u8::from(i == truth))).powi(2)).sum();
        brier += score;
        squares += score * score;
        promised += 1.0 - judgement.modes.iter().map(|m| m.weight * m.weight).sum::<f64>();
    }
    let n = f64::from(books);
    let (brier, promised) = (brier / n, promised / n);
    let spread = (squares / n - brier * brier).sqrt() / n.sqrt();
    println!("{books} books: true mode ruled out {ruled_out}; Brier {brier:.4}, promised {promised:.4} ± {spread:.4}");
    assert!(f64::from(ruled_out) < 0.01 * n.max(101.0), "ruled out {ruled_out} of {books}");
    // Weights that mean what they say reach the Brier score they promise.
    assert!((brier - promised).abs() < 4.0 * spread, "Brier {brier} where the weights promise {promised}");
}

/// Enough that the Brier score is known to 0.02.
#[test]
fn the_true_mode_survives_and_weights_are_calibrated() {
    run(500, 20_260_503);
}
