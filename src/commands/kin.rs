//! `kin`: inbreeding, kinship and founders' shares of the fish in the book, and of a planned cross.

use super::Done;
use super::desk::{self, BookArg, or_dash};
use super::table::aligned;
use crate::book::{fish, pair, pedigree};
use crate::error::{Error, Result};
use crate::kin::{Pedigree, Planned, effective_breeders};
use crate::units::{Sex, percent, tidy_to};

/// Arguments of `kin`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue kin K2-p K2-q --sire K2-r --dam K2-q --json\n\
                        F is a fish's inbreeding coefficient; kinship of two fish is the F their young would have.")]
pub(super) struct Args {
    /// Only these fish; without any, all that are still here.
    fish: Vec<String>,
    /// Sire of a planned cross.
    #[arg(long, requires = "dam")]
    sire: Option<String>,
    /// Dam of a planned cross.
    #[arg(long, requires = "sire")]
    dam: Option<String>,
    /// As one JSON line.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    book: BookArg,
}

/// Decimals in the JSON: coefficients are sums of powers of one half, which a few more generations make long, and the shares of several
/// possible parents end nowhere.
const DECIMALS: i32 = 12;

/// What is printed.
struct Answer {
    /// Fish, F.
    inbreeding: Vec<(String, f64)>,
    /// Two fish, kinship; pairs that are not related are left out of the table but not of the JSON.
    kinship: Vec<(String, String, f64)>,
    /// Fish, founder, share.
    shares: Vec<(String, String, f64)>,
    /// Males, females.
    breeders: (u64, u64),
    /// Sire, dam, their young.
    planned: Option<(String, String, Planned)>,
}

/// Prints the kinship.
pub(super) fn run(args: &Args) -> Result<Done> {
    let book = args.book.open()?;
    if let (Some(sire), Some(dam)) = (&args.sire, &args.dam) {
        pair::check(&book.read(), sire, dam)?;
    }
    let answer = answer(args, &Pedigree::new(&pedigree::ancestry(&book.read())?)?, &fish::list(&book.read())?)?;
    if args.json {
        desk::print_json(&json(&answer))?;
    } else {
        desk::print(table(&answer))?;
    }
    Ok(Done::All)
}

fn answer(args: &Args, pedigree: &Pedigree, all: &[fish::Fish]) -> Result<Answer> {
    let here: Vec<&fish::Fish> = if args.fish.is_empty() {
        all.iter().filter(|f| f.available()).collect()
    } else {
        let find = |name: &String| {
            let hint = "`broodhue fish list` shows the fish";
            all.iter().find(|f| f.name == *name).ok_or_else(|| Error::failed(name, "no such fish is in the book", hint))
        };
        args.fish.iter().map(find).collect::<Result<_>>()?
    };
    let mut out = Answer {
        inbreeding: Vec::new(),
        kinship: Vec::new(),
        shares: Vec::new(),
        breeders: (count(&here, Sex::Male), count(&here, Sex::Female)),
        planned: None,
    };
    for (i, one) in here.iter().enumerate() {
        out.inbreeding.push((one.name.clone(), pedigree.inbreeding(&one.name)?));
        for other in &here[i + 1..] {
            out.kinship.push((one.name.clone(), other.name.clone(), pedigree.kinship(&one.name, &other.name)?));
        }
        let shares = pedigree.founder_shares(&one.name)?;
        out.shares.extend(shares.into_iter().map(|(founder, share)| (one.name.clone(), founder.to_owned(), share)));
    }
    if let (Some(sire), Some(dam)) = (&args.sire, &args.dam) {
        out.planned = Some((sire.clone(), dam.clone(), pedigree.planned(sire, dam)?));
    }
    Ok(out)
}

fn count(fish: &[&fish::Fish], sex: Sex) -> u64 {
    fish.iter().filter(|f| f.sex == Some(sex)).count() as u64
}

