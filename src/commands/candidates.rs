//! `candidates`: which candidate traits fit the counts and the measured colour.

use std::path::PathBuf;

use serde_json::{Value, json};

use super::Done;
use super::desk;
use super::files;
use super::question::QuestionArgs;
use super::table::aligned;
use crate::book::{scoring, sheets};
use crate::error::Result;
use crate::inherit::traits::{Candidate, Claim, EXAMPLE, Says, Trait, candidates, parse_traits};

/// Arguments of `candidates`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue candidates --axis red-body --target absent --traits my-traits.toml")]
pub(super) struct Args {
    #[command(flatten)]
    question: QuestionArgs,
    /// The trait file; without it the example that comes with the program, whose traits are invented.
    #[arg(long, value_name = "FILE")]
    traits: Option<PathBuf>,
    /// As one JSON object.
    #[arg(long)]
    json: bool,
}

/// Tests and prints.
pub(super) fn run(args: &Args) -> Result<Done> {
    let traits = read_traits(args)?;
    let book = args.question.reading.book.open()?;
    let mut asked = args.question.ask(&book)?;
    let modes: Vec<String> = traits.iter().map(|t| t.mode.clone()).collect();
    let mut models = args.question.reading.modes.models(&modes)?;
    let judgement = asked.judge(&mut models)?;
    let (traits, unweighed): (Vec<Trait>, Vec<Trait>) =
        traits.into_iter().partition(|one| judgement.modes.iter().any(|m| m.mode == one.mode));
    unweighed
        .iter()
        .for_each(|one| desk::note(format_args!("mind: trait {} is left out with its mode {}", one.name, one.mode)));
    let read = book.read();
    let contrasts = scoring::contrasts(&read, &sheets::rules(&read)?, &args.question.question())?;
    let found = candidates(&traits, &models, &judgement, &contrasts)?;
    if args.json {
        let traits: Vec<Value> = found.iter().map(candidate_json).collect();
        desk::print_json(&json!({
            "schema": "broodhue.candidates/1", "axis": judgement.axis, "target": judgement.target, "traits": traits,
            "cautions": judgement.cautions,
        }))?;
        return Ok(Done::All);
    }
    desk::print(table(&found))?;
    for one in &found {
        let text = one
            .against
            .as_ref()
            .map_or("nothing seen so far speaks against it".to_owned(), |a| format!("against it, {a}"));
        desk::print(format_args!("{}: {text}\n", one.name))?;
    }
    desk::note("a trait that fits is a candidate, no more: one that is not in the file may fit as well");
    judgement.cautions.iter().for_each(|c| desk::note(format_args!("mind: {c}")));
    Ok(Done::All)
}

fn read_traits(args: &Args) -> Result<Vec<Trait>> {
    let Some(file) = &args.traits else {
        desk::note("using the example traits, which are invented; --traits FILE reads your own (docs/traits.md)");
        return parse_traits("example traits", EXAMPLE);
    };
    let text = files::read_text(file, "docs/traits.md says how a trait file is written")?;
    parse_traits(&file.display().to_string(), &text)
}

fn claim_json(claim: &Claim) -> Value {
    json!({"feature": claim.feature, "trait_says": claim.effect, "measured": claim.contrast, "says": claim.says})
}

fn candidate_json(one: &Candidate) -> Value {
    json!({
        "trait": one.name, "mode": one.mode, "counts": {"verdict": one.verdict, "weight": one.weight},
        "features": one.claims.iter().map(claim_json).collect::<Vec<_>>(),
        "fits": one.against.is_none(), "against": one.against,
    })
}

fn table(found: &[Candidate]) -> String {
    let word = |says: Says| match says {
        Says::Fits => "fits",
        Says::Against => "AGAINST",
        Says::Open => "open",
        Says::NotMeasured => "not measured",
    };
    let row = |one: &Candidate| {
        let claims: Vec<String> =
            one.claims.iter().map(|c| format!("{} {}: {}", c.feature, c.effect.word(), word(c.says))).collect();
        vec![one.name.clone(), one.mode.clone(), desk::word(one.verdict), claims.join("; ")]
    };
    aligned(&["trait", "mode", "counts", "measured colour"], found.iter().map(row).collect(), &[])
}
