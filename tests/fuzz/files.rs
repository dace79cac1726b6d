//! Photos: whole files, their EXIF, their colour profile.

use std::io::Cursor;
use std::path::PathBuf;

use broodhue::photo::{Limits, read};
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader};

use crate::exif::capture_time;
use crate::run::fuzz;

/// As for photos of a breeder, but small: what is refused before decoding is so at any size.
const LIMITS: Limits = Limits { bytes: 1 << 20, pixels: 4_000_000, side: 16 };

/// Words of the picture formats.
const WORDS: [&str; 16] = [
    "\u{0}\u{0}\u{0}\u{0}",
    "JFIF\0",
    "Exif\0\0",
    "ICC_PROFILE\0",
    "Adobe\0",
    "IHDR",
    "iCCP",
    "eXIf",
    "IDAT",
    "RIFF",
    "WEBPVP8 ",
    "VP8L",
    "VP8X",
    "II*\0",
    "MM\0*",
    "MPF\0",
];

fn fixture(name: &str) -> Vec<u8> {
    std::fs::read(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests").join(name)).unwrap()
}

/// A small colourful picture in a format.
fn picture(format: ImageFormat, sixteen: bool) -> Vec<u8> {
    let plain = image::RgbImage::from_fn(40, 30, |x, y| image::Rgb([(x * 6) as u8, (y * 8) as u8, (x ^ y) as u8]));
    let plain = DynamicImage::ImageRgb8(plain);
    let picture = if sixteen { DynamicImage::ImageRgb16(plain.to_rgb16()) } else { plain };
    let mut out = Cursor::new(Vec::new());
    picture.write_to(&mut out, format).unwrap();
    out.into_inner()
}

/// A JPEG file with one more segment at its head.
fn with_segment(marker: u8, content: &[u8]) -> Vec<u8> {
    let plain = fixture("fixtures/grey.jpg");
    let content = &content[..content.len().min(65_000)];
    let length = (content.len() as u16 + 2).to_be_bytes();
    [&plain[..2], &[0xff, marker], &length, content, &plain[2..]].concat()
}

fn reads(bytes: &[u8]) -> bool {
    read("fuzz.jpg", bytes, LIMITS).is_ok()
}

#[test]
fn photos() {
    let jpegs =
        [fixture("fixtures/grey.jpg"), fixture("fixtures/cmyk.jpg"), picture(ImageFormat::Jpeg, false), with_exif()];
    let mut seeds = jpegs.to_vec();
    for format in [ImageFormat::Png, ImageFormat::Tiff] {
        seeds.extend([picture(format, false), picture(format, true)]);
    }
    seeds.push(picture(ImageFormat::WebP, false));
    assert!(seeds.iter().all(|s| reads(s)), "every seed is a photo");
    fuzz(
        "photo",
        1,
        &seeds,
        |m| {
            let whole = m.spoil(&seeds, &WORDS);
            if whole.starts_with(&[0xff, 0xd8]) && whole.len() > 64 { m.spoil_segments(&whole) } else { whole }
        },
        reads,
    );
}

fn with_exif() -> Vec<u8> {
    with_segment(0xe1, &[b"Exif\0\0", &capture_time("2026-05-02T10:30:00")[..]].concat())
}

#[test]
fn exif() {
    let seeds = [capture_time("2026-05-02T10:30:00")];
    // Directory entries: pointers to further directories, times, offsets, orientation; types and counts at their edges.
    let words = [
        "\u{69}\u{7f}\u{4}\0",
        "\u{3}\u{10}",
        "\u{12}\u{1}\u{3}\0\u{1}\0\0\0\u{6}\0\0\0",
        "+02:00",
        "9999:99:99 99:99:99",
        "\u{8}\0\0\0",
    ];
    fuzz(
        "exif",
        1,
        &[with_exif()],
        |m| with_segment(0xe1, &[b"Exif\0\0", &m.spoil(&seeds, &words)[..]].concat()),
        reads,
    );
}

#[test]
fn profiles() {
    let profile = |name: &str| {
        let file = ImageReader::new(Cursor::new(fixture(&format!("reference/icc/{name}.png")))).with_guessed_format();
        file.unwrap().into_decoder().unwrap().icc_profile().unwrap().unwrap()
    };
    let seeds = ["display-p3-8", "adobe-rgb-8", "grey-8", "table-8"].map(profile);
    let words = [
        "acsp", "mntr", "RGB ", "GRAY", "XYZ ", "Lab ", "rXYZ", "rTRC", "kTRC", "A2B0", "curv", "para", "mft2", "mAB ",
        "desc",
    ];
    let wrap = |p: &[u8]| with_segment(0xe2, &[b"ICC_PROFILE\0\x01\x01", p].concat());
    let whole: Vec<Vec<u8>> = seeds.iter().map(|p| wrap(p)).collect();
    fuzz("icc", 1, &whole, |m| wrap(&m.spoil(&seeds, &words)), reads);
}
