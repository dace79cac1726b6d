//! Nothing crashes: readers are fed with spoilt inputs, made from good ones by a seeded mutator, on the plain compiler.
//!
//! A plain run tries a few hundred inputs a target. `BROODHUE_FUZZ=1000000 cargo test --release --test fuzz -- --nocapture`
//! tries a million, `… --test fuzz icc` one target alone; `BROODHUE_FUZZ_SEED` begins elsewhere. An input that breaks
//! something is written to the folder for temporary files and named; kept as `tests/fixtures/fuzz/TARGET-WORD` it is tried first
//! from then on.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "figures and skipped checks are told")]
#![allow(clippy::cast_possible_truncation, reason = "spoilt numbers may be cut")]

#[path = "web/client.rs"]
#[allow(dead_code, reason = "shared with the page's own tests")]
mod client;
#[path = "common/samples/exif.rs"]
#[allow(unreachable_pub, reason = "shared with the sample pictures")]
mod exif;
#[path = "fuzz/files.rs"]
mod files;
#[path = "common/http.rs"]
#[allow(dead_code, reason = "shared with the page's own tests")]
mod http;
#[path = "fuzz/mutate.rs"]
mod mutate;
#[path = "fuzz/page.rs"]
mod page;
#[path = "book/common.rs"]
#[allow(dead_code, reason = "shared with the book's own tests")]
mod records;
#[path = "fuzz/run.rs"]
mod run;
#[path = "fuzz/texts.rs"]
mod texts;
