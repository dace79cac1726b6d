//! A book under fire, and what it owes: everything that was acknowledged.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use broodhue::book::{Book, backup, check, photos, regions};
use broodhue::photo::identity;
use rand_chacha::ChaCha8Rng;
use rusqlite::Connection;
use tempfile::TempDir;

use crate::deeds::{self, Deed};
use crate::records::{keep_photo, seen, sitting};

/// Fish in the photo whose classes are confirmed over and over.
pub(crate) const FISH: u32 = 12;

/// The bytes that stand for that photo; `records::keep_photo` keeps just these.
const PHOTO: &[u8] = b"not a real photo";

/// What one fish's class may be: what was acknowledged last, or what was asked for since without an answer.
#[derive(Debug, Default)]
pub(crate) struct Owed {
    pub(crate) sure: Option<String>,
    pub(crate) maybe: BTreeSet<String>,
}

pub(crate) struct World {
    folder: TempDir,
    /// By the fish's number.
    pub(crate) classes: BTreeMap<u32, Owed>,
    /// Hashes of photos whose scoring was acknowledged.
    pub(crate) photos: BTreeSet<String>,
    /// Files of fish that were acknowledged, by the word their names begin with.
    pub(crate) imports: BTreeMap<String, bool>,
    pub(crate) acknowledged: usize,
    pub(crate) was_killed: bool,
    /// How long the program ran the last time.
    pub(crate) ran: Duration,
    rounds: usize,
}

impl World {
    pub(crate) fn new() -> Self {
        let (folder, mut book) = crate::records::book();
        let fish: Vec<_> = (1..=FISH).map(|n| seen(n, f64::from(n) * 40.0, 10.0, "full")).collect();
        keep_photo(&mut book, &identity(PHOTO), &sitting(), &fish);
        let classes = (1..=FISH).map(|n| (n, Owed::default())).collect();
        Self {
            folder,
            classes,
            photos: BTreeSet::new(),
            imports: BTreeMap::new(),
            acknowledged: 0,
            was_killed: false,
            ran: Duration::ZERO,
            rounds: 0,
        }
    }

    pub(crate) fn dir(&self) -> PathBuf {
        self.folder.path().join("b")
    }

    pub(crate) fn photo(&self) -> String {
        identity(PHOTO)
    }

    /// A path beside the book.
    pub(crate) fn beside(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn book(&self) -> Book {
        Book::open(&self.dir()).unwrap()
    }

    /// Begins a deed, kills it after a while if one is given, and looks whether all is there.
    pub(crate) fn strike(&mut self, deed: Deed, after: Option<Duration>, rng: &mut ChaCha8Rng) {
        self.rounds += 1;
        self.was_killed = false;
        deeds::run(self, deed, self.rounds, after, rng);
        self.holds_classes();
        sound(&self.dir(), &format!("round {} ({deed:?})", self.rounds));
    }

    /// Starts the program on the book with stdout into a file.
    pub(crate) fn start(&self, args: &[&str]) -> Child {
        let out = File::create(self.beside("stdout")).unwrap();
        program(self.folder.path(), args).args(["--book", "b"]).stdout(out).spawn().unwrap()
    }

    /// Lets it run for a while, or to its end; hands back what it printed and whether it ended well.
    pub(crate) fn end(&mut self, mut child: Child, after: Option<Duration>) -> (String, bool) {
        let start = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait().unwrap() {
                break status;
            }
            if after.is_some_and(|d| start.elapsed() >= d) {
                child.kill().unwrap();
                self.was_killed = true;
                break child.wait().unwrap();
            }
            std::thread::sleep(Duration::from_micros(200));
        };
        self.ran = start.elapsed();
        (fs::read_to_string(self.beside("stdout")).unwrap(), status.success())
    }

    /// Each fish has the class that was acknowledged last, or one that was asked for since.
    fn holds_classes(&mut self) {
        let book = self.book();
        let photo = photos::find(&book.read(), &self.photo()).unwrap().unwrap();
        for region in regions::of_photo(&book.read(), &photo).unwrap() {
            let owed = self.classes.get_mut(&region.n).unwrap();
            let found = region.classes.get("red-body").map(|c| c.class().to_owned());
            let asked = found.as_ref().is_some_and(|f| owed.maybe.contains(f));
            assert!(found == owed.sure || asked, "fish {}: {found:?}, owed {owed:?}", region.n);
            *owed = Owed { sure: found, maybe: BTreeSet::new() };
        }
    }

    /// Photos and imports that were acknowledged, whole.
    pub(crate) fn holds_everything(&self) {
        let book = self.book();
        let read = book.read();
        for hash in &self.photos {
            let photo = photos::find(&read, hash).unwrap().unwrap();
            assert_eq!(identity(&fs::read(photo.original).unwrap()), *hash);
        }
        self.imports.iter().for_each(|(word, acknowledged)| self.holds_import(word, *acknowledged));
    }

    /// All rows of a file or none; all of one that was acknowledged.
    pub(crate) fn holds_import(&self, word: &str, acknowledged: bool) {
        let conn = Connection::open(self.dir().join("book.sqlite")).unwrap();
        let count = "SELECT count(*) FROM fish WHERE name LIKE ?1 || '%'";
        let there: u32 = conn.query_row(count, [word], |row| row.get(0)).unwrap();
        assert!(there == deeds::ROWS || (there == 0 && !acknowledged), "{word}: {there}, said {acknowledged}");
    }
}

/// The program in a folder, quiet.
pub(crate) fn program(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin("broodhue"));
    command.args(args).current_dir(folder).env_remove("BROODHUE_BOOK").stderr(Stdio::null());
    command
}

/// `book check` is clean.
pub(crate) fn sound(dir: &Path, when: &str) {
    let book = Book::open(dir).unwrap();
    let found = check::run(&book.read()).unwrap();
    assert!(found.faults.is_empty(), "{when}: {found:?}");
}

/// A backup makes a sound book again.
pub(crate) fn restores(file: &Path, dir: &Path) {
    backup::restore(file, dir).unwrap();
    sound(dir, "a restored backup");
    fs::remove_dir_all(dir).unwrap();
}
