//! What the commands on inheritance share: the axis and target asked about, the modes listed, how far scores are trusted.

use std::collections::BTreeSet;
use std::path::PathBuf;

use clap::ValueEnum;

use super::desk::{self, BookArg, ViewArg};
use super::{files, patience};
use crate::book::evidence::{self, Question};
use crate::book::tallies;
use crate::book::{Book, Read, fish, scoring, sheets};
use crate::counts::Counts;
use crate::error::{Error, Result};
use crate::inherit::{
    DEFAULT_ERROR, DEFAULT_RECOMBINATION, Evidence, JudgeOptions, Judgement, Mode, Model, Progress, SexSystem,
    SexSystems, built_in, judge_within_reach, parse, select,
};
use crate::sheet::Sheet;
use crate::units::View;

/// The question put to the counts.
#[derive(Debug, clap::Args)]
pub(super) struct QuestionArgs {
    /// The axis, such as red-body.
    #[arg(long)]
    pub(super) axis: String,
    /// The mutant class of the axis, such as absent.
    #[arg(long, value_name = "CLASS")]
    pub(super) target: String,
    /// A class between the target and the others; without it every other class counts as "other".
    #[arg(long, value_name = "CLASS")]
    middle: Option<String>,
    #[command(flatten)]
    pub(super) reading: ReadingArgs,
}

/// How the counts of a book are read.
#[derive(Debug, clap::Args)]
pub(super) struct ReadingArgs {
    #[command(flatten)]
    trust: TrustArgs,
    #[command(flatten)]
    pub(super) modes: ModeArgs,
    /// Photos from this view.
    #[arg(long, value_enum, default_value = "above")]
    view: ViewArg,
    #[command(flatten)]
    pub(super) book: BookArg,
}

/// How far scores are trusted.
#[derive(Debug, clap::Args)]
struct TrustArgs {
    /// Share of fish scored as another class; without it estimated from confirmed against proposed, else 0.01.
    #[arg(long, value_name = "E", allow_negative_numbers = true, value_parser = desk::number)]
    error_rate: Option<f64>,
    /// The largest error rate you think possible; nothing is ruled out that it would save.
    #[arg(long, value_name = "E", allow_negative_numbers = true, value_parser = desk::number)]
    largest_error: Option<f64>,
    /// The error rate of founders' own class; without it the same.
    #[arg(long, value_name = "E", allow_negative_numbers = true, value_parser = desk::number)]
    founder_error: Option<f64>,
}

/// The modes listed.
#[derive(Debug, clap::Args)]
pub(super) struct ModeArgs {
    /// Only these modes, several with commas or one call each; `two-locus-9-7:b-on-x` moves a locus to a sex chromosome.
    #[arg(long, visible_alias = "mode", value_name = "MODE", value_delimiter = ',')]
    modes: Vec<String>,
    /// A file of modes of your own, listed beside the built-in ones.
    #[arg(long, value_name = "FILE")]
    mode_file: Option<PathBuf>,
    /// Recombination of partially sex-linked loci with the sex determiner, 0 to 0.5.
    #[arg(long, value_name = "R", default_value_t = DEFAULT_RECOMBINATION, allow_negative_numbers = true, value_parser = desk::number)]
    recombination: f64,
    /// How sex is determined in this stock.
    #[arg(long, value_enum, default_value = "xy")]
    sex_system: SexArg,
}

/// Sex systems.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum SexArg {
    /// Females XX, males XY.
    Xy,
    /// Females XX, WX, WY, males XY, YY.
    Wxy,
    /// Either, one half each.
    Unknown,
}

impl ModeArgs {
    /// The modes listed, worked out; `more` adds modes by name that are not listed yet.
    pub(super) fn models(&self, more: &[String]) -> Result<Vec<Model>> {
        if !(0.0..=0.5).contains(&self.recombination) {
            let message = format!("{} is not in 0 to 0.5", self.recombination);
            return Err(Error::usage("--recombination", message, "3 map units are 0.03"));
        }
        let known = self.known()?;
        let mut listed = if self.modes.is_empty() { known.clone() } else { select(&known, &self.modes)? };
        for name in more {
            if listed.iter().all(|m| m.name != *name) {
                listed.extend(select(&known, std::slice::from_ref(name))?);
            }
        }
        let systems = self.systems();
        Ok(listed.into_iter().map(|m| Model::new(m.with_recombination(self.recombination), systems)).collect())
    }

    /// Whether modes were named.
    pub(super) fn are_named(&self) -> bool {
        !self.modes.is_empty()
    }

    fn known(&self) -> Result<Vec<Mode>> {
        let mut known = built_in()?;
        if let Some(file) = &self.mode_file {
            let text = files::read_text(file, "docs/modes.md says how a mode file is written")?;
            known.extend(parse(&file.display().to_string(), &text)?);
        }
        Ok(known)
    }

