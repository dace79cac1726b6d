//! Agreement, repeatability and mixed models against published data.

use broodhue::stats::kappa::{Weights, kappa};
use broodhue::stats::mixed::{Criterion, Mixed, Row, fit};
use broodhue::stats::repeatability::{bland_altman, one_way, two_way};
use broodhue::stats::slope::line;

use crate::near::assert_near;

/// Computed with R and SciPy, printed to seven or eight digits.
const PRINTED: f64 = 1e-6;
/// lme4's printed digits; the search for the optimum is good to this.
const LME4: f64 = 1e-4;

/// Peak flow of 17 subjects, each method twice: www-users.york.ac.uk/~mb55/meas/repeated.htm.
const WRIGHT: [[f64; 17]; 2] = [
    [494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178., 423., 427.],
    [490., 397., 512., 401., 470., 611., 415., 431., 638., 429., 420., 633., 275., 492., 165., 372., 421.],
];
const MINI: [[f64; 17]; 2] = [
    [512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259., 350., 451.],
    [525., 415., 508., 444., 500., 625., 460., 390., 642., 432., 420., 605., 227., 467., 268., 370., 443.],
];

/// Bland & Altman 1986, Lancet i:307-310; digits recomputed with R and SciPy, the printed ones rounded by the authors.
#[test]
fn bland_and_altman_1986() {
    let source = "Bland & Altman 1986";
    let agreement = bland_altman(&WRIGHT[0], &MINI[0]).unwrap();
    assert_near(agreement.mean, -2.117_647_1, PRINTED, source);
    assert_near(agreement.sd, 38.765_13, PRINTED, source);
    assert_near(agreement.limits(2.0).low, -79.647_907, PRINTED, source);
    assert_near(agreement.limits(2.0).high, 75.412_613, PRINTED, source);
    assert_near(agreement.limits(1.959_964).low, -78.095_906, 1e-7, source);
    assert_near(agreement.limits(1.959_964).high, 73.860_612, 1e-7, source);
    assert_near(agreement.mean_interval(0.95).low, -22.048_84, PRINTED, source);
    assert_near(agreement.mean_interval(0.95).high, 17.813_54, PRINTED, source);
    let half = agreement.limit_half_width(0.95);
    assert_near(agreement.limits(2.0).low - half, -114.169_7, PRINTED, source);
    assert_near(agreement.limits(2.0).low + half, -45.126_07, PRINTED, source);
    assert_near(agreement.limits(2.0).high - half, 40.890_78, PRINTED, source);
    assert_near(agreement.limits(2.0).high + half, 109.934_4, PRINTED, source);
    assert_near(line(&WRIGHT[0], &MINI[0]).unwrap().r, 0.943_279_4, PRINTED, source);
}

#[test]
fn repeatability_of_either_method_1986() {
    let source = "Bland & Altman 1986";
    let subjects = |m: &[[f64; 17]; 2]| (0..17).map(|i| vec![m[0][i], m[1][i]]).collect::<Vec<_>>();
    let (wright, mini) = (one_way(&subjects(&WRIGHT)).unwrap(), one_way(&subjects(&MINI)).unwrap());
    assert_near(wright.within_sd(), 15.306_67, PRINTED, source);
    assert_near(mini.within_sd(), 19.910_83, PRINTED, source);
    // The paper's coefficient of repeatability: twice the root mean square of the differences, 2·√2·s_w.
    assert_near(2.0 * 2f64.sqrt() * wright.within_sd(), 43.293_8, PRINTED, source);
    assert_near(2.0 * 2f64.sqrt() * mini.within_sd(), 56.316_33, PRINTED, source);
    let mean = |m: &[[f64; 17]; 2]| (0..17).map(|i| f64::midpoint(m[0][i], m[1][i])).collect::<Vec<_>>();
    let of_means = bland_altman(&mean(&WRIGHT), &mean(&MINI)).unwrap();
    assert_near(of_means.sd, 33.204_14, PRINTED, source);
    let quarter_squares = (wright.within + mini.within) / 2.0;
    assert_near((of_means.sd.powi(2) + quarter_squares).sqrt(), 37.654_78, PRINTED, source);
}

