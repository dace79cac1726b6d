//! `inherit`: which modes of inheritance the counts allow.

use serde_json::{Value, json};

use super::Done;
use super::desk::{self, or_dash};
use super::joint::{self, JointCross};
use super::punnett::CrossTable;
use super::question::{Asked, QuestionArgs};
use super::table::aligned;
use crate::book::{Book, scoring, sheets};
use crate::error::{Error, Result};
use crate::inherit::{
    Class, CrossFit, JudgedAxis, Judgement, LESS_LIKELY, ModeJudgement, Model, TestMate, TestMating, p_text, sex_word,
    test_matings, to_json,
};
use crate::units::{joined, percent, percent_range, rounded};

/// Arguments of `inherit`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue inherit --axis red-body --target absent")]
pub(super) struct Args {
    #[command(flatten)]
    question: QuestionArgs,
    /// Also say how likely this fish carries the allele, and how many young of a test mating would clear it.
    #[arg(long, value_name = "FISH")]
    fish: Vec<String>,
    /// Also print the Punnett table of this cross at its likeliest genotypes.
    #[arg(long, value_name = "CROSS")]
    punnett: Option<String>,
    /// A second axis: its joint counts are tested for independence and linkage.
    #[arg(long, value_name = "AXIS=CLASS", value_parser = desk::pair)]
    with: Option<(String, String)>,
    /// Show every mode's fit to every cross, not only the best mode's.
    #[arg(long)]
    all_fits: bool,
    /// As one JSON object.
    #[arg(long)]
    json: bool,
}

/// Judges and prints.
pub(super) fn run(args: &Args) -> Result<Done> {
    if let Some((axis, _)) = args.with.as_ref().filter(|(axis, _)| *axis == args.question.axis) {
        let hint = "an axis is not independent of itself: name another one";
        return Err(Error::usage("--with", format!("{axis} is named twice"), hint));
    }
    let book = args.question.reading.book.open()?;
    let mut asked = args.question.ask(&book)?;
    let mut models = args.question.reading.modes.models(&[])?;
    let judgement = asked.judge(&mut models)?;
    let suspects = suspects(args, &asked, &models, &judgement)?;
    let joint = joint(args, &book, (&asked, &judgement), &models)?;
    let best = judgement.lead();
    let listed = (models.as_slice(), args.question.reading.modes.systems());
    let punnett = args.punnett.as_ref().map(|cross| CrossTable::of(cross, &asked, listed, best)).transpose()?;
    if args.json {
        let mut value = to_json(&judgement);
        value["open_shares"] = open_shares(&asked);
        value["joint"] = joint.iter().map(JointCross::json).collect();
        value["joint_of"] = args.with.is_some().then_some(joint::BASIS).into();
        value["suspects"] = suspects.iter().map(Suspect::json).collect();
        value["punnett"] = punnett.as_ref().map(CrossTable::json).into();
        desk::print_json(&value)?;
        return Ok(Done::All);
    }
    desk::print(modes_table(&judgement))?;
    desk::print(format_args!("\n{}\n\n", judgement.verdict))?;
    desk::print(reasons(&judgement.modes))?;
    for mode in judgement.modes.iter().filter(|m| args.all_fits || m.mode == best.mode) {
        desk::print(format_args!("\n{}, cross by cross\n{}", mode.mode, fit_table(mode, &judgement)))?;
        desk::print(expected_otherwise(mode, &judgement))?;
    }
    desk::print(format_args!("\nGenotypes under {}\n{}", best.mode, genotype_table(best, &judgement)))?;
    for suspect in &suspects {
        desk::print(suspect.text())?;
    }
    if let Some((axis, class)) = &args.with {
        desk::print(format_args!("\nTogether with {axis} {class}. {}\n{}", joint::BASIS, joint::table(&joint)))?;
    }
    if let Some(table) = &punnett {
        desk::print(table.text())?;
    }
    desk::print(open_in_words(&asked, &judgement.target))?;
    judgement.cautions.iter().for_each(|c| desk::note(format_args!("mind: {c}")));
    Ok(Done::All)
}

