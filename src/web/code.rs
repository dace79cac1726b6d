//! The one-time code behind which a phone on the local network may upload photos, and nothing else.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use super::guard::same;

/// How long a code lasts: a brood is photographed in a few minutes.
pub(super) const LIFETIME: Duration = Duration::from_secs(15 * 60);
/// Wrong tries before the code is dead. Eight characters of 30 are over 2³⁹ codes, so this many tries guess nothing.
const TRIES: u32 = 10;
/// Without the letters and digits that are mistaken for each other (0 O, 1 I L, U V).
const ALPHABET: &[u8; 30] = b"23456789ABCDEFGHJKMNPQRSTVWXYZ";

/// A code with its end and the tries left.
#[derive(Debug)]
pub(super) struct UploadCode {
    code: String,
    born: Instant,
    wrong: Mutex<u32>,
}

/// What became of a try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Try {
    /// Right and in time.
    Right,
    /// Wrong; some tries are left.
    Wrong,
    /// Expired, or too many wrong tries.
    Dead,
}

/// Eight characters to read off the terminal, from eight random bytes.
pub(super) fn spell(random: [u8; 8]) -> String {
    random.iter().map(|b| char::from(ALPHABET[usize::from(*b) % ALPHABET.len()])).collect()
}

impl UploadCode {
    pub(super) fn new(code: String, now: Instant) -> Self {
        Self { code, born: now, wrong: Mutex::new(0) }
    }

    pub(super) fn text(&self) -> &str {
        &self.code
    }

    /// Whether `given` is the code; capitals and blanks do not matter.
    pub(super) fn check(&self, given: &str, now: Instant) -> Try {
        // A poisoned lock means a panic while counting; the count itself is still sound.
        let mut wrong = self.wrong.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if *wrong >= TRIES || now.duration_since(self.born) > LIFETIME {
            return Try::Dead;
        }
        let given: String = given.chars().filter(|c| !c.is_whitespace()).flat_map(char::to_uppercase).collect();
        if same(&given, &self.code) {
            return Try::Right;
        }
        *wrong += 1;
        Try::Wrong
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_wrong_tries_or_a_quarter_of_an_hour_end_a_code() {
        let start = Instant::now();
        let code = UploadCode::new(spell([0, 1, 2, 3, 4, 5, 6, 255]), start);
        assert_eq!(code.text().len(), 8);
        let typed = format!(" {} ", code.text().to_lowercase());
        assert_eq!(code.check(&typed, start), Try::Right);
        assert_eq!(code.check(&typed, start + LIFETIME + Duration::from_secs(1)), Try::Dead);
        for _ in 0..TRIES {
            assert_eq!(code.check("GUESSED2", start), Try::Wrong);
        }
        assert_eq!(code.check(&typed, start), Try::Dead, "the right code comes too late");
    }
}
