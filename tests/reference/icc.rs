//! Embedded colour profiles against an independent CMM: files and numbers made by `icc.py` with LittleCMS.

use std::path::Path;

use broodhue::colour::{Lab, ciede2000, lab_from_xyz, profile_xyz};
use broodhue::photo::{Limits, read};

/// CIEDE2000 by which two sound colour engines may differ: rounding of profile numbers (1/65536) and of curve tables.
const MATRIX_TOLERANCE: f64 = 0.05;
/// A table of 9 × 9 × 9 colours leaves room for how one reads between its points (tetrahedra here or there).
const TABLE_TOLERANCE: f64 = 1.0;

#[test]
fn embedded_profiles_are_read_as_littlecms_reads_them() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/icc");
    let table = std::fs::read_to_string(folder.join("icc.csv")).unwrap();
    let mut rows = 0;
    for line in table.lines().skip(2) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let bytes = std::fs::read(folder.join(cells[0])).unwrap();
        let photo = read(cells[0], &bytes, Limits::default()).unwrap();
        let light = photo.linear(cells[1].parse().unwrap(), cells[2].parse().unwrap());
        let ours = lab_from_xyz(profile_xyz(light));
        let theirs = Lab::new(number(3), number(4), number(5));
        let tolerance = if cells[0].starts_with("table") { TABLE_TOLERANCE } else { MATRIX_TOLERANCE };
        let off = ciede2000(ours, theirs);
        assert!(off < tolerance, "{line}: {ours:?}, off by {off:.3}");
        assert_eq!(photo.warnings.len(), usize::from(cells[0].starts_with("table")), "{:?}", photo.warnings);
        rows += 1;
    }
    assert_eq!(rows, 240);
}
