//! A minimal EXIF block with the capture time, as a phone writes it.

/// An EXIF block (TIFF, little-endian) holding the capture time `taken`, given as `2026-05-02T10:30:00`.
pub fn capture_time(taken: &str) -> Vec<u8> {
    // EXIF 2.32: IFD0 holds the pointer 0x8769 to the EXIF IFD, which holds 0x9003 DateTimeOriginal, ASCII, 20 bytes.
    let text = format!("{}\0", taken.replace('-', ":").replace('T', " "));
    let entry = |tag: u16, kind: u16, count: u32, value: u32| {
        let mut e = Vec::with_capacity(12);
        e.extend_from_slice(&tag.to_le_bytes());
        e.extend_from_slice(&kind.to_le_bytes());
        e.extend_from_slice(&count.to_le_bytes());
        e.extend_from_slice(&value.to_le_bytes());
        e
    };
    let folder = |one: Vec<u8>| [&1_u16.to_le_bytes()[..], &one, &0_u32.to_le_bytes()[..]].concat();
    // Header 8 bytes, then two folders of 18 bytes each, then the text at 44.
    [&b"II\x2a\0\x08\0\0\0"[..], &folder(entry(0x8769, 4, 1, 26)), &folder(entry(0x9003, 2, 20, 44)), text.as_bytes()]
        .concat()
}
