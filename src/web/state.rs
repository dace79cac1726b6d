//! What every request works on: the book behind a lock, the clock, and the last photos that were decoded and measured.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use jiff::civil::Date;

use super::fault::Fault;
use super::patience::Patience;
use super::upload::Uploads;
use crate::book::photos::{self, Photo as Kept};
use crate::book::{Book, By, empties};
use crate::error::{Error, Result};
use crate::photo::{self, Limits, Photo};
use crate::pipeline::{self, Given, MeasureOptions, Uncorrected};
use crate::sheet::Sheet;

/// Photos kept at hand, so that mending one is quick: one is being worked on, one may stand beside it.
const AT_HAND: usize = 2;

/// The page's state, shared by all requests.
#[derive(Debug)]
pub(super) struct App {
    book: Mutex<Book>,
    /// The moment, as an argument of everything that writes.
    now: fn() -> jiff::Timestamp,
    today: fn() -> Date,
    patience: Patience,
    /// The last decoded photos, the latest first.
    decoded: Mutex<Vec<Arc<Photo>>>,
    /// What the last photos come to before anything is mended in them, the latest first.
    uncorrected: Mutex<Vec<Arc<Uncorrected>>>,
    /// Held while a photo is mended: each correction builds on the one before, also when it comes from another tab.
    mending: Mutex<()>,
    /// How many photos may come in at a time.
    pub(super) uploads: Uploads,
}

impl App {
    pub(super) fn new(book: Book, now: fn() -> jiff::Timestamp, today: fn() -> Date, patience: Patience) -> Self {
        Self {
            book: Mutex::new(book),
            now,
            today,
            patience,
            decoded: Mutex::default(),
            uncorrected: Mutex::default(),
            mending: Mutex::default(),
            uploads: Uploads::default(),
        }
    }

    /// A photo of the book.
    ///
    /// # Errors
    /// No such photo.
    pub(super) fn photo(&self, hash: &str) -> Result<Kept> {
        photos::find(&self.book().read(), hash)?
            .ok_or_else(|| Error::failed(hash, "no such photo is in the book", "reload the page"))
    }

    /// The decoded original of a photo.
    ///
    /// # Errors
    /// It cannot be read.
    pub(super) fn decoded(&self, kept: &Kept) -> Result<Arc<Photo>> {
        let mut at_hand = self.decoded.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(photo) = at_hand.iter().find(|p| p.hash == kept.hash) {
            return Ok(Arc::clone(photo));
        }
        let bytes = pipeline::original(kept)?;
        let photo = Arc::new(photo::read(&kept.name, &bytes, Limits::default())?);
        at_hand.insert(0, Arc::clone(&photo));
        at_hand.truncate(AT_HAND);
        Ok(photo)
    }

    /// A photo measured without its corrections; the first request for one waits for it, the next ones do not. It goes by `name`.
    ///
    /// # Errors
    /// The options do not fit the photo; the photo of its empty tray cannot be read.
    pub(super) fn uncorrected(
        &self,
        (name, photo): (&str, &Photo),
        sheet: &Sheet,
        options: &MeasureOptions,
    ) -> Result<Arc<Uncorrected>> {
        let mut at_hand = self.uncorrected.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = at_hand.iter().find(|u| u.is_of(photo, sheet, options)) {
            return Ok(Arc::clone(known));
        }
        let kept = options.empty.as_deref().map(|hash| empties::kept(&self.book().read(), hash));
        let empty = kept.map(|kept| pipeline::kept_empty(name, &kept)).transpose()?;
        let new = Arc::new(Uncorrected::measure(photo, Given { sheet, empty: empty.as_ref() }, options)?);
        at_hand.insert(0, Arc::clone(&new));
        at_hand.truncate(AT_HAND);
        Ok(new)
    }

    /// The turn to mend; one at a time.
    pub(super) fn turn_to_mend(&self) -> MutexGuard<'_, ()> {
        self.mending.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The book; requests take turns.
    pub(super) fn book(&self) -> MutexGuard<'_, Book> {
        // A request that panicked left no transaction behind: an unfinished one is rolled back when it is dropped.
        self.book.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// How long others are waited for.
    pub(super) fn patience(&self) -> Patience {
        self.patience
    }

    pub(super) fn now(&self) -> jiff::Timestamp {
        (self.now)()
    }

    /// The breeder's own day: only where neither person nor camera said one.
    pub(super) fn today(&self) -> Date {
        (self.today)()
    }

    /// Who decides now.
    ///
    /// # Errors
    /// No name.
    pub(super) fn by(&self, name: &str) -> Result<By> {
        let name = name.trim();
        if name.is_empty() {
            return Err(Error::usage("scorer", "a decision needs a name", "write yours at the top of the page"));
        }
        Ok(By { name: name.to_owned(), at: self.now() })
    }
}

/// Runs `work` off the threads that answer requests, so that a slow disk or a large photo holds up nobody else.
pub(super) async fn work<T: Send + 'static>(
    app: &Arc<App>,
    work: impl FnOnce(&App) -> Result<T> + Send + 'static,
) -> std::result::Result<T, Fault> {
    let app = Arc::clone(app);
    match tokio::task::spawn_blocking(move || work(&app)).await {
        Ok(done) => done.map_err(Fault),
        Err(_) => Err(Fault(Error::failed("", "this step broke off and changed nothing", "try again"))),
    }
}