fn json(answer: &Answer) -> serde_json::Value {
    let (males, females) = answer.breeders;
    let ne = effective_breeders(males, females);
    let fish: Vec<_> =
        answer.inbreeding.iter().map(|(fish, f)| serde_json::json!({ "fish": fish, "inbreeding": f })).collect();
    let share = |(fish, founder, share): &(String, String, f64)| serde_json::json!({ "fish": fish, "founder": founder, "share": share });
    let mut value = serde_json::json!({
        "schema": "broodhue.kin/1",
        "fish": fish,
        "kinship": answer.kinship,
        "founder_shares": answer.shares.iter().map(share).collect::<Vec<_>>(),
        "effective_breeders": {
            "males": males, "females": females,
            "number": if ne > 0.0 { Some(ne) } else { None },
            "inbreeding_per_generation": if ne > 0.0 { Some(1.0 / (2.0 * ne)) } else { None },
        },
        "planned": answer.planned.as_ref().map(|(sire, dam, young)| {
            let shares = young.founder_shares.iter().map(|(f, share)| serde_json::json!({ "founder": f, "share": share }));
            serde_json::json!({
                "sire": sire, "dam": dam, "inbreeding": young.inbreeding,
                "kinship_with_sire": young.with_sire, "kinship_with_dam": young.with_dam,
                "founder_shares": shares.collect::<Vec<_>>(), "effective_breeders": young.effective_breeders,
            })
        }),
    });
    tidy_to(&mut value, DECIMALS);
    value
}

/// A coefficient in a table: four decimals, a five behind them counted up as in all JSON; the bare format would round to even.
fn coefficient(value: f64) -> String {
    format!("{:.4}", (value * 1e4).round() / 1e4)
}

fn table(answer: &Answer) -> String {
    let shares = |fish: &str| {
        let of = answer.shares.iter().filter(|s| s.0 == fish);
        of.map(|(_, founder, share)| format!("{founder} {}", percent(*share))).collect::<Vec<_>>().join(", ")
    };
    let row = |(fish, f): &(String, f64)| vec![fish.clone(), coefficient(*f), shares(fish)];
    let mut text = aligned(&["fish", "F", "founders"], answer.inbreeding.iter().map(row).collect(), &[1]);
    let related: Vec<Vec<String>> = answer
        .kinship
        .iter()
        .filter(|(_, _, k)| *k > 0.0)
        .map(|(a, b, k)| vec![a.clone(), b.clone(), coefficient(*k)])
        .collect();
    if !related.is_empty() {
        text += "\n";
        text += &aligned(&["fish", "with", "kinship (F of their young)"], related, &[2]);
    }
    let (males, females) = answer.breeders;
    let ne = effective_breeders(males, females);
    text += &format!(
        "\nmales {males}, females {females}: bred at random they would count as {} breeders\n",
        or_dash((ne > 0.0).then(|| format!("{ne:.1}")))
    );
    if let Some((sire, dam, young)) = &answer.planned {
        let shares: Vec<String> =
            young.founder_shares.iter().map(|(founder, share)| format!("{founder} {}", percent(*share))).collect();
        text += &format!(
            "young of {sire} × {dam}: F {}, kinship with {sire} {}, with {dam} {}; founders {}; from this pair alone \
             they count as from {:.0} breeders\n",
            coefficient(young.inbreeding),
            coefficient(young.with_sire),
            coefficient(young.with_dam),
            shares.join(", "),
            young.effective_breeders
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// 9/32, and 19/32 after one more back-cross: table and JSON agree, and the JSON has every digit.
    #[test]
    fn a_coefficient_is_rounded_alike_everywhere() {
        assert_eq!([9.0 / 32.0, 19.0 / 32.0, 0.0, 0.25].map(coefficient), ["0.2813", "0.5938", "0.0000", "0.2500"]);
        let mut value = json!([9.0 / 32.0, 19.0 / 32.0, 1.0 / 1_048_576.0, 0.1 + 0.2]);
        tidy_to(&mut value, DECIMALS);
        assert_eq!(value, json!([0.28125, 0.59375, 0.000_000_953_674, 0.3]));
    }
}