/// How far the fish that are not scored could still move the target's share, a line a place.
fn open_in_words(asked: &Asked, target: &str) -> String {
    let open = asked.counts.rows.iter().filter(|r| r.open > 0 && r.class == target);
    open.map(|row| {
        let place = format!("{} {}", row.place.cross, row.place.brood);
        let range = percent_range(row.least, row.most);
        format!("open: {} of {place} unscored, moved or died: {range} {target}\n", row.open)
    })
    .collect()
}

fn joint(
    args: &Args,
    book: &Book,
    (asked, judgement): (&Asked, &Judgement),
    models: &[Model],
) -> Result<Vec<JointCross>> {
    let Some((axis, class)) = &args.with else { return Ok(vec![]) };
    let first = args.question.question();
    let second = args.question.reading.question(axis, class, None);
    let mut beside = args.question.reading.ask(book, &second)?;
    let mut listed = models.to_vec();
    let other = beside.judge(&mut listed)?;
    let read = book.read();
    let counts = scoring::joint(&read, &sheets::rules(&read)?, &first, &second)?;
    let judged = JudgedAxis { evidence: &asked.evidence, models, mode: judgement.lead() };
    Ok(joint::join(counts, [&judged, &JudgedAxis { evidence: &beside.evidence, models: &listed, mode: other.lead() }]))
}

/// Why each mode is judged so, those in one sentence that share verdict and reason.
fn reasons(modes: &[ModeJudgement]) -> String {
    let mut alike: Vec<Vec<&ModeJudgement>> = Vec::new();
    for mode in modes {
        let key = |m: &ModeJudgement| (m.verdict, m.reason.odds.is_some(), m.reason.speaks.clone());
        match alike.iter_mut().find(|group| key(group[0]) == key(mode)) {
            Some(group) => group.push(mode),
            None => alike.push(vec![mode]),
        }
    }
    let sentence = |group: &Vec<&ModeJudgement>| {
        let with_odds = |m: &&ModeJudgement| match &m.reason.odds {
            Some(odds) => format!("{} ({odds})", m.mode),
            None => m.mode.clone(),
        };
        let names: Vec<String> = group.iter().map(with_odds).collect();
        let odds = if group[0].reason.odds.is_some() { format!(" {LESS_LIKELY}") } else { String::new() };
        format!("{}: {}{odds}:\n  {}\n", desk::word(group[0].verdict), names.join(", "), group[0].reason.speaks)
    };
    alike.iter().map(sentence).collect()
}

fn modes_table(judgement: &Judgement) -> String {
    let rows = judgement.modes.iter().map(|m| {
        let number = |v: f64| if v.is_finite() { rounded(v, 2) } else { "–".to_owned() };
        vec![
            m.mode.clone(),
            number(m.ln_likelihood),
            number(m.log10_bayes_factor),
            percent(m.weight),
            desk::word(m.verdict),
            m.same_as.join(", "),
        ]
    });
    aligned(
        &["mode", "ln likelihood", "log10 Bayes factor", "weight", "verdict", "same predictions as"],
        rows.collect(),
        &[1, 2, 3],
    )
}

fn fit_table(mode: &ModeJudgement, judgement: &Judgement) -> String {
    let numbers = |row: [f64; 3], digits: usize| {
        let middle = judgement.middle.iter().map(|_| row[1]);
        let shown: Vec<String> =
            [row[2]].into_iter().chain(middle).chain([row[0]]).map(|n| format!("{n:.digits$}")).collect();
        shown.join(" : ")
    };
    let row = |c: &CrossFit| {
        vec![
            c.cross.clone(),
            or_dash(c.brood.as_ref()),
            sex_word(c.sex).to_owned(),
            numbers(c.observed.map(f64::from), 0),
            numbers(c.expected, 1),
            p_text(c.p_exact),
            p_text(c.g.p),
            format!("{}{}", p_text(c.chi_square.p), if c.small_numbers { " (rough: small numbers)" } else { "" }),
            or_dash(c.heterogeneity.map(|h| p_text(h.p))),
        ]
    };
    let head =
        ["cross", "brood", "young", "seen", "expected", "exact p", "p of G", "p of chi-square", "p of broods alike"];
    aligned(&head, mode.crosses.iter().map(row).collect(), &[3, 4, 5, 6, 8])
}

