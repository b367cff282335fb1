//! What the terminal shows; the only place that prints.

use std::collections::BTreeMap;
use std::io::{ErrorKind, IsTerminal, Write};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

use super::Exit;
use crate::findings::Findings;
use crate::report::summary::{self, Line};
use crate::report::text::wrapped;
use crate::run::RunError;
use crate::season::{Finding, Severity, clean};

/// Whether standard output took less than it was given.
static CUT: AtomicBool = AtomicBool::new(false);

/// Writes to standard output; a reader that stopped listening (a closed pipe) is no failure, a full disk
/// is one.
pub fn raw(text: &str) {
    bytes(text.as_bytes());
}

pub fn bytes(bytes: &[u8]) {
    let mut out = std::io::stdout();
    let written = out.write_all(bytes).and_then(|()| out.flush());
    if let Err(error) = written
        && error.kind() != ErrorKind::BrokenPipe
        && !CUT.swap(true, Ordering::Relaxed)
    {
        wrong(&format!("standard output could not be written: {error}"));
    }
}

/// The exit code, given what became of standard output.
pub fn ended(exit: Exit) -> Exit {
    match exit {
        Exit::Fine | Exit::SetAside if CUT.load(Ordering::Relaxed) => Exit::Wrong,
        exit => exit,
    }
}

/// Hands standard output to what writes more than memory should hold.
pub fn streamed<T>(write: impl FnOnce(&mut dyn Write) -> T) -> T {
    write(&mut std::io::stdout().lock())
}

/// So many findings of one code are shown; beyond, the first few and how many more.
const AT_MOST: usize = 5;
const FIRST: usize = 3;

/// Warnings and errors, to standard error.
pub fn complaints(findings: &[Finding]) {
    show(findings.iter().filter(|f| f.severity > Severity::Note));
}

/// Notes too.
pub fn all_complaints(findings: &[Finding]) {
    show(findings.iter());
}

fn show<'a>(findings: impl Iterator<Item = &'a Finding> + Clone) {
    let columns = columns(&std::io::stderr());
    let colour = columns.is_some() && !no_colour();
    for (severity, text) in lines(findings) {
        let text = match columns {
            // An excerpt points with its columns at what stands above.
            Some(width) if !text.contains('\n') => wrapped("", "    ", &text, width).join("\n"),
            _ => text,
        };
        let code = match severity {
            Severity::Error => "31",
            Severity::Warning => "33",
            Severity::Note => "36",
        };
        if colour {
            aside(&format!("\x1b[{code}m{text}\x1b[0m"));
        } else {
            aside(&text);
        }
    }
}

/// The findings as text, many of one code cut short after the first few.
fn lines<'a>(findings: impl Iterator<Item = &'a Finding> + Clone) -> Vec<(Severity, String)> {
    let mut total: BTreeMap<&str, usize> = BTreeMap::new();
    for finding in findings.clone() {
        *total.entry(&finding.code).or_default() += 1;
    }
    let mut shown: BTreeMap<&str, usize> = BTreeMap::new();
    let mut out = Vec::new();
    for finding in findings {
        let all = total.get(finding.code.as_str()).copied().unwrap_or(0);
        let before = shown.entry(&finding.code).or_default();
        *before += 1;
        if all <= AT_MOST || *before <= FIRST {
            out.push((finding.severity, finding.to_string()));
        }
        if all > AT_MOST && *before == FIRST {
            let more = format!(
                "… and {} more like this ({}); `--json` lists them",
                all - FIRST,
                finding.code
            );
            out.push((finding.severity, more));
        }
    }
    out
}

/// A line to standard error; nobody listening is no failure.
fn aside(text: &str) {
    let _ = writeln!(std::io::stderr(), "{text}");
}

/// Whether colour is unwanted: the variable is there and not empty (no-color.org).
fn no_colour() -> bool {
    std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
}

/// Columns of the terminal behind a stream, within what reads well; `None` where it is no terminal.
fn columns(stream: &impl IsTerminal) -> Option<usize> {
    let size = stream.is_terminal().then(terminal_size::terminal_size)?;
    Some(size.map_or(80, |(width, _)| usize::from(width.0).clamp(40, 100)))
}

/// The answers, about a line each on a terminal that is wide enough, and where the report lies.
pub fn answers(findings: &Findings, page: &Path) {
    let mut text = String::new();
    let columns = columns(&std::io::stdout());
    let bold = columns.is_some() && !no_colour();
    for Line { asked, answer } in summary::lines(findings) {
        let line = clean(&format!("{asked}: {answer}"));
        // Piped, a line stays one, for whatever looks for a word in it.
        let rows = columns.map_or_else(|| vec![line.clone()], |w| wrapped("", "    ", &line, w));
        let mut rows = rows.join("\n") + "\n";
        if bold && rows.starts_with(&asked) {
            rows.replace_range(..asked.len(), &format!("\x1b[1m{asked}\x1b[0m"));
        }
        text += &rows;
    }
    let (rows, aside) = findings
        .ledger
        .files
        .iter()
        .fold((0, 0), |(r, a), f| (r + f.rows_in, a + f.rows_set_aside));
    text += &format!(
        "{} files, {rows} rows, {aside} set aside (the report says which and why).\n",
        findings.ledger.files.len()
    );
    text += &format!("Report: {}\n", page.display());
    raw(&text);
}

/// Where a page lies, to standard error: standard output holds the card alone.
pub fn written(page: &Path) {
    aside(&format!("Card to print: {}", page.display()));
}

/// A remark to standard error: standard output holds data alone.
pub fn remark(text: &str) {
    aside(text);
}

/// How many of each, in words that never sound better than they are.
pub fn check_summary(findings: &[Finding]) {
    let count = |severity, word: &str| {
        let n = findings.iter().filter(|f| f.severity == severity).count();
        format!("{n} {word}{}", if n == 1 { "" } else { "s" })
    };
    raw(&format!(
        "{}, {}, {}.\n",
        count(Severity::Error, "error"),
        count(Severity::Warning, "warning"),
        count(Severity::Note, "note")
    ));
}

pub fn failure(error: &RunError) -> Exit {
    match error {
        RunError::Season(findings) => {
            all_complaints(findings);
            Exit::Wrong
        }
        RunError::Input(what) => wrong(what),
        RunError::Fault(what) => fault(what),
    }
}

pub fn wrong(what: &str) -> Exit {
    aside(&format!("error: {}", clean(what)));
    Exit::Wrong
}

pub fn fault(what: &str) -> Exit {
    aside(&format!(
        "internal fault: {what}. Please report it with the season folder, if you can share it."
    ));
    Exit::Fault
}
