//! A sheet in words, so that a breeder sees what a file will do.

use std::fmt::Write;

use super::{Axis, Sheet};
use crate::units::{View, counted};

/// Name, identity and axes with their classes, a line each.
pub fn describe(sheet: &Sheet) -> String {
    let mut out = format!(
        "{}: {}, confidence at least {}\n",
        sheet.name,
        counted(sheet.axes.len(), "axis", "axes"),
        sheet.confidence
    );
    let view = sheet.view.map_or("any view", |v| match v {
        View::Above => "seen from above",
        View::Side => "seen from the side",
    });
    // Writing to a String cannot fail.
    let _infallible = writeln!(out, "for fish {view}; identity {}", sheet.hash);
    for axis in &sheet.axes {
        let classes: Vec<&str> = axis.classes.iter().map(|c| c.name.as_str()).collect();
        let _infallible = writeln!(out, "  {}: {}{}", axis.name, classes.join(", "), remarks(axis));
    }
    out
}

fn remarks(axis: &Axis) -> String {
    let mut said = Vec::new();
    if axis.males_only {
        said.push("shown by males only".to_owned());
    }
    if let Some(days) = axis.from_age_days {
        said.push(format!("shown from {days} days on"));
    }
    if let Some(days) = axis.settled_age_days {
        said.push(format!("settled at {days} days"));
    }
    if said.is_empty() { String::new() } else { format!(" ({})", said.join(", ")) }
}
