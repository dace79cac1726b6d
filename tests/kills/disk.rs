//! A full disk, a folder that takes no writing, two programs on one book.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use broodhue::book::{Book, check};

use crate::records::{by, first_layout};
use crate::world::{program, sound};

/// A file system of a few megabytes in memory; gone when this is dropped.
struct Small(PathBuf);

impl Small {
    /// `None` where this user may not mount one, which is said.
    fn mount(at: &Path) -> Option<Self> {
        fs::create_dir(at).unwrap();
        if mount(&["-t", "tmpfs", "-o", "size=3m", "tmpfs"], at) {
            return Some(Self(at.to_owned()));
        }
        println!("skipped: a small file system cannot be mounted here");
        None
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        let _left = Command::new("umount").arg(&self.0).output();
    }
}

fn mount(args: &[&str], at: &Path) -> bool {
    Command::new("mount").args(args).arg(at).output().is_ok_and(|o| o.status.success())
}

fn run(folder: &Path, args: &[&str]) -> Output {
    program(folder, args).stderr(std::process::Stdio::piped()).output().unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn fish_in(dir: &Path) -> u32 {
    check::info(&Book::open(dir).unwrap().read()).unwrap().fish
}

/// A file of so many fish, whose names begin with a word.
fn table(path: &Path, word: &str, rows: usize) {
    let mut text = "fish,sex,line,cross,born\n".to_owned();
    (0..rows).for_each(|i| writeln!(text, "{word}-{i},m,Lowmere,,").unwrap());
    fs::write(path, text).unwrap();
}

#[test]
fn a_full_disk_is_said_and_leaves_the_book_as_it_was() {
    let outside = tempfile::tempdir().unwrap();
    let disk = outside.path().join("disk");
    let Some(small) = Small::mount(&disk) else { return };
    let folder = outside.path();
    assert!(run(folder, &["book", "new", "--book", "disk/b", "--by", "Ann"]).status.success());
    table(&folder.join("few.csv"), "few", 20);
    table(&folder.join("many.csv"), "many", 60_000);
    assert!(run(folder, &["import", "fish", "few.csv", "--book", "disk/b"]).status.success());
    let full = run(folder, &["import", "fish", "many.csv", "--book", "disk/b"]);
    assert_eq!(full.status.code(), Some(1));
    assert!(said(&full).contains("room") && said(&full).lines().count() == 1, "{}", said(&full));
    let book = disk.join("b");
    sound(&book, "after a full disk");
    assert_eq!(fish_in(&book), 20);

    // Filled to the last byte: nothing can be written, everything can be read.
    let rest = fs::File::create(disk.join("rest")).unwrap();
    let filled = std::io::copy(&mut std::io::repeat(0), &mut &rest);
    assert!(filled.is_err(), "the disk is full");
    let photo = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/grey.jpg");
    let refused = run(folder, &["score", photo.to_str().unwrap(), "--fish", "few-1", "--book", "disk/b"]);
    assert!(refused.status.code() == Some(1) && said(&refused).contains("room"), "{}", said(&refused));
    assert!(!run(folder, &["book", "backup", "disk/copy", "--book", "disk/b"]).status.success());
    assert!(!disk.join("copy").exists(), "no half of a backup");
    assert!(run(folder, &["fish", "list", "--book", "disk/b"]).status.success());
    drop(rest);
    fs::remove_file(disk.join("rest")).unwrap();
    assert!(run(folder, &["score", photo.to_str().unwrap(), "--fish", "few-1", "--book", "disk/b"]).status.success());
    sound(&book, "after room was made");
    drop(small);
}

#[test]
fn a_folder_that_takes_no_writing_can_be_read() {
    let outside = tempfile::tempdir().unwrap();
    let disk = outside.path().join("disk");
    let Some(small) = Small::mount(&disk) else { return };
    let folder = outside.path();
    assert!(run(folder, &["book", "new", "--book", "disk/b", "--by", "Ann"]).status.success());
    assert!(run(folder, &["fish", "add", "Lowmere-1", "--sex", "m", "--book", "disk/b"]).status.success());
    // Of the first layout, which cannot be brought up here: its log is counted instead.
    first_layout(&disk.join("b"));
    assert!(mount(&["-o", "remount,ro"], &disk));
    assert!(run(folder, &["counts", "--axis", "red-body", "--book", "disk/b"]).status.success());
    let listed = run(folder, &["fish", "list", "--book", "disk/b"]);
    assert!(listed.status.success() && String::from_utf8_lossy(&listed.stdout).contains("Lowmere-1"));
    let refused = run(folder, &["fish", "add", "Lowmere-2", "--sex", "m", "--book", "disk/b"]);
    assert!(refused.status.code() == Some(1) && said(&refused).contains("hint: "), "{}", said(&refused));
    assert!(mount(&["-o", "remount,rw"], &disk));
    assert_eq!(fish_in(&disk.join("b")), 1);
    drop(small);
}

#[test]
fn two_programs_on_one_book_take_turns() {
    let (folder, mut book) = crate::records::book();
    table(&folder.path().join("one.csv"), "one", 3000);
    table(&folder.path().join("two.csv"), "two", 3000);
    let start = |file: &str| program(folder.path(), &["import", "fish", file, "--book", "b"]).spawn().unwrap();
    let mut both = [start("one.csv"), start("two.csv")];
    // Meanwhile a third one, here in the test, says something too.
    let lost = broodhue::book::fish::Gone::Died;
    let day = crate::records::day();
    book.write(|w| broodhue::book::departures::record(w, "K1-1", lost, None, 1, day, &by("Ann"))).unwrap();
    let ended: Vec<bool> = both.iter_mut().map(|c| c.wait().unwrap().success()).collect();
    assert_eq!(fish_in(book.dir()), 2 + 3000 * u32::try_from(ended.iter().filter(|e| **e).count()).unwrap());
    assert!(ended.contains(&true));
    sound(book.dir(), "after three at once");
}
