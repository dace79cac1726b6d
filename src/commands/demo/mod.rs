//! `demo`: the whole job on an invented breeder's records and drawn pictures, all of them inside the program.

mod scenario;

use std::path::{Path, PathBuf};

use super::desk;
use super::report_story::{Heard, Wish, gather};
use super::table::aligned;
use super::{Done, confirm_page, counts, files, next};
use crate::book::evidence::{self, Question};
use crate::book::photos::{self, Subject};
use crate::book::regions::{self, Region};
use crate::book::scores::{self, Said};
use crate::book::tallies::{self, Selection};
use crate::book::{Book, By, Read, broods, crosses, fish, living, pedigree, settings};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::inherit::{self, JudgeOptions, Model, SexSystem, SexSystems};
use crate::pipeline::keep::{self, Keeping, Ready, Whose};
use crate::pipeline::{self, Given, MeasureOptions};
use crate::plan::{self, Aim, Setup};
use crate::report::page;
use crate::sheet::Sheet;
use crate::units::{View, percent};
use scenario::{Answer, PhotoRecord, Scenario, SittingRecord};

/// The folder made when none is named.
const DEFAULT_DIR: &str = "broodhue-demo";

/// Marks a book as the demo's, so that no breeder's own book is ever taken for it.
const MARK: &str = "demo";

/// Under this name the recorded answers are logged.
const BREEDER: &str = "the demo's breeder (recorded answers)";

/// How many of the next crosses are shown.
const PAIRS: usize = 5;

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue demo --dir my-demo")]
pub(super) struct Args {
    /// Where the demo's book is made; a demo that is there already goes on.
    #[arg(long, value_name = "DIR", default_value = DEFAULT_DIR)]
    dir: PathBuf,
    /// Open the confirm page on the demo's book.
    #[arg(long)]
    serve: bool,
}

/// Makes the book, scores, confirms with the recorded answers, counts, judges and plans.
pub(super) fn run(args: &Args) -> Result<Done> {
    desk::print(
        "An invented breeder's records, with drawn pictures: lines Lowmere, Tarnwick and Farrow do not exist.\n\n",
    )?;
    let scenario = scenario::read()?;
    let sheet = Sheet::starting()?;
    let by = By { name: BREEDER.to_owned(), at: jiff::Timestamp::now() };
    let mut book = open(&args.dir)?;
    record(&mut book, &scenario, &by)?;
    score(&mut book, &scenario, &sheet, &by)?;
    confirm(&mut book, &scenario, &by)?;
    let goal = &scenario.goal;
    let selection = Selection { cross: None, view: View::Above, include_proposed: false };
    desk::print("\nCounts of confirmed fish\n")?;
    for counts in tallies::counts(&book.read(), &sheet, std::slice::from_ref(&goal.axis), &selection)? {
        desk::print(counts::table(&counts))?;
    }
    let heard = hear(&book, &scenario, &sheet)?;
    judge(&book, &scenario, &heard)?;
    write_report(&book, &scenario, &heard, &args.dir)?;
    what_next(&args.dir, &scenario)?;
    if args.serve {
        return confirm_page::serve(book, &confirm_page::PageArgs::default());
    }
    Ok(Done::All)
}

fn open(dir: &Path) -> Result<Book> {
    let book = if dir.join("book.sqlite").exists() { Book::open(dir)? } else { Book::create(dir)? };
    if settings::get(&book.read(), MARK)?.is_none() && is_used(&book.read())? {
        let said = "there is a book here that is not the demo's";
        return Err(Error::failed(dir.display(), said, "choose another folder with --dir DIR"));
    }
    Ok(book)
}

/// Whether anybody has begun to keep a book: a keeper's name is in it, or a record of any kind.
fn is_used(book: &Read<'_>) -> Result<bool> {
    Ok(settings::get(book, settings::SCORER)?.is_some()
        || !fish::list(book)?.is_empty()
        || !crosses::all(book)?.is_empty()
        || !broods::all(book)?.is_empty()
        || !photos::list(book)?.is_empty())
}

/// Writes down the card, fish, crosses and broods, once.
fn record(book: &mut Book, scenario: &Scenario, by: &By) -> Result<()> {
    if let (Some((_, photo)), None) = (scenario.photos().first(), settings::card_pitch_mm(&book.read())?) {
        book.write(|w| settings::set(w, settings::CARD_PITCH_MM, &photo.card_pitch_mm.to_string()))?;
    }
    if settings::get(&book.read(), MARK)?.is_some() {
        return Ok(());
    }
    book.write(|w| {
        settings::set(w, MARK, "yes")?;
        let fish = scenario.fish();
        let crosses = scenario.crosses();
        // Founders first, then each cross once its parents are there, and its young.
        for founder in fish.iter().filter(|f| f.cross.is_none()) {
            fish::add(w, founder, by)?;
        }
        for cross in &crosses {
            crosses::add(w, cross)?;
            for young in fish.iter().filter(|f| f.cross.as_ref() == Some(&cross.name)) {
                fish::add(w, young, by)?;
            }
        }
        scenario.broods().iter().try_for_each(|b| broods::add(w, b))
    })
}

