//! `report`: the page, its plots and the numbers behind them, and what a real browser prints of it.

use std::fs;
use std::path::Path;
use std::process::Command;

use super::{broodhue, outcome};

const FISH: &str = "fish,sex,line,cross,born,red-body
Lowmere-1,m,Lowmere,,,full
Tarnwick-1,f,Tarnwick,,,full
K1-s,m,,K1,,full
K1-d,f,,K1,,full
K2-q,f,Lowmere Pale,K2,,absent
K2-r,m,Lowmere Pale,K2,,absent
";

const COUNTS: &str = "cross,sire,dam,brood,dropped,axis,class,sex,count
K1,Lowmere-1,Tarnwick-1,K1-1,2026-01-10,red-body,full,,30
K2,K1-s,K1-d,K2-1,2026-05-02,red-body,full,,18
K2,K1-s,K1-d,K2-1,2026-05-02,red-body,absent,,7
K4,K2-r,K2-q,K4-1,2026-10-25,red-body,absent,,19
";

fn run(folder: &Path, args: &[&str]) -> String {
    let (out, message, code) = outcome(broodhue(folder).args(args));
    assert_eq!(code, 0, "{args:?}: {message}");
    out
}

fn book() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("fish.csv"), FISH).unwrap();
    fs::write(folder.path().join("counts.csv"), COUNTS).unwrap();
    for args in [&["book", "new"][..], &["import", "fish", "fish.csv"], &["import", "counts", "counts.csv"]] {
        run(folder.path(), args);
    }
    folder
}

