//! Goodness of fit against published counts.
//!
//! Counts: Mendel 1866 (Bateson's translation, 1902), Zar, Castle & Little 1910, Morgan 1910, McDonald 2014 (*Handbook
//! of Biological Statistics*, 3rd ed., pp. 30-48 and 91-93), Guttman et al. 1967 in McDonald, Sokal & Rohlf. The
//! statistics and p-values were computed with R and SciPy, which agree to the digits given; the counts of Zar, Castle &
//! Little, Morgan and Sokal & Rohlf are quoted from memory.

use broodhue::stats::binomial::{doubled, lower_tail, point, two_sided, upper_tail};
use broodhue::stats::goodness::{Fit, chi_square, chi_square_upper, g_test, g_williams, replicated};
use broodhue::stats::multinomial::{Ordering, exact_p};

use crate::near::assert_near;

/// The tables print six or seven significant digits.
const PRINTED: f64 = 1e-5;

/// trait, observed, ratio, chi-square, p, G, p(G).
const FITS: &str = include_str!("goodness_of_fit.csv");

fn counts_and_shares(counts: &str, ratio: &str) -> (Vec<u64>, Vec<f64>) {
    let counts = counts.split(':').map(|x| x.parse().unwrap()).collect();
    (counts, ratio.split(':').map(|x| x.parse().unwrap()).collect())
}

#[test]
fn chi_square_and_g_of_published_counts() {
    for line in FITS.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (counts, shares) = counts_and_shares(cells[1], cells[2]);
        let (chi, g) = (chi_square(&counts, &shares), g_test(&counts, &shares));
        let got = [chi.statistic, chi.p, g.statistic, g.p, g_williams(&counts, &shares).statistic];
        for (got, want) in got.iter().zip(&cells[3..]).filter(|(_, w)| !w.is_empty()) {
            assert_near(*got, want.parse().unwrap(), PRINTED, line);
        }
    }
}

#[test]
fn exact_binomial_of_mendels_seven() {
    let table = [
        (5474, 1850, 0.608_155_4),
        (6022, 2001, 0.907_641_7),
        (705, 224, 0.544_640_3),
        (882, 299, 0.814_046_2),
        (428, 152, 0.502_170_1),
        (651, 207, 0.581_056_2),
        (787, 277, 0.436_167_7),
        (14949, 5010, 0.743_717_4),
    ];
    for (dominant, recessive, want) in table {
        let p = two_sided(recessive, dominant + recessive, 0.25, Ordering::Probability).unwrap();
        assert_near(p, want, 2e-7, "Mendel 1866");
    }
}

#[test]
fn mendels_seven_added_up() {
    let counts = [[5474, 1850], [6022, 2001], [705, 224], [882, 299], [428, 152], [651, 207], [787, 277]];
    let sum: f64 = counts.iter().map(|c| chi_square(c, &[3.0, 1.0]).statistic).sum();
    assert_near(sum, 2.138_868, PRINTED, "Mendel 1866, sum");
    assert_near(chi_square_upper(sum, 7), 0.951_755_9, PRINTED, "Mendel 1866, sum");
}

/// What a replicated test should give: statistic, degrees of freedom and p of total, pooled and heterogeneity.
type Parts = [(f64, u64, f64); 3];

fn check_replicated(pairs: &str, ratio: &str, by_g: bool, want: Parts, place: &str) {
    let shares: Vec<f64> = ratio.split(':').map(|r| r.parse().unwrap()).collect();
    let counts: Vec<Vec<u64>> = pairs.split(' ').map(|p| p.split(':').map(|x| x.parse().unwrap()).collect()).collect();
    let got = replicated(&counts, &shares, if by_g { g_test } else { chi_square });
    for (fit, (statistic, df, p)) in [got.total, got.pooled, got.heterogeneity].iter().zip(want) {
        assert_eq!(fit.df, df, "{place}");
        assert_near(fit.statistic, statistic, PRINTED, place);
        assert_near(fit.p, p, 5e-5, place);
    }
}

#[test]
fn heterogeneity_between_mendels_plants() {
    let first = "45:12 27:8 24:7 19:10 32:11 26:6 88:24 22:10 28:6 25:7";
    let second = "25:11 32:7 14:5 70:27 24:13 20:6 32:13 44:9 50:14 44:18";
    let place = "Mendel 1866, ten plants";
    let want = [(5.297_026, 10, 0.870_47), (0.830_663_6, 1, 0.362_08), (4.466_363, 9, 0.878_13)];
    check_replicated(first, "3:1", false, want, place);
    let want = [(5.343_282, 10, 0.867_1), (0.845_245, 1, 0.357_9), (4.498_037, 9, 0.875_69)];
    check_replicated(first, "3:1", true, want, place);
    let want = [(7.189_982, 10, 0.707_4), (0.136_680_6, 1, 0.711_6), (7.053_301, 9, 0.631_57)];
    check_replicated(second, "3:1", false, want, place);
    let want = [(7.225_686, 10, 0.703_98), (0.135_806, 1, 0.712_49), (7.089_88, 9, 0.627_76)];
    check_replicated(second, "3:1", true, want, place);
}

#[test]
fn replicated_g_tests_of_the_handbooks() {
    let want = [(31.817_21, 6, 1.768_8e-5), (25.066_8, 1, 5.537_8e-7), (6.750_412, 5, 0.239_87)];
    check_replicated("168:174 132:195 167:204 162:212 143:194 153:174", "1:1", true, want, "Guttman et al. 1967");
    let want = [(18.014_33, 8, 0.021_119), (1.500_393, 1, 0.220_61), (16.513_94, 7, 0.020_814)];
    let progenies = "83:47 77:43 110:96 92:58 51:31 48:61 70:42 85:66";
    check_replicated(progenies, "9:7", true, want, "Sokal & Rohlf, counts from memory");
}

