//! What the terminal shows; the only place that prints.

#![expect(clippy::print_stderr, reason = "the terminal's one outlet")]

use std::io::{IsTerminal, Write};
use std::path::Path;

use super::Exit;
use crate::findings::Findings;
use crate::run::RunError;
use crate::season::{Finding, Severity};

/// Writes to standard output; a reader that stopped listening (a closed pipe) is no failure.
pub fn raw(text: &str) {
    bytes(text.as_bytes());
}

pub fn bytes(bytes: &[u8]) {
    let _ = std::io::stdout().write_all(bytes);
}

/// Warnings and errors, to standard error.
pub fn complaints(findings: &[Finding]) {
    for finding in findings.iter().filter(|f| f.severity > Severity::Note) {
        complaint(finding);
    }
}

/// Notes too.
pub fn all_complaints(findings: &[Finding]) {
    findings.iter().for_each(complaint);
}

fn complaint(finding: &Finding) {
    let colour = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let code = match finding.severity {
        Severity::Error => "31",
        Severity::Warning => "33",
        Severity::Note => "36",
    };
    if colour {
        eprintln!("\x1b[{code}m{finding}\x1b[0m");
    } else {
        eprintln!("{finding}");
    }
}

/// The answers in words, one line each, and where the report lies.
pub fn answers(findings: &Findings, out: &Path) {
    let mut text = String::new();
    for answer in &findings.questions {
        text += &format!("- {} {}\n", answer.asks, answer.sentence);
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
    text += &format!("Report: {}\n", out.join("index.html").display());
    raw(&text);
}

pub fn check_summary(findings: &[Finding]) {
    let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
    raw(&format!(
        "{} errors, {} warnings, {} notes.\n",
        count(Severity::Error),
        count(Severity::Warning),
        count(Severity::Note)
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
    eprintln!("error: {what}");
    Exit::Wrong
}

pub fn fault(what: &str) -> Exit {
    eprintln!(
        "internal fault: {what}. Please report it with the season folder, if you can share it."
    );
    Exit::Fault
}
