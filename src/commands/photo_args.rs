//! What may be said about a photo on the command line, the same for every command that reads photos.

use std::path::PathBuf;
use std::str::FromStr;

use clap::ValueEnum;

use super::desk::{self, ViewArg};
use crate::card::reference::Edition;
use crate::error::{Error, Result};
use crate::fish::{Correction, FishOptions};
use crate::geometry::{PixelBox, Point, Quad};
use crate::photo::{Limits, Photo};
use crate::pipeline::{self, MeasureOptions};
use crate::sheet::Sheet;
use crate::units::{View, counted};

/// Options about card, tray, fish and sheet. Coordinates are pixels of the upright picture, origin top left.
#[derive(Debug, clap::Args)]
pub(super) struct PhotoArgs {
    /// From where the camera saw the fish; from above when not given.
    #[arg(long, value_enum)]
    view: Option<ViewArg>,
    /// Millimetres between neighbouring patch centres of the card: without it lengths stay in pixels.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = desk::number)]
    card_pitch_mm: Option<f64>,
    /// Corners of the card's outer edge as printed: top left, top right, bottom right, bottom left.
    #[arg(long, value_name = "X,Y,X,Y,X,Y,X,Y", allow_hyphen_values = true)]
    card_corners: Option<Points>,
    /// A card file that describes the card in the photo, as `card learn` writes it.
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
    /// Edition of the 24-patch chart: made before November 2014, or in that month and after (taken where none is given).
    #[arg(long, value_enum)]
    edition: Option<EditionArg>,
    /// Corners of the tray's inside, in order around it.
    #[arg(long, value_name = "X,Y,X,Y,X,Y…", allow_hyphen_values = true)]
    tray: Option<Points>,
    /// A box around a fish; nothing is sought elsewhere. May be given several times.
    #[arg(long = "box", value_name = "X0,Y0,X1,Y1", allow_hyphen_values = true)]
    boxes: Vec<Points>,
    /// A photo of the same tray from the same place without fish.
    #[arg(long, value_name = "PHOTO")]
    empty: Option<PathBuf>,
    /// There is a fish at this place. May be given several times; applied first.
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    add: Vec<Points>,
    /// Region N is several fish, one at each place, or cut along a line that lies outside it. Applied after --add.
    #[arg(long, num_args = 2, value_names = ["N", "X,Y,X,Y…"], allow_hyphen_values = true)]
    split: Vec<String>,
    /// Regions A and B are one fish. Applied after --split.
    #[arg(long, value_name = "A,B", allow_hyphen_values = true)]
    merge: Vec<String>,
    /// Region N is no fish. Applied last.
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = desk::whole::<u32>(1, None))]
    drop: Vec<u32>,
    /// The scoring sheet; without it the starting sheet.
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Propose classes although there is no usable card.
    #[arg(long)]
    without_card: bool,
    /// Propose classes although the photo's colours are poor.
    #[arg(long)]
    even_poor: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum EditionArg {
    /// Before November 2014.
    #[value(name = "before-2014")]
    Before2014,
    /// November 2014 and after.
    #[value(name = "after-2014")]
    After2014,
}

impl EditionArg {
    /// What was typed as what is meant.
    pub(super) fn edition(self) -> Edition {
        match self {
            Self::Before2014 => Edition::Before2014,
            Self::After2014 => Edition::After2014,
        }
    }
}

/// No picture that is read has a side of so many pixels: at most 120 million of them, at least 16 along the other side ([`Limits`]).
const FARTHEST: f64 = 1e7;

/// Places typed as `x,y,x,y…`.
#[derive(Debug, Clone)]
struct Points(Vec<Point>);

