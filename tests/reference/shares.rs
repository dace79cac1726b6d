//! Intervals for shares, and the number of young needed.

use broodhue::stats::binomial::young_needed;
use broodhue::stats::interval::{clopper_pearson, upper_limit, wilson};

use crate::near::assert_near;

/// R's `binom.test` and `prop.test(correct = FALSE)`, to six decimals.
#[test]
fn intervals_as_in_r() {
    let place = "R binom.test";
    assert!(clopper_pearson(0, 34, 0.95).low.abs() < 1e-15);
    assert_near(clopper_pearson(0, 34, 0.95).high, 0.102_818, 1e-5, place);
    assert_near(upper_limit(0, 34, 0.95), 0.084_340, 1e-5, place);
    assert_near(wilson(0, 34, 0.95).high, 0.101_515, 1e-5, place);
    assert_near(clopper_pearson(22, 45, 0.95).low, 0.337_034, 1e-5, place);
    assert_near(clopper_pearson(22, 45, 0.95).high, 0.642_260, 1e-5, place);
    assert_near(wilson(22, 45, 0.95).low, 0.349_570, 1e-5, place);
    assert_near(wilson(22, 45, 0.95).high, 0.629_955, 1e-5, place);
    assert_near(clopper_pearson(9, 40, 0.95).low, 0.108_397, 1e-5, place);
    assert_near(clopper_pearson(9, 40, 0.95).high, 0.384_512, 1e-5, place);
}

/// Smallest n with P(X ≥ k) ≥ confidence, computed with SciPy and spot-checked in R. A university genetics page prints
/// 10 and 16 for one in four, k = 1; 0.75^10 = 0.056 and 0.75^16 = 0.01002, so that 11 and 17 are the guaranteed ones.
#[test]
fn young_needed_to_see_a_class() {
    let wanted = [1, 2, 3, 5, 10];
    let table = [
        (0.5, [(5, 7), (8, 11), (11, 14), (16, 19), (28, 33)]),
        (0.25, [(11, 17), (18, 24), (23, 31), (34, 43), (60, 70)]),
        (0.375, [(7, 10), (11, 15), (15, 19), (22, 27), (39, 45)]),
        (0.125, [(23, 35), (37, 51), (49, 64), (71, 89), (123, 146)]),
        (0.0625, [(47, 72), (75, 104), (99, 132), (144, 182), (248, 296)]),
        (0.03125, [(95, 146), (150, 210), (200, 266), (291, 368), (500, 597)]),
        (0.015625, [(191, 293), (302, 423), (401, 535), (584, 739), (1002, 1198)]),
    ];
    for (p, row) in table {
        for (k, (n95, n99)) in wanted.into_iter().zip(row) {
            assert_eq!(young_needed(p, k, 0.95), Some(n95), "p {p}, k {k}, 95 %");
            assert_eq!(young_needed(p, k, 0.99), Some(n99), "p {p}, k {k}, 99 %");
        }
    }
}
