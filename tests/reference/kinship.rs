//! Inbreeding, kinship and effective numbers against published pedigrees and recurrences.

use broodhue::kin::{Ancestry, Pedigree, effective_breeders, effective_over_generations, effective_with_families};

use crate::near::assert_near;

/// Dyadic fractions are exact in binary; only the order of additions may differ.
const EXACT: f64 = 1e-12;

/// `"calf sire dam; …"`, a dash for an unknown parent, `D1+D2` for possible dams.
fn pedigree(text: &str) -> Pedigree {
    let known = |name: &str| (name != "-").then(|| name.to_owned());
    let fish = text.split(';').map(|line| {
        let cells: Vec<&str> = line.split_whitespace().collect();
        let dams = known(cells[2]).map(|d| d.split('+').map(str::to_owned).collect()).unwrap_or_default();
        Ancestry { fish: cells[0].to_owned(), sire: known(cells[1]), dams, ..Ancestry::default() }
    });
    Pedigree::new(&fish.collect::<Vec<_>>()).unwrap()
}

/// Grows a line from founders `m0`, `f0`: generation t is `m{t}`, `f{t}` from the parents `mate` names.
fn line(generations: usize, mate: impl Fn(usize) -> [String; 4]) -> Pedigree {
    let mut text = "m0 - -; f0 - -".to_owned();
    for t in 1..=generations {
        let [ms, md, fs, fd] = mate(t);
        text += &format!("; m{t} {ms} {md}; f{t} {fs} {fd}");
    }
    pedigree(&text)
}

/// Falconer & Mackay 1996, Table 5.1 (from memory), and the exact fractions of the recursion F = (1 + 2F' + F'')/4.
#[test]
fn full_sib_mating() {
    let sibs = line(12, |t| {
        let (m, f) = (format!("m{}", t - 1), format!("f{}", t - 1));
        [m.clone(), f.clone(), m, f]
    });
    let fractions = [1. / 4., 3. / 8., 1. / 2., 19. / 32., 43. / 64., 47. / 64., 201. / 256., 423. / 512., 55. / 64.];
    for (t, want) in fractions.into_iter().chain([1815. / 2048., 3719. / 4096.]).enumerate() {
        assert_near(sibs.inbreeding(&format!("m{}", t + 2)).unwrap(), want, EXACT, "full sibs");
    }
    // The pace at which the rest is lost tends to 1 - (1 + √5)/4; after a dozen generations to four digits.
    let f = |t: usize| sibs.inbreeding(&format!("m{t}")).unwrap();
    assert_near((f(12) - f(11)) / (1.0 - f(11)), 0.190_983_01, 1e-4, "asymptote of full sibs, computed");
}

#[test]
fn backcross_and_younger_parent() {
    let back = line(11, |t| {
        let young = if t == 1 { "f0".to_owned() } else { format!("f{}", t - 1) };
        ["m0".into(), young.clone(), "m0".into(), young]
    });
    let want = [1. / 4., 3. / 8., 7. / 16., 15. / 32., 31. / 64., 63. / 128., 127. / 256., 255. / 512.];
    for (t, want) in want.into_iter().chain([511. / 1024., 1023. / 2048.]).enumerate() {
        assert_near(back.inbreeding(&format!("f{}", t + 2)).unwrap(), want, EXACT, "backcross to one parent");
    }
    // Each young is mated to its younger parent: the sexes alternate.
    let mut text = "x0 - -; x1 - -".to_owned();
    for t in 2..=12 {
        text += &format!("; x{t} x{} x{}", t - 1, t - 2);
    }
    let younger = pedigree(&text);
    let want = [0.25, 0.375, 0.5, 0.59375, 0.671_875, 0.734_375, 0.785_156_25, 0.826_171_875, 0.859_375];
    for (t, want) in want.into_iter().enumerate() {
        assert_near(younger.inbreeding(&format!("x{}", t + 3)).unwrap(), want, EXACT, "offspring × younger parent");
    }
}

/// One sire a generation over half sisters: Falconer & Mackay 1996, Table 5.1 (from memory), six decimals computed.
#[test]
fn half_sib_mating() {
    let half = half_sib_line(10);
    let want = [0.125, 0.218_75, 0.304_688, 0.380_859, 0.448_73, 0.509_155, 0.562_958, 0.610_863, 0.653_517, 0.691_495];
    for (t, want) in want.into_iter().enumerate() {
        assert_near(half.inbreeding(&format!("m{}", t + 2)).unwrap(), want, 2e-6, "half sibs");
    }
}

