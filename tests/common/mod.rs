//! What several integration tests share.
#![allow(dead_code, unused_imports, unreachable_pub, reason = "each test binary uses its own part of this tree")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pixel code; values are clamped before")]

pub mod figures;
pub mod render;
pub mod samples;