/// Bland & Altman 1996, BMJ 313:744: 20 children, four readings each.
const CHILDREN: [[f64; 4]; 20] = [
    [190., 220., 200., 200.],
    [220., 200., 240., 230.],
    [260., 260., 240., 280.],
    [210., 300., 280., 265.],
    [270., 265., 280., 270.],
    [280., 280., 270., 275.],
    [260., 280., 280., 300.],
    [275., 275., 275., 305.],
    [280., 290., 300., 290.],
    [320., 290., 300., 290.],
    [300., 300., 310., 300.],
    [270., 250., 330., 370.],
    [320., 330., 330., 330.],
    [335., 320., 335., 375.],
    [350., 320., 340., 365.],
    [360., 320., 350., 345.],
    [330., 340., 380., 390.],
    [335., 385., 360., 370.],
    [400., 420., 425., 420.],
    [430., 460., 480., 470.],
];

#[test]
fn bland_and_altman_1996() {
    let source = "Bland & Altman 1996";
    let table = one_way(&CHILDREN.map(|c| c.to_vec())).unwrap();
    assert_near(table.between, 15_016.76, PRINTED, source);
    assert_near(table.within, 460.520_83, PRINTED, source);
    assert_near(table.within_sd(), 21.459_749, PRINTED, source);
    assert_near(1.96 * table.within_sd(), 42.061_11, PRINTED, source);
    assert_near(table.smallest_detectable(), 59.482_3, 2e-5, source);
    assert_near(table.icc(), 0.887_666_35, PRINTED, source);
    assert_near(table.icc_interval(0.95).low, 0.795_982, PRINTED, source);
    assert_near(table.icc_interval(0.95).high, 0.948_056, PRINTED, source);
    let model = fit(&intercepts(&CHILDREN.map(|c| c.to_vec())), Criterion::Reml).unwrap();
    check(&model, &[(3639.0598, 0, 0)], 460.5208, 779.2373, "lme4 on Bland & Altman 1996");
}

/// Nosil & Crespi 2006, PNAS 103:9090: femora of 25 insects measured twice from photographs; data as in the R package
/// abd 0.2-8; R's `anova` and lme4 agree.
#[test]
fn repeatability_from_photographs() {
    let mut insects: Vec<Vec<f64>> = vec![Vec::new(); 25];
    for row in include_str!("femurs.csv").lines().skip(1) {
        let (insect, length) = row.split_once(',').unwrap();
        insects[insect.parse::<usize>().unwrap() - 1].push(length.parse().unwrap());
    }
    let (table, source) = (one_way(&insects).unwrap(), "Nosil & Crespi 2006");
    assert_near(table.between, 0.002_463_833_3, PRINTED, source);
    assert_near(table.within, 0.000_356, PRINTED, source);
    assert_near(table.f(), 6.920_88, PRINTED, source);
    assert_near(table.p(), 4.076_68e-6, 2e-6, source);
    assert_near(table.among(), 0.001_053_916_7, PRINTED, source);
    assert_near(table.icc(), 0.747_502_81, PRINTED, source);
    assert_near(table.icc_interval(0.95).low, 0.510_598, PRINTED, source);
    assert_near(table.icc_interval(0.95).high, 0.879_687, PRINTED, source);
    assert_near(table.within_sd(), 0.018_867_96, PRINTED, source);
    assert_near(table.smallest_detectable(), 0.052_299_32, 2e-5, source);
}