/// Each generation one sire covers many half sisters (and half sisters of his), each leaving one young.
fn half_sib_line(generations: usize) -> Pedigree {
    let dams = generations + 2;
    let mut text = "m0 - -".to_owned();
    (0..dams).for_each(|d| text += &format!("; f0_{d} - -"));
    for t in 1..=generations + 1 {
        let s = t - 1;
        text += &format!("; m{t} m{s} f{s}_0");
        (1..dams).for_each(|d| text += &format!("; f{t}_{} m{s} f{s}_{d}", d - 1));
        text += &format!("; f{t}_{} m{s} f{s}_0", dams - 1);
    }
    pedigree(&text)
}

/// Two pairs whose brothers are swapped each generation: F = 1/8 + F'/2 + F''/4 + F'''/8.
#[test]
fn double_first_cousins() {
    let mut text = "a0 - -; b0 - -; c0 - -; d0 - -".to_owned();
    for t in 1..=13 {
        let s = t - 1;
        // a and c are males, b and d females: each new pair takes one young of either old pair.
        text += &format!("; a{t} a{s} b{s}; d{t} a{s} b{s}; c{t} c{s} d{s}; b{t} c{s} d{s}");
    }
    let cousins = pedigree(&text);
    let want = [0.125, 0.1875, 0.25, 0.3125, 0.367_188, 0.417_969, 0.464_844, 0.507_812, 0.547_363, 0.583_74];
    for (t, want) in want.into_iter().enumerate() {
        assert_near(cousins.inbreeding(&format!("a{}", t + 3)).unwrap(), want, 2e-6, "double first cousins");
    }
}

/// Textbook single matings of unrelated founders.
#[test]
fn single_matings() {
    let family = pedigree(
        "A - -; B - -; C - -; D - -; E - -; G - -; s1 A B; s2 A B; h A C; t1 D E; t2 D E; \
         k1 s1 C; k2 s2 D; dd1 s1 t1; dd2 s2 t2; ss1 s1 s2; ss2 s1 s2; g s1 C; gg g D; hx A G",
    );
    let table = [
        ("s1", "h", 1. / 8., "half sibs"),
        ("s1", "s2", 1. / 4., "full sibs"),
        ("A", "s1", 1. / 4., "parent × young"),
        ("A", "g", 1. / 8., "grandparent × grandyoung"),
        ("s2", "k1", 1. / 8., "uncle × niece"),
        ("k1", "k2", 1. / 16., "first cousins"),
        ("dd1", "dd2", 1. / 8., "double first cousins"),
        ("ss1", "ss2", 3. / 8., "full sibs of full sibs"),
        ("hx", "k1", 1. / 16., "half uncle × niece"),
    ];
    for (a, b, want, which) in table {
        assert_near(family.kinship(a, b).unwrap(), want, EXACT, which);
        assert_near(family.kinship(b, a).unwrap(), want, EXACT, which);
    }
}

