//! From the book to what [`crate::counts`] counts: for one axis, which fish are scored, which are only proposed, which
//! are in no class and why.
//!
//! Of a brood's sittings the latest counts, its parts added up; fish that left after an earlier sitting count with what
//! was said of them then. A brood counted by hand and from photos counts from the photos.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::broods::Brood;
use super::departures::Departure;
use super::replaced::Replaced;
use super::seen::{Kind, of_photo};
use super::stock::{self, Stock};
use super::{Read, paternity, sheets};
use crate::command_line::to_type;
use crate::counts::{self, Counts, Open, Place, Scored, Suggested, Why};
use crate::error::{Error, Result};
use crate::score::Confirmed;
use crate::sheet::{self, NOT_SHOWN, Sheet, UNDECIDED};
use crate::units::{Sex, View, age_days, counted};

/// What is to be counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Selection<'a> {
    /// Only this cross.
    pub cross: Option<&'a str>,
    /// Photos from this view.
    pub view: View,
    /// Whether unconfirmed proposals are counted too, in a column of their own.
    pub include_proposed: bool,
}

/// The fish of one brood on one axis.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// With a confirmed class.
    pub scored: Vec<Scored>,
    /// With a proposal only.
    pub suggested: Vec<Suggested>,
    /// In no class.
    pub open: Vec<Open>,
    /// Of fish of the latest sitting with a class and a proposal, none set aside: both, the confirmed one first, and how many.
    pub pairs: BTreeMap<(String, String), u32>,
    /// What a reader should know.
    pub warnings: Vec<String>,
    /// The days of the latest sitting, where none of its fish counts yet, and of the confirmed one before it whose place it takes.
    pub place_taken: Option<(Date, Date)>,
}

/// The names of all axes: those of the sheet first, in its order, then those counted by hand alone.
///
/// # Errors
/// The book cannot be read.
pub fn axes(book: &Read<'_>, sheet: &Sheet) -> Result<Vec<String>> {
    let mut names: Vec<String> = sheet.axes.iter().map(|a| a.name.clone()).collect();
    let mut statement = book
        .conn
        .prepare_cached("SELECT DISTINCT axis FROM hand_count UNION SELECT axis FROM scored_axis ORDER BY axis")?;
    for axis in statement.query_map([], |row| row.get::<_, String>(0))? {
        let axis = axis?;
        if !names.contains(&axis) {
            names.push(axis);
        }
    }
    Ok(names)
}

/// The broods that were asked for with their fish on one axis, in the order of writing down.
///
/// # Errors
/// An axis that is neither in the sheet nor in the book; an unknown cross.
pub fn tallies(book: &Read<'_>, sheet: &Sheet, axis: &str, selection: &Selection<'_>) -> Result<Vec<(Brood, Tally)>> {
    check_axis(book, sheet, axis)?;
    let of = |stock: Stock| {
        let tally = of_brood(book, sheet, axis, &stock)?;
        Ok((stock.brood, tally))
    };
    book.at_one_moment(|| stock::of(book, selection)?.into_iter().map(of).collect())
}

/// The fish of one brood seen from above, on the first axis of the book's sheet; nothing where that has none.
///
/// # Errors
/// The book cannot be read.
pub fn of_one(book: &Read<'_>, brood: &Brood) -> Result<Option<Tally>> {
    let sheet = sheets::rules(book)?;
    let stock = stock::of_brood(book, brood.clone(), View::Above)?;
    sheet.axes.first().map(|axis| of_brood(book, &sheet, &axis.name, &stock)).transpose()
}

/// The counts of several axes over the selected broods.
///
/// # Errors
/// As [`tallies`].
pub fn counts(book: &Read<'_>, sheet: &Sheet, axes: &[String], selection: &Selection<'_>) -> Result<Vec<Counts>> {
    axes.iter().try_for_each(|axis| check_axis(book, sheet, axis))?;
    book.at_one_moment(|| {
        let broods = stock::of(book, selection)?;
        let of_axis = |axis: &String| {
            let of = |stock: &Stock| Ok((stock.brood.clone(), of_brood(book, sheet, axis, stock)?));
            let tallies = broods.iter().map(of).collect::<Result<_>>()?;
            Ok(added_up(axis, tallies, selection))
        };
        axes.iter().map(of_axis).collect()
    })
}

