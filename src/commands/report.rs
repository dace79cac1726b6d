//! `report`: one self-contained page with a line's story, and the plots and numbers behind it.

use std::path::PathBuf;

use super::desk;
use super::next::AimArg;
use super::question::ReadingArgs;
use super::report_story::{Heard, Wish, gather};
use super::{Done, files};
use crate::book::Book;
use crate::book::evidence::Question;
use crate::error::Result;
use crate::report::{page, plots};

/// Arguments of `report`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue report line.html --axis red-body --target absent --line \"Lowmere Pale\"")]
pub(super) struct Args {
    /// The page to write.
    file: PathBuf,
    /// The axis whose inheritance is judged.
    #[arg(long, requires = "target")]
    axis: Option<String>,
    /// The mutant class of the axis.
    #[arg(long, requires = "axis", value_name = "CLASS")]
    target: Option<String>,
    /// A class between the target and the others; without it every other class counts as "other".
    #[arg(long, requires = "axis", value_name = "CLASS")]
    middle: Option<String>,
    /// What the next crosses are ranked by.
    #[arg(long, value_enum, default_value = "mode")]
    aim: AimArg,
    /// Only this line over its generations; without it every line that has measured broods.
    #[arg(long)]
    line: Option<String>,
    /// The feature followed over generations.
    #[arg(long, default_value = "lightness")]
    feature: String,
    /// A heading of your own.
    #[arg(long)]
    title: Option<String>,
    /// Write the plots alone into this folder, too.
    #[arg(long, value_name = "DIR")]
    svg: Option<PathBuf>,
    /// Write the numbers behind each plot into this folder, too.
    #[arg(long, value_name = "DIR")]
    csv: Option<PathBuf>,
    #[command(flatten)]
    reading: ReadingArgs,
}

/// Writes the page and what else was asked for.
pub(super) fn run(args: &Args) -> Result<Done> {
    files::check_name(&args.file, &["html", "htm"])?;
    let book = args.reading.book.open()?;
    let question = args
        .axis
        .as_deref()
        .zip(args.target.as_deref())
        .map(|(a, t)| args.reading.question(a, t, args.middle.as_deref()));
    let heard = question.map(|question| heard(args, &book, &question)).transpose()?;
    let wish = Wish {
        heard: heard.as_ref(),
        view: args.reading.view(),
        line: args.line.as_deref(),
        feature: &args.feature,
        title: args.title.as_deref(),
    };
    let story = gather(&book, &wish)?;
    files::write(&args.file, page(&story))?;
    for plot in plots(&story) {
        if let Some(folder) = &args.svg {
            files::write(&folder.join(format!("{}.svg", plot.name)), &plot.svg)?;
        }
        if let Some(folder) = &args.csv {
            files::write(&folder.join(format!("{}.csv", plot.name)), &plot.csv)?;
        }
    }
    desk::print(format_args!("{}\n", args.file.display()))?;
    let Some(why) = &story.no_verdict else { return Ok(Done::All) };
    desk::note(format_args!("without the inheritance that was asked for: {why}"));
    Ok(Done::None)
}

fn heard(args: &Args, book: &Book, question: &Question<'_>) -> Result<Heard> {
    let asked = args.reading.ask(book, question)?;
    let models = args.reading.modes.models(&[])?;
    Ok(Heard { evidence: asked.evidence, options: asked.options, models, aim: args.aim.into() })
}
