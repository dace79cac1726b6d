//! Pictures inside the page.

/// RFC 4648 alphabet.
const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// Bytes as base64 (RFC 4648, with padding).
pub(super) fn base64(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let byte = |i: usize| u32::from(chunk.get(i).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for (i, shift) in [18, 12, 6, 0].into_iter().enumerate() {
            let letter = char::from(LETTERS[(bits >> shift & 63) as usize]);
            out.push(if i <= chunk.len() { letter } else { '=' });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    /// The test vectors of RFC 4648, section 10.
    #[test]
    fn vectors_of_the_standard() {
        let table =
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("foobar", "Zm9vYmFy")];
        for (plain, coded) in table {
            assert_eq!(super::base64(plain.as_bytes()), coded);
        }
    }
}
