//! The commands in a Markdown text, with the line they stand on.

/// What is done with a block.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Kind {
    #[default]
    Run,
    UntilStopped,
    NotRun,
}

/// A code block with commands, or one that a reader saves as a file.
#[derive(Debug, Default)]
pub(crate) struct Block {
    pub(crate) kind: Kind,
    pub(crate) needs_demo: bool,
    pub(crate) commands: Vec<Command>,
    /// Name and text of the file.
    pub(crate) file: Option<(String, String)>,
}

/// One command.
#[derive(Debug)]
pub(crate) struct Command {
    /// Its line in the text, from 1.
    pub(crate) line: usize,
    /// The command without prompt and remark, continued lines joined.
    pub(crate) text: String,
    /// In a `console` block, the lines shown below it.
    pub(crate) shows: Option<Vec<String>>,
}

/// The blocks marked `sh` or `console` and those saved as files, in order.
pub(crate) fn read(text: &str) -> Vec<Block> {
    let (mut blocks, mut kind, mut needs_demo, mut name) = (Vec::new(), Kind::Run, false, None);
    let mut lines = text.lines().enumerate();
    while let Some((_, line)) = lines.next() {
        match line.trim() {
            "<!-- needs: demo -->" => needs_demo = true,
            "<!-- until stopped -->" => kind = Kind::UntilStopped,
            remark if remark.starts_with("<!-- not run: ") => kind = Kind::NotRun,
            remark if remark.starts_with("<!-- save as: ") => {
                name = remark["<!-- save as: ".len()..].strip_suffix(" -->").map(str::to_owned);
            }
            fence if fence.starts_with("```") => {
                let body: Vec<(usize, &str)> =
                    lines.by_ref().take_while(|(_, l)| l.trim() != "```").map(|(i, l)| (i + 1, l)).collect();
                let commands = match fence {
                    "```sh" => plain(&body),
                    "```console" => with_output(&body),
                    _ => Vec::new(),
                };
                let text = || body.iter().map(|(_, l)| format!("{l}\n")).collect();
                let file = name.take().map(|name| (name, text()));
                blocks.push(Block { kind, needs_demo, commands, file });
                kind = Kind::Run;
            }
            _ => {}
        }
    }
    blocks
}

fn plain(body: &[(usize, &str)]) -> Vec<Command> {
    let mut commands: Vec<Command> = Vec::new();
    let mut open = false;
    for (line, text) in body {
        let (text, goes_on) = match text.trim().strip_suffix('\\') {
            Some(start) => (start.trim(), true),
            None => (without_remark(text.trim()), false),
        };
        match commands.last_mut().filter(|_| open) {
            Some(last) => last.text = format!("{} {text}", last.text),
            None if text.is_empty() => continue,
            None => commands.push(Command { line: *line, text: text.to_owned(), shows: None }),
        }
        open = goes_on;
    }
    commands
}

fn with_output(body: &[(usize, &str)]) -> Vec<Command> {
    let mut commands: Vec<Command> = Vec::new();
    for (line, text) in body {
        if let Some(command) = text.strip_prefix("$ ") {
            commands.push(Command { line: *line, text: without_remark(command).to_owned(), shows: Some(Vec::new()) });
        } else if let Some(shows) = commands.last_mut().and_then(|c| c.shows.as_mut()) {
            shows.push((*text).to_owned());
        }
    }
    commands
}

/// A line without `# …`, where the sign begins the line or stands after a space and outside of quotes.
fn without_remark(line: &str) -> &str {
    let mut quoted = false;
    let mut before = ' ';
    for (at, c) in line.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '#' if !quoted && before == ' ' => return line[..at].trim(),
            _ => {}
        }
        before = c;
    }
    line.trim()
}

/// The words of a command; double quotes hold words together.
pub(crate) fn words(command: &str) -> Vec<String> {
    let (mut words, mut word, mut quoted, mut begun) = (Vec::new(), String::new(), false, false);
    for c in command.chars() {
        match c {
            '"' => (quoted, begun) = (!quoted, true),
            ' ' if !quoted => {
                if begun {
                    words.push(std::mem::take(&mut word));
                }
                begun = false;
            }
            c => {
                word.push(c);
                begun = true;
            }
        }
    }
    if begun {
        words.push(word);
    }
    words
}

/// The `code spans` of a text outside of its code blocks.
pub(crate) fn spans(text: &str) -> Vec<String> {
    let mut inside = false;
    let prose: Vec<&str> = text
        .lines()
        .filter(|l| {
            let fence = l.trim().starts_with("```");
            inside ^= fence;
            !fence && !inside
        })
        .collect();
    prose.join(" ").split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[test]
fn blocks_remarks_and_words_are_read() {
    let text = "a `broodhue fish` b\n<!-- needs: demo -->\n```sh\n# all of it\ncp a b # why\nbroodhue x \\\n  --y \"p #q\"\n```\n\
                <!-- not run: it is long -->\n```console\n$ broodhue z\nout\n```\n<!-- save as: x.toml -->\n```toml\nx = 1\n```\n";
    let blocks = read(text);
    assert_eq!(blocks[2].file, Some(("x.toml".to_owned(), "x = 1\n".to_owned())));
    assert_eq!(
        blocks.iter().map(|b| (b.kind, b.needs_demo)).collect::<Vec<_>>(),
        [(Kind::Run, true), (Kind::NotRun, true), (Kind::Run, true)]
    );
    let of = |b: &Block| b.commands.iter().map(|c| (c.line, c.text.clone())).collect::<Vec<_>>();
    assert_eq!(of(&blocks[0]), [(5, "cp a b".to_owned()), (6, "broodhue x --y \"p #q\"".to_owned())]);
    assert_eq!(blocks[1].commands[0].shows, Some(vec!["out".to_owned()]));
    assert_eq!(words("a --b \"c d\"  e=\"f g\""), ["a", "--b", "c d", "e=f g"]);
    assert_eq!(spans(text), ["broodhue fish"]);
}