    /// The sex systems in play.
    pub(super) fn systems(&self) -> SexSystems {
        match self.sex_system {
            SexArg::Xy => SexSystems::Known(SexSystem::Xy),
            SexArg::Wxy => SexSystems::Known(SexSystem::Wxy),
            SexArg::Unknown => SexSystems::Unknown,
        }
    }
}

/// What the book says to the question.
pub(super) struct Asked {
    /// Counts and pedigree.
    pub(super) evidence: Evidence,
    /// The counts of the axis as a person reads them.
    pub(super) counts: Counts,
    /// How they are to be read.
    pub(super) options: JudgeOptions,
}

impl Asked {
    /// Judges the modes and says on stderr what could not be weighed in time, which is in `models` and in the evidence no more.
    pub(super) fn judge(&mut self, models: &mut Vec<Model>) -> Result<Judgement> {
        let judge = |progress: Progress<'_>| judge_within_reach(&mut self.evidence, models, &self.options, progress);
        let judgement = patience::telling("modes judged", judge)?;
        judgement.left_out.iter().for_each(|left| desk::note(format_args!("mind: {left}")));
        Ok(judgement)
    }
}

impl QuestionArgs {
    /// The question as the book takes it.
    pub(super) fn question(&self) -> Question<'_> {
        self.reading.question(&self.axis, &self.target, self.middle.as_deref())
    }

    /// Gathers the evidence and says on stderr what could not be used.
    pub(super) fn ask(&self, book: &Book) -> Result<Asked> {
        self.reading.ask(book, &self.question())
    }
}

impl ReadingArgs {
    /// The view whose photos count.
    pub(super) fn view(&self) -> View {
        self.view.into()
    }

    /// The axes of a book on which something is counted, each with the classes that occur.
    pub(super) fn counted_axes(&self, book: &Book) -> Result<Vec<(String, BTreeSet<String>)>> {
        let (read, sheet) = (book.read(), sheets::rules(&book.read())?);
        let selection = tallies::Selection { cross: None, view: self.view.into(), include_proposed: false };
        let all = tallies::counts(&read, &sheet, &tallies::axes(&read, &sheet)?, &selection)?;
        let classes = |c: &Counts| c.rows.iter().map(|r| r.class.clone()).collect::<BTreeSet<_>>();
        Ok(all.iter().filter(|c| !c.rows.is_empty()).map(|c| (c.axis.clone(), classes(c))).collect())
    }

    /// A question as the book takes it.
    pub(super) fn question<'a>(&self, axis: &'a str, target: &'a str, middle: Option<&'a str>) -> Question<'a> {
        Question { axis, target, middle, view: self.view.into() }
    }

    /// Gathers the evidence for one axis and says on stderr what could not be used.
    pub(super) fn ask(&self, book: &Book, question: &Question<'_>) -> Result<Asked> {
        let read = book.read();
        let sheet = sheets::rules(&read)?;
        let selection = question.all_crosses();
        let broods = tallies::tallies(&read, &sheet, question.axis, &selection)?;
        let (evidence, warnings) = evidence::from_tallies(&read, question, &broods)?;
        let options = self.options(scoring::error_rate(question, &broods));
        let counts = tallies::added_up(question.axis, broods, &selection);
        check_classes(&read, &sheet, question, &counts)?;
        warnings.iter().for_each(|w| desk::note(format_args!("note: {w}")));
        options.check()?;
        Ok(Asked { evidence, counts, options })
    }

    fn options(&self, estimated: Option<f64>) -> JudgeOptions {
        let rate = self.trust.error_rate.or(estimated).unwrap_or(DEFAULT_ERROR);
        JudgeOptions {
            founder_error: self.trust.founder_error,
            largest_error: self.trust.largest_error.unwrap_or(rate),
            ..JudgeOptions::new(rate)
        }
    }
}

/// Classes are those of the sheet, of the counts and of the fish themselves; axes counted by hand need not be on a sheet.
fn check_classes(read: &Read<'_>, sheet: &Sheet, question: &Question<'_>, counts: &Counts) -> Result<()> {
    let axis = question.axis;
    if question.middle == Some(question.target) {
        let said = format!("{} cannot be the target and lie between the target and the others", question.target);
        return Err(Error::usage(format!("axis {axis}"), said, "name another --middle, or leave it out"));
    }
    let on_sheet = sheet.axes.iter().filter(|a| a.name == axis).flat_map(|a| a.classes.iter().map(|c| c.name.clone()));
    let counted = counts.rows.iter().map(|r| r.class.clone());
    let recorded = fish::list(read)?.into_iter().filter_map(|f| f.classes.get(axis).cloned());
    let classes: BTreeSet<String> = on_sheet.chain(counted).chain(recorded).collect();
    let asked = [Some(question.target), question.middle];
    match asked.into_iter().flatten().find(|c| !classes.contains(*c)) {
        None => Ok(()),
        Some(class) => {
            let known: Vec<String> = classes.into_iter().collect();
            let hint = format!("its classes are {}", known.join(", "));
            Err(Error::usage(format!("axis {axis}"), format!("has no class {class}"), hint))
        }
    }
}