impl FromStr for Points {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let numbers = text
            .split([',', ' '])
            .filter(|part| !part.is_empty())
            .map(|part| {
                let read = part.parse::<f64>().ok().filter(|v| v.is_finite());
                let place = read.ok_or_else(|| format!("'{part}' is no number"))?;
                if place.abs() > FARTHEST {
                    Err("a place so far away lies in no picture".to_owned())
                } else {
                    Ok(place)
                }
            })
            .collect::<Result<Vec<f64>, String>>()?;
        if numbers.is_empty() || numbers.len() % 2 == 1 {
            return Err(format!("{} cannot be places; give x,y,x,y…", counted(numbers.len(), "number", "numbers")));
        }
        Ok(Self(numbers.chunks_exact(2).map(|c| Point::new(c[0], c[1])).collect()))
    }
}

impl PhotoArgs {
    /// What was typed as what is meant.
    pub(super) fn options(&self) -> Result<MeasureOptions> {
        check_pitch(self.card_pitch_mm)?;
        Ok(MeasureOptions {
            card_corners: self.card_corners.as_ref().map(quad).transpose()?,
            card_pitch_mm: self.card_pitch_mm,
            card: self.card.as_deref().map(super::card::read_file).transpose()?,
            edition: self.edition.map_or_else(Edition::default, EditionArg::edition),
            tray: self.tray.as_ref().map(tray).transpose()?,
            empty: None,
            fish: FishOptions {
                view: self.view.map(View::from),
                boxes: self.boxes.iter().map(pixel_box).collect::<Result<_>>()?,
                corrections: self.corrections()?,
            },
            without_card: self.without_card,
            even_poor: self.even_poor,
        })
    }

    /// What was typed, and for all else what held before.
    pub(super) fn options_over(&self, before: MeasureOptions) -> Result<MeasureOptions> {
        let typed = self.options()?;
        let fish = FishOptions {
            view: typed.fish.view.or(before.fish.view),
            boxes: if typed.fish.boxes.is_empty() { before.fish.boxes } else { typed.fish.boxes },
            corrections: [before.fish.corrections, typed.fish.corrections].concat(),
        };
        Ok(MeasureOptions {
            card_corners: typed.card_corners.or(before.card_corners),
            card_pitch_mm: typed.card_pitch_mm.or(before.card_pitch_mm),
            card: typed.card.or(before.card),
            edition: if self.edition.is_some() { typed.edition } else { before.edition },
            tray: typed.tray.or(before.tray),
            empty: typed.empty.or(before.empty),
            fish,
            without_card: typed.without_card || before.without_card,
            even_poor: typed.even_poor || before.even_poor,
        })
    }

    /// An option that was typed and speaks of fish or pixels of one photo. Where a batch is measured for the first time, the camera on its
    /// stand may have seen card, tray and fish at the same places in all of them; no fish has its number in more than one.
    pub(super) fn of_one_photo(&self, batch: bool) -> Option<&'static str> {
        let numbers = [
            ("--add", !self.add.is_empty()),
            ("--split", !self.split.is_empty()),
            ("--merge", !self.merge.is_empty()),
            ("--drop", !self.drop.is_empty()),
        ];
        let places = [
            ("--card-corners", self.card_corners.is_some()),
            ("--tray", self.tray.is_some()),
            ("--box", !self.boxes.is_empty()),
        ];
        let typed = numbers.into_iter().chain(places.into_iter().filter(|_| !batch));
        typed.filter_map(|(option, typed)| typed.then_some(option)).next()
    }

    /// The sheet that was named, or the starting sheet.
    pub(super) fn sheet(&self) -> Result<Sheet> {
        self.sheet.as_deref().map_or_else(Sheet::starting, super::sheet::read)
    }

    /// Whether a sheet was named.
    pub(super) fn names_a_sheet(&self) -> bool {
        self.sheet.is_some()
    }

    /// Whether a photo of the empty tray was named.
    pub(super) fn names_an_empty_tray(&self) -> bool {
        self.empty.is_some()
    }

    /// The photo of the empty tray, if one was named.
    pub(super) fn empty(&self) -> Result<Option<Photo>> {
        self.empty.as_deref().map(|path| pipeline::open(path, Limits::default())).transpose()
    }

    /// Its file, byte for byte.
    pub(super) fn empty_bytes(&self) -> Result<Option<Vec<u8>>> {
        self.empty.as_deref().map(|path| pipeline::bytes(path, Limits::default())).transpose()
    }

    fn corrections(&self) -> Result<Vec<Correction>> {
        let mut all = Vec::new();
        for Points(places) in &self.add {
            all.extend(places.iter().map(|at| Correction::Add { at: *at }));
        }
        for pair in self.split.chunks_exact(2) {
            let n = number("--split", &pair[0])?;
            let Points(points) = pair[1]
                .parse()
                .map_err(|e: String| Error::usage("--split", e, "give the region and a place on each fish"))?;
            if points.len() < 2 {
                return Err(Error::usage("--split", "one place only", "give a place on each fish: --split 3 x,y,x,y"));
            }
            all.push(Correction::Split { n, points, was: None });
        }
        for pair in &self.merge {
            let (a, b) = pair.split_once(',').ok_or_else(|| {
                Error::usage("--merge", format!("'{pair}' is no pair"), "give two numbers: --merge 3,4")
            })?;
            all.push(Correction::Merge { a: number("--merge", a)?, b: number("--merge", b)?, was: None });
        }
        all.extend(self.drop.iter().map(|n| Correction::Drop { n: *n, was: None }));
        Ok(all)
    }
}

