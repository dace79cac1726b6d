//! Segregation ratios, linkage and the choice of a cross; where no source stands beside a figure, an
//! independent program computed it.

use broodhue::inherit::linkage::{
    CrossKind, Phase, f2_law, f2_theta, from_f2, from_test_cross, from_test_cross_unknown_phase, independence, linkage,
    ln_test_cross_unknown_phase, test_cross_law,
};
use broodhue::inherit::{
    Model, ScoringError, Sex, SexSystem, SexSystems, built_in, carrier_after, expected, fry_needed, outlook,
    outlook_of_genotypes, parse, select, young_to_clear,
};
use broodhue::plan::{Expectation, information, power, ratios};

use crate::evidence::evidence;
use crate::near::assert_near;

fn model(name: &str, recombination: f64, system: SexSystem) -> Model {
    let mode = select(&built_in().unwrap(), &[name.to_owned()]).unwrap().remove(0).with_recombination(recombination);
    Model::new(mode, SexSystems::Known(system))
}

/// Share of the target among daughters, sons and all young of `dam × sire`.
fn shares(model: &Model, dam: &str, sire: &str) -> [f64; 3] {
    let outlook = outlook_of_genotypes(model, dam, sire).unwrap();
    [Some(Sex::Female), Some(Sex::Male), None].map(|sex| expected(&outlook, sex).map_or(f64::NAN, |row| row[2]))
}

#[track_caller]
fn assert_shares(found: [f64; 3], expected: [f64; 3]) {
    for (f, e) in found.iter().zip(expected) {
        assert!((f - e).abs() < 1e-12, "{found:?} is not {expected:?}");
    }
}

/// Section 4: textbook ratios of one locus.
#[test]
fn one_locus_ratios() {
    let all = |share: f64| [share; 3];
    for (mode, dam, sire, target) in [
        ("autosomal-recessive", "+/m", "+/m", 0.25),
        ("autosomal-recessive", "+/m", "m/m", 0.5),
        ("autosomal-dominant", "+/m", "+/+", 0.5),
        ("autosomal-dominant", "+/m", "+/m", 0.75),
        ("incompletely-dominant", "+/m", "+/m", 0.25),
        ("incompletely-dominant", "+/m", "m/m", 0.5),
    ] {
        assert_shares(shares(&model(mode, 0.03, SexSystem::Xy), dam, sire), all(target));
    }
    let codominant = outlook_of_genotypes(&model("incompletely-dominant", 0.03, SexSystem::Xy), "+/m", "+/m").unwrap();
    let law = expected(&codominant, None).unwrap();
    assert!((law[1] - 0.5).abs() < 1e-12);
}

#[test]
fn sex_linked_ratios() {
    for (mode, dam, sire, daughters, sons) in [
        ("x-linked-recessive", "Xm/Xm", "X+/Y", 0.0, 1.0),
        ("x-linked-dominant", "Xm/Xm", "X+/Y", 1.0, 1.0),
        ("x-linked-recessive", "X+/Xm", "X+/Y", 0.0, 0.5),
        ("x-linked-dominant", "X+/Xm", "X+/Y", 0.5, 0.5),
        ("x-linked-recessive", "X+/Xm", "Xm/Y", 0.5, 0.5),
        ("x-linked-dominant", "X+/Xm", "Xm/Y", 1.0, 0.5),
        ("x-linked-recessive", "X+/X+", "Xm/Y", 0.0, 0.0),
        ("x-linked-dominant", "X+/X+", "Xm/Y", 1.0, 0.0),
        ("y-linked", "X/X", "X/Ym", 0.0, 1.0),
        ("male-limited-autosomal", "+/+", "+/m", 0.0, 0.5),
        ("male-limited-autosomal", "+/m", "+/m", 0.0, 0.75),
    ] {
        let found = shares(&model(mode, 0.03, SexSystem::Xy), dam, sire);
        assert_shares(found, [daughters, sons, (daughters + sons) / 2.0]);
    }
    for r in [0.0, 0.019, 0.034, 0.051, 0.5] {
        let found = shares(&model("partially-sex-linked", r, SexSystem::Xy), "X+/X+", "X+/Ym");
        assert_shares(found, [r, 1.0 - r, 0.5]);
    }
}

