//! The scene renderer: draws trays with invented fish, a colour card and a phone camera, and tells the truth about them.
//!
//! A [`Scene`] is plain values in millimetres on the tray's plane. [`draw`] turns it, through a [`View`] and a
//! [`Camera`], into an encoded picture and a [`Truth`]. Colours are surface colours as CIELAB under D50; light is a
//! factor on them, 1 where the lamp is brightest. Nothing here is shared with the program's own reading of photos
//! except the colour types and the homography.

pub mod brood;
pub mod camera;
pub mod chart;
pub mod clutter;
pub mod fish;
pub mod light;
pub mod noise;
pub mod paint;
pub mod scene;
pub mod screen;
pub mod sent;
pub mod tray;
pub mod truth;
pub mod view;

pub use camera::Camera;
pub use scene::{Scene, Shot, draw};
pub use truth::{FishTruth, Truth};
pub use view::View;
