//! The line of a photo out of the book, as it was measured last.

use serde_json::{Value, json};

use crate::book::photos::Photo;
use crate::book::regions::{self, Region};
use crate::book::{Read, measurements, sheets};
use crate::error::{Error, Result};
use crate::sheet::Proposal;
use crate::units::tidy;

/// What the line of a photo says, with one more warning: fish that are set aside or mended away are in it as the last measurement had them,
/// and what the book does not keep of a fish is null.
///
/// # Errors
/// The book cannot be read; a photo that was never measured.
pub fn kept_line(book: &Read<'_>, photo: &Photo, warning: &str) -> Result<Value> {
    let unknown = || Error::failed(&photo.name, "was never measured", "measure it: broodhue score PHOTO --again");
    let last = measurements::latest(book, &photo.hash)?.ok_or_else(unknown)?;
    let mut line = last.report;
    line["options"] = last.options;
    // The book has proposals by the names of their axes, a line in the order of the sheet.
    let sheet = sheets::rules(book)?;
    let place = |p: &Proposal| sheet.axes.iter().position(|axis| axis.name == p.axis);
    let latest = regions::of_photo(book, photo)?.into_iter().filter(|region| !region.from_earlier);
    let fish = latest.map(|mut region| {
        region.proposals.sort_by_key(place);
        fish(photo, region)
    });
    line["fish"] = fish.collect::<Result<_>>()?;
    tidy(&mut line["fish"]);
    if let Some(warnings) = line["warnings"].as_array_mut() {
        warnings.push(warning.into());
    }
    Ok(line)
}

fn fish(photo: &Photo, region: Region) -> Result<Value> {
    let failed = |e: serde_json::Error| Error::failed(&photo.name, e, "run `broodhue book check`");
    let mut one = serde_json::to_value(&region.features).map_err(failed)?;
    let rest = json!({
        "n": region.n, "centre": region.centre, "box": region.bounds, "area_px": region.area_px, "number": region.number,
        "length_mm": region.length_mm, "standard_length_mm": region.standard_length_mm, "view": photo.view,
        "sex": region.sex, "flags": region.flags, "proposals": region.proposals, "outline": region.outline,
        "length_px": null, "standard_length_px": null, "heading": null,
    });
    if let (Some(one), Value::Object(rest)) = (one.as_object_mut(), rest) {
        one.extend(rest);
    }
    Ok(one)
}