/// Whom the expected numbers take as mis-scored, or as scored though the mode has them more probably as another genotype.
fn expected_otherwise(mode: &ModeJudgement, judgement: &Judgement) -> String {
    let fish = |(fish, genotype): (usize, &str)| format!("{} {genotype}", judgement.fish[fish]);
    let mis_scored: Vec<String> = mode.expected_mis_scored().map(fish).collect();
    let likelier: Vec<String> = mode.expected_otherwise().map(fish).collect();
    match (mis_scored.as_slice(), likelier.as_slice()) {
        ([], []) => String::new(),
        ([], likelier) => format!(
            "expected with breeders as scored ({}); were they mis-scored, another genotype is likelier\n",
            likelier.join(", ")
        ),
        (mis_scored, []) => format!("expected with breeders taken as mis-scored ({})\n", mis_scored.join(", ")),
        (mis_scored, likelier) => format!(
            "expected with breeders taken as mis-scored ({}); taken one by one, another genotype is likelier than {}\n",
            mis_scored.join(", "),
            joined(likelier, "and")
        ),
    }
}

fn genotype_table(mode: &ModeJudgement, judgement: &Judgement) -> String {
    let rows = judgement.fish.iter().zip(&mode.posterior.genotypes).filter(|(_, list)| !list.is_empty()).map(
        |(fish, list)| {
            let mut sorted: Vec<_> = list.iter().filter(|g| g.probability >= 0.001).collect();
            sorted.sort_by(|a, b| b.probability.total_cmp(&a.probability));
            let genotypes: Vec<String> =
                sorted.iter().map(|g| format!("{} {}", g.genotype, percent(g.probability))).collect();
            let carrier: f64 = list.iter().filter(|g| g.carrier).map(|g| g.probability).sum();
            vec![fish.clone(), percent(carrier), genotypes.join(", ")]
        },
    );
    aligned(&["fish", "carrier", "genotypes"], rows.collect(), &[1])
}

fn open_shares(asked: &Asked) -> Value {
    let target = &asked.evidence.target;
    let rows = asked.counts.rows.iter().filter(|r| r.class == *target);
    rows.map(|r| json!({"cross": r.place.cross, "brood": r.place.brood, "sex": r.place.sex, "share": r.share, "open": r.open, "least": r.least, "most": r.most}))
        .collect()
}

/// A fish under suspicion, under the best mode.
struct Suspect {
    fish: String,
    mode: String,
    carrier: f64,
    shows_target: bool,
    tests: Vec<TestMating>,
}

fn suspects(args: &Args, asked: &Asked, models: &[Model], judgement: &Judgement) -> Result<Vec<Suspect>> {
    let best = judgement.lead();
    let model = models.iter().find(|m| m.mode.name == best.mode);
    let one = |name: &String| {
        let fish = asked.evidence.find(name)?;
        let genotypes = &best.posterior.genotypes[fish];
        let tests = model.map_or(vec![], |m| test_matings(m, genotypes, &asked.evidence.breeders[fish]));
        let carrier = genotypes.iter().filter(|g| g.carrier).map(|g| g.probability).sum();
        let shows_target = asked.evidence.breeders[fish].class == Some(Class::Target);
        Ok(Suspect { fish: name.clone(), mode: best.mode.clone(), carrier, shows_target, tests })
    };
    args.fish.iter().map(one).collect()
}

fn mate_word(mate: TestMate) -> &'static str {
    match mate {
        TestMate::Target => "a mate that shows the target",
        TestMate::Carrier => "a known carrier",
    }
}

impl Suspect {
    fn json(&self) -> Value {
        let test = |t: &TestMating| json!({"mate": mate_word(t.mate), "young_for_5_percent": t.young_for_5, "young_for_1_percent": t.young_for_1});
        json!({"fish": self.fish, "mode": self.mode, "carrier": self.carrier, "test_matings": self.tests.iter().map(test).collect::<Vec<_>>()})
    }

    fn text(&self) -> String {
        let mut text = format!("\n{}: carrier with {} under {}\n", self.fish, percent(self.carrier), self.mode);
        if self.shows_target {
            text += "  it is scored as the target itself: a test mating tells of fish that do not show it\n";
        }
        for t in &self.tests {
            text += &format!(
                "  with {}: {} young, none of the target, lower that to 5 %, {} to 1 %\n",
                mate_word(t.mate),
                or_dash(t.young_for_5),
                or_dash(t.young_for_1)
            );
        }
        text
    }
}
