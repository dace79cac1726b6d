//! The local page where a breeder agrees or not: served on this machine alone, with everything it needs inside.

mod actions;
mod answer;
mod body;
mod brood;
mod code;
mod compare;
mod desk;
mod dialogs;
mod fault;
mod guard;
mod lan;
mod listen;
mod mend;
mod numbers;
mod patience;
mod photos_in;
mod pictures;
mod posted;
mod row;
mod scorers;
mod server;
mod shell;
mod since;
mod start;
mod state;
mod strip;
mod upload;
mod whole;
mod whose;

pub use guard::Secrets;
pub use lan::own_address;
pub use patience::Patience;
pub use server::{Announced, Options, Phone, serve};

/// A name inside a link: everything but letters, digits, `-`, `.`, `_` and `~` as %XX (RFC 3986, section 2.3).
fn escape(name: &str) -> String {
    name.bytes()
        .map(|b| match b {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(b).to_string(),
            _ => format!("%{b:02X}"),
        })
        .collect()
}
