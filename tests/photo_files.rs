#![allow(clippy::unwrap_used, reason = "a test may panic")]
//! Files a breeder may hand over: good ones of every kind, and bad ones that get one clear message each.

#[path = "photo_files/bad.rs"]
mod bad;
#[path = "photo_files/make.rs"]
mod make;

use broodhue::photo::{Limits, Photo, Samples, read};
use image::ImageFormat;

fn opened(name: &str, bytes: &[u8]) -> Photo {
    read(name, bytes, Limits::default()).unwrap()
}

#[test]
fn every_kind_of_file_gives_the_same_picture() {
    for (name, format, tolerance) in [
        ("a.png", ImageFormat::Png, 0),
        ("a.tiff", ImageFormat::Tiff, 0),
        ("a.webp", ImageFormat::WebP, 0),
        // Quality 75 of a smooth picture.
        ("a.jpg", ImageFormat::Jpeg, 12),
    ] {
        let photo = opened(name, &make::encoded(format));
        assert_eq!((photo.width, photo.height), (make::WIDTH, make::HEIGHT), "{name}");
        assert_eq!(photo.warnings, [], "{name}");
        for (x, y) in [(0, 0), (39, 0), (0, 29), (20, 15)] {
            for (is, should) in photo.encoded(x, y).into_iter().zip(make::pixel(x, y)) {
                assert!(is.abs_diff(should) <= tolerance, "{name} at {x}, {y}");
            }
        }
    }
}

#[test]
fn the_same_bytes_are_the_same_photo_whatever_their_name() {
    let bytes = make::encoded(ImageFormat::Png);
    let (a, b) = (opened("a.png", &bytes), opened("b.png", &bytes));
    assert_eq!(a.hash, b.hash);
    // SHA-256 of nothing is published in FIPS 180-4 examples; here only the form is checked, sha2 tests the rest.
    assert!(a.hash.len() == 64 && a.hash.chars().all(|c| c.is_ascii_hexdigit() && !c.is_ascii_uppercase()));
}

#[test]
fn sixteen_bits_stay_sixteen() {
    let photo = opened("a.png", &make::sixteen_bit_png());
    assert!(matches!(photo.samples, Samples::Sixteen(_)));
    // 0x8080 of 0xffff is 128/255: linear 0.215861 (IEC 61966-2-1); one step of 16 bits more must show.
    let (a, b) = (photo.linear(0, 0).red, photo.linear(1, 0).red);
    assert!((a - 0.215_861).abs() < 1e-5 && b > a && b - a < 1e-4, "{a} {b}");
}

#[test]
fn floating_point_values_keep_their_fineness_and_say_what_they_are_taken_for() {
    let eight = opened("a.png", &make::encoded(ImageFormat::Png));
    for opacity in [false, true] {
        let photo = opened("a.tiff", &make::float_tiff(opacity));
        assert_eq!(photo.warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["float-values"]);
        assert!(matches!(photo.samples, Samples::Sixteen(_)));
        assert_eq!(photo.encoded(20, 15), eight.encoded(20, 15));
    }
}

/// EXIF 2.32 section 4.6.4: what each orientation says of the stored picture, and where its top-left corner goes.
#[test]
fn all_eight_orientations_stand_upright() {
    let (w, h) = (make::WIDTH, make::HEIGHT);
    for (code, corner) in [
        (1, (0, 0)),
        (2, (w - 1, 0)),
        (3, (w - 1, h - 1)),
        (4, (0, h - 1)),
        (5, (0, 0)),
        (6, (h - 1, 0)),
        (7, (h - 1, w - 1)),
        (8, (0, w - 1)),
    ] {
        let photo = opened("a.jpg", &make::jpeg_with_exif(&make::exif(code, "2026:05:02 10:30:00", "+02:00")));
        let turned = code > 4;
        assert_eq!((photo.width, photo.height), if turned { (h, w) } else { (w, h) }, "orientation {code}");
        let there = photo.encoded(corner.0, corner.1);
        for (is, should) in there.into_iter().zip(make::pixel(0, 0)) {
            assert!(is.abs_diff(should) <= 12, "orientation {code}: {there:?}");
        }
    }
}

#[test]
fn capture_time_comes_with_its_offset() {
    let photo = opened("a.jpg", &make::jpeg_with_exif(&make::exif(1, "2026:05:02 10:30:00", "+02:00")));
    let taken = photo.taken.unwrap();
    assert_eq!(taken.at.to_string(), "2026-05-02T10:30:00");
    assert_eq!(taken.offset.unwrap().seconds(), 7200);
    assert_eq!(opened("a.png", &make::encoded(ImageFormat::Png)).taken, None);
}

#[test]
fn a_tiff_tells_its_time_too() {
    let photo = opened("a.tif", &make::tiff_with_time("2026:05:02 10:30:00"));
    assert_eq!(photo.taken.unwrap().at.to_string(), "2026-05-02T10:30:00");
}

#[test]
fn a_grey_photo_is_read_as_grey_light() {
    let photo = opened("grey.jpg", &make::grey_jpeg());
    let light = photo.linear(20, 15);
    assert!((light.red - light.green).abs() < 1e-6 && (light.green - light.blue).abs() < 1e-6);
    assert_eq!(photo.warnings, []);
}

#[test]
fn printing_colours_are_read_with_a_warning() {
    let photo = opened("cmyk.jpg", include_bytes!("fixtures/cmyk.jpg"));
    assert_eq!(photo.warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["cmyk"]);
    // Cyan ink rises to the right and takes red, magenta ink rises downwards and takes green.
    let [here, right, below] = [(3, 3), (44, 3), (3, 28)].map(|(x, y)| photo.encoded(x, y));
    assert!(here[0] > right[0] + 100 && here[1].abs_diff(right[1]) < 40, "{here:?} {right:?}");
    assert!(here[1] > below[1] + 100 && here[0].abs_diff(below[0]) < 40, "{here:?} {below:?}");
}

#[test]
fn a_tiff_in_printing_colours_says_so_too() {
    let photo = opened("cmyk.tif", &make::printing_tiff());
    assert_eq!(photo.warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["cmyk"]);
    let [red, green, blue] = photo.encoded(8, 8);
    assert!(red + 100 < green && green == blue, "cyan: {red} {green} {blue}");
}

#[test]
#[cfg(feature = "heic")]
fn a_heic_photo_is_read() {
    let bytes = make::heic();
    let photo = opened("a.heic", &bytes);
    assert_eq!((photo.width, photo.height), (make::WIDTH, make::HEIGHT));
    for (x, y) in [(2, 2), (37, 2), (2, 27), (20, 15)] {
        for (is, should) in photo.encoded(x, y).into_iter().zip(make::pixel(x, y)) {
            assert!(is.abs_diff(should) <= 10, "at {x}, {y}");
        }
    }
}
