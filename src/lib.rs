//! Broodhue turns a photograph of a brood tray into class counts a livebearer breeder can trust, and the counts into
//! decisions: what is inherited how, what to cross next, and whether a line is really getting lighter.
//!
//! In scope: calibrated colour, fish and their parts, proposals by a scoring sheet, confirmed scores, counts,
//! inheritance, kinship, the next cross, lightness. Out of scope: naming species or lines, health, anything a fish vet
//! or the law decides. It proposes; the breeder confirms.
//!
//! Modules stand in layer order: each imports only those above it (`tests/layers.rs` holds them to it).

pub mod units;

pub mod error;

pub mod cautions;

pub mod cells;

pub mod command_line;

pub mod geometry;

pub mod colour;

pub mod stats;

pub mod photo;

pub mod card;

pub mod floor;

pub mod calibrate;

pub mod fish;

pub mod features;

pub mod sheet;

pub mod score;

pub mod counts;

pub mod inherit;

pub mod kin;

pub mod lightness;

pub mod plan;

pub mod book;

pub mod report;

pub mod pipeline;

pub mod web;

pub mod commands;
