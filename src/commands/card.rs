//! `card`: which cards there are, printing one, learning one, and how good the card in a photo is.

use std::path::{Path, PathBuf};

use clap::Subcommand;
use serde_json::{Value, json};

use super::desk::{print, print_json};
use super::photo_args::EditionArg;
use super::table::aligned;
use super::{Done, card_check, files};
use crate::calibrate::{Calibration, Verdict};
use crate::card::{self, Card, FindOptions, Layout};
use crate::error::{Error, Result};
use crate::floor::LightField;
use crate::photo::Limits;
use crate::pipeline;

/// Arguments of `card`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue card check tray.jpg")]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List the cards that are known.
    #[command(after_help = "Example: broodhue card list")]
    List {
        /// Print one JSON line.
        #[arg(long)]
        json: bool,
    },
    /// Say how good the card in a photo is, and what to do better next time.
    Check(Box<card_check::Args>),
    /// Write the tray card as PDF and SVG, at true size.
    #[command(after_help = "Example: broodhue card print tray-card")]
    Print {
        /// Name of the two files, without ending.
        #[arg(default_value = "tray-card")]
        name: PathBuf,
    },
    /// Read a home-printed card's colours from a photo that also shows a 24-patch chart, and write a card file.
    #[command(after_help = "Example: broodhue card learn both-cards.jpg --out my-card.toml")]
    Learn {
        /// A photo of the home-printed card beside a 24-patch chart, in the same light.
        photo: PathBuf,
        /// The card file to write.
        #[arg(long, default_value = "my-card.toml")]
        out: PathBuf,
        /// Edition of the 24-patch chart.
        #[arg(long, value_enum, default_value = "after-2014")]
        edition: EditionArg,
    },
}

/// Runs the subcommand.
pub(super) fn run(args: &Args) -> Result<Done> {
    match &args.what {
        What::List { json } => list(*json)?,
        What::Check(args) => card_check::run(args)?,
        What::Print { name } => print_card(name)?,
        What::Learn { photo, out, edition } => learn(photo, out, *edition)?,
    }
    Ok(Done::All)
}

/// Reads a card file.
pub(super) fn read_file(path: &Path) -> Result<String> {
    let text = files::read_text(path, "`broodhue card learn PHOTO` writes a card file")?;
    card::file::parse(&path.display().to_string(), &text)?;
    Ok(text)
}

fn list(json: bool) -> Result<()> {
    let columns = ["layout", "card", "colours", "millimetres"];
    let rows = [
        ["chart-24", "the common 24-patch chart, 4 rows of 6", "published, by edition", "with --card-pitch-mm"],
        ["unknown-24", "another card of 4 rows of 6", "unknown; learn them", "with --card-pitch-mm"],
        ["tray", "Broodhue's own printed card (card print)", "unknown until learned", "15 mm between patches"],
        [
            "described",
            "a card in a text file (--card FILE), of greys alone by --card-corners",
            "from the file",
            "from the file",
        ],
    ];
    if json {
        let card = |row: &[&str; 4]| columns.iter().zip(row).map(|(k, v)| ((*k).to_owned(), json!(v))).collect();
        let cards: Vec<Value> = rows.iter().map(card).collect();
        return print_json(&json!({ "schema": "broodhue.cards/1", "cards": cards }));
    }
    print(aligned(&columns, rows.iter().map(|r| r.map(str::to_owned).to_vec()).collect(), &[]))
}

fn print_card(typed: &Path) -> Result<()> {
    files::refuse_folder(typed, "tray-card")?;
    // Whoever types one of the two endings means the name before it.
    let ending = typed.extension().map(|e| e.to_ascii_lowercase());
    let name =
        if ending.is_some_and(|e| e == "pdf" || e == "svg") { typed.with_extension("") } else { typed.to_owned() };
    let mut text = String::new();
    for (ending, bytes) in [("pdf", card::print::pdf()), ("svg", card::print::svg().into_bytes())] {
        // Not `with_extension`: a name may have a dot of its own.
        let mut file = name.as_os_str().to_owned();
        file.push(format!(".{ending}"));
        let file = PathBuf::from(file);
        files::write(&file, &bytes)?;
        text.push_str(&format!("{}\n", file.display()));
    }
    print(text)
}

fn learn(path: &Path, out: &Path, edition: EditionArg) -> Result<()> {
    files::not_over(path, out)?;
    let photo = pipeline::open(path, Limits::default())?;
    let place = path.display().to_string();
    let search = card::find(&photo, &FindOptions::default());
    let cards: Vec<Card> = search.card.into_iter().chain(search.others).collect();
    let of = |wanted: fn(&Layout) -> bool| cards.iter().find(|c| wanted(&c.layout));
    let hint = "photograph the home-printed card and a 24-patch chart side by side, both whole and in the same light";
    let chart = of(|l| *l == Layout::Chart24).ok_or_else(|| {
        let what = if search.reason.is_empty() { "no 24-patch chart in the photo" } else { &search.reason };
        Error::failed(&place, what, hint)
    })?;
    let own = of(|l| matches!(l, Layout::Tray | Layout::Unknown24))
        .ok_or_else(|| Error::failed(&place, "no home-printed card in the photo beside the chart", hint))?;
    let calibration = Calibration::from_card(chart, edition.edition(), &LightField::even(0.0));
    // Poor, too, is what could not be fitted at all.
    if calibration.verdict == Verdict::Poor {
        let what = format!("the chart's colours are poor: {}", calibration.reasons.join("; "));
        return Err(Error::failed(
            &place,
            what,
            "a card is learned once: take the photo again in even, bright light without glare",
        ));
    }
    let design = card::learn(
        &place,
        own,
        |value| calibration.lab(value),
        |lab| {
            let e = calibration.error(lab);
            e.l.hypot(e.a).hypot(e.b)
        },
    )?;
    let text = card::file::write(&place, &design)?;
    files::write(out, text)?;
    let errors: Vec<f64> = design.known.iter().map(|k| k.error).collect();
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    print(format_args!("{}: {} patches learned, error {mean:.1} in CIELAB on average\n", out.display(), errors.len()))
}