/// Measures the pictures that are not in the book yet, on all cores, and keeps them.
fn score(book: &mut Book, scenario: &Scenario, sheet: &Sheet, by: &By) -> Result<()> {
    let given = Given { sheet, empty: None };
    let there = photos::list(&book.read())?;
    let mut tasks = Vec::new();
    for (sitting, photo) in scenario.photos() {
        if there.iter().all(|p| p.name != photo.file) {
            tasks.push((sitting, photo, keep::known(&book.read(), &Whose::Brood(&sitting.brood))?));
        }
    }
    let mut outcome = Ok(());
    pipeline::in_order(
        &tasks,
        rayon::current_num_threads(),
        |(sitting, photo, known)| {
            let days = (Some(sitting.date), sitting.date);
            keep::read_ready(&photo.file, scenario::picture(&photo.file)?, given, &options(photo), known, days)
        },
        |i, ready| {
            if outcome.is_ok() {
                outcome = ready.and_then(|r| put(book, tasks[i].0, tasks[i].1, &r, sheet, by));
            }
        },
    );
    outcome
}

fn options(photo: &PhotoRecord) -> MeasureOptions {
    MeasureOptions { card_pitch_mm: Some(photo.card_pitch_mm), ..MeasureOptions::default() }
}

fn put(
    book: &mut Book,
    sitting: &SittingRecord,
    photo: &PhotoRecord,
    ready: &Ready,
    sheet: &Sheet,
    by: &By,
) -> Result<()> {
    let subject = Subject::Sitting { brood: sitting.brood.clone(), day: sitting.date };
    let bytes = scenario::picture(&photo.file)?;
    let with = Keeping { name: &photo.file, bytes, subject: &subject, sheet, at: by.at };
    book.write(|w| keep::keep(w, ready, &with))?;
    let (fish, verdict) = (ready.report.fish.len(), desk::word(ready.report.card.verdict));
    desk::print(format_args!("{}: {subject}, {fish} fish, colours {verdict}\n", photo.file))
}

/// Confirms each photo with the recorded answers, once, and says how often the rules and the breeder agree.
fn confirm(book: &mut Book, scenario: &Scenario, by: &By) -> Result<()> {
    let (mut answered, mut missed, mut same, mut other) = (0, 0, 0, 0);
    for (_, record) in scenario.photos() {
        let photo = photos::named(&book.read(), &record.file)?;
        let all = regions::of_photo(&book.read(), &photo)?;
        let matched = matched(&all, &record.answers);
        missed += record.answers.len() - matched.iter().flatten().count();
        for (region, answer) in all.iter().zip(&matched) {
            let Some(answer) = answer else { continue };
            answered += 1;
            for p in region.proposals.iter().filter(|p| p.axis == scenario.goal.axis) {
                let agrees = answer.classes.get(&p.axis) == Some(&p.class);
                *(if agrees { &mut same } else { &mut other }) += 1;
            }
        }
        if all.iter().any(|r| !r.classes.is_empty()) {
            continue;
        }
        book.write(|w| {
            for (region, answer) in all.iter().zip(&matched) {
                match answer {
                    Some(answer) => {
                        scores::correct(w, region.id, &said(answer), Some("recorded answer"), by)?;
                    }
                    None => {
                        scores::set_aside(w, region.id, Some("the demo's breeder sees no single fish here"), by)?;
                    }
                }
            }
            Ok(())
        })?;
    }
    desk::print(format_args!(
        "\nConfirmed with the recorded answers of the demo's breeder, not by the program: {answered} fish, {missed} fish \
         not found.\nOn {} the rules said the same as the breeder for {same} fish and not for {other}.\n",
        scenario.goal.axis
    ))
}

fn said(answer: &Answer) -> Said {
    Said { classes: answer.classes.iter().map(|(a, c)| (a.clone(), c.clone())).collect(), sex: answer.sex }
}

