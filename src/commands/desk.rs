//! What the commands on a book share: which book, who speaks, today's date, printing.

use std::collections::BTreeMap;
use std::fmt::Display;
use std::io::Write as _;
use std::path::PathBuf;

use clap::ValueEnum;
use jiff::civil::Date;
use serde::Serialize;

use crate::book::photos::Photo;
pub(super) use crate::book::revise::NONE;
use crate::book::revise::To;
use crate::book::{Book, By, DEFAULT_DIR, Read, Write, regions, settings};
use crate::cautions;
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::units::View;

/// Which book.
#[derive(Debug, clap::Args)]
pub(super) struct BookArg {
    /// The book's folder; without it $BROODHUE_BOOK, else ./broodhue-book.
    #[arg(long, value_name = "DIR")]
    book: Option<PathBuf>,
}

/// A book that is only read, and how what is read is printed.
#[derive(Debug, clap::Args)]
pub(super) struct ReadArgs {
    #[command(flatten)]
    book: BookArg,
    /// As one JSON line.
    #[arg(long)]
    pub(super) json: bool,
}

impl ReadArgs {
    /// The book, opened.
    pub(super) fn open(&self) -> Result<Book> {
        self.book.open()
    }
}

/// Something set aside with a reason, or brought back.
#[derive(Debug, clap::Args)]
pub(super) struct AsideArgs {
    /// Its name.
    pub(super) name: String,
    /// The reason.
    #[arg(long, required_unless_present = "bring_back")]
    pub(super) why: Option<String>,
    /// Bring it back.
    #[arg(long, conflicts_with = "why")]
    bring_back: bool,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

impl AsideArgs {
    /// Sets it aside, or brings it back, as `set` does; says what came of it.
    ///
    /// # Errors
    /// Those of `set`; the book cannot be opened.
    pub(super) fn run(&self, set: impl FnOnce(&Write<'_>, &str, Option<&str>, &By) -> Result<bool>) -> Result<()> {
        let mut book = self.book.open()?;
        let by = self.by.decide(&book)?;
        let changed = book.write(|w| set(w, &self.name, self.why.as_deref(), &by))?;
        note_aside(&self.name, self.bring_back, changed);
        Ok(())
    }
}

/// Who speaks.
#[derive(Debug, clap::Args)]
pub(super) struct ByArg {
    /// Your name, kept with what you decide; without it the one of `book new --by`, else your login name.
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
}

/// From where the camera saw the fish.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum ViewArg {
    /// As in a tray.
    Above,
    /// As in a photo tank.
    Side,
}

impl From<ViewArg> for View {
    fn from(view: ViewArg) -> Self {
        match view {
            ViewArg::Above => Self::Above,
            ViewArg::Side => Self::Side,
        }
    }
}

impl BookArg {
    /// The book's folder.
    pub(super) fn dir(&self) -> PathBuf {
        // A variable that is set to nothing names no folder.
        let of_variable = || std::env::var_os("BROODHUE_BOOK").filter(|dir| !dir.is_empty()).map(PathBuf::from);
        self.book.clone().or_else(of_variable).unwrap_or_else(|| PathBuf::from(DEFAULT_DIR))
    }

