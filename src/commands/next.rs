//! `next`: the next cross.

use clap::ValueEnum;

use super::desk::{self, or_dash, today};
use super::question::QuestionArgs;
use super::table::aligned;
use super::{Done, patience};
use crate::book::{living, pedigree};
use crate::error::Result;
use crate::plan::{Aim, Pair, SURPLUS, Setup, next_crosses, to_json};
use crate::units::{counted, percent};

/// Arguments of `next`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue next --axis red-body --target absent --aim mode")]
pub(super) struct Args {
    #[command(flatten)]
    question: QuestionArgs,
    /// What the cross is for.
    #[arg(long, value_enum, default_value = "mode")]
    aim: AimArg,
    /// Show only the best pairs in the table; the JSON always holds all of them.
    #[arg(long, value_name = "N", default_value_t = 20, allow_negative_numbers = true, value_parser = desk::whole::<usize>(0, None))]
    top: usize,
    /// As one JSON object.
    #[arg(long)]
    json: bool,
}

/// Aims.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum AimArg {
    /// Find out the mode of inheritance: most bits from 12 fry first.
    Mode,
    /// Get the target: best odds first.
    Target,
    /// Keep diversity: least inbreeding first.
    Diversity,
}

impl From<AimArg> for Aim {
    fn from(aim: AimArg) -> Self {
        match aim {
            AimArg::Mode => Self::Mode,
            AimArg::Target => Self::Target,
            AimArg::Diversity => Self::Diversity,
        }
    }
}

/// Plans and prints.
pub(super) fn run(args: &Args) -> Result<Done> {
    let book = args.question.reading.book.open()?;
    let mut asked = args.question.ask(&book)?;
    let mut models = args.question.reading.modes.models(&[])?;
    let judgement = asked.judge(&mut models)?;
    if judgement.refused {
        desk::note(format_args!("mind: {}", judgement.verdict));
    }
    let modes: Vec<_> = judgement.modes.iter().map(|m| m.weight).zip(models).collect();
    let error = asked.options.scoring(asked.evidence.class_count());
    let living = living::living(&book.read(), &asked.evidence, today())?;
    let setup = Setup {
        evidence: &asked.evidence,
        modes: &modes,
        error: &error,
        ancestry: &pedigree::ancestry(&book.read())?,
        living: &living,
        aim: args.aim.into(),
    };
    let plan = patience::telling("sires weighed", |progress| next_crosses(&setup, progress))?;
    if args.json {
        desk::print_json(&to_json(&plan))?;
        return Ok(Done::All);
    }
    desk::print(table(&plan.pairs[..plan.pairs.len().min(args.top)]))?;
    if plan.pairs.len() > args.top {
        desk::print(format_args!(
            "{} more; --top shows them\n",
            counted(plan.pairs.len() - args.top, "pair", "pairs")
        ))?;
    }
    desk::note(&plan.advice);
    Ok(Done::All)
}

/// What to mind about one pair; what goes with every pair is said once, below the table.
pub(super) fn mind(pair: &Pair) -> String {
    let own: Vec<&str> = pair.warnings.iter().map(String::as_str).filter(|w| !w.starts_with(SURPLUS)).collect();
    own.join("; ")
}

fn table(pairs: &[Pair]) -> String {
    let row = |p: &Pair| {
        let bits = p.bits.map(|b| if b > 0.0 { format!("{b:.3}") } else { "0".to_owned() });
        let start = [p.sire.clone(), p.dam.clone()];
        let end = [
            percent(p.target_odds),
            or_dash(p.fry_for_95),
            or_dash(p.fry_for_99),
            format!("{:.3}", p.inbreeding),
            mind(p),
        ];
        start.into_iter().chain(bits).chain(end).collect()
    };
    let head = [
        "sire",
        "dam",
        "bits/4",
        "bits/8",
        "bits/12",
        "bits/20",
        "target",
        "fry 95 %",
        "fry 99 %",
        "inbreeding",
        "mind",
    ];
    aligned(&head, pairs.iter().map(row).collect(), &[2, 3, 4, 5, 6, 7, 8, 9])
}