#[test]
fn each_family_of_the_arm_folding_counts() {
    let families = [[168, 174], [132, 195], [167, 204], [162, 212], [143, 194], [153, 174]];
    let want = [0.105_269, 12.213_8, 3.696_17, 6.704_55, 7.747_83, 1.349_55];
    for (counts, want) in families.iter().zip(want) {
        assert_near(g_test(counts, &[1.0, 1.0]).statistic, want, PRINTED, "Guttman et al. 1967");
    }
}

/// Standard tables; computed with SciPy's `chi2.isf` and R's `qchisq`, printed to four decimals: the tail at the printed
/// value must give back the heading.
#[test]
fn critical_values_of_chi_square() {
    let headings = [0.995, 0.975, 0.95, 0.1, 0.05, 0.025, 0.01, 0.005, 0.001];
    for line in include_str!("chi_square_critical.csv").lines().skip(1) {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        for (value, heading) in cells[1..].iter().zip(headings) {
            let df = cells[0] as u64;
            let (above, below) = (chi_square_upper(value + 5e-5, df), chi_square_upper((value - 5e-5).max(0.0), df));
            // One unit of the last printed digit either side, and a hair for the rounding at the half.
            assert!(above <= heading * (1.0 + 1e-9) && heading <= below * (1.0 + 1e-9), "df {df}, upper {heading}");
        }
    }
}

/// McDonald 2014, pp. 30-36: printed results, and the recomputed digits.
#[test]
fn exact_tests_of_the_handbook() {
    let place = "McDonald 2014";
    assert_near(lower_tail(2, 10, 0.5), 0.054_687_5, 1e-9, place);
    assert_near(two_sided(2, 10, 0.5, Ordering::Probability).unwrap(), 0.109_375, 1e-9, place);
    assert_near(point(2, 10, 0.5), 0.043_945_313, 2e-8, place);
    assert_near(lower_tail(7, 12, 0.75), 0.157_643_7, 1e-6, place);
    assert_near(doubled(7, 12, 0.75), 0.315_287_4, 1e-6, place);
    assert_near(two_sided(7, 12, 0.75, Ordering::Probability).unwrap(), 0.189_32, 5e-5, place);
    assert_near(two_sided(10, 27, 0.5, Ordering::Probability).unwrap(), 0.247_788_6, 1e-6, place);
    assert_near(two_sided(36, 43, 0.5, Ordering::Probability).unwrap(), 8.963_039e-6, 1e-6, place);
    assert_near(two_sided(140, 246, 0.5, Ordering::Probability).unwrap(), 0.035_164_51, 1e-6, place);
    assert_near(upper_tail(8, 10, 0.5), 0.054_687_5, 1e-9, "mirror image of the cat's paw");
}

/// Three orderings give three p-values; the pods show the gap between 0.5022 and 0.5331.
#[test]
fn orderings_of_the_exact_multinomial() {
    use Ordering::{ChiSquare, LikelihoodRatio, Probability};
    let drosophila = (vec![72, 38, 20, 18], vec![9.0, 3.0, 3.0, 1.0]);
    let dihybrid = (vec![315, 108, 101, 32], vec![9.0, 3.0, 3.0, 1.0]);
    let pods = (vec![428, 152], vec![3.0, 1.0]);
    let table = [
        (&drosophila, LikelihoodRatio, 0.003_404_013),
        (&drosophila, Probability, 0.002_255_083),
        (&drosophila, ChiSquare, 0.001_607_909),
        (&dihybrid, LikelihoodRatio, 0.926_132_1),
        (&dihybrid, Probability, 0.938_222),
        (&dihybrid, ChiSquare, 0.927_191_5),
        (&pods, LikelihoodRatio, 0.533_127_9),
        (&pods, Probability, 0.502_170_1),
        (&pods, ChiSquare, 0.533_127_9),
    ];
    for ((counts, shares), ordering, want) in table {
        assert_near(exact_p(counts, shares, ordering).unwrap(), want, 5e-7, &format!("McDonald 2014, {ordering}"));
    }
}

#[test]
fn post_hoc_binomials_of_the_handbook() {
    let want = [(72, 9.0, 0.068_224_13), (38, 3.0, 0.035_040_22), (20, 3.0, 0.113_911_6), (18, 1.0, 0.006_057_012)];
    for (x, sixteenths, want) in want {
        let p = two_sided(x, 148, sixteenths / 16.0, Ordering::Probability).unwrap();
        assert_near(p, want, 1e-6, "McDonald 2014, p. 36");
    }
}

/// McDonald 2014, an intrinsic hypothesis: one parameter estimated, so 1 df. The printed 1.082646 uses proportions that
/// sum to 1.001; normalised, the statistic is 1.077928.
#[test]
fn shares_are_normalised() {
    let (counts, printed) = ([1203, 2919, 1678], [0.211, 0.497, 0.293]);
    let chi = Fit::new(chi_square(&counts, &printed).statistic, 1);
    assert_near(chi.statistic, 1.077_928, PRINTED, "McDonald 2014");
    assert_near(chi.p, 0.299_161, PRINTED, "McDonald 2014");
    let g = Fit::new(g_test(&counts, &printed).statistic, 1);
    assert_near(g.statistic, 1.078_085, PRINTED, "McDonald 2014");
    assert_near(g.p, 0.299_126_3, PRINTED, "McDonald 2014");
}