/// The answer that is meant for each region: the nearest pairs first, each answer once, and only inside the region's box.
fn matched<'a>(all: &[Region], answers: &'a [Answer]) -> Vec<Option<&'a Answer>> {
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (i, region) in all.iter().enumerate().filter(|(_, r)| r.number == 1) {
        for (j, answer) in answers.iter().enumerate().filter(|(_, a)| region.bounds.contains(a.centre)) {
            pairs.push((region.centre.distance(answer.centre), i, j));
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut found: Vec<Option<&Answer>> = vec![None; all.len()];
    let mut used = vec![false; answers.len()];
    for (_, i, j) in pairs {
        if found[i].is_none() && !used[j] {
            found[i] = Some(&answers[j]);
            used[j] = true;
        }
    }
    found
}

/// The evidence on the scenario's question, read with the modes and rates every command starts from.
fn hear(book: &Book, scenario: &Scenario, sheet: &Sheet) -> Result<Heard> {
    let goal = &scenario.goal;
    let question = Question { axis: &goal.axis, target: &goal.class, middle: None, view: View::Above };
    let (evidence, warnings) = evidence::gather(&book.read(), sheet, &question)?;
    warnings.iter().for_each(|w| desk::note(format_args!("note: {w}")));
    let systems = SexSystems::Known(SexSystem::Xy);
    let models: Vec<Model> = inherit::built_in()?.into_iter().map(|m| Model::new(m, systems)).collect();
    Ok(Heard { evidence, options: JudgeOptions::new(inherit::DEFAULT_ERROR), models, aim: Aim::Target })
}

/// What the counts allow, and which cross tells most.
fn judge(book: &Book, scenario: &Scenario, heard: &Heard) -> Result<()> {
    let Heard { evidence, options, models, aim } = heard;
    let goal = &scenario.goal;
    let judgement = inherit::judge(evidence, models, options)?;
    let rows = judgement.modes.iter().map(|m| vec![m.mode.clone(), percent(m.weight), desk::word(m.verdict)]);
    desk::print(format_args!("What the counts allow for {} {}\n", goal.axis, goal.class))?;
    desk::print(aligned(&["mode", "weight", "verdict"], rows.collect(), &[1]))?;
    desk::print(format_args!("\n{}\n", judgement.verdict))?;
    let modes: Vec<(f64, Model)> = judgement.modes.iter().map(|m| m.weight).zip(models.iter().cloned()).collect();
    let today = scenario.sittings.iter().map(|s| s.date).max().unwrap_or_default();
    let setup = Setup {
        evidence,
        modes: &modes,
        error: &options.scoring(evidence.class_count()),
        ancestry: &pedigree::ancestry(&book.read())?,
        living: &living::living(&book.read(), evidence, today)?,
        aim: *aim,
    };
    let plan = plan::next_crosses(&setup, &|_, _| ())?;
    let rows = plan.pairs.iter().take(PAIRS).map(|p| {
        let odds = [percent(p.target_odds), desk::or_dash(p.fry_for_95), format!("{:.3}", p.inbreeding)];
        [p.sire.clone(), p.dam.clone()].into_iter().chain(odds).chain([next::mind(p)]).collect()
    });
    let head = ["sire", "dam", "target", "fry for 95 %", "inbreeding", "mind"];
    desk::print(format_args!("\nNext cross for {}, best odds of {} first\n", goal.line, goal.class))?;
    desk::print(aligned(&head, rows.collect(), &[2, 3, 4]))?;
    desk::print(format_args!("{}\n", plan.advice))
}

/// The page with all of it, beside the book.
fn write_report(book: &Book, scenario: &Scenario, heard: &Heard, dir: &Path) -> Result<()> {
    let goal = &scenario.goal;
    let title = format!("{} (invented, drawn)", goal.line);
    let (view, feature) = (View::Above, "lightness");
    let story = gather(book, &Wish { heard: Some(heard), view, line: None, feature, title: Some(&title) })?;
    let file = dir.join("report.html");
    files::write(&file, page(&story))?;
    desk::print(format_args!("\nReport: {}\n", file.display()))
}

fn what_next(dir: &Path, scenario: &Scenario) -> Result<()> {
    let dir = to_type(dir.display());
    let goal = &scenario.goal;
    desk::print(format_args!(
        "\nNow try\n  \
           open {dir}/report.html in a browser\n  \
           broodhue confirm --book {dir}           to look at every fish and mend what is wrong\n  \
           broodhue inherit --book {dir} --axis {axis} --target {class}\n  \
           broodhue confirm --book {dir} --photo K2-1-later.jpg --fish 3 --class {axis}={class} --why \"seen by eye\"\n  \
           broodhue confirm --book {dir} --undo\n  \
           broodhue export measurements --book {dir} > measurements.csv\n  \
           broodhue book new --by YOUR-NAME        to start a book of your own\n",
        axis = goal.axis,
        class = goal.class
    ))
}