/// The page printed by a real browser: the text of each sheet of paper. `None`, and a word, where browser or reader of
/// the print are not installed.
pub(super) fn printed(page: &Path) -> Option<Vec<String>> {
    let pdf = page.with_extension("pdf");
    let profile = tempfile::tempdir().unwrap();
    let browser = Command::new("chromium")
        .args(["--headless=new", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", page.display()))
        .output();
    let text = browser.and_then(|_| Command::new("pdftotext").args(["-layout"]).arg(&pdf).arg("-").output());
    let Ok(text) = text else {
        println!("skipped: chromium or pdftotext (poppler-utils) is not on PATH");
        return None;
    };
    assert!(text.status.success(), "chromium printed nothing that can be read");
    let text = String::from_utf8(text.stdout).unwrap();
    Some(text.split_terminator('\u{c}').map(str::to_owned).collect())
}

#[test]
fn a_book_of_counts_by_hand_makes_a_page_plots_and_numbers() {
    let folder = book();
    let asked =
        ["report", "line.html", "--axis", "red-body", "--target", "absent", "--svg", "plots", "--csv", "numbers"];
    run(folder.path(), &asked);
    let page = fs::read_to_string(folder.path().join("line.html")).unwrap();
    assert!(page.contains("Of the modes listed") && page.contains("scoring error of 1.0 %"), "{page}");
    assert!(!page.contains("have a plan for them"), "what goes with every pair is said once");
    assert_eq!(page.matches("have a plan for the surplus fry").count(), 1);
    for plot in ["pedigree", "shares-red-body"] {
        let svg = fs::read_to_string(folder.path().join(format!("plots/{plot}.svg"))).unwrap();
        assert!(svg.starts_with("<svg") && svg.contains("<title") && page.contains(&svg), "{plot}");
        let csv = fs::read_to_string(folder.path().join(format!("numbers/{plot}.csv"))).unwrap();
        assert!(csv.lines().count() > 3, "{csv}");
    }
    let counted = fs::read_to_string(folder.path().join("numbers/shares-red-body.csv")).unwrap();
    assert!(counted.contains("K2,K2-1,,,absent,7,25,0.2800,"), "{counted}");
    let Some(sheets) = printed(&folder.path().join("line.html")) else { return };
    let all = sheets.concat();
    for said in ["Crosses", "K2-1, absent", "7 of 25", "autosomal-recessive", "The next cross", "Cautions"] {
        assert!(all.contains(said), "no '{said}' in print:\n{all}");
    }
    assert!(sheets.len() <= 6 && sheets.iter().all(|s| s.split_whitespace().count() > 5), "{} sheets", sheets.len());
}

/// The reading arguments of `inherit` hold for the page's verdict.
#[test]
fn the_verdict_of_the_page_is_that_of_inherit() {
    let folder = book();
    let how = ["--axis", "red-body", "--target", "absent", "--modes", "autosomal-recessive,x-linked-recessive"];
    let how = [&how[..], &["--sex-system", "wxy", "--error-rate", "0.02"]].concat();
    run(folder.path(), &[&["report", "line.html"][..], &how].concat());
    let page = fs::read_to_string(folder.path().join("line.html")).unwrap();
    let judged: serde_json::Value =
        serde_json::from_str(&run(folder.path(), &[&["inherit", "--json"][..], &how].concat())).unwrap();
    assert!(page.contains(judged["verdict"].as_str().unwrap()), "{}", judged["verdict"]);
    assert!(page.contains("of the 2 modes listed") && !page.contains("y-linked"));
    let (_, message, code) =
        outcome(broodhue(folder.path()).args(["report", "x.html", "--axis", "red-body", "--target", "purple"]));
    assert!(code == 2 && message.contains("no class purple"), "{message}");
}

/// Whatever a brood or an axis is called: the numbers are no formulas, and each plot has files of its own.
#[test]
fn odd_names_make_plain_tables_and_plots_of_their_own() {
    let folder = book();
    let counts = "cross,sire,dam,brood,dropped,axis,class,sex,count
K2,K1-s,K1-d,=SUM(A1),2026-06-02,red body,@plain,,18
K2,K1-s,K1-d,=SUM(A1),2026-06-02,Red Body,+plain,,7
";
    fs::write(folder.path().join("odd.csv"), counts).unwrap();
    run(folder.path(), &["import", "counts", "odd.csv"]);
    run(folder.path(), &["report", "line.html", "--svg", "plots", "--csv", "numbers"]);
    let numbers = |name: &str| fs::read_to_string(folder.path().join("numbers").join(name)).unwrap();
    let odd = numbers("shares-red-body-2.csv") + &numbers("shares-red-body-3.csv");
    assert!(odd.contains("K2,'=SUM(A1),,,'@plain,18,18,") && odd.contains("K2,'=SUM(A1),,,'+plain,7,7,"), "{odd}");
    assert!(numbers("pedigree.csv").contains("K2,K1-s,K1-d,"));
    let page = fs::read_to_string(folder.path().join("line.html")).unwrap();
    for id in ["shares-red-body-title", "shares-red-body-2-title", "shares-red-body-3-title"] {
        assert_eq!(page.matches(&format!("id=\"{id}\"")).count(), 1, "{id}");
    }
}

/// On a phone the page is as wide as the screen; what is wider moves within it.
#[test]
fn the_page_is_no_wider_than_a_phone() {
    let folder = book();
    run(folder.path(), &["report", "line.html", "--axis", "red-body", "--target", "absent"]);
    let around = "<iframe id=f src=line.html width=390 height=800 frameborder=0></iframe><p id=w></p><script>f.onload = () => {\
                  w.textContent = 'wide: ' + f.contentDocument.documentElement.scrollWidth + ' px' }</script>";
    fs::write(folder.path().join("around.html"), around).unwrap();
    let profile = tempfile::tempdir().unwrap();
    let browser = Command::new("chromium")
        .args(["--headless=new", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files", "--dump-dom"])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .arg(format!("file://{}", folder.path().join("around.html").display()))
        .output();
    let Ok(seen) = browser else {
        println!("skipped: chromium is not on PATH");
        return;
    };
    let dom = String::from_utf8(seen.stdout).unwrap();
    let wide = dom.split("wide: ").nth(1).unwrap_or(&dom).split(" px").next().unwrap();
    assert!(wide.parse::<u32>().is_ok_and(|px| px <= 390), "{wide}");
}
