//! `predict`: expected classes by sex of a planned cross.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};

use super::Done;
use super::desk::{self, or_dash};
use super::question::ReadingArgs;
use super::table::aligned;
use crate::book::{Book, fish, pair};
use crate::error::{Error, Result};
use crate::inherit::{
    Combination, Forecast, Outlook, combinations, forecast, fry_needed, mixed, outlook, outlook_of_genotypes,
};
use crate::units::{counted, percent};

/// Arguments of `predict`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples: broodhue predict --sire K2-s --dam K2-d --axis red-body --target absent\n          \
                  broodhue predict --sire X+/Y --dam X+/Xm --mode x-linked-recessive")]
pub(super) struct Args {
    /// A male of the book, or his genotype, one for each --mode, with commas between.
    #[arg(long)]
    sire: String,
    /// A female of the book, or her genotype.
    #[arg(long)]
    dam: String,
    /// An axis; up to three, each with its --target, are predicted together. Without it the only one that is counted.
    #[arg(long)]
    axis: Vec<String>,
    /// The target class of each axis.
    #[arg(long, value_name = "CLASS")]
    target: Vec<String>,
    #[command(flatten)]
    reading: ReadingArgs,
    /// As one JSON object.
    #[arg(long)]
    json: bool,
}

/// More axes than three make a table nobody can read, and broods nobody can raise.
const MOST_AXES: usize = 3;

/// One axis with what each mode says of the pair.
struct Axis {
    name: String,
    target: String,
    /// Mode, weight, outlook.
    modes: Vec<(String, f64, Outlook)>,
    /// Two classes are told apart: a class between counts as "other".
    lumped: bool,
}

impl Axis {
    fn forecast(&self, outlook: &Outlook) -> Forecast {
        let all = forecast(outlook);
        if self.lumped { all.lumped() } else { all }
    }
}

/// Predicts and prints.
pub(super) fn run(args: &Args) -> Result<Done> {
    let axes = match fish_of_book(args)? {
        Some(book) => of_fish(args, &book)?,
        None => of_genotypes(args)?,
    };
    let all: Vec<Forecast> = axes.iter().map(mixed_forecast).collect();
    let together = if axes.len() > 1 { combinations(&all) } else { vec![] };
    if args.json {
        let axes_json: Vec<Value> = axes.iter().zip(&all).map(|(a, f)| axis_json(a, f)).collect();
        let joint: Vec<Value> = together.iter().map(|c| combination_json(&axes, c)).collect();
        desk::print_json(&json!({
            "schema": "broodhue.predict/1", "sire": args.sire, "dam": args.dam, "axes": axes_json, "joint": joint,
        }))?;
        return Ok(Done::All);
    }
    for (axis, all) in axes.iter().zip(&all) {
        desk::print(axis_table(axis, all))?;
    }
    if !together.is_empty() {
        let row = |c: &Combination| {
            let classes = axes.iter().zip(&c.classes).map(|(a, class)| format!("{} {}", a.name, class_word(a, *class)));
            let shares = [c.daughters, c.sons, c.young].map(percent);
            [classes.collect::<Vec<_>>().join(", ")].into_iter().chain(shares).collect()
        };
        let rows = together.iter().map(row).collect();
        desk::print(format_args!(
            "\nAll axes together, if they are not linked\n{}",
            aligned(&["classes", "daughters", "sons", "young"], rows, &[1, 2, 3])
        ))?;
    }
    Ok(Done::All)
}

