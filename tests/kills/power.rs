//! The power fails: the files as they were at some moment while the program wrote, copied, make a sound book.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::{Child, Command};
use std::time::Duration;

use rand::{Rng, SeedableRng};

use crate::world::{program, sound};

/// Copies that are taken.
const CUTS: usize = 10;

/// Stops and continues a program, so that its files can be copied as of one moment.
fn signal(child: &Child, name: &str) -> bool {
    Command::new("kill").args([name, &child.id().to_string()]).status().is_ok_and(|s| s.success())
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir(to).unwrap();
    for name in ["book.sqlite", "book.sqlite-wal"] {
        if from.join(name).exists() {
            fs::copy(from.join(name), to.join(name)).unwrap();
        }
    }
}

#[test]
fn files_copied_while_it_writes_make_a_sound_book() {
    let (folder, book) = crate::records::book();
    let dir = book.dir().to_owned();
    drop(book);
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(9);
    let mut stopped = 0;
    for cut in 0..CUTS {
        let mut text = "fish,sex,line,cross,born\n".to_owned();
        (0..3000).for_each(|i| writeln!(text, "cut{cut}-{i},m,Lowmere,,").unwrap());
        fs::write(folder.path().join("fish.csv"), text).unwrap();
        let mut child = program(folder.path(), &["import", "fish", "fish.csv", "--book", "b"]).spawn().unwrap();
        std::thread::sleep(Duration::from_millis(rng.random_range(5..150)));
        stopped += usize::from(signal(&child, "-STOP"));
        let copied = folder.path().join("copy");
        copy(&dir, &copied);
        signal(&child, "-CONT");
        // The last writes of all may have reached the disk in part only: any beginning of the log will do.
        let log = copied.join("book.sqlite-wal");
        if cut % 2 == 1 && log.exists() {
            let length = fs::metadata(&log).unwrap().len();
            let file = fs::File::options().write(true).open(&log).unwrap();
            file.set_len(rng.random_range(0..=length)).unwrap();
        }
        sound(&copied, "a copy taken in the middle");
        fs::remove_dir_all(copied).unwrap();
        assert!(child.wait().unwrap().success());
    }
    sound(&dir, "the book itself");
    println!("{stopped} of {CUTS} copies taken from a stopped program");
}