/// Mrode 2014, *Linear Models for the Prediction of Animal Breeding Values*, 3rd ed., Table 2.1: A = 2 × kinship.
#[test]
fn mrodes_relationship_matrix() {
    let calves = pedigree("1 - -; 2 - -; 3 1 2; 4 1 -; 5 4 3; 6 5 2");
    let a = [
        [1.0, 0.0, 0.5, 0.5, 0.5, 0.25],
        [0.0, 1.0, 0.5, 0.0, 0.25, 0.625],
        [0.5, 0.5, 1.0, 0.25, 0.625, 0.5625],
        [0.5, 0.0, 0.25, 1.0, 0.625, 0.3125],
        [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
        [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
    ];
    for (i, row) in a.iter().enumerate() {
        for (j, want) in row.iter().enumerate() {
            let got = 2.0 * calves.kinship(&(i + 1).to_string(), &(j + 1).to_string()).unwrap();
            assert_near(got, *want, EXACT, "Mrode 2014, Table 2.1");
        }
    }
    assert_near(calves.inbreeding("5").unwrap(), 0.125, EXACT, "Mrode 2014");
    assert_near(calves.inbreeding("6").unwrap(), 0.125, EXACT, "Mrode 2014");
}

/// A teaching pedigree (coursehero.com/file/6329928): R = Z×T, A = T×R, B = T×R, D = A×B, S = R×D, X = S×D. Its
/// relationships are twice the kinships; its row B does not fit and is left out.
#[test]
fn a_teaching_pedigree() {
    let p = pedigree("Z - -; T - -; R Z T; A T R; B T R; D A B; S R D; X S D");
    let source = "teaching pedigree";
    assert_near(p.inbreeding("X").unwrap(), 0.53125, EXACT, source);
    let related = [("Z", "X", 0.3125), ("R", "A", 0.75), ("A", "S", 0.875), ("S", "S", 1.375), ("S", "X", 1.21875)];
    for (a, b, want) in related {
        assert_near(2.0 * p.kinship(a, b).unwrap(), want, EXACT, source);
    }
    assert_near(p.kinship("X", "S").unwrap(), 0.609_375, EXACT, source);
    assert_near(p.kinship("X", "Z").unwrap(), 0.15625, EXACT, source);
}

/// Wright 1922, Am. Nat. 56:330 (pedigree from memory): published F of Comet 0.47.
#[test]
fn comet() {
    let p = pedigree(
        "Foljambe - -; LadyMaynard - -; DaltonDuke - -; YoungStrawberry DaltonDuke LadyMaynard; \
         Bolingbroke Foljambe YoungStrawberry; Phoenix Foljambe LadyMaynard; Favourite Bolingbroke Phoenix; \
         YoungPhoenix Favourite Phoenix; Comet Favourite YoungPhoenix",
    );
    assert_near(p.inbreeding("Favourite").unwrap(), 3.0 / 16.0, EXACT, "Wright 1922");
    assert_near(p.inbreeding("YoungPhoenix").unwrap(), 11.0 / 32.0, EXACT, "Wright 1922");
    assert_near(p.inbreeding("Comet").unwrap(), 15.0 / 32.0, EXACT, "Wright 1922");
    let shares: f64 = p.founder_shares("Comet").unwrap().iter().map(|s| s.1).sum();
    assert_near(shares, 1.0, EXACT, "founders' shares add up");
}

/// 4NmNf/(Nm+Nf): lecture notes by Holsinger (1 + 10, 10 + 100) and biologyexams4u.com (10 + 250, 40 + 10); the rest
/// computed.
#[test]
fn effective_numbers() {
    let table = [
        (1, 1, 2.0),
        (1, 2, 2.666_667),
        (1, 3, 3.0),
        (1, 10, 3.636_364),
        (2, 6, 6.0),
        (2, 10, 6.666_667),
        (3, 9, 9.0),
        (5, 5, 10.0),
        (10, 100, 36.363_64),
        (10, 250, 38.461_54),
        (40, 10, 32.0),
        (20, 80, 64.0),
        (10, 10, 20.0),
    ];
    for (males, females, want) in table {
        assert_near(effective_breeders(males, females), want, 2e-7, "4NmNf/(Nm+Nf)");
    }
    let sizes = effective_over_generations(&[100.0, 100.0, 10.0, 100.0, 100.0]).unwrap();
    assert_near(sizes, 35.714_29, 1e-6, "harmonic mean");
    for (variance, want) in [(0.0, 39.0), (2.0, 19.5), (5.0, 11.142_857)] {
        assert_near(effective_with_families(20.0, variance), want, 1e-7, "family size");
    }
}

/// From an unknown dam among two, kinship is the mean over both readings.
#[test]
fn a_pooled_dam_is_the_mean_of_both() {
    let pooled = pedigree("S - -; D1 - -; D2 - -; y S D1+D2; z S D1");
    assert_near(pooled.kinship("y", "z").unwrap(), f64::midpoint(0.25, 0.125), EXACT, "mean of full and half sibs");
    assert_eq!(pooled.founder_shares("y").unwrap(), [("S", 0.5), ("D1", 0.25), ("D2", 0.25)]);
}

#[test]
fn bad_pedigrees_are_named() {
    let fish = |name: &str, sire: &str, dam: &str| Ancestry {
        fish: name.into(),
        sire: Some(sire.into()),
        dams: vec![dam.into()],
        ..Ancestry::default()
    };
    let founder = |name: &str| Ancestry { fish: name.into(), ..Ancestry::default() };
    let says = |list: &[Ancestry]| Pedigree::new(list).unwrap_err().to_string();
    assert!(says(&[founder("a"), founder("a")]).contains("stands twice"));
    assert!(says(&[fish("y", "a", "b")]).contains("'a' is unknown"));
    let looped = [founder("d"), fish("a", "b", "d"), fish("b", "a", "d"), fish("c", "a", "d")];
    let message = says(&looped);
    assert!(message.contains("its own ancestor") && !message.starts_with('c'), "{message}");
}