fn of_genotypes(args: &Args) -> Result<Vec<Axis>> {
    let models = args.reading.modes.models(&[])?;
    let split = |text: &str| text.split(',').map(|t| t.trim().to_owned()).collect::<Vec<_>>();
    let (sires, dams) = (split(&args.sire), split(&args.dam));
    if sires.len() != dams.len() || sires.len() != models.len() || models.len() > MOST_AXES {
        let message = format!(
            "{} and {} are not both fish of the book, and as genotypes they need one --mode each: {} with {} of the sire and {} of the dam",
            args.sire,
            args.dam,
            counted(models.len(), "mode", "modes"),
            counted(sires.len(), "genotype", "genotypes"),
            dams.len()
        );
        let hint = format!(
            "check the names in `broodhue fish list`, or give up to {MOST_AXES} --mode and a genotype of each parent for each"
        );
        return Err(Error::usage("predict", message, hint));
    }
    models
        .iter()
        .zip(dams.iter().zip(&sires))
        .map(|(model, (dam, sire))| {
            let outlook = outlook_of_genotypes(model, dam, sire)?;
            let name = model.mode.name.clone();
            Ok(Axis {
                name: name.clone(),
                target: "target".to_owned(),
                modes: vec![(name, 1.0, outlook)],
                lumped: false,
            })
        })
        .collect()
}

/// The book, where sire and dam are fish of it rather than genotypes: an axis is named, or no mode is and both names are known.
fn fish_of_book(args: &Args) -> Result<Option<Book>> {
    if !args.axis.is_empty() {
        return args.reading.book.open().map(Some);
    }
    let Some(book) = args.reading.book.open().ok().filter(|_| !args.reading.modes.are_named()) else { return Ok(None) };
    let known = [&args.sire, &args.dam].iter().all(|name| fish::get(&book.read(), name).is_ok());
    Ok(known.then_some(book))
}

fn of_fish(args: &Args, book: &Book) -> Result<Vec<Axis>> {
    let axes = if args.axis.is_empty() { vec![only_axis(args, book)?] } else { args.axis.clone() };
    if axes.len() != args.target.len() || axes.len() > MOST_AXES {
        let message = format!(
            "{} with {}",
            counted(axes.len(), "axis", "axes"),
            counted(args.target.len(), "target class", "target classes")
        );
        return Err(Error::usage("predict", message, format!("give up to {MOST_AXES} --axis, each with its --target")));
    }
    if let Some(twice) = axes.iter().enumerate().find_map(|(i, axis)| axes[..i].contains(axis).then_some(axis)) {
        let hint = "the table of all axes together is for axes that differ";
        return Err(Error::usage("--axis", format!("{twice} is named twice"), hint));
    }
    axes.iter().zip(&args.target).map(|(axis, target)| of_axis(args, book, axis, target)).collect()
}

/// The axis that is meant where none is named: the only one on which anything is counted.
fn only_axis(args: &Args, book: &Book) -> Result<String> {
    let counted = args.reading.counted_axes(book)?;
    let list = |classes: &BTreeSet<String>| classes.iter().cloned().collect::<Vec<_>>().join(", ");
    match counted.as_slice() {
        [] => Err(Error::failed(
            "predict",
            "nothing is counted on any axis yet",
            "confirm scores or `import counts` first",
        )),
        [(axis, _)] if !args.target.is_empty() => Ok(axis.clone()),
        [(axis, classes)] => {
            let hint = format!("name the mutant class with --target; the classes of {axis} are {}", list(classes));
            Err(Error::usage("predict", format!("{axis} is counted, but which class is asked about?"), hint))
        }
        _ => {
            let each: Vec<String> = counted.iter().map(|(a, classes)| format!("{a} ({})", list(classes))).collect();
            let hint = format!("name one with --axis and its mutant class with --target: {}", each.join("; "));
            Err(Error::usage("predict", "several axes are counted, and none is named", hint))
        }
    }
}

fn of_axis(args: &Args, book: &Book, axis: &str, target: &str) -> Result<Axis> {
    [&args.sire, &args.dam].into_iter().try_for_each(|name| fish::get(&book.read(), name).map(drop))?;
    pair::check(&book.read(), &args.sire, &args.dam)?;
    let mut asked = args.reading.ask(book, &args.reading.question(axis, target, None))?;
    let (sire, dam) = (asked.evidence.find(&args.sire)?, asked.evidence.find(&args.dam)?);
    let mut models = args.reading.modes.models(&[])?;
    let judgement = asked.judge(&mut models)?;
    let evidence = &asked.evidence;
    let error = asked.options.scoring(evidence.class_count());
    let modes = models
        .iter()
        .zip(&judgement.modes)
        .filter(|(_, judged)| judged.weight > 0.0)
        .map(|(model, judged)| Ok((judged.mode.clone(), judged.weight, outlook(model, evidence, &error, dam, sire)?)))
        .collect::<Result<_>>()?;
    Ok(Axis { name: axis.to_owned(), target: target.to_owned(), modes, lumped: true })
}

