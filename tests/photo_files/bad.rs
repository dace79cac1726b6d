//! Files that cannot be read, and files that can in spite of something.

use broodhue::error::ErrorKind;
use broodhue::photo::{Limits, read};
use image::ImageFormat;

use super::make;

/// The message and the hint of a file that must not be read.
fn refused(name: &str, bytes: &[u8]) -> (String, String) {
    let error = read(name, bytes, Limits::default()).unwrap_err();
    assert_eq!((error.kind, error.place.as_str()), (ErrorKind::Failed, name));
    assert!(!error.hint.is_empty(), "{error}");
    (error.message, error.hint)
}

#[test]
fn each_bad_file_gets_its_own_message() {
    let jpeg = make::encoded(ImageFormat::Jpeg);
    let png = make::encoded(ImageFormat::Png);
    let cases: [(&str, &[u8], &str); 8] = [
        ("empty.jpg", &[], "0 bytes"),
        ("notes.jpg", b"Tank 3, fed at nine\nwater changed", "text ('Tank 3, fed at nine"),
        ("noise.jpg", &[0, 1, 2, 3, 250, 251, 252], "no picture of a known kind"),
        ("cut.jpg", &jpeg[..jpeg.len() * 2 / 3], "cut short after"),
        ("head.jpg", &jpeg[..40], "cut short after 40 bytes"),
        ("cut.png", &png[..png.len() * 2 / 3], "cannot be decoded"),
        ("huge.png", &make::png_claiming(100_000, 100_000), "100000 × 100000 pixels, the limit is 120 million"),
        ("thumb.png", &make::tiny_png(), "3 × 3 pixels, at least 16 × 16"),
    ];
    for (name, bytes, words) in cases {
        let (message, _) = refused(name, bytes);
        assert!(message.contains(words), "{name}: {message}");
    }
}

#[test]
fn a_file_beyond_the_limit_is_not_decoded() {
    let limits = Limits { bytes: 100, ..Limits::default() };
    let error = read("big.png", &make::encoded(ImageFormat::Png), limits).unwrap_err();
    assert!(error.message.contains("the limit is 100"), "{error}");
}

#[test]
fn raw_files_say_which_export_to_use() {
    let negative = make::digital_negative();
    for (name, bytes) in [
        ("IMG_1.CR2", b"II*\0\x10\0\0\0CR\x02\0".as_slice()),
        ("DSC_1.nef", b"MM\0*".as_slice()),
        ("a.raf", b"FUJIFILMCCD-RAW 0201".as_slice()),
        // Nothing but its tag gives it away.
        ("renamed.tif", &negative),
    ] {
        let (message, hint) = refused(name, bytes);
        assert!(message.contains("raw data") && hint.contains("16-bit TIFF or JPEG"), "{name}: {message}; {hint}");
    }
}

#[test]
#[cfg(not(feature = "heic"))]
fn heic_without_its_reader_says_what_to_do() {
    let (message, hint) = refused("a.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic");
    assert!(message.contains("HEIC") && hint.contains("--features heic"), "{message}; {hint}");
}

#[test]
fn a_broken_exif_block_is_a_warning() {
    for block in [b"II*\0".as_slice(), b"garbage"] {
        let photo = read("a.jpg", &make::jpeg_with_exif(block), Limits::default()).unwrap();
        assert_eq!(photo.warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["broken-exif"], "{block:?}");
        assert_eq!(photo.taken, None);
    }
}

#[test]
fn a_bad_profile_is_a_warning_and_srgb_is_assumed() {
    let plain = read("a.png", &make::encoded(ImageFormat::Png), Limits::default()).unwrap();
    // A cut-off profile, and a whole one for grey pictures on a colour picture.
    let grey = read_profile(include_bytes!("../reference/icc/grey-8.png"));
    for profile in [b"not a profile".as_slice(), &grey[..200], &grey] {
        let photo = read("a.png", &make::png_with_profile(profile), Limits::default()).unwrap();
        assert_eq!(photo.warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>(), ["bad-profile"]);
        assert_eq!(photo.linear(5, 5), plain.linear(5, 5));
    }
}

/// The colour profile embedded in a PNG.
fn read_profile(png: &[u8]) -> Vec<u8> {
    use image::ImageDecoder;
    let mut decoder = image::codecs::png::PngDecoder::new(std::io::Cursor::new(png)).unwrap();
    decoder.icc_profile().unwrap().unwrap()
}