    /// The book, opened.
    pub(super) fn open(&self) -> Result<Book> {
        Book::open(&self.dir())
    }
}

impl ByArg {
    /// The person and the moment.
    pub(super) fn decide(&self, book: &Book) -> Result<By> {
        let known = settings::get(&book.read(), settings::SCORER)?;
        let login = || std::env::var("USER").or_else(|_| std::env::var("USERNAME")).ok();
        let name = self.by.clone().or(known).or_else(login).unwrap_or_else(|| "breeder".to_owned());
        Ok(By { name, at: jiff::Timestamp::now() })
    }
}

/// Today by this machine's clock and zone.
pub(super) fn today() -> Date {
    jiff::ZonedDateTime::now().date()
}

/// `NAME=VALUE` as two words.
pub(super) fn pair(text: &str) -> std::result::Result<(String, String), String> {
    match text.split_once('=') {
        Some((name, value)) if !name.is_empty() && !value.is_empty() => Ok((name.to_owned(), value.to_owned())),
        _ => Err(format!("'{text}' is not AXIS=CLASS")),
    }
}

/// Classes by axis.
///
/// # Errors
/// Two classes on one axis; several axes in one class.
pub(super) fn classes(typed: &[(String, String)]) -> Result<BTreeMap<String, String>> {
    let mut all = BTreeMap::new();
    for (axis, class) in typed {
        if let Some((first, others)) = class.split_once(',').filter(|(_, others)| others.contains('=')) {
            let said = format!("'{class}' would be one class of {axis}");
            return Err(Error::usage(
                "--class",
                said,
                format!("--class {} --class {}", to_type(format!("{axis}={first}")), to_type(others.trim())),
            ));
        }
        if let Some(other) = all.insert(axis.clone(), class.clone()).filter(|other| other != class) {
            return Err(Error::usage(
                "--class",
                format!("{axis} is both {other} and {class}"),
                "name one class an axis",
            ));
        }
    }
    Ok(all)
}

/// A text as typed.
pub(super) fn text(text: &str) -> std::result::Result<String, String> {
    Ok(text.to_owned())
}

/// A note as typed, without blanks at its ends, which no table would keep.
pub(super) fn remark(text: &str) -> std::result::Result<String, String> {
    Ok(text.trim().to_owned())
}

/// What is read by `read`, or `none` for nothing.
pub(super) fn or_none<T>(
    read: impl Fn(&str) -> std::result::Result<T, String> + Clone + Send + Sync + 'static,
) -> impl Fn(&str) -> std::result::Result<To<T>, String> + Clone + Send + Sync + 'static {
    move |text| if text == NONE { Ok(To::Nothing) } else { read(text).map(To::Is) }
}

/// No millimetre, share or confidence that can be meant is larger, nor any but zero smaller than one of so many.
const SENSIBLE: f64 = 1e9;

/// A number with a point: `12.4`.
pub(super) fn number(text: &str) -> std::result::Result<f64, String> {
    let read = |text: &str| text.parse::<f64>().ok().filter(|v| v.is_finite());
    if read(text).is_some_and(|v| v.abs() > SENSIBLE || (v != 0.0 && v.abs() < 1.0 / SENSIBLE)) {
        return Err("it is too large or too small to mean anything here".to_owned());
    }
    read(text).ok_or_else(|| match read(&text.replace(',', ".")) {
        Some(meant) => format!("write it with a point: {meant}"),
        None => "it is no number".to_owned(),
    })
}

/// A whole number from `least` to `most`, or without end. A negative one comes here too where the option lets it.
pub(super) fn whole<N: TryFrom<u64> + 'static>(
    least: u64,
    most: Option<u64>,
) -> impl Fn(&str) -> std::result::Result<N, String> + Clone + Send + Sync + 'static {
    move |text| {
        let read = text.parse().ok().filter(|n| *n >= least && most.is_none_or(|most| *n <= most));
        read.and_then(|n| N::try_from(n).ok()).ok_or_else(|| match most {
            Some(most) => format!("write a whole number from {least} to {most}"),
            None => format!("write a whole number, {least} or more"),
        })
    }
}

/// One day: `2026-01-10`.
pub(super) fn day(text: &str) -> std::result::Result<Date, String> {
    text.parse().map_err(|_| format!("'{text}' is no day, write it as 2026-05-31"))
}

/// One day, or the first and the last of several: `2026-01-10` or `2026-01-10..2026-01-12`.
pub(super) fn days(text: &str) -> std::result::Result<(Date, Date), String> {
    let (from, to) = text.split_once("..").unwrap_or((text, text));
    Ok((day(from)?, day(to)?))
}

