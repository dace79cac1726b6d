//! Files that are recognised only to say what to do instead.

use std::path::Path;

use crate::error::Error;

/// A short message and a hint.
#[derive(Debug)]
pub(super) struct Refusal {
    pub(super) what: String,
    pub(super) hint: &'static str,
}

/// Endings of camera raw files; common practice, no source.
const RAW_ENDINGS: [&str; 17] = [
    "3fr", "arw", "cr2", "cr3", "crw", "dng", "erf", "iiq", "kdc", "mos", "mrw", "nef", "orf", "pef", "raf", "rw2",
    "srw",
];

/// How raw files begin that no other file does: offset and bytes. CR2, CR3, RAF, ORF (two forms) and RW2 as their readers
/// in open-source libraries (LibRaw, ExifTool) tell them.
const RAW_STARTS: [(usize, &[u8]); 6] =
    [(8, b"CR\x02\x00"), (4, b"ftypcrx "), (0, b"FUJIFILMCCD-RAW"), (0, b"IIRO"), (0, b"IIRS"), (0, b"IIU\x00")];

/// Brands of HEIC files (ISO/IEC 23008-12 annex B) after `ftyp`.
const HEIC_BRANDS: [&[u8]; 6] = [b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1"];

/// Whether the file is a HEIC photo.
pub(super) fn is_heic(bytes: &[u8]) -> bool {
    bytes.get(4..8) == Some(b"ftyp") && bytes.get(8..12).is_some_and(|b| HEIC_BRANDS.contains(&b))
}

/// Whether the file is a camera's raw data, by its name or its first bytes.
pub(super) fn is_raw(name: &str, bytes: &[u8]) -> bool {
    let ending = Path::new(name).extension().and_then(|e| e.to_str()).unwrap_or_default().to_lowercase();
    let starts = RAW_STARTS.iter().any(|(at, magic)| bytes.get(*at..).is_some_and(|b| b.starts_with(magic)));
    starts || RAW_ENDINGS.contains(&ending.as_str())
}

/// What to say of raw data.
pub(super) fn raw() -> Refusal {
    Refusal {
        what: "the file is a camera's raw data, which every program develops differently".to_owned(),
        hint: "export it as 16-bit TIFF or JPEG in sRGB or Display P3, without picture style, and use that",
    }
}

impl Refusal {
    /// The same as an error of the photo `name`.
    pub(super) fn of(self, name: &str) -> Error {
        Error::failed(name, self.what, self.hint)
    }
}

/// What a file that is no picture seems to be.
pub(super) fn unknown(bytes: &[u8]) -> Refusal {
    let hint = "use a JPEG, PNG, TIFF or WebP photo";
    let start = &bytes[..bytes.len().min(64)];
    match std::str::from_utf8(start) {
        Ok(text) if !text.contains('\0') => {
            let words: String = text.chars().take(24).map(|c| if c.is_control() { ' ' } else { c }).collect();
            Refusal { what: format!("the file is text ('{}…'), not a picture", words.trim()), hint }
        }
        _ => Refusal { what: "the file is no picture of a known kind".to_owned(), hint },
    }
}