/// A pitch that a card can have.
pub(super) fn check_pitch(typed: Option<f64>) -> Result<()> {
    match typed.filter(|p| !(0.5..=200.0).contains(p)) {
        None => Ok(()),
        Some(pitch) => {
            let hint = "give the distance between neighbouring patch centres, for example 12.4";
            Err(Error::usage("--card-pitch-mm", format!("{pitch} mm is no pitch of a card"), hint))
        }
    }
}

fn number(option: &str, text: &str) -> Result<u32> {
    let hint = "the numbers are those `measure` prints";
    text.trim().parse().map_err(|_| Error::usage(option, format!("'{text}' is no number of a region"), hint))
}

fn quad(points: &Points) -> Result<Quad> {
    <Quad>::try_from(points.0.clone()).map_err(|p| {
        let hint = "give top left, top right, bottom right and bottom left of the card as printed";
        Error::usage("--card-corners", format!("{} instead of four", counted(p.len(), "corner", "corners")), hint)
    })
}

fn tray(Points(corners): &Points) -> Result<Vec<Point>> {
    if corners.len() < 3 {
        let said = format!("{} cannot enclose a tray", counted(corners.len(), "corner", "corners"));
        return Err(Error::usage("--tray", said, "give three corners or more, in order around its inside"));
    }
    Ok(corners.clone())
}

fn pixel_box(points: &Points) -> Result<PixelBox> {
    match points.0.as_slice() {
        [a, b] if a.x < b.x && a.y < b.y => Ok(PixelBox { x0: a.x, y0: a.y, x1: b.x, y1: b.y }),
        typed => {
            let typed: Vec<String> = typed.iter().map(|p| format!("{},{}", p.x, p.y)).collect();
            let said =
                format!("{} is no box with its left before its right and its top before its bottom", typed.join(","));
            Err(Error::usage("--box", said, "give left, top, right and bottom: --box x0,y0,x1,y1"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_pairs_of_finite_numbers() {
        assert_eq!("1,2, 3,-4.5".parse::<Points>().unwrap().0, [Point::new(1.0, 2.0), Point::new(3.0, -4.5)]);
        for wrong in ["", "1", "1,2,3", "1,x", "1,nan", "inf,1", "1e300,1", "1,-2e7"] {
            assert!(wrong.parse::<Points>().is_err(), "{wrong}");
        }
        assert!("1".parse::<Points>().unwrap_err().starts_with("1 number cannot be places"));
        let far = "0,0,1e300,1e300".parse::<Points>().unwrap_err();
        assert!(far.len() < 60, "{far}");
    }
}