/// The tallies of broods added up; fish in doubt count for no cross.
pub fn added_up(axis: &str, broods: Vec<(Brood, Tally)>, selection: &Selection<'_>) -> Counts {
    let mut all = Tally::default();
    for (brood, mut one) in broods {
        if let Some(doubt) = paternity::of_brood(&brood).why_not_one() {
            set_in_doubt(&mut one, &doubt, &brood);
        }
        all.scored.extend(one.scored);
        all.suggested.extend(one.suggested);
        all.open.extend(one.open);
        all.warnings.extend(one.warnings);
    }
    let mut result = if selection.include_proposed {
        all.open.retain(|o| o.why != Why::Unconfirmed);
        counts::count_with_proposed(axis, &all.scored, &all.suggested, &all.open)
    } else {
        counts::count(axis, &all.scored, &all.open)
    };
    result.warnings = all.warnings;
    result
}

/// The days of a brood's latest sitting, where none of its fish counts yet on some axis of the sheet, and of the confirmed one before it
/// whose place it takes in the counts.
///
/// # Errors
/// The book cannot be read.
pub fn place_taken(book: &Read<'_>, sheet: &Sheet, brood: &Brood, view: View) -> Result<Option<(Date, Date)>> {
    let stock = stock::of_brood(book, brood.clone(), view)?;
    for axis in &sheet.axes {
        let days = of_brood(book, sheet, &axis.name, &stock)?.place_taken;
        if days.is_some() {
            return Ok(days);
        }
    }
    Ok(None)
}

/// The fish of one brood on one axis, by the rules at the head of this file.
fn of_brood(book: &Read<'_>, sheet: &Sheet, axis: &str, stock: &Stock) -> Result<Tally> {
    let Stock { brood, photos, .. } = stock;
    let mut tally = Tally::default();
    if stock.other_views > 0 {
        let said = {
            let photos = counted(stock.other_views, "photo", "photos");
            format!("brood {}: {photos} from another view not counted", brood.label)
        };
        tally.warnings.push(said);
    }
    let latest = photos.iter().map(|p| p.day).max();
    let mut replaced = Replaced::default();
    for photo in photos {
        for fish in of_photo(book, photo.photo, axis)? {
            let is_latest = Some(photo.day) == latest;
            let stands = is_latest && !fish.kind.set_aside;
            if let (true, Some(said), Some(proposed)) = (stands, &fish.kind.score, &fish.kind.proposed) {
                *tally.pairs.entry((said.class().to_owned(), proposed.clone())).or_default() += fish.regions;
            }
            let case = Case { sheet, axis, brood, day: photo.day, kind: &fish.kind };
            if is_latest || fish.kind.gone.is_some() {
                sort_in(&mut tally, &case, (fish.regions, fish.number));
            } else if fish.kind.score.is_some() {
                replaced.add(&case, (fish.regions, fish.number));
            }
        }
    }
    if photos.is_empty() || tally.scored.is_empty() {
        by_hand(axis, stock, &mut tally)?;
    } else if stock.by_hand.contains_key(axis) {
        tally.warnings.push(format!(
            "brood {} was counted by hand and from photos on {axis}: the photos count, the count by hand stays on record",
            brood.label
        ));
    }
    left(stock, latest, &mut tally);
    for photo in stock.aside.iter().filter(|p| latest.is_none_or(|latest| p.day >= latest)) {
        for fish in of_photo(book, photo.photo, axis)? {
            let kind = Kind { set_aside: true, ..fish.kind };
            let case = Case { sheet, axis, brood, day: photo.day, kind: &kind };
            sort_in(&mut tally, &case, (fish.regions, fish.number));
        }
    }
    replaced.say(&mut tally, latest, brood, axis);
    if unknown_age(sheet, axis, brood) && !tally.scored.is_empty() && latest.is_some() {
        let said =
            format!("brood {}: the day of the drop is not known, so its fish are taken as old enough", brood.label);
        tally.warnings.push(said);
    }
    Ok(tally)
}

