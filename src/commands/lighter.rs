//! `lighter`: is A lighter than B, does a brood fall into two groups, and how repeatable is a set-up.

use serde_json::{Value, json};

use super::desk::{self, BookArg};
use super::lighter_sides::Sides;
use super::photo_args::PhotoArgs;
use super::{Done, lighter_repeat};
use crate::book::lightness as records;
use crate::book::{sheets, tallies};
use crate::error::{Error, Result};
use crate::lightness::{
    Comparison, PalerAndClass, Part, Permitted, TwoGroups, all_of, check_apart, compare, paler_and_class, two_groups,
};
use crate::units::{View, counted, percent, tidy};

/// Arguments of `lighter`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples: broodhue lighter tray.jpg#3 tray.jpg#7 --json\n\
                        \x20         broodhue lighter K2-1/red-body=absent K2-1/red-body=full\n\
                        \x20         broodhue lighter K2-1,K2-2 K4-1,K4-2\n\
                        \x20         broodhue lighter --groups K2-1 --class red-body=absent\n\
                        \x20         broodhue lighter --repeat\n\
                        \x20         broodhue lighter --repeat --of-card one.jpg two.jpg three.jpg\n\
                        A name is a fish, a brood, BROOD/axis=class, or PHOTO#N (fish N of a photo, no book needed); \
                        several broods of one side are separated by commas.")]
pub(super) struct Args {
    /// First side; with --repeat, photos of the same fish: PHOTO, PHOTO#N or NAME=PHOTO#N.
    #[arg(required_unless_present_any = ["groups", "repeat"])]
    a: Option<String>,
    /// Second side; with --repeat, further photos.
    #[arg(required_unless_present_any = ["groups", "repeat"])]
    b: Vec<String>,
    /// How far readings of the same fish differ in this set-up; without photos, from the portraits in the book.
    #[arg(long, conflicts_with = "groups")]
    repeat: bool,
    /// With --repeat: of the card in the photos (of all photos in the book, without any named) instead of fish.
    #[arg(long, requires = "repeat")]
    of_card: bool,
    /// Whether this brood falls into one group or two.
    #[arg(long, value_name = "BROOD", conflicts_with_all = ["a", "repeat"])]
    groups: Option<String>,
    /// With --groups: whether the paler group is this class; without it red-body=absent.
    #[arg(long, value_name = "AXIS=CLASS", conflicts_with_all = ["a", "repeat"], value_parser = desk::pair)]
    class: Option<(String, String)>,
    /// With --groups: seed of the bootstrap.
    #[arg(long, default_value_t = 1, allow_negative_numbers = true, value_parser = desk::whole::<u64>(0, None))]
    seed: u64,
    /// Which part is compared.
    #[arg(long, value_enum, default_value = "trunk")]
    part: PartArg,
    /// Compare fish over floors of different colour although fish change their shade with the floor.
    #[arg(long)]
    across_floors: bool,
    /// Compare a view from above with one from the side.
    #[arg(long)]
    across_views: bool,
    /// As one JSON line.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    about: PhotoArgs,
}

/// Which part is compared.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum PartArg {
    /// The whole trunk, cover included.
    Trunk,
    /// The base alone.
    Ground,
    /// Fins.
    Finnage,
}

impl From<PartArg> for Part {
    fn from(part: PartArg) -> Self {
        match part {
            PartArg::Trunk => Self::Trunk,
            PartArg::Ground => Self::Ground,
            PartArg::Finnage => Self::Finnage,
        }
    }
}

/// Answers the question that was asked.
pub(super) fn run(args: &Args) -> Result<Done> {
    let mut sides = Sides::new(&args.book, &args.about, args.part.into())?;
    if args.repeat {
        let named: Vec<&str> = args.a.iter().chain(&args.b).map(String::as_str).collect();
        return lighter_repeat::run(&mut sides, &named, args.of_card, args.json);
    }
    if let Some(brood) = &args.groups {
        return groups(args, &mut sides, brood);
    }
    let (Some(a), [b]) = (&args.a, args.b.as_slice()) else {
        return Err(Error::usage("lighter", "two sides are compared", "join the names of one side with commas"));
    };
    let (left, right) = (sides.readings(a)?, sides.readings(b)?);
    sides.say_unheeded();
    check_apart(&left, &right)?;
    let [left, right] = [left, right].map(all_of);
    let setup = sides.set_up(&left, &right)?;
    let permitted = Permitted { across_floors: args.across_floors, across_views: args.across_views };
    let found = compare([a, b], &left, &right, setup.as_ref(), permitted)?;
    for caution in &found.cautions {
        desk::note(format_args!("note: {caution}"));
    }
    if args.json {
        desk::print_json(&as_json(&found))?
    } else {
        desk::print(in_words(&found))?
    }
    Ok(sides.done())
}

