//! The confirm page in a real browser: Debian's `chromium` and `chromedriver`, started here and ended with each test.
//! Without them every test says that it was skipped.
//!
//! - `BROODHUE_AXE=FILE`: axe-core's `axe.min.js`; without it the accessibility test is skipped.
//! - `BROODHUE_SCREENSHOTS=DIR`: keeps a picture of each view there.
#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    clippy::cast_possible_truncation,
    reason = "a test may panic; what is compared and counted here are whole numbers"
)]

#[path = "browser/accessible.rs"]
mod accessible;
#[path = "browser/brood.rs"]
mod brood;
#[path = "browser/driver.rs"]
mod driver;
#[path = "browser/hostile.rs"]
mod hostile;
#[path = "browser/large.rs"]
mod large;
#[path = "browser/mending.rs"]
mod mending;
#[path = "browser/phone.rs"]
mod phone;
#[path = "browser/reading.rs"]
mod reading;
#[path = "browser/safe.rs"]
mod safe;
#[path = "web/seed.rs"]
mod seed;
#[path = "browser/serve.rs"]
mod serve;