/// Shrout & Fleiss 1979, Tables 2 and 3 (.17 .29 .71 printed; .44 .62 .91 from memory).
#[test]
fn shrout_and_fleiss_1979() {
    let judged =
        [[9., 2., 5., 8.], [6., 1., 3., 2.], [8., 4., 6., 8.], [7., 1., 2., 6.], [10., 5., 6., 9.], [6., 2., 4., 7.]];
    let rows = judged.map(|r| r.to_vec());
    let (single, table, source) = (one_way(&rows).unwrap(), two_way(&rows).unwrap(), "Shrout & Fleiss 1979");
    let figures = [
        (single.between, 11.241_67),
        (single.within, 6.263_889),
        (table.subjects, 11.241_67),
        (table.sessions, 32.486_11),
        (table.residual, 1.019_444),
        (single.icc(), 0.165_741_8),
        (table.icc_agreement(), 0.289_763_8),
        (table.icc_consistency(), 0.714_840_7),
        (single.icc_of_mean(4.0), 0.442_797_1),
        (table.icc_agreement_of_means(), 0.620_050_5),
        (table.icc_consistency_of_means(), 0.909_315_5),
    ];
    for (got, want) in figures {
        assert_near(got, want, PRINTED, source);
    }
}

#[test]
fn kappas() {
    let of = |table: &[&[u64]], weights| kappa(&table.iter().map(|r| r.to_vec()).collect::<Vec<_>>(), weights).unwrap();
    let first = of(&[&[12, 2], &[4, 2]], Weights::Unweighted);
    assert_near(first.kappa, 0.210_526_3, PRINTED, "easycalculation.com prints 0.21");
    assert_near(first.observed, 0.7, PRINTED, "easycalculation.com");
    assert_near(first.expected, 0.62, PRINTED, "easycalculation.com");
    assert_near(first.se, 0.232_093, 2e-6, "recomputed");
    let second = of(&[&[20, 5], &[10, 15]], Weights::Unweighted);
    assert_near(second.kappa, 0.4, PRINTED, "encyclopaedia example, from memory");
    assert_near(second.se, 0.126_996, 5e-6, "recomputed");
    assert_near(second.null_se, 0.138_564, 5e-6, "recomputed");
    let slides = of(&[&[22, 2, 2, 0], &[5, 7, 14, 0], &[0, 2, 36, 0], &[0, 1, 17, 10]], Weights::Unweighted);
    assert_near(slides.kappa, 0.493_005_6, PRINTED, "Agresti's pathologists, .493 from memory");
    assert_near(slides.se, 0.056_743_2, 2e-6, "Agresti's pathologists, .057 from memory");
    let couples: [&[u64]; 4] = [&[7, 7, 2, 3], &[2, 8, 3, 7], &[1, 5, 4, 9], &[2, 8, 9, 14]];
    assert_near(of(&couples, Weights::Unweighted).kappa, 0.129_330_3, PRINTED, "R vcd");
    assert_near(of(&couples, Weights::Unweighted).se, 0.068_598_5, 2e-6, "R vcd");
    assert_near(of(&couples, Weights::Linear).kappa, 0.237_380_6, PRINTED, "R vcd");
    assert_near(of(&couples, Weights::Linear).se, 0.078_316_3, 2e-6, "R vcd");
    assert_near(of(&couples, Weights::Quadratic).kappa, 0.332_045_6, PRINTED, "R vcd");
}

/// One fish, a scorer of one class alone, and a scoring without any difference leave nothing to be sure of: the large-sample error of the
/// first two is 0 beside a kappa of 0, of the last 0 beside 1. Else it is κ ± 1.959 964 s, with s by Fleiss, Cohen & Everitt's formula,
/// of the 50 fish below 0.4 ± 0.248 907.
#[test]
fn kappa_has_no_interval_where_its_error_vanishes() {
    for table in [vec![vec![0, 1], vec![0, 0]], vec![vec![1, 0], vec![0, 0]], vec![vec![7, 0], vec![3, 0]]] {
        assert_eq!(kappa(&table, Weights::Unweighted), None, "{table:?}");
    }
    let full = kappa(&[vec![7, 0, 0], vec![0, 2, 0], vec![0, 0, 3]], Weights::Unweighted).unwrap();
    assert_near(full.kappa, 1.0, PRINTED, "all agree");
    assert_eq!(full.interval(0.95), None);
    let interval = kappa(&[vec![20, 5], vec![10, 15]], Weights::Unweighted).unwrap().interval(0.95).unwrap();
    assert_near(interval.low, 0.151_093, 1e-5, "by hand");
    assert_near(interval.high, 0.648_907, 1e-5, "by hand");
}

