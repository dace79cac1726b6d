//! Capture time and camera from the EXIF block.

use super::Taken;

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
    let exif = exif::Reader::new().read_raw(block.to_vec()).map_err(|e| e.to_string())?;
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
    Ok(About { taken: at.map(|at| Taken { at, offset }), camera })
}

/// `+02:00` as an offset.
fn parse_offset(text: &str) -> Option<jiff::tz::Offset> {
    let (sign, rest) = match text.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let (h, m) = rest.split_once(':')?;
    let seconds = sign * (h.parse::<i32>().ok()? * 3600 + m.parse::<i32>().ok()? * 60);
    jiff::tz::Offset::from_seconds(seconds).ok()
}
