//! Two samples, ranks, slopes and selection against published data.

use broodhue::stats::ranks::{kendall, mann_kendall, mann_whitney, signed_rank};
use broodhue::stats::selection::{intensity, intensity_of, realised_heritability};
use broodhue::stats::slope::{line, theil_sen};
use broodhue::stats::student::{paired, welch};

use crate::near::assert_near;

/// Student's sleep data as in R's `sleep`; `t.test`.
#[test]
fn students_sleep() {
    let first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    let second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let (apart, source) = (welch(&first, &second).unwrap(), "R t.test(sleep)");
    assert_near(apart.t(), -1.860_813, 1e-6, source);
    assert_near(apart.df, 17.776_47, 1e-6, source);
    assert_near(apart.p(), 0.079_394_14, 1e-6, source);
    assert_near(apart.interval(0.95).low, -3.365_483, 1e-6, source);
    assert_near(apart.interval(0.95).high, 0.205_483_2, 1e-6, source);
    let pairs = paired(&first, &second).unwrap();
    assert_near(pairs.t(), -4.062_128, 1e-6, source);
    assert_near(pairs.p(), 0.002_832_89, 1e-6, source);
}

/// Hollander & Wolfe 1973, p. 69 and p. 29, as in R's `?wilcox.test`.
#[test]
fn rank_tests_of_hollander_and_wolfe() {
    let at_term = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46];
    let test = mann_whitney(&at_term, &[1.15, 0.88, 0.90, 0.74, 1.21]);
    assert!(test.exact);
    assert_near(test.statistic, 35.0, 1e-12, "R wilcox.test");
    assert_near(test.upper, 0.127_206_1, 1e-6, "R wilcox.test");
    assert_near(test.two_sided(), 0.254_412_3, 1e-6, "R wilcox.test");
    // The last but one value is a measurement, not a circle: written so that no lint takes it for one.
    let before = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30];
    let after = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 314.0 / 100.0, 1.29];
    let differences: Vec<f64> = before.iter().zip(after).map(|(x, y)| x - y).collect();
    let test = signed_rank(&differences);
    assert_near(test.statistic, 40.0, 1e-12, "R wilcox.test");
    assert_near(test.upper, 0.019_531, 1e-4, "R wilcox.test");
}

/// Hollander & Wolfe 1973, p. 185, as in R's `?cor.test`.
#[test]
fn kendall_of_the_tuna() {
    let lightness = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1];
    let grade = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8];
    let tuna = kendall(&lightness, &grade);
    assert_near(tuna.tau, 0.444_444_4, 1e-6, "R cor.test");
    assert_near(tuna.test.statistic, 26.0, 1e-12, "R cor.test");
    assert_near(tuna.test.two_sided(), 0.119_438_9, 1e-6, "R cor.test");
}

/// mathcs.holycross.edu/~little/Montserrat/MannKendallByHand.txt: S 54, Z 2.9058; the rest recomputed.
#[test]
fn mann_kendall_by_hand() {
    let series = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7];
    let (test, source) = (mann_kendall(&series), "MannKendallByHand.txt");
    assert_near(test.s, 54.0, 1e-12, source);
    assert_near(test.variance, 332.666_67, 1e-7, source);
    assert_near(test.z, 2.905_836_8, 1e-7, source);
    assert_near(test.tau, 0.596_694_2, 1e-6, source);
    assert_near(test.test.two_sided(), 0.003_662_724, 1e-6, source);
    let years: Vec<f64> = (0..series.len()).map(|i| i as f64).collect();
    assert_near(theil_sen(&years, &series, 0.95).unwrap().slope, 0.566_666_7, 1e-6, source);
}

#[test]
fn theil_sen_slopes() {
    let y = [21., 4., 9., 12., 35., 18., 10., 22., 24., 1., 6., 8., 13., 16., 19.];
    let x = [67., 28., 30., 28., 52., 40., 25., 37., 44., 10., 14., 20., 28., 40., 51.];
    let fit = theil_sen(&x, &y, 0.95).unwrap();
    assert_near(fit.slope, 0.5, 1e-9, "statpsych ci.theil");
    assert_near(fit.interval.low, 0.324_324_32, 1e-7, "statpsych ci.theil");
    assert_near(fit.interval.high, 0.75, 1e-9, "statpsych ci.theil");
    assert_near(fit.intercept, -2.0, 1e-9, "recomputed");
    let sen = theil_sen(&[1., 2., 3., 4., 10., 12., 18.], &[9., 15., 19., 20., 45., 55., 78.], 0.93).unwrap();
    assert_near(sen.slope, 4.0, 1e-9, "Sen 1968, from memory");
    assert_near(sen.interval.low, 26.0 / 7.0, 1e-9, "Sen 1968, from memory");
    assert_near(sen.interval.high, 35.0 / 8.0, 1e-9, "Sen 1968, from memory");
}

