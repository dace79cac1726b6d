//! What a JPEG file tells before it is decoded: how many channels it has, whether it is whole and how hard it was compressed.

/// A walk over the markers of a JPEG (ITU-T T.81 annex B).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Outline {
    /// Channels of the picture: 1 grey, 3 colour, 4 CMYK; 0 when no frame header was met.
    pub(super) channels: u8,
    /// Whether the picture's end is in the file.
    pub(super) whole: bool,
    /// How coarsely lightness is stored, as a multiple of the table that the standard prints as an example (K.1): 0.2 as phones
    /// write it, 1 at "quality 50"; `None` without a table.
    pub(super) coarseness: Option<f64>,
}

/// Sum over the example table for lightness (ITU-T T.81 table K.1).
const EXAMPLE_TABLE: f64 = 3688.0;

/// The coarseness that a segment of quantisation tables (T.81 B.2.4.1) gives for table 0, which holds lightness.
fn coarseness(mut tables: &[u8]) -> Option<f64> {
    while let [kind, rest @ ..] = tables {
        let wide = kind >> 4 != 0;
        let size = if wide { 128 } else { 64 };
        let (table, after) = rest.split_at_checked(size)?;
        if kind & 15 == 0 {
            let sum: u32 = match wide {
                true => table.chunks_exact(2).map(|v| u32::from(u16::from_be_bytes([v[0], v[1]]))).sum(),
                false => table.iter().map(|v| u32::from(*v)).sum(),
            };
            return Some(f64::from(sum) / EXAMPLE_TABLE);
        }
        tables = after;
    }
    None
}

/// Whether the bytes begin as a JPEG does.
pub(super) fn is_jpeg(bytes: &[u8]) -> bool {
    bytes.starts_with(&[0xff, 0xd8, 0xff])
}

/// Walks the markers from the start of the picture to its end; thumbnails inside of segments are stepped over.
pub(super) fn outline(bytes: &[u8]) -> Outline {
    let mut found = Outline { channels: 0, whole: false, coarseness: None };
    let mut at = 2;
    while let Some(marker) = next_marker(bytes, &mut at) {
        match marker {
            // End of image.
            0xd9 => return Outline { whole: true, ..found },
            // Restart markers and TEM stand alone.
            0x01 | 0xd0..=0xd8 => {}
            _ => {
                let Some(length) = bytes.get(at..at + 2) else { break };
                let length = usize::from(u16::from_be_bytes([length[0], length[1]]));
                // Frame headers are C0…CF without DHT, JPG and DAC; the channel count is their sixth byte after the length.
                if matches!(marker, 0xc0..=0xcf) && !matches!(marker, 0xc4 | 0xc8 | 0xcc) {
                    found.channels = bytes.get(at + 7).copied().unwrap_or(0);
                }
                if marker == 0xdb && found.coarseness.is_none() {
                    found.coarseness = bytes.get(at + 2..at + length).and_then(coarseness);
                }
                at += length;
            }
        }
    }
    found
}

/// The code of the next marker at or after `at`, which is moved behind it; stuffed zeros in coded data are no markers.
fn next_marker(bytes: &[u8], at: &mut usize) -> Option<u8> {
    loop {
        *at += first_ff(bytes.get(*at..)?)? + 1;
        match bytes.get(*at)? {
            0x00 => *at += 1,
            // Fill bytes before a marker.
            0xff => {}
            &code => {
                *at += 1;
                return Some(code);
            }
        }
    }
}

/// Where the first byte 0xff is: pieces are asked whole whether they hold one, which takes a fraction of the time.
fn first_ff(bytes: &[u8]) -> Option<usize> {
    const PIECE: usize = 64;
    let passed = PIECE * bytes.chunks(PIECE).take_while(|piece| !piece.contains(&0xff)).count();
    bytes.get(passed..)?.iter().position(|&b| b == 0xff).map(|i| passed + i)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_literal_outline_is_walked_to_its_end() {
        let frame = [0xff, 0xc0, 0, 11, 8, 0, 1, 0, 1, 3, 0, 0, 0];
        // An application segment that itself holds an end marker, as a thumbnail does.
        let thumbnail = [0xff, 0xe1, 0, 6, 0xff, 0xd9, 1, 1];
        let scan = [0xff, 0xda, 0, 2, 1, 2, 0xff, 0x00, 3, 0xff, 0xd0, 4];
        let mut file = [&[0xff, 0xd8], &thumbnail[..], &frame, &scan].concat();
        assert_eq!(outline(&file), Outline { channels: 3, whole: false, coarseness: None });
        file.extend([0xff, 0xd9, 0, 0]);
        assert_eq!(outline(&file), Outline { channels: 3, whole: true, coarseness: None });
    }

    #[test]
    fn the_table_for_lightness_says_how_coarse_a_picture_is() {
        // Table 1 of 8 bits, then table 0 of 16 bits, each value 461: 64 · 461 / 3688 = 8.
        let wide: Vec<u8> = [1, 205].repeat(64);
        let tables = [&[1], &[9; 64][..], &[16], &wide].concat();
        assert!((coarseness(&tables).unwrap() - 8.0).abs() < 1e-9);
        assert_eq!(coarseness(&tables[..100]), None);
    }
}