fn mixed_forecast(axis: &Axis) -> Forecast {
    mixed(&axis.modes.iter().map(|(_, weight, o)| (*weight, axis.forecast(o))).collect::<Vec<_>>())
}

fn fry(axis: &Axis, confidence: f64) -> Option<u32> {
    let modes: Vec<(f64, Outlook)> = axis.modes.iter().map(|(_, weight, o)| (*weight, o.clone())).collect();
    fry_needed(&modes, confidence)
}

fn class_word(axis: &Axis, class: usize) -> &str {
    match class {
        2 => &axis.target,
        1 => "between",
        _ => "other",
    }
}

fn forecast_json(axis: &Axis, f: &Forecast) -> Value {
    let row = |row: Option<[f64; 3]>| {
        row.map(|p| {
            let cells =
                (0..3).rev().filter(|c| *c != 1 || p[1] > 0.0).map(|c| (class_word(axis, c).to_owned(), json!(p[c])));
            Value::Object(cells.collect::<Map<_, _>>())
        })
    };
    json!({"daughters": row(f.daughters), "sons": row(f.sons), "young": row(f.young)})
}

fn axis_json(axis: &Axis, all: &Forecast) -> Value {
    let modes = axis.modes.iter().map(
        |(mode, weight, o)| json!({"mode": mode, "weight": weight, "expected": forecast_json(axis, &axis.forecast(o))}),
    );
    json!({
        "axis": axis.name, "target": axis.target, "modes": modes.collect::<Vec<_>>(), "expected": forecast_json(axis, all),
        "fry_for_95": fry(axis, 0.95), "fry_for_99": fry(axis, 0.99),
    })
}

fn combination_json(axes: &[Axis], c: &Combination) -> Value {
    let classes: Map<String, Value> =
        axes.iter().zip(&c.classes).map(|(a, class)| (a.name.clone(), json!(class_word(a, *class)))).collect();
    json!({"classes": classes, "daughters": c.daughters, "sons": c.sons, "young": c.young})
}

fn axis_table(axis: &Axis, all: &Forecast) -> String {
    let share = |p: [f64; 3]| match p[1] {
        middle if middle > 0.0 => format!("{} ({} between)", percent(p[2]), percent(middle)),
        _ => percent(p[2]),
    };
    let shares = |row: Option<[f64; 3]>| or_dash(row.map(share));
    let row = |mode: &str, weight: String, f: &Forecast| {
        vec![mode.to_owned(), weight, shares(f.daughters), shares(f.sons), shares(f.young)]
    };
    let mut rows: Vec<Vec<String>> =
        axis.modes.iter().map(|(mode, weight, o)| row(mode, percent(*weight), &axis.forecast(o))).collect();
    if rows.len() > 1 {
        rows.push(row("all modes listed", String::new(), all));
    }
    let table = aligned(&["mode", "weight", "daughters", "sons", "young"], rows, &[1, 2, 3, 4]);
    let needed = match (fry(axis, 0.95), fry(axis, 0.99)) {
        (Some(n95), Some(n99)) => format!("Fry that show at least one: {n95} with 95 %, {n99} with 99 %."),
        (Some(n95), None) => {
            format!(
                "Fry that show at least one: {n95} with 95 %; the pair may never give any, so no number does with 99 %."
            )
        }
        (None, _) => "The pair may never give any, so no number of fry shows one with 95 %.".to_owned(),
    };
    format!("{} {}: share expected\n{table}{needed}\n", axis.name, axis.target)
}
