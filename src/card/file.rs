//! A card described in a text file (TOML): its grid, its size and the colour of each patch with its error.

use serde::{Deserialize, Serialize};

use super::{Design, KnownColour, Layout};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::units::counted;

/// Most patches of a described card, along each side.
const MOST: usize = 40;

/// Distance from the outer patches' centres to the card's edge when the file says nothing, in units of the pitch.
const USUAL_EDGE: f64 = 0.5;

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: String,
    layout: FileLayout,
    rows: usize,
    columns: usize,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pitch_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    edge: Option<[f64; 4]>,
    patch: Vec<Patch>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum FileLayout {
    Tray,
    Grid,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Patch {
    lab: [f64; 3],
    #[serde(default)]
    error: f64,
}

/// Reads a card file; `place` is its name in messages.
///
/// # Errors
/// What is wrong with the text, the grid or a patch, with the patch's number.
pub fn parse(place: &str, text: &str) -> Result<Design> {
    let hint = "`broodhue card learn PHOTO` writes such a file";
    let file: File = toml::from_str(text).map_err(|e| Error::failed(place, e.to_string().trim(), hint))?;
    let sides = (1..=MOST).contains(&file.rows) && (1..=MOST).contains(&file.columns);
    if !sides || file.patch.len() != file.rows * file.columns {
        let what = format!(
            "{} for {} of {}",
            counted(file.patch.len(), "patch", "patches"),
            counted(file.rows, "row", "rows"),
            file.columns
        );
        return Err(Error::failed(place, what, format!("give rows × columns patches, at most {MOST} a side")));
    }
    for (i, p) in file.patch.iter().enumerate() {
        let [l, a, b] = p.lab;
        if !((0.0..=110.0).contains(&l) && a.abs() <= 150.0 && b.abs() <= 150.0 && (0.0..=50.0).contains(&p.error)) {
            let what = format!("patch {}: lab {:?} with error {} is no colour of a print", i + 1, p.lab, p.error);
            return Err(Error::failed(place, what, "give CIELAB under D50: L* 0 to 100"));
        }
    }
    if file.pitch_mm.is_some_and(|p| !(0.5..=200.0).contains(&p)) {
        return Err(Error::failed(place, "pitch_mm is no pitch of a card", "give millimetres between patch centres"));
    }
    if file.edge.is_some_and(|e| !e.iter().all(|side| (0.0..=10.0).contains(side))) {
        return Err(Error::failed(place, "edge is no edge of a card", "give it in units of the pitch, 0 to 10"));
    }
    let known: Vec<KnownColour> = file
        .patch
        .iter()
        .map(|p| KnownColour { lab: Lab::new(p.lab[0], p.lab[1], p.lab[2]), error: p.error })
        .collect();
    match file.layout {
        FileLayout::Tray => {
            let tray = Design::tray();
            if (tray.rows, tray.columns) != (file.rows, file.columns) {
                let what = format!("the tray card has {} rows of {}", tray.rows, tray.columns);
                return Err(Error::failed(place, what, "use layout = \"grid\" for another card"));
            }
            Ok(Design { known, pitch_mm: file.pitch_mm.or(tray.pitch_mm), ..tray })
        }
        FileLayout::Grid => Ok(Design {
            layout: Layout::Described,
            columns: file.columns,
            rows: file.rows,
            colours: known.iter().map(|k| k.lab).collect(),
            known,
            pitch_mm: file.pitch_mm,
            edge: file.edge.unwrap_or([USUAL_EDGE; 4]),
        }),
    }
}

/// Writes a design whose colours are known as a card file.
///
/// # Errors
/// A design without known colours.
pub fn write(name: &str, design: &Design) -> Result<String> {
    if design.known.len() != design.count() {
        return Err(Error::failed(name, "the colours of this card are not known", "learn them from a photo first"));
    }
    let tenth = |v: f64| (v * 100.0).round() / 100.0;
    let file = File {
        name: name.to_owned(),
        layout: if design.layout == Layout::Tray { FileLayout::Tray } else { FileLayout::Grid },
        rows: design.rows,
        columns: design.columns,
        pitch_mm: design.pitch_mm,
        edge: (design.layout != Layout::Tray).then_some(design.edge),
        patch: design
            .known
            .iter()
            .map(|k| Patch { lab: [k.lab.l, k.lab.a, k.lab.b].map(tenth), error: tenth(k.error) })
            .collect(),
    };
    toml::to_string(&file).map_err(|e| Error::failed(name, e, ""))
}

#[cfg(test)]
mod tests {
    use super::*;

    const GREY: &str = "name = \"three greys\"\nlayout = \"grid\"\nrows = 1\ncolumns = 3\n\
        [[patch]]\nlab = [96.0, 0.0, 0.0]\n[[patch]]\nlab = [50.0, 0.0, 0.0]\nerror = 0.5\n[[patch]]\nlab = [20.0, 0.0, 0.0]\n";

    #[test]
    fn a_file_comes_back_as_written() {
        let design = parse("greys.toml", GREY).unwrap();
        assert_eq!((design.columns, design.rows, design.layout.clone()), (3, 1, Layout::Described));
        assert_eq!(design.known[1], KnownColour { lab: Lab::new(50.0, 0.0, 0.0), error: 0.5 });
        assert_eq!(parse("again", &write("three greys", &design).unwrap()).unwrap(), design);
    }

    #[test]
    fn what_is_wrong_is_named() {
        let short = GREY.replace("columns = 3", "columns = 4");
        assert!(parse("x.toml", &short).unwrap_err().message.contains("3 patches for 1 row of 4"));
        let bad = GREY.replace("[50.0, 0.0, 0.0]", "[500.0, 0.0, 0.0]");
        assert!(parse("x.toml", &bad).unwrap_err().message.contains("patch 2"));
        assert_eq!(parse("x.toml", "rows =").unwrap_err().place, "x.toml");
    }
}