#[test]
fn two_locus_ratios() {
    for (mode, f2, test_cross) in [
        ("two-locus-15-1", 1.0 / 16.0, 0.25),
        ("two-locus-9-7", 7.0 / 16.0, 0.75),
        ("two-locus-9-3-4", 0.25, 0.5),
        ("two-locus-12-3-1", 1.0 / 16.0, 0.25),
        ("two-locus-13-3", 3.0 / 16.0, 0.25),
    ] {
        let model = model(mode, 0.03, SexSystem::Xy);
        assert_shares(shares(&model, "+/a +/b", "+/a +/b"), [f2; 3]);
        assert_shares(shares(&model, "+/a +/b", "a/a b/b"), [test_cross; 3]);
    }
    for (mode, middle) in [("two-locus-9-3-4", 3.0 / 16.0), ("two-locus-12-3-1", 3.0 / 16.0)] {
        let outlook = outlook_of_genotypes(&model(mode, 0.03, SexSystem::Xy), "+/a +/b", "+/a +/b").unwrap();
        assert!((expected(&outlook, None).unwrap()[1] - middle).abs() < 1e-12);
    }
}

/// Section 4: a dominant colour whose homozygote dies, a 9:6:1 and linked loci, all from a mode file of one's own.
#[test]
fn modes_of_ones_own() {
    let text = r#"
[[mode]]
name = "lethal"
loci = [{ name = "m", on = "autosome" }]
rules = [{ class = "target", m = "some" }]
survival = [{ share = 0.0, m = "all" }]

[[mode]]
name = "nine-six-one"
loci = [{ name = "a", on = "autosome" }, { name = "b", on = "autosome" }]
rules = [{ class = "target", a = "all", b = "all" }, { class = "middle", a = "all" }, { class = "middle", b = "all" }]

[[mode]]
name = "linked"
loci = [{ name = "a", on = "autosome" }, { name = "b", on = "autosome", recombination = 0.1 }]
rules = [{ class = "target", a = "all", b = "all" }]
"#;
    let modes = parse("own.toml", text).unwrap();
    let of = |i: usize| Model::new(modes[i].clone(), SexSystems::Known(SexSystem::Xy));
    assert_shares(shares(&of(0), "+/m", "+/m"), [2.0 / 3.0; 3]);
    let law = expected(&outlook_of_genotypes(&of(1), "+/a +/b", "+/a +/b").unwrap(), None).unwrap();
    for (found, ratio) in law.iter().zip([9.0, 6.0, 1.0]) {
        assert!((found - ratio / 16.0).abs() < 1e-12);
    }
    // Section 4, F2 in coupling and in repulsion at r = 0.1: 0.2025 and 0.0025.
    assert_shares(shares(&of(2), "++/ab", "++/ab"), [0.2025; 3]);
    assert_shares(shares(&of(2), "a+/+b", "a+/+b"), [0.0025; 3]);
}

/// Section 4: share of daughters in platies (Kallman; Nakamura et al. 1984).
#[test]
fn platy_daughters() {
    let model = model("male-limited-autosomal", 0.03, SexSystem::Wxy);
    for (dam, sire, daughters) in [
        ("X/X", "X/Y", 0.5),
        ("X/X", "Y/Y", 0.0),
        ("W/X", "X/Y", 0.75),
        ("W/X", "Y/Y", 0.5),
        ("W/Y", "X/Y", 0.5),
        ("W/Y", "Y/Y", 0.5),
    ] {
        let outlook = outlook_of_genotypes(&model, &format!("{dam} +/+"), &format!("{sire} +/+")).unwrap();
        assert!((outlook[0].law.daughters - daughters).abs() < 1e-12, "{dam} × {sire}");
    }
}

