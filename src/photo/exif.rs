//! Capture time, camera and raw marks from the EXIF block.

use std::io::Cursor;

use super::Taken;

/// DNGVersion (Adobe DNG specification 1.4): its presence makes a TIFF a raw file.
const DNG_VERSION: exif::Tag = exif::Tag(exif::Context::Tiff, 0xc612);

/// What a block tells of a photo.
#[derive(Debug, Default)]
pub(super) struct About {
    /// When it was taken.
    pub(super) taken: Option<Taken>,
    /// The camera's model.
    pub(super) camera: Option<String>,
}

/// Reads a block; `Err` holds what is wrong with it.
pub(super) fn about(block: &[u8]) -> Result<About, String> {
    exif::Reader::new().read_raw(block.to_vec()).map(|e| told(&e)).map_err(|e| e.to_string())
}

/// What the tags of a TIFF file tell.
pub(super) struct TiffTags {
    pub(super) about: About,
    /// Whether it is a digital negative, a raw file in the form of a TIFF.
    pub(super) negative: bool,
}

/// Reads the tags of a TIFF file; `None` when they cannot be read.
pub(super) fn tiff_tags(file: &[u8]) -> Option<TiffTags> {
    let exif = exif::Reader::new().read_from_container(&mut Cursor::new(file)).ok()?;
    Some(TiffTags { about: told(&exif), negative: exif.get_field(DNG_VERSION, exif::In::PRIMARY).is_some() })
}

fn told(exif: &exif::Exif) -> About {
    let text = |tag| {
        let field = exif.get_field(tag, exif::In::PRIMARY)?;
        match &field.value {
            exif::Value::Ascii(lines) => lines.first().map(|l| String::from_utf8_lossy(l).trim().to_owned()),
            _ => None,
        }
    };
    let at = text(exif::Tag::DateTimeOriginal)
        .or_else(|| text(exif::Tag::DateTimeDigitized))
        .or_else(|| text(exif::Tag::DateTime))
        .and_then(|t| jiff::civil::DateTime::strptime("%Y:%m:%d %H:%M:%S", t).ok());
    let offset = text(exif::Tag::OffsetTimeOriginal).and_then(|t| parse_offset(&t));
    let camera = text(exif::Tag::Model).filter(|model| !model.is_empty());
    About { taken: at.map(|at| Taken { at, offset }), camera }
}

/// `+02:00` as an offset.
fn parse_offset(text: &str) -> Option<jiff::tz::Offset> {
    let (sign, rest) = match text.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let (h, m) = rest.split_once(':')?;
    let (h, m) = (h.parse::<i32>().ok()?, m.parse::<i32>().ok()?);
    // Beyond a day no clock is; larger numbers would not even fit.
    let sane = (0..24).contains(&h) && (0..60).contains(&m);
    sane.then(|| jiff::tz::Offset::from_seconds(sign * (h * 3600 + m * 60)).ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_are_read_and_nonsense_is_none() {
        assert_eq!(parse_offset("+02:00").unwrap().seconds(), 7200);
        assert_eq!(parse_offset("-09:30").unwrap().seconds(), -34_200);
        for bad in ["", "2:00", "+2", "+99:00", "+99999999:00", "+-1:00", "ö2:00"] {
            assert_eq!(parse_offset(bad), None, "{bad}");
        }
    }
}
