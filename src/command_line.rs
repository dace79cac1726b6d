//! Words of a command that a hint prints for a person to copy.

use std::fmt::Display;

/// Marks that no POSIX shell gives a meaning to, wherever they stand in a word.
const PLAIN: &[char] = &['-', '_', '.', ',', '/', ':', '@', '%', '+'];

/// A name as one word of a command line: as it is where a shell takes it so, else in single quotes, within which a shell takes
/// everything as it is but the single quote itself.
pub fn to_type(name: impl Display) -> String {
    let name = name.to_string();
    // Not in front: some shells put the path of a command in the place of a word that begins so.
    let plain = |(at, c): (usize, char)| c.is_alphanumeric() || PLAIN.contains(&c) || (c == '=' && at > 0);
    if !name.is_empty() && name.char_indices().all(plain) { name } else { format!("'{}'", name.replace('\'', r"'\''")) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn names_are_quoted_only_where_a_shell_would_read_them_otherwise() {
        for plain in ["K1-s", "K2/K2-1", "Ñuñoa_3", "axis=class", "trays/a,b+c@2:1.jpg", "50%"] {
            assert_eq!(to_type(plain), plain);
        }
        for (name, quoted) in [
            ("", "''"),
            ("K1 s", "'K1 s'"),
            ("a\"b", "'a\"b'"),
            ("$HOME", "'$HOME'"),
            ("a`b", "'a`b'"),
            ("a\\b", "'a\\b'"),
            ("it's", r"'it'\''s'"),
            ("=ls", "'=ls'"),
            ("~", "'~'"),
            ("?", "'?'"),
        ] {
            assert_eq!(to_type(name), quoted);
        }
    }

    /// Through a shell itself; there may be none (Windows).
    #[cfg(unix)]
    #[test]
    fn a_shell_reads_back_what_was_written() {
        let strategy = proptest::collection::vec("[ -~äß]{0,8}", 40);
        proptest!(ProptestConfig::with_cases(16), |(names in strategy)| {
            let words: Vec<String> = names.iter().map(to_type).collect();
            let script = format!("printf '%s\\n' {}", words.join(" "));
            let said = std::process::Command::new("sh").args(["-c", &script]).output().unwrap();
            let read = String::from_utf8(said.stdout).unwrap();
            prop_assert_eq!(read.lines().map(str::to_owned).collect::<Vec<_>>(), names);
        });
    }
}
