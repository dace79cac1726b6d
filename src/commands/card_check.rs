//! `card check`: how good the card in a photo is, in words, as bars and as a picture.

use std::io::Cursor;
use std::path::PathBuf;

use image::ImageFormat;

use super::desk::{note_cautions, or_dash, print, print_json, word};
use super::files;
use super::photo_args::PhotoArgs;
use super::table::aligned;
use crate::card::LeftOut;
use crate::error::{Error, Result};
use crate::photo::Limits;
use crate::pipeline::card_check::{CardCheck, PatchCheck, check};
use crate::pipeline::{self, card_picture};
use crate::units::tidy;

/// CIEDE2000 for one sign of a bar.
const SIGN: f64 = 0.5;

/// Signs of the longest bar; a longer one ends in `+`.
const LONGEST: usize = 40;

/// Arguments of `card check`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue card check tray.jpg --picture check.png\n\
                        Fish and sheet are not looked at; options about them change nothing here.")]
pub(super) struct Args {
    /// The photo.
    photo: PathBuf,
    /// Also write a PNG: the light over the tray in false colour, the card, the patches' errors.
    #[arg(long, value_name = "OUT.png")]
    picture: Option<PathBuf>,
    /// Print one JSON line.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    about: PhotoArgs,
}

/// Checks the card; any verdict is an answer.
pub(super) fn run(args: &Args) -> Result<()> {
    if let Some(path) = &args.picture {
        files::not_over(&args.photo, path)?;
        files::check_name(path, &["png"])?;
    }
    let options = args.about.options()?;
    let empty = args.about.empty()?;
    let photo = pipeline::open(&args.photo, Limits::default())?;
    let (check, calibrated) = check(&photo, empty.as_ref(), &options)?;
    if let Some(path) = &args.picture {
        let mut png = Cursor::new(Vec::new());
        card_picture::draw(&check, &calibrated)
            .write_to(&mut png, ImageFormat::Png)
            .map_err(|e| Error::failed(path.display(), e, "please report this"))?;
        files::replace(path, png.into_inner())?;
    }
    if !args.json {
        print(text(&check))?;
        note_cautions();
        return Ok(());
    }
    let mut value = serde_json::to_value(&check).map_err(|e| Error::failed("stdout", e, "please report this"))?;
    tidy(&mut value);
    print_json(&value)
}

fn text(check: &CardCheck) -> String {
    let card = &check.card;
    let verdict = word(card.verdict);
    let found = if card.found { "" } else { " (no card)" };
    let mut text = format!("{}: colours {verdict}{found}\n", check.photo);
    if let Some(fit) = &card.fit {
        text += &format!("  fit: {}", fit.model);
        text += &card.edition.map(|e| format!(", chart {}", e.name())).unwrap_or_default();
        text +=
            &format!("\n  patches in the fit: {:.1} CIEDE2000 in the mean, {:.1} at most", fit.mean_de00, fit.max_de00);
        text += &format!(
            "\n  patches read unseen: {:.1} CIEDE2000 in the mean, {:.1} at most\n",
            fit.loo_mean_de00, fit.loo_max_de00
        );
    }
    let light = &check.light;
    // Without a card the light is that of the floor's middle.
    let base = if card.found { "the card" } else { "the floor's middle" };
    text += &format!("  light over the tray: {:.2} to {:.2} of that at {base}\n", light.lowest, light.highest);
    if check.patches.iter().any(|p| p.loo_de00.is_some() || p.left_out.is_some()) {
        let head = ["patch", "name", "CIEDE2000", "unseen, one sign for 0.5", "left out"];
        text += &aligned(&head, check.patches.iter().map(row).collect(), &[0, 2]);
    }
    for reason in &card.reasons {
        text += &format!("  next time: {reason}\n");
    }
    for warning in &check.warnings {
        text += &format!("  note: {warning}\n");
    }
    text
}

fn row(patch: &PatchCheck) -> Vec<String> {
    let why = patch.left_out.map(|why| match why {
        LeftOut::Clipped => "clipped: too bright",
        LeftOut::Shaded => "shaded",
        LeftOut::Glare => "glare of the lamp",
        LeftOut::Covered => "covered or cut off",
    });
    vec![
        patch.patch.to_string(),
        patch.name.clone(),
        or_dash(patch.loo_de00.map(|de| format!("{de:.1}"))),
        patch.loo_de00.map(bar).unwrap_or_default(),
        why.unwrap_or_default().to_owned(),
    ]
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small count, never negative")]
fn bar(de: f64) -> String {
    let signs = (de / SIGN).round() as usize;
    if signs > LONGEST { "█".repeat(LONGEST) + "+" } else { "█".repeat(signs) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_are_cut_where_they_would_fill_the_line() {
        assert_eq!((bar(0.1).as_str(), bar(1.6).as_str()), ("", "███"));
        assert_eq!(bar(20.0).chars().count(), 40);
        assert!(bar(31.0).ends_with("█+"));
    }
}