/// Section 4: linkage tables and estimates.
#[test]
fn linked_loci() {
    for (r, coupling, repulsion) in [
        (0.05, [0.725625, 0.024375, 0.024375, 0.225625], [0.500625, 0.249375, 0.249375, 0.000625]),
        (0.0, [0.75, 0.0, 0.0, 0.25], [0.5, 0.25, 0.25, 0.0]),
        (0.1, [0.7025, 0.0475, 0.0475, 0.2025], [0.5025, 0.2475, 0.2475, 0.0025]),
        (0.2, [0.66, 0.09, 0.09, 0.16], [0.51, 0.24, 0.24, 0.01]),
        (0.3, [0.6225, 0.1275, 0.1275, 0.1225], [0.5225, 0.2275, 0.2275, 0.0225]),
        (0.5, [0.5625, 0.1875, 0.1875, 0.0625], [0.5625, 0.1875, 0.1875, 0.0625]),
    ] {
        for (found, expected) in [(f2_law(r, Phase::Coupling), coupling), (f2_law(r, Phase::Repulsion), repulsion)] {
            found.iter().zip(expected).for_each(|(f, e)| assert!((f - e).abs() < 1e-12));
        }
    }
    let exam = from_test_cross([621, 87, 92, 610], Phase::Coupling).unwrap();
    assert_near(exam.rate, 0.12695, 1e-4, "exam item 621:87:92:610");
    assert_near(exam.lod, 191.422, 1e-5, "exam item 621:87:92:610");
    let bridges = from_test_cross([1339, 151, 154, 1195], Phase::Coupling).unwrap();
    assert_near(bridges.rate, 0.107432, 1e-5, "Bridges and Morgan, from memory");
    assert_near(bridges.standard_error, 0.005_811_73, 1e-5, "Bridges and Morgan, from memory");
    let maize = [1997, 906, 904, 32];
    assert_near(f2_theta(maize), 0.0357123, 1e-5, "maize, Fisher, from memory");
    assert_near(from_f2(maize, Phase::Repulsion).unwrap().rate, 0.188977, 1e-5, "maize");
    let sweet_pea = [1528, 106, 117, 381];
    assert_near(f2_theta(sweet_pea), 0.7844304, 1e-6, "sweet pea, Bateson and Punnett");
    assert_near(from_f2(sweet_pea, Phase::Coupling).unwrap().rate, 0.1143193, 1e-6, "sweet pea");
    assert_near(f2_theta([125, 18, 20, 34]), 0.6268215, 1e-6, "Rao; Dempster, Laird & Rubin, from memory");
    let f2 = linkage(sweet_pea, CrossKind::F2).unwrap();
    assert_eq!((f2.kind.words(), f2.estimates.len()), ("F2", 2));
    assert_near(f2.estimates[0].1.rate, 0.1143193, 1e-6, "sweet pea in coupling");
    let unknown = linkage([621, 87, 92, 610], CrossKind::TestCross).unwrap();
    assert!(unknown.kind.words() == "test cross" && (unknown.estimates[0].1.rate - 0.127).abs() < 0.0006);
    assert_eq!(linkage([0; 4], CrossKind::F2), None);
    assert!(independence(sweet_pea).unwrap().p < 1e-12);
    assert!(independence([90, 30, 30, 10]).unwrap().p > 0.99);
}

/// Section 7, example 5: linkage of unknown phase, test cross 21:4:3:19; the prior 1/4 of a doubly heterozygous dam is in
/// its ln L.
#[test]
fn example_5_phase_unknown() {
    let counts = [21, 4, 3, 19];
    for (r, ln, lod) in [
        (0.01, -20.18267751, -0.3272124),
        (0.05, -10.56633047, 3.849114),
        (0.1, -7.876989053, 5.01708),
        (0.15, -7.32506985, 5.256776),
        (0.2, -7.736280216, 5.078189),
        (0.25, -8.755816202, 4.63541),
        (0.3, -10.23928016, 3.99115),
        (0.35, -12.12454429, 3.17239),
        (0.4, -14.3915313, 2.18785),
        (0.45, -17.04617697, 1.034952),
        (0.5, -19.42924308, 0.0),
    ] {
        let found = ln_test_cross_unknown_phase(counts, r);
        assert!((found + 0.25_f64.ln() - ln).abs() < 1e-6, "r {r}: {found}");
        let found_lod = (found - ln_test_cross_unknown_phase(counts, 0.5)) / std::f64::consts::LN_10;
        assert!((found_lod - lod).abs() < 1e-6, "r {r}: {found_lod}");
    }
    let best = from_test_cross_unknown_phase(counts).unwrap();
    assert!((best.rate - 7.0 / 47.0).abs() < 0.0006 && best.lod > 5.25);
    assert!((test_cross_law(0.15, Phase::Repulsion)[1] - 0.425).abs() < 1e-12);
}