/// Refuses an axis that is neither in the sheet nor in the book.
///
/// # Errors
/// Names the axes there are.
pub fn check_axis(book: &Read<'_>, sheet: &Sheet, axis: &str) -> Result<()> {
    let known = axes(book, sheet)?;
    if known.iter().any(|a| a == axis) {
        return Ok(());
    }
    Err(Error::usage(
        axis,
        "there is no axis of this name in the sheet or the book",
        format!("axes: {}", known.join(", ")),
    ))
}

/// Fish of one kind and all that decides where they are counted.
pub(super) struct Case<'a> {
    pub(super) sheet: &'a Sheet,
    pub(super) axis: &'a str,
    pub(super) brood: &'a Brood,
    pub(super) day: Date,
    pub(super) kind: &'a Kind,
}

impl Case<'_> {
    fn place(&self) -> Place {
        place(self.brood, Some(self.day), self.kind.sex)
    }

    /// Days since the last day on which it can have been dropped; 0 where the sitting was before that day.
    fn age_days(&self) -> Option<u32> {
        let dropped = self.brood.dropped_to.or(self.brood.dropped_from)?;
        Some(age_days(dropped, self.day).unwrap_or(0))
    }

    fn rule(&self) -> Option<&sheet::Axis> {
        self.sheet.axis(self.axis)
    }

    fn unsettled(&self) -> bool {
        let limit = self.rule().and_then(|a| a.settled_age_days);
        limit.zip(self.age_days()).is_some_and(|(limit, age)| age < limit)
    }

    /// Whether the axis does not show, or not yet, in this fish.
    fn hidden(&self) -> Option<Why> {
        let rule = self.rule()?;
        if rule.males_only && self.kind.sex == Some(Sex::Female) {
            return Some(Why::NotShown);
        }
        let young = rule.from_age_days.zip(self.age_days()).is_some_and(|(from, age)| age < from);
        (young || (rule.males_only && self.kind.sex.is_none())).then_some(Why::NotShownYet)
    }
}

/// Puts fish of one kind, so many outlines and so many fish, where they belong; the first reason that holds decides.
pub(super) fn sort_in(tally: &mut Tally, case: &Case<'_>, (regions, number): (u32, u32)) {
    let Kind { gone, score, proposed, .. } = case.kind;
    let class = score.as_ref().map(Confirmed::class).or(proposed.as_deref());
    let why = if case.kind.set_aside {
        Why::SetAside
    } else if let Some(hidden) = case.hidden() {
        hidden
    } else if class == Some(NOT_SHOWN) {
        Why::NotShownYet
    } else if case.unsettled() {
        gone.unwrap_or(Why::Unsettled)
    } else if let Some(score) = score.as_ref().filter(|s| s.counts()) {
        tally.scored.push(Scored { place: case.place(), score: score.clone(), number });
        return;
    } else if let Some(gone) = gone {
        *gone
    } else if case.kind.not_asked {
        Why::NotAsked
    } else if score.is_some() || class.is_none_or(|c| c == UNDECIDED) {
        Why::Undecided
    } else {
        Why::Unconfirmed
    };
    if why == Why::Unconfirmed
        && let Some(class) = proposed
    {
        tally.suggested.push(Suggested { place: case.place(), class: class.clone(), number: regions });
    }
    tally.open.push(Open { place: case.place(), why, number });
}

fn place(brood: &Brood, sitting: Option<Date>, sex: Option<Sex>) -> Place {
    Place { cross: brood.cross.clone(), brood: brood.name.clone(), sitting, sex }
}

