//! The confirm page through real requests to a real server on a free port.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "figures and skipped checks are told")]

#[path = "web/client.rs"]
mod client;
#[path = "web/decisions.rs"]
mod decisions;
#[path = "web/door.rs"]
mod door;
#[path = "common/http.rs"]
mod http;
#[path = "web/kept.rs"]
mod kept;
#[path = "web/mending.rs"]
mod mending;
#[path = "web/photos_in.rs"]
mod photos_in;
#[path = "web/seed.rs"]
mod seed;
#[path = "web/siege.rs"]
mod siege;
#[path = "web/sittings.rs"]
mod sittings;
#[path = "web/undo.rs"]
mod undo;
#[path = "web/words.rs"]
mod words;
