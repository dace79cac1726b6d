//! `trend`: lightness, or another feature, over the generations of a line, with the card as control.

use serde_json::{Map, Value, json};

use super::Done;
use super::desk::{self, BookArg, ViewArg, or_dash};
use super::table::aligned;
use crate::book::generations;
use crate::book::lightness::card_points;
use crate::error::Result;
use crate::lightness::{Control, Slopes, Trend, control_chart, trend};
use crate::stats::Interval;
use crate::units::{counted, tidy};

/// Arguments of `trend`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue trend \"Lowmere Pale\" --feature red_share --json")]
pub(super) struct Args {
    /// The line.
    line: String,
    /// The feature: lightness, chroma, b, red_share, ground.lightness, net, …
    #[arg(long, default_value = "lightness")]
    feature: String,
    /// Photos from this view.
    #[arg(long, value_enum, default_value = "above")]
    view: ViewArg,
    /// Take in broods over floors of different colour too.
    #[arg(long)]
    across_floors: bool,
    /// As one JSON line.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    book: BookArg,
}

/// Prints the trend.
pub(super) fn run(args: &Args) -> Result<Done> {
    let book = args.book.open()?;
    let input = generations::of_line(&book.read(), &args.line, &args.feature, args.view.into())?;
    let input = if args.across_floors { input } else { input.over_one_floor() };
    let found = trend(&input)?;
    let control = control_chart(&card_points(&book.read())?);
    if args.json {
        desk::print_json(&as_json(args, &found, control.as_ref()))?;
    } else {
        desk::print(in_words(args, &found, control.as_ref()))?;
    }
    Ok(Done::All)
}

fn as_json(args: &Args, found: &Trend, control: Option<&Control>) -> Value {
    let generations = found.generations.iter().map(|g| {
        let mut row = Map::new();
        row.insert("generation".into(), json!(g.generation));
        row.insert("broods".into(), json!(g.broods));
        row.insert("fish".into(), json!(g.fish));
        row.insert(args.feature.clone(), json!(g.mean));
        row.insert("low".into(), json!(g.interval.map(|i| i.low)));
        row.insert("high".into(), json!(g.interval.map(|i| i.high)));
        Value::Object(row)
    });
    let mut value = json!({
        "schema": "broodhue.trend/1", "line": args.line, "feature": args.feature,
        "generations": generations.collect::<Vec<_>>(),
        "slope": found.slopes.as_ref().map(slope_json),
        "realised_heritability": found.heritability.as_ref().map(|h| h.realised),
        "heritability": found.heritability,
        "card_drift": control.map(drift_json),
        "verdict": found.verdict, "cautions": found.cautions,
    });
    tidy(&mut value);
    value
}

fn slope_json(s: &Slopes) -> Value {
    let ends = |i: Option<Interval>| (i.map(|i| i.low), i.map(|i| i.high));
    let ((low, high), (sen_low, sen_high)) = (ends(s.interval), ends(s.theil_sen_interval));
    json!({
        "per_generation": s.regression, "low": low, "high": high, "method": s.method,
        "theil_sen": { "per_generation": s.theil_sen, "low": sen_low, "high": sen_high },
        "age_adjusted": s.age_adjusted, "per_30_days_of_age": s.per_30_days,
    })
}

fn drift_json(c: &Control) -> Value {
    json!({
        "mean_de00_per_month": c.per_month,
        "low": c.per_month_interval.map(|i| i.low), "high": c.per_month_interval.map(|i| i.high),
        "photos": c.photos, "mean_de00": c.mean, "limits": c.limits, "outside": c.outside, "changes": c.changes,
    })
}

fn in_words(args: &Args, found: &Trend, control: Option<&Control>) -> String {
    let rows = found.generations.iter().map(|g| {
        vec![
            g.generation.to_string(),
            g.broods.to_string(),
            g.fish.to_string(),
            format!("{:.2}", g.mean),
            range(g.interval),
        ]
    });
    let head = ["generation", "broods", "fish", args.feature.as_str(), "95 % interval"];
    let mut text = format!("{}\n\n{}", found.verdict, aligned(&head, rows.collect(), &[0, 1, 2, 3, 4]));
    text += &found.slopes.as_ref().map(slopes_in_words).unwrap_or_default();
    if let Some(h) = &found.heritability {
        text += &format!(
            "realised heritability {:.2} (selected by {:.2} in all, answered by {:.2})\n",
            h.realised, h.differential, h.response
        );
    }
    text += &control.map(drift_in_words).unwrap_or_default();
    for caution in &found.cautions {
        text += &format!("note: {caution}\n");
    }
    text
}

fn range(i: Option<Interval>) -> String {
    or_dash(i.map(|i| format!("{:.2} to {:.2}", i.low, i.high)))
}

fn slopes_in_words(s: &Slopes) -> String {
    let mut text = format!("\nslope per generation: {:.2} ({}), {}\n", s.regression, range(s.interval), s.method);
    text += &format!("Theil–Sen: {:.2} ({})\n", s.theil_sen, range(s.theil_sen_interval));
    if let Some(age) = &s.per_30_days {
        text += &format!("age: {:+.2} per 30 days ({:.2} to {:.2})\n", age.value, age.low, age.high);
    }
    if let Some(a) = &s.age_adjusted {
        text += &format!("slope with age taken out: {:.2} ({:.2} to {:.2})\n", a.value, a.low, a.high);
    }
    text
}

fn drift_in_words(c: &Control) -> String {
    let pace = or_dash(c.per_month.map(|m| format!("{m:.2}")));
    let mut text = format!("card: drift {pace} CIEDE2000 a month over {}\n", counted(c.photos, "photo", "photos"));
    for photo in &c.outside {
        text += &format!("  {photo} lies outside the control limits\n");
    }
    for change in &c.changes {
        text += &format!("  {}\n", change.because);
    }
    text
}
