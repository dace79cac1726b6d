//! Whether a JPEG file is whole: decoders fill what is missing with grey and say nothing.

/// Walks the markers of a JPEG file to its end marker (ITU-T T.81, annex B.1.1); false when the file ends before it.
/// A file that does not start as a JPEG counts as whole.
pub(super) fn is_whole(bytes: &[u8]) -> bool {
    if !bytes.starts_with(&[0xff, 0xd8]) {
        return true;
    }
    let mut at = 2;
    while let Some(step) = bytes[at..].iter().position(|b| *b == 0xff) {
        at += step + 1;
        match bytes.get(at) {
            Some(0xd9) => return true,
            // A stuffed zero, a restart marker or a fill byte inside the entropy-coded data.
            Some(0x00 | 0xd0..=0xd7 | 0x01) => at += 1,
            Some(0xff) => {}
            Some(_) => match (bytes.get(at + 1), bytes.get(at + 2)) {
                (Some(high), Some(low)) => at += 1 + usize::from(u16::from_be_bytes([*high, *low])),
                _ => return false,
            },
            None => return false,
        }
        if at >= bytes.len() {
            return false;
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_whole_only_with_its_end_marker() {
        let picture =
            image::RgbImage::from_fn(64, 48, |x, y| image::Rgb([if x % 7 < y % 5 { 200 } else { 30 }, 90, 60]));
        let mut bytes = Vec::new();
        image::codecs::jpeg::JpegEncoder::new(&mut bytes).encode_image(&picture).unwrap();
        assert!(is_whole(&bytes));
        // Phones append data behind the end marker.
        assert!(is_whole(&[bytes.as_slice(), b"trailer"].concat()));
        for cut in [2, 3, 10, bytes.len() / 2, bytes.len() - 1, bytes.len() - 2] {
            assert!(!is_whole(&bytes[..cut]), "{cut} of {}", bytes.len());
        }
        assert!(is_whole(b"\x89PNG"));
    }
}