/// Section 8, example A.
#[test]
fn example_a_two_ratios() {
    for (low, high, young, from, if_low, if_high, normal, sure, sure_normal, bits) in [
        (0.25, 0.5, 42, 16, 0.041629, 0.044215, 37.6834, 80, 75.378, [0.207519, 0.188722]),
        (0.0625, 0.25, 40, 6, 0.036694, 0.043274, 35.0715, 76, 70.1536, [0.258554, 0.176808]),
        (0.25, 0.4375, 72, 25, 0.041843, 0.046912, 66.4307, 137, 132.881, [0.109439, 0.119759]),
        (0.5, 2.0 / 3.0, 98, 58, 0.042705, 0.0484, 91.9088, 189, 183.845, [0.0849625, 0.0817042]),
        (0.25, 1.0 / 3.0, 322, 94, 0.048905, 0.049727, 318.68, 646, 637.455, [0.0236844, 0.0250625]),
    ] {
        let plan = ratios::tell_apart(low, high, 0.05).unwrap();
        assert_eq!((plan.young, plan.call_larger_from), (young, from), "{low} and {high}");
        assert!((plan.error_if_smaller - if_low).abs() < 1e-6 && (plan.error_if_larger - if_high).abs() < 1e-6);
        assert_near(ratios::normal_young(low, high, 0.05), normal, 1e-5, "Hanson 1959");
        assert_eq!(ratios::tell_apart(low, high, 0.01).unwrap().young, sure, "{low} and {high} at 1 %");
        assert_near(ratios::normal_young(low, high, 0.01), sure_normal, 1e-5, "Hanson 1959, 1 %");
        // The table gives bits in the order of its ratios, whichever is larger.
        let found = [ratios::bits_per_fish(high, low), ratios::bits_per_fish(low, high)];
        let swapped = [found[1], found[0]];
        let near = |pair: [f64; 2]| pair.iter().zip(bits).all(|(f, b)| (f - b).abs() < 1e-6);
        assert!(near(found) || near(swapped), "{low} and {high}: {found:?}");
    }
    for (low, high, error, always) in [
        (0.25, 0.5, 0.05, 44),
        (0.25, 0.5, 0.01, 85),
        (0.0625, 0.25, 0.05, 45),
        (0.25, 0.4375, 0.05, 75),
        (0.5, 2.0 / 3.0, 0.05, 102),
    ] {
        assert_eq!(ratios::always_from(low, high, error), Some(always), "{low} and {high} at {error}");
    }
}

/// Section 8, example B: after example 1, autosomal or X-linked?
#[test]
fn example_b_next_cross() {
    let book = evidence(
        "fish P1 m founder target
         fish W f founder other pure
         fish h f B1 other
         fish hs m B1 other
         fish q f B2 target
         fish z f B2 other
         fish N m founder other pure
         fish V f founder other pure
         brood B1 K1 P1 W f=17/0 m=17/0
         brood B2 K2 P1 h f=11/12 m=12/10",
    );
    let error = ScoringError::even(0.01, 2);
    let models: Vec<Model> = ["autosomal-recessive", "x-linked-recessive", "two-locus-15-1", "two-locus-9-7"]
        .iter()
        .map(|name| model(name, 0.03, SexSystem::Xy))
        .collect();
    let ln: Vec<f64> = models.iter().map(|m| m.ln_likelihood(&book, &error).unwrap()).collect();
    let total: f64 = ln.iter().map(|l| l.exp()).sum();
    let weights: Vec<f64> = ln.iter().map(|l| l.exp() / total).collect();
    for (found, expected) in weights.iter().zip([0.37589, 0.379642, 0.0012584, 0.243209]) {
        assert_near(*found, expected, 1e-5, "example B, priors");
    }
    let table: [(&str, &str, [[f64; 2]; 4]); 6] = [
        ("h", "P1", [[0.0, 0.001048], [0.0, 0.002117], [0.0, 0.003209], [0.0, 0.005448]]),
        ("h", "hs", [[0.284792, 0.261873], [0.485332, 0.453755], [0.626589, 0.591887], [0.799416, 0.763801]]),
        ("q", "N", [[0.894966, 0.858265], [0.979373, 0.939135], [0.991827, 0.950643], [0.997510, 0.955627]]),
        ("V", "P1", [[0.0; 2]; 4]),
        ("q", "P1", [[0.0, 0.000286], [0.0, 0.000828], [0.0, 0.001555], [0.0, 0.003165]]),
        ("z", "N", [[0.463001, 0.459321], [0.712307, 0.692436], [0.841619, 0.811671], [0.949771, 0.911644]]),
    ];
    // Probability that the brood makes the true mode, autosomal or X-linked, 20 times as likely as the other; else 0.
    let powers: [(&str, &str, [[f64; 2]; 4]); 3] = [
        ("h", "hs", [[0.293336, 0.0], [0.440868, 0.122184], [0.608557, 0.338841], [0.791492, 0.699198]]),
        ("q", "N", [[0.917650, 0.921785], [0.975885, 0.987906], [0.991543, 0.995651], [0.997042, 0.998646]]),
        ("z", "N", [[0.0, 0.577825], [0.343735, 0.706157], [0.754509, 0.851843], [0.927640, 0.961187]]),
    ];
    for (dam, sire, expected) in table {
        let (d, s) = (book.find(dam).unwrap(), book.find(sire).unwrap());
        let modes: Vec<_> =
            weights.iter().zip(&models).map(|(w, m)| (*w, outlook(m, &book, &error, d, s).unwrap())).collect();
        for (n, [two, four]) in [4, 8, 12, 20].into_iter().zip(expected) {
            let found = [&modes[..2], &modes].map(|m| information(&Expectation::new(m, &error), n));
            for (f, e) in found.iter().zip([two, four]) {
                assert!((f - e).abs() < 1e-6, "{dam} × {sire}, {n} fry: {found:?}");
            }
        }
        let expectation = Expectation::new(&modes[..2], &error);
        let of = powers.iter().find(|(d, s, _)| (*d, *s) == (dam, sire)).map_or([[0.0; 2]; 4], |p| p.2);
        for (n, expected) in [4, 8, 12, 20].into_iter().zip(of) {
            let found = [(0, 1), (1, 0)].map(|which| power(&expectation, which, n, 20.0));
            for (f, e) in found.iter().zip(expected) {
                assert!((f - e).abs() < 1e-6, "{dam} × {sire}, {n} fry, power: {found:?}");
            }
        }
    }
    let bits = |weights: &[f64]| -> f64 {
        let total: f64 = weights.iter().sum();
        weights.iter().map(|w| -w / total * (w / total).log2()).sum()
    };
    assert_near(bits(&weights[..2]), 0.999982, 1e-6, "example B, entropy of two");
    assert_near(bits(&weights), 1.56929, 1e-5, "example B, entropy of four");
}