fn as_json(c: &Comparison) -> Value {
    let mut value = json!({
        "schema": "broodhue.lighter/1",
        "a": c.a, "b": c.b,
        "difference": c.lightness.value, "low": c.lightness.low, "high": c.lightness.high,
        "b_difference": c.yellow.value, "b_low": c.yellow.low, "b_high": c.yellow.high,
        "chroma_difference": c.chroma.value, "chroma_low": c.chroma.low, "chroma_high": c.chroma.high,
        "de00": c.de00.value, "de00_low": c.de00.low, "de00_high": c.de00.high,
        "smallest_detectable": c.smallest_detectable, "basis": c.basis,
        "unit": c.unit, "units": c.units,
        "delta_e_ab": c.distance.value, "delta_e_ab_low": c.distance.low, "delta_e_ab_high": c.distance.high,
        "visible": c.visible, "more_needed": c.more_needed,
        "verdict": c.verdict, "because": c.because, "cautions": c.cautions,
    });
    tidy(&mut value);
    value
}

fn in_words(c: &Comparison) -> String {
    let side = |s: &crate::lightness::SideReport| {
        let photos = counted(s.photos, "photo", "photos");
        format!("{}: L* {:.1} ± {:.1} ({} fish in {photos})\n", s.name, s.lightness, s.se, s.fish)
    };
    format!(
        "{}.\n\n{}{}CIEDE2000 {:.1} ({:.1} to {:.1}), chroma {:+.1} ({:.1} to {:.1})\nsmallest detectable difference of \
         this set-up: {:.1} L* between two single readings; counted as one: {}\n",
        // A line for each of its clauses.
        c.because.replace("; ", ";\n"),
        side(&c.a),
        side(&c.b),
        c.de00.value,
        c.de00.low,
        c.de00.high,
        c.chroma.value,
        c.chroma.low,
        c.chroma.high,
        c.smallest_detectable,
        c.unit
    )
}

/// The class that the paler group is set beside where none is named.
const USUAL_CLASS: (&str, &str) = ("red-body", "absent");

fn groups(args: &Args, sides: &mut Sides<'_>, brood: &str) -> Result<Done> {
    sides.say_unheeded();
    let view = args.about.options()?.fish.view.unwrap_or(View::Above);
    let sheet = sheets::rules(&sides.book()?.read())?;
    if let Some((axis, _)) = &args.class {
        tallies::check_axis(&sides.book()?.read(), &sheet, axis)?;
    }
    let (axis, class) = args.class.as_ref().map_or(USUAL_CLASS, |(axis, class)| (axis.as_str(), class.as_str()));
    if let Some(found) = sheet.axis(axis)
        && found.classes.iter().all(|c| c.name != class)
    {
        let names: Vec<&str> = found.classes.iter().map(|c| c.name.as_str()).collect();
        let said = format!("{axis} has no class '{class}'");
        return Err(Error::usage("--class", said, format!("it has {}", names.join(", "))));
    }
    let fish = records::lightness_and_class(&sides.book()?.read(), brood, (axis, class), view, args.part.into())?;
    let values: Vec<f64> = fish.iter().map(|f| f.0).collect();
    let found = two_groups(&values, args.seed).map_err(|e| Error { place: brood.to_owned(), ..e })?;
    let scored: Vec<(f64, bool)> =
        fish.iter().zip(&found.paler).filter_map(|((_, has), paler)| Some((*paler, (*has)?))).collect();
    let crossed = (found.two && !scored.is_empty()).then(|| paler_and_class(&scored, &format!("{axis} {class}")));
    if args.json {
        desk::print_json(&groups_json(brood, &found, crossed.as_ref(), args.seed))?;
    } else {
        desk::print(groups_words(brood, &found, crossed.as_ref(), scored.len()))?;
    }
    Ok(Done::All)
}

fn groups_json(brood: &str, found: &TwoGroups, crossed: Option<&PalerAndClass>, seed: u64) -> Value {
    let mut value = json!({
        "schema": "broodhue.groups/1", "brood": brood, "seed": seed,
        "fish": found.fish, "groups": if found.two { 2 } else { 1 }, "p": found.p,
        "means": found.means, "spread": found.spread, "paler_share": found.paler_share,
        "paler_and_class": crossed, "because": found.because,
    });
    tidy(&mut value);
    value
}

fn groups_words(brood: &str, found: &TwoGroups, crossed: Option<&PalerAndClass>, scored: usize) -> String {
    let mut text = format!("{brood}: {}\n", found.because);
    match crossed {
        Some(crossed) => text += &format!("{}\n", crossed.because),
        None if found.two && scored == 0 => {
            text += "no confirmed class yet: confirm the brood to see whether the paler group is one class\n";
        }
        None => {}
    }
    if found.two {
        text += &format!("{} of the fish are in the paler group\n", percent(found.paler_share));
    }
    text
}
