//! How long the page waits for those who speak to it.

use std::time::Duration;

/// Limits of waiting. A browser beside the program needs none of them; a phone at the edge of the house needs some.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Patience {
    /// For the head of a request, and between two requests of one connection.
    pub head: Duration,
    /// Between two pieces of a body.
    pub pause: Duration,
    /// For the whole body of a request that is no photo.
    pub body: Duration,
    /// For a whole photo: 64 MB at 220 kB a second.
    pub photo: Duration,
    /// For a connection, however busy it is; a browser opens another.
    pub connection: Duration,
    /// For what is under way when a connection is asked to end.
    pub last_word: Duration,
}

/// Starting values, by judgement.
impl Default for Patience {
    fn default() -> Self {
        Self {
            head: Duration::from_secs(15),
            pause: Duration::from_secs(10),
            body: Duration::from_secs(20),
            photo: Duration::from_secs(300),
            connection: Duration::from_secs(900),
            last_word: Duration::from_secs(60),
        }
    }
}