/// Section 8, example C: is this wild fish a carrier?
#[test]
fn example_c_suspect() {
    let prior = 2.0 / 3.0;
    let young = [0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12, 16, 17, 20];
    let by_target = [
        0.666667,
        0.5,
        0.333333,
        0.2,
        0.111111,
        0.0588235,
        0.030303,
        0.0153846,
        0.00775194,
        0.00194932,
        0.00097561,
        0.000488043,
        3.05166e-05,
        1.52586e-05,
        1.90734e-06,
    ];
    let by_carrier = [
        0.666667, 0.6, 0.529412, 0.457627, 0.38756, 0.321854, 0.262514, 0.210714, 0.166823, 0.101226, 0.0778908,
        0.0595783, 0.0196513, 0.0148112, 0.00630245,
    ];
    for (share, column, clear) in [(0.5, by_target, (6, 8)), (0.25, by_carrier, (13, 19))] {
        for (n, expected) in young.into_iter().zip(column) {
            assert_near(carrier_after(prior, share, n), expected, 5e-6, "example C");
        }
        assert_eq!(
            (young_to_clear(prior, share, 0.05), young_to_clear(prior, share, 0.01)),
            (Some(clear.0), Some(clear.1))
        );
    }
    let recessive = model("autosomal-recessive", 0.03, SexSystem::Xy);
    let error = ScoringError::even(0.0, 2);
    for (mate, expected) in [
        ("m/m", [0.251629, 0.459148, 0.729574, 0.850952, 0.896295, 0.916271]),
        ("+/m", [0.10917, 0.211732, 0.39405, 0.542915, 0.658092, 0.802827]),
    ] {
        let of = |dam: &str| outlook_of_genotypes(&recessive, dam, mate).unwrap();
        let expectation = Expectation::new(&[(prior, of("+/m")), (1.0 - prior, of("+/+"))], &error);
        for (n, bits) in [1, 2, 4, 6, 8, 12].into_iter().zip(expected) {
            assert!((information(&expectation, n) - bits).abs() < 1e-5, "{mate}, {n} young");
        }
    }
}

/// Section 3: young needed to see the class once.
#[test]
fn fry_needed_for_a_class() {
    let recessive = model("autosomal-recessive", 0.03, SexSystem::Xy);
    for (dam, sire, n95, n99) in [("+/m", "m/m", 5, 7), ("+/m", "+/m", 11, 17), ("m/m", "m/m", 1, 1)] {
        let modes = [(1.0, outlook_of_genotypes(&recessive, dam, sire).unwrap())];
        assert_eq!((fry_needed(&modes, 0.95), fry_needed(&modes, 0.99)), (Some(n95), Some(n99)), "{dam} × {sire}");
    }
    let never = [(1.0, outlook_of_genotypes(&recessive, "+/+", "m/m").unwrap())];
    assert_eq!(fry_needed(&never, 0.95), None);
}
