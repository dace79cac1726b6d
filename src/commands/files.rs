//! Files that a person names on the command line.

use std::path::Path;

use crate::error::{Error, Result};

/// The text of a file; `hint` says where such a file comes from.
pub(super) fn read_text(path: &Path, hint: &str) -> Result<String> {
    let bytes = std::fs::read(path).map_err(|e| Error::failed(path.display(), e, hint))?;
    text_of(&bytes).ok_or_else(|| Error::failed(path.display(), "is no text in UTF-8", hint))
}

/// UTF-8 with or without its mark, or UTF-16 behind its mark, which is what `>` writes in some Windows shells.
fn text_of(bytes: &[u8]) -> Option<String> {
    if let Some(rest) = bytes.strip_prefix(&[0xFF, 0xFE]) {
        let units: Vec<u16> = rest.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])).collect();
        return String::from_utf16(&units).ok();
    }
    let rest = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    std::str::from_utf8(rest).ok().map(str::to_owned)
}

/// Writes a file, making its folder.
pub(super) fn write(path: &Path, bytes: impl AsRef<[u8]>) -> Result<()> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    folder
        .map_or(Ok(()), std::fs::create_dir_all)
        .and_then(|()| std::fs::write(path, bytes))
        .map_err(|e| Error::failed(path.display(), e, "choose a folder that can be written to"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_comes_in_three_ways() {
        let wide: Vec<u8> =
            [0xFF, 0xFE].into_iter().chain("ä = 1\n".encode_utf16().flat_map(u16::to_le_bytes)).collect();
        assert_eq!(text_of(&wide).as_deref(), Some("ä = 1\n"));
        assert_eq!(text_of("\u{feff}ä = 1".as_bytes()).as_deref(), Some("ä = 1"));
        assert_eq!(text_of("ä = 1".as_bytes()).as_deref(), Some("ä = 1"));
        assert_eq!(text_of(b"\x80"), None);
    }
}
