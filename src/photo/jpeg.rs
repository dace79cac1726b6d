//! What a JPEG file tells before it is decoded: how many channels it has and whether it is whole.

/// A walk over the markers of a JPEG (ITU-T T.81 annex B).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Outline {
    /// Channels of the picture: 1 grey, 3 colour, 4 CMYK; 0 when no frame header was met.
    pub(super) channels: u8,
    /// Whether the picture's end is in the file.
    pub(super) whole: bool,
}

/// Whether the bytes begin as a JPEG does.
pub(super) fn is_jpeg(bytes: &[u8]) -> bool {
    bytes.starts_with(&[0xff, 0xd8, 0xff])
}

/// Walks the markers from the start of the picture to its end; thumbnails inside of segments are stepped over.
pub(super) fn outline(bytes: &[u8]) -> Outline {
    let mut channels = 0;
    let mut at = 2;
    while let Some(marker) = next_marker(bytes, &mut at) {
        match marker {
            // End of image.
            0xd9 => return Outline { channels, whole: true },
            // Restart markers and TEM stand alone.
            0x01 | 0xd0..=0xd8 => {}
            _ => {
                let Some(length) = bytes.get(at..at + 2) else { break };
                let length = usize::from(u16::from_be_bytes([length[0], length[1]]));
                // Frame headers are C0…CF without DHT, JPG and DAC; the channel count is their sixth byte after the length.
                if matches!(marker, 0xc0..=0xcf) && !matches!(marker, 0xc4 | 0xc8 | 0xcc) {
                    channels = bytes.get(at + 7).copied().unwrap_or(0);
                }
                at += length;
            }
        }
    }
    Outline { channels, whole: false }
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
        assert_eq!(outline(&file), Outline { channels: 3, whole: false });
        file.extend([0xff, 0xd9, 0, 0]);
        assert_eq!(outline(&file), Outline { channels: 3, whole: true });
    }
}
