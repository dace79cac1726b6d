//! The tray floor: where it is, its colour, and the lighting field it reveals, all in linear camera light.

mod field;

pub use field::LightField;
