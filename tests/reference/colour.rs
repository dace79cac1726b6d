//! Colour arithmetic against published tables.

use broodhue::card::reference::{Edition, chart};
use broodhue::colour::{
    Lab, LinearRgb, SRGB_TO_XYZ_D50, Xyz, ciede2000, lab_from_xyz, profile_xyz, srgb_decode, srgb_encode, xyz_from_lab,
};

/// The rows of a small CSV of numbers, `#` lines and the heading left out.
fn rows<const N: usize>(text: &str) -> Vec<[f64; N]> {
    let row = |line: &str| {
        let cells: Vec<f64> = line.split(',').map(|c| c.trim().parse().unwrap()).collect();
        cells.try_into().unwrap()
    };
    text.lines().filter(|l| !l.starts_with('#')).skip(1).map(row).collect()
}

/// The table prints four decimals.
const HALF_LAST_DIGIT: f64 = 0.5e-4;

#[test]
fn ciede2000_gives_the_34_published_pairs() {
    let pairs = rows::<7>(include_str!("ciede2000.csv"));
    assert_eq!(pairs.len(), 34);
    for [l1, a1, b1, l2, a2, b2, published] in pairs {
        let (p, q) = (Lab::new(l1, a1, b1), Lab::new(l2, a2, b2));
        for d in [ciede2000(p, q), ciede2000(q, p)] {
            assert!((d - published).abs() <= HALF_LAST_DIGIT, "{p:?} {q:?}: {d} for {published}");
        }
    }
}

/// IEC 61966-2-1:1999 section 5.2: 12.92 below 0.0031308, else 1.055·x^(1/2.4) − 0.055; the middle values were worked
/// with Python's `decimal` at 30 digits.
#[test]
fn srgb_transfer_is_that_of_iec_61966_2_1() {
    for (linear, encoded) in [(0.0, 0.0), (0.001, 0.01292), (0.18, 0.461_356_129_5), (0.5, 0.735_356_983_1), (1.0, 1.0)]
    {
        assert!((srgb_encode(linear) - encoded).abs() < 1e-9, "{linear}");
        assert!((srgb_decode(encoded) - linear).abs() < 1e-9, "{encoded}");
    }
    // The standard's two branches meet to four digits.
    assert!((srgb_decode(0.040_45) - 0.003_130_8).abs() < 1e-7);
}

/// IEC 61966-2-1:1999, linear sRGB to XYZ under D65, as printed with four digits.
const IEC_D65: [[f64; 3]; 3] = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]];

/// ICC.1:2022 annex E, the Bradford transform from D65 to D50 as printed in the sRGB profile's `chad` tag.
const D65_TO_D50: [[f64; 3]; 3] =
    [[1.047_882, 0.022_919, -0.050_201], [0.029_587, 0.990_479, -0.017_059], [-0.009_232, 0.015_076, 0.751_678]];

/// IEC prints four digits; three of them add up in a row.
const MATRIX_TOLERANCE: f64 = 3e-4;

#[test]
fn srgb_matrix_is_that_of_iec_61966_2_1_adapted_to_d50() {
    for (r, row) in SRGB_TO_XYZ_D50.iter().enumerate() {
        for (c, ours) in row.iter().enumerate() {
            let outside: f64 = (0..3).map(|k| D65_TO_D50[r][k] * IEC_D65[k][c]).sum();
            assert!((ours - outside).abs() < MATRIX_TOLERANCE, "[{r}][{c}]: {ours} for {outside}");
        }
    }
    let white = lab_from_xyz(profile_xyz(LinearRgb::new(1.0, 1.0, 1.0)));
    assert!(ciede2000(white, Lab::new(100.0, 0.0, 0.0)) < 0.01, "{white:?}");
}

/// The chart's xyY table has three to four digits: half a last digit moves Lab by up to 0.05.
const XYY_TOLERANCE: f64 = 0.06;
#[test]
fn cielab_of_the_chart_agrees_with_the_xyz_published_beside_it() {
    let table = rows::<3>(include_str!("chart-2005.csv"));
    let references = chart(Edition::Before2014);
    assert_eq!(table.len(), references.len());
    for ([x, y, luminance], reference) in table.into_iter().zip(references) {
        let xyz = Xyz::new(luminance * x / y, luminance, luminance * (1.0 - x - y) / y);
        let d = ciede2000(lab_from_xyz(xyz), reference.lab);
        assert!(d < XYY_TOLERANCE, "{} from xyY: {d}", reference.name);
        assert!(ciede2000(lab_from_xyz(xyz_from_lab(reference.lab)), reference.lab) < 1e-9);
    }
}