/// Counts by hand take the place of photos that say nothing on this axis; what the photos left open is the same fish.
fn by_hand(axis: &str, Stock { brood, by_hand, .. }: &Stock, tally: &mut Tally) -> Result<()> {
    let Some(counted) = by_hand.get(axis) else { return Ok(()) };
    if !tally.open.is_empty() {
        tally.warnings.push(format!(
            "brood {}: the count by hand on {axis} is used until a fish of its photos is confirmed on this axis",
            brood.label
        ));
    }
    let (warnings, pairs) = (std::mem::take(&mut tally.warnings), std::mem::take(&mut tally.pairs));
    *tally = Tally { warnings, pairs, ..Tally::default() };
    for ((class, sex), &number) in counted {
        let place = place(brood, None, *sex);
        if class == UNDECIDED || class == NOT_SHOWN {
            let why = if class == UNDECIDED { Why::Undecided } else { Why::NotShownYet };
            tally.open.push(Open { place, why, number });
        } else {
            let score = Confirmed::said_by("count by hand", axis, class)?;
            tally.scored.push(Scored { place, score, number });
        }
    }
    Ok(())
}

/// Young that left unscored on or before the latest sitting, and young that were dropped but not seen there: those that left unscored
/// since are of these, as far as there are any.
fn left(Stock { brood, left, .. }: &Stock, latest: Option<Date>, tally: &mut Tally) {
    let is_before = |d: &&Departure| latest.is_none_or(|latest| d.day <= latest);
    for ((why, sex), number) in added(left.iter().filter(is_before)) {
        tally.open.push(Open { place: place(brood, latest, sex), why, number });
    }
    let set_aside = |o: &&Open| o.why != Why::SetAside;
    let seen = tally.scored.iter().map(|s| s.number).sum::<u32>()
        + tally.open.iter().filter(set_aside).map(|o| o.number).sum::<u32>();
    if let Some(young) = brood.young.filter(|young| *young < seen) {
        tally.warnings.push(format!(
            "brood {}: {seen} fish were seen or left, but {young} young were written down; check whose fish they are, or \
             mend the number with `broodhue brood set {} --young N`",
            brood.label,
            to_type(&brood.label)
        ));
    }
    let mut missing = if seen > 0 { brood.young.unwrap_or(0).saturating_sub(seen) } else { 0 };
    for ((why, sex), number) in added(left.iter().filter(|d| !is_before(d))) {
        let number = number.min(missing);
        missing -= number;
        if number > 0 {
            tally.open.push(Open { place: place(brood, latest, sex), why, number });
        }
    }
    if missing > 0 {
        tally.open.push(Open { place: place(brood, latest, None), why: Why::NotSeen, number: missing });
    }
}

/// Entries of the ledger added up; what comes to nothing is left out.
fn added<'a>(entries: impl Iterator<Item = &'a Departure>) -> Vec<((Why, Option<Sex>), u32)> {
    let mut sums: BTreeMap<(Why, Option<Sex>), i64> = BTreeMap::new();
    for entry in entries {
        *sums.entry((entry.why, entry.sex)).or_default() += entry.number;
    }
    sums.into_iter().filter_map(|(of, n)| Some((of, u32::try_from(n).ok().filter(|n| *n > 0)?))).collect()
}

/// Fish whose parents are in doubt say nothing about a cross, whether a person scored them or the sheet alone did.
fn set_in_doubt(tally: &mut Tally, doubt: &str, brood: &Brood) {
    let doubtful = |place, number| Open { place, why: Why::DoubtfulPaternity, number };
    let (proposed, open): (Vec<Open>, Vec<Open>) =
        std::mem::take(&mut tally.open).into_iter().partition(|o| o.why == Why::Unconfirmed);
    let scored = std::mem::take(&mut tally.scored).into_iter().map(|s| doubtful(s.place, s.number));
    let left_out: Vec<Open> = scored.chain(proposed.into_iter().map(|o| doubtful(o.place, o.number))).collect();
    if !left_out.is_empty() {
        tally.warnings.push(format!("brood {} is left out: {doubt}", brood.label));
    }
    tally.open = open.into_iter().chain(left_out).collect();
    tally.suggested.clear();
}

fn unknown_age(sheet: &Sheet, axis: &str, brood: &Brood) -> bool {
    brood.dropped_from.is_none() && sheet.axis(axis).is_some_and(|a| a.settled_age_days.is_some())
}