fn columns<const N: usize>(csv: &str) -> [Vec<f64>; N] {
    let rows: Vec<Vec<f64>> = csv.lines().skip(1).map(|l| l.split(',').map(|c| c.parse().unwrap()).collect()).collect();
    std::array::from_fn(|j| rows.iter().map(|r| r[j]).collect())
}

/// Galton 1886: 928 children on 205 mid-parents (table as in the R package HistData and at
/// medicine.mcgill.ca/epidemiology/hanley/c678/galton.txt).
#[test]
fn children_on_mid_parents() {
    let [parent, child, families] = columns::<3>(include_str!("galton.csv"));
    let repeat = |v: &[f64]| -> Vec<f64> {
        v.iter().zip(&families).flat_map(|(&v, &n)| std::iter::repeat_n(v, n as usize)).collect()
    };
    let (x, y) = (repeat(&parent), repeat(&child));
    assert_eq!(x.len(), 928);
    let (fit, source) = (line(&x, &y).unwrap(), "Galton 1886");
    assert_near(fit.slope.value, 0.646_290_6, 1e-6, source);
    assert_near(fit.intercept, 23.941_53, 1e-6, source);
    assert_near(fit.r, 0.458_762_4, 1e-6, source);
    assert_near(fit.slope.se, 0.041_135_9, 2e-6, source);
    assert_near(x.iter().sum::<f64>() / 928.0, 68.308_19, 1e-6, source);
    assert_near(y.iter().sum::<f64>() / 928.0, 68.088_47, 1e-6, source);
}

/// Brooks 2000, Nature 406:67-70, values as read off the figure in the R package abd 0.2-8. Two different traits: a check
/// of regression and ranks, not a heritability.
#[test]
fn sons_on_fathers() {
    let [father, son] = columns::<2>(include_str!("fathers_and_sons.csv"));
    let (fit, source) = (line(&father, &son).unwrap(), "Brooks 2000");
    assert_near(fit.slope.value, 0.982_285_17, 1e-7, source);
    assert_near(fit.intercept, 0.005_083_92, 1e-5, source);
    assert_near(fit.r, 0.614_104_3, 1e-6, source);
    assert_near(fit.slope.p(), 6.783_7e-5, 1e-5, source);
    assert_near(fit.slope.se, 0.216_499, 3e-6, source);
    let robust = theil_sen(&father, &son, 0.95).unwrap();
    assert_near(robust.slope, 0.941_938, 1e-6, source);
    assert_near(robust.interval.low, 0.529_412, 1e-6, source);
    assert_near(robust.interval.high, 1.483_33, 3e-6, source);
    assert_near(kendall(&father, &son).tau, 0.413_74, 1e-5, source);
}

/// Computed with SciPy: infinite populations, then means of normal order statistics.
#[test]
fn selection_intensities() {
    let large = [
        (0.5, 0.797_885),
        (0.4, 0.965_856),
        (0.3, 1.158_98),
        (0.25, 1.271_11),
        (0.2, 1.399_81),
        (0.1, 1.754_98),
        (0.05, 2.062_71),
        (0.01, 2.665_21),
    ];
    for (share, want) in large {
        assert_near(intensity(share), want, 4e-6, "normal density over share");
    }
    let small = [(1, 5, 1.162_96), (2, 10, 1.270_05), (1, 10, 1.538_75), (2, 20, 1.637_54), (4, 20, 1.331_75)];
    for (kept, n, want) in small {
        assert_near(intensity_of(kept, n), want, 5e-6, "normal order statistics");
    }
}

/// Clayton, Morris & Robertson 1957 as quoted in a textbook (from memory): base 35.3, selected 40.6, progeny 37.9. The
/// seed example is a teaching slide's, the last row constructed and recomputed by hand.
#[test]
fn realised_heritabilities() {
    let of = |s: &[f64], r: &[f64]| realised_heritability(s, r).unwrap();
    assert_near(of(&[40.6 - 35.3], &[37.9 - 35.3]), 0.490_6, 1e-4, "Clayton, Morris & Robertson 1957");
    assert_near(of(&[400.0], &[284.0]), 0.71, 1e-9, "breeder's equation, seed size");
    let (s, r) = ([5.0, 10.0, 15.0, 20.0, 25.0], [1.4, 2.6, 4.6, 5.7, 7.6]);
    assert_near(of(&s, &r), 0.295_272_73, 1e-7, "constructed");
    assert_near(line(&s, &r).unwrap().slope.value, 0.31, 1e-9, "constructed");
    assert!(realised_heritability(&[0.0], &[1.0]).is_none());
}