/// Data for stdout. A reader that has seen enough (`| head`) is no failure.
pub(super) fn print(text: impl Display) -> Result<()> {
    let mut out = std::io::stdout().lock();
    match write!(out, "{text}").and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(Error::failed("stdout", e, "is the disk full?")),
        _ => Ok(()),
    }
}

/// One JSON line for stdout.
pub(super) fn print_json(value: &impl Serialize) -> Result<()> {
    let line = serde_json::to_string(value).map_err(|e| Error::failed("stdout", e, "please report this"))?;
    print(format_args!("{line}\n"))
}

/// A remark for stderr.
pub(super) fn note(text: impl Display) {
    // Nothing is left to tell anyone when stderr itself is gone.
    let _closed = writeln!(std::io::stderr(), "{text}");
}

/// Says what may be a slip of the pen, one a line.
pub(super) fn note_each(what: &[String]) {
    what.iter().for_each(|one| note(format_args!("note: {one}")));
}

/// Reminds who stands at the tray of the fish and of the lamps.
pub(super) fn note_cautions() {
    note(format_args!("{} {}", cautions::TRAY, cautions::ELECTRICITY));
}

/// Says that a day is still to come, which may be a slip of the pen.
pub(super) fn note_future(what: &str, day: Option<Date>) {
    if let Some(day) = day.filter(|day| *day > today()) {
        note(format_args!("note: {what} {day} is still to come; kept as typed"));
    }
}

/// Says that a portrait shows several fish, which it does not tell apart.
pub(super) fn note_crowded(book: &Read<'_>, photo: &Photo) -> Result<()> {
    if let Some(Error { place, message, hint, .. }) = regions::crowded(book, photo)? {
        note(format_args!("note: {place}: {message}; {hint}"));
    }
    Ok(())
}

/// Says what was changed of something.
pub(super) fn note_changes(what: &str, said: &[String]) {
    let said = if said.is_empty() { "nothing to change".to_owned() } else { said.join("; ") };
    note(format_args!("{what}: {said}"));
}

/// Says that something was set aside or brought back, or was so already.
pub(super) fn note_aside(name: &str, back: bool, changed: bool) {
    let said = match (back, changed) {
        (true, true) => "back again",
        (true, false) => "was not set aside",
        (false, true) => "set aside",
        (false, false) => "was set aside already, for the same reason",
    };
    note(format_args!("{name}: {said}"));
}

/// Whether something is set aside, for a table.
pub(super) fn state_aside(why: Option<&str>) -> String {
    why.map(|why| format!("set aside: {why}")).unwrap_or_default()
}

/// A value for a table; `–` where there is none.
pub(super) fn or_dash(value: Option<impl Display>) -> String {
    value.map_or_else(|| "–".to_owned(), |v| v.to_string())
}

/// The word a value goes by in JSON, for a table: `ruled-out`, `good`.
pub(super) fn word(value: impl Serialize) -> String {
    or_dash(serde_json::to_value(value).ok().as_ref().and_then(|v| v.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_mean_nothing_are_refused_in_a_few_words() {
        for wrong in ["1e300", "-1e300", "1e-300", "12,4", "x", "inf"] {
            assert!(number(wrong).is_err_and(|said| said.len() < 60), "{wrong}");
        }
        assert_eq!(["0", "-2", "12.4"].map(number), [Ok(0.0), Ok(-2.0), Ok(12.4)]);
    }

    #[test]
    fn whole_numbers_keep_to_their_range() {
        let least = whole::<u32>(1, None);
        assert_eq!((least("1"), least("4294967295")), (Ok(1), Ok(u32::MAX)));
        for wrong in ["-1", "0", "1.5", "4294967296", ""] {
            assert_eq!(least(wrong), Err("write a whole number, 1 or more".to_owned()), "{wrong}");
        }
        assert_eq!(whole::<u32>(0, Some(9))("10"), Err("write a whole number from 0 to 9".to_owned()));
    }
}
