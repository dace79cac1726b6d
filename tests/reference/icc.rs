//! Embedded colour profiles against an independent CMM: files and numbers made by `icc.py` with LittleCMS.

use std::io::Cursor;
use std::path::Path;

use broodhue::colour::{Lab, ciede2000, lab_from_xyz, profile_xyz};
use broodhue::photo::{Limits, Photo, read};
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageEncoder};

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

/// ICC.1:2022 section 9.2: the table that renders perceptually, and the one that renders relative to the medium's white.
const PERCEPTUAL: &[u8; 4] = b"A2B0";
const COLORIMETRIC: &[u8; 4] = b"A2B1";

/// A picture with a table profile, and that profile.
fn table() -> (DynamicImage, Vec<u8>) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/icc/table-16.png");
    let mut decoder = image::codecs::png::PngDecoder::new(Cursor::new(std::fs::read(file).unwrap())).unwrap();
    let profile = decoder.icc_profile().unwrap().unwrap();
    (DynamicImage::from_decoder(decoder).unwrap(), profile)
}

fn with_profile(picture: &DynamicImage, profile: Vec<u8>) -> Photo {
    let mut out = Vec::new();
    let mut encoder = image::codecs::png::PngEncoder::new(&mut out);
    encoder.set_icc_profile(profile).unwrap();
    let rgb = picture.to_rgb16();
    let bytes: Vec<u8> = rgb.as_raw().iter().flat_map(|v| v.to_ne_bytes()).collect();
    encoder.write_image(&bytes, rgb.width(), rgb.height(), ExtendedColorType::Rgb16).unwrap();
    read("table.png", &out, Limits::default()).unwrap()
}

fn number(profile: &[u8], at: usize) -> usize {
    u32::from_be_bytes(profile[at..at + 4].try_into().unwrap()) as usize
}

/// The tag table's entries as places in the profile (ICC.1:2022 section 7.3).
fn entry(profile: &[u8], tag: &[u8; 4]) -> usize {
    (0..number(profile, 128)).map(|i| 132 + 12 * i).find(|at| &profile[*at..at + 4] == tag).unwrap()
}

/// The profile with its perceptual table called the colorimetric one.
fn colorimetric_only(profile: &[u8]) -> Vec<u8> {
    let (mut out, at) = (profile.to_vec(), entry(profile, PERCEPTUAL));
    out[at..at + 4].copy_from_slice(COLORIMETRIC);
    out
}

/// The same with a perceptual table beside it that says something else: the values of the first, turned about.
fn both_tables(profile: &[u8]) -> Vec<u8> {
    let colorimetric = colorimetric_only(profile);
    let at = entry(&colorimetric, COLORIMETRIC);
    let (offset, size) = (number(&colorimetric, at + 4), number(&colorimetric, at + 8));
    let mut other = colorimetric[offset..offset + size].to_vec();
    // A header of 52 bytes says how the numbers behind it are to be read (ICC.1:2022 section 10.10).
    other[52..].iter_mut().for_each(|v| *v = 255 - *v);
    let count = number(&colorimetric, 128);
    let (head, rest) = colorimetric.split_at(132 + 12 * count);
    let mut out = head.to_vec();
    out[128..132].copy_from_slice(&u32::try_from(count + 1).unwrap().to_be_bytes());
    for i in 0..count {
        let moved = u32::try_from(number(head, 136 + 12 * i) + 12).unwrap();
        out[136 + 12 * i..140 + 12 * i].copy_from_slice(&moved.to_be_bytes());
    }
    out.extend(PERCEPTUAL);
    out.extend(u32::try_from(colorimetric.len() + 12).unwrap().to_be_bytes());
    out.extend(u32::try_from(size).unwrap().to_be_bytes());
    out.extend(rest);
    out.extend(other);
    let whole = u32::try_from(out.len()).unwrap();
    out[..4].copy_from_slice(&whole.to_be_bytes());
    out
}

#[test]
fn a_colorimetric_table_goes_before_a_perceptual_one() {
    let (picture, profile) = table();
    let plain = with_profile(&picture, profile.clone());
    for changed in [colorimetric_only(&profile), both_tables(&profile)] {
        let photo = with_profile(&picture, changed);
        assert_eq!(photo.warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["table-profile"]);
        assert!(photo.samples == plain.samples, "other colours");
    }
}
