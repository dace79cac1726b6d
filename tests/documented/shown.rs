//! What a document shows of a command's output, against what came out: the same words, whatever the numbers.

use super::blocks::Command;

/// Stands for what is left out: alone for lines, at a line's end for the rest of the line.
const LEFT_OUT: &str = "…";

/// A line with every number as `0`, white space and bars folded.
fn words_of(line: &str) -> String {
    let mut out = String::new();
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '█' | '+' if out.ends_with(' ') || c == '█' => {}
            c if c.is_whitespace() => {
                if !out.ends_with(' ') {
                    out.push(' ');
                }
            }
            c if c.is_ascii_digit() => {
                out.push('0');
                let in_number = |c: &char| c.is_ascii_digit() || *c == '.';
                while chars.next_if(in_number).is_some() {}
            }
            c => out.push(c),
        }
    }
    // `0.` at the end of a sentence has lost its stop with the number.
    out.trim().trim_end_matches('.').to_owned()
}

fn same(shown: &str, came: &str) -> bool {
    match shown.trim_end().strip_suffix(LEFT_OUT) {
        Some(start) => words_of(came).starts_with(&words_of(start)),
        None => words_of(shown) == words_of(came),
    }
}

/// Which line of the output each shown line is; `None` for a line of left-out ones.
///
/// # Errors
/// The first line shown that does not come.
pub(crate) fn compare(shown: &[String], output: &str) -> Result<Vec<Option<String>>, String> {
    let came: Vec<&str> = output.lines().filter(|l| !l.trim().is_empty()).collect();
    let mut at = 0;
    let mut skips = false;
    let mut pairs = Vec::new();
    for line in shown {
        if line.trim().is_empty() || line.trim() == LEFT_OUT {
            skips |= line.trim() == LEFT_OUT;
            pairs.push(None);
            continue;
        }
        let found = if skips { came[at..].iter().position(|c| same(line, c)) } else { Some(0) };
        let next = found.map(|f| at + f).filter(|n| came.get(*n).is_some_and(|c| same(line, c)));
        let Some(next) = next else {
            return Err(format!("shows\n  {line}\nbut prints\n{output}"));
        };
        pairs.push(Some(came[next].to_owned()));
        (at, skips) = (next + 1, false);
    }
    if at < came.len() && !skips {
        return Err(format!("prints more than is shown:\n  {}", came[at]));
    }
    Ok(pairs)
}

/// Puts today's numbers into the lines shown below a command, cut where they were cut.
pub(crate) fn renew(text: &mut String, command: &Command, pairs: &[Option<String>]) {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for (i, came) in pairs.iter().enumerate() {
        let line = &mut lines[command.line + i];
        if let Some(came) = came.as_ref().filter(|_| !line.trim_end().ends_with(LEFT_OUT)) {
            line.clone_from(came);
        }
    }
    *text = lines.join("\n") + "\n";
}

#[test]
fn words_are_compared_and_numbers_are_not() {
    let lines = |text: &str| text.lines().map(str::to_owned).collect::<Vec<_>>();
    let output = "fish   L*  share\n   1  45.2  31 %  ███\n   2  60.0  3.1 %\nnote: mind the lamp at 12.\n";
    assert!(compare(&lines("fish L* share\n 1 9 9 %\n…\nnote: mind the…"), output).is_ok());
    assert!(compare(&lines("fish L* share\n…"), output).is_ok());
    assert!(compare(&lines("fish L* share"), output).unwrap_err().contains("more than is shown"));
    assert!(compare(&lines("fish L* part\n…"), output).is_err());
    assert!(compare(&lines("…\nnote: mind the card"), output).is_err());
}