/// Rows of a random-intercept model without other effects.
fn intercepts(groups: &[Vec<f64>]) -> Vec<Row> {
    let row = |group: usize, y: f64| Row { group, y, x: vec![1.0], z: vec![1.0] };
    groups.iter().enumerate().flat_map(|(g, values)| values.iter().map(move |&y| row(g, y))).collect()
}

/// Random covariances `(value, row, column)`, residual variance and criterion, to lme4's printed digits.
fn check(model: &Mixed, random: &[(f64, usize, usize)], residual: f64, criterion: f64, source: &str) {
    for &(want, i, j) in random {
        assert_near(model.random[i][j], want, LME4, source);
    }
    assert_near(model.residual, residual, LME4, source);
    assert_near(model.criterion, criterion, 1e-6, source);
}

/// Davies & Goldsmith 1972: six batches, five yields each, in lme4.
const YIELDS: [[f64; 5]; 6] = [
    [1545., 1440., 1440., 1520., 1580.],
    [1540., 1555., 1490., 1560., 1495.],
    [1595., 1550., 1605., 1510., 1560.],
    [1445., 1440., 1595., 1465., 1545.],
    [1595., 1630., 1515., 1635., 1625.],
    [1520., 1455., 1450., 1480., 1445.],
];

#[test]
fn dyestuff_by_reml_by_ml_and_by_mean_squares() {
    let (rows, source) = (intercepts(&YIELDS.map(|b| b.to_vec())), "lme4, Dyestuff");
    let reml = fit(&rows, Criterion::Reml).unwrap();
    check(&reml, &[(1764.05, 0, 0)], 2451.25, 319.6543, source);
    assert_near(reml.fixed[0], 1527.5, PRINTED, source);
    assert_near(reml.se[0], 19.3834, 1e-5, source);
    check(&fit(&rows, Criterion::Ml).unwrap(), &[(1388.3333, 0, 0)], 2451.25, 327.3271, source);
    let table = one_way(&YIELDS.map(|b| b.to_vec())).unwrap();
    assert_near(table.between, 11_271.5, PRINTED, "balanced: mean squares give the same");
    assert_near(table.icc(), 0.418_487_4, PRINTED, "balanced: mean squares give the same");
    assert_near(table.among(), reml.random[0][0], 1e-4, "balanced: mean squares give the same");
}

/// Belenky et al. 2003, `sleepstudy` of lme4: reaction time over days.
fn sleep(slopes: bool) -> Vec<Row> {
    let mut subjects = Vec::new();
    let mut rows = Vec::new();
    for line in include_str!("sleepstudy.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if !subjects.contains(&cells[0]) {
            subjects.push(cells[0]);
        }
        let x = vec![1.0, cells[1].parse().unwrap()];
        let z = if slopes { x.clone() } else { vec![1.0] };
        rows.push(Row { group: subjects.len() - 1, y: cells[2].parse().unwrap(), x, z });
    }
    rows
}

#[test]
fn sleepstudy_with_and_without_slopes() {
    let source = "lme4, sleepstudy";
    let full = fit(&sleep(true), Criterion::Reml).unwrap();
    let covariance = 0.0656 * 24.7407 * 5.9221;
    check(&full, &[(24.7407f64.powi(2), 0, 0), (5.9221f64.powi(2), 1, 1)], 25.5918f64.powi(2), 1743.6283, source);
    // The correlation is printed to three digits only.
    assert_near(full.random[0][1], covariance, 1e-3, source);
    for (got, want) in full.fixed.iter().zip([251.405_10, 10.467_29]) {
        assert_near(*got, want, PRINTED, source);
    }
    for (got, want) in full.se.iter().zip([6.824_60, 1.545_79]) {
        assert_near(*got, want, 1e-5, source);
    }
    let plain = fit(&sleep(false), Criterion::Reml).unwrap();
    check(&plain, &[(37.1238f64.powi(2), 0, 0)], 30.9912f64.powi(2), 1786.4651, source);
    for (got, want) in plain.se.iter().zip([9.746_72, 0.804_22]) {
        assert_near(*got, want, 1e-5, source);
    }
}
