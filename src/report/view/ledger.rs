//! The account of the inputs, and what was found wrong with them.

use serde::Serialize;

use super::Num;
use crate::ingest::FileLedger;
use crate::season::{Finding, Severity};

#[derive(Debug, Serialize)]
pub(super) struct FileView<'a> {
    file: &'a str,
    rows_in: Num,
    rows_used: Num,
    rows_set_aside: Num,
    reasons: Vec<ReasonView<'a>>,
    marked: Vec<MarkedView<'a>>,
}

#[derive(Debug, Serialize)]
struct ReasonView<'a> {
    what: &'a str,
    count: Num,
    first_line: Num,
}

/// Values made absent in rows that are used.
#[derive(Debug, Serialize)]
struct MarkedView<'a> {
    channel: String,
    what: &'a str,
    count: Num,
    first_line: Num,
}

#[derive(Debug, Serialize)]
pub(super) struct FindingView<'a> {
    severity: &'static str,
    /// Where: each file, with line and column where known.
    places: Vec<String>,
    finding: &'a Finding,
}

pub(super) fn file_view(file: &FileLedger, index: usize) -> FileView<'_> {
    let at = |name: &str| format!("/ledger/files/{index}/{name}");
    FileView {
        file: &file.file,
        rows_in: Num::count(file.rows_in, at("rows_in")),
        rows_used: Num::count(file.rows_used, at("rows_used")),
        rows_set_aside: Num::count(file.rows_set_aside, at("rows_set_aside")),
        reasons: file
            .reasons
            .iter()
            .enumerate()
            .map(|(i, reason)| ReasonView {
                what: &reason.what,
                count: Num::count(reason.count, at(&format!("reasons/{i}/count"))),
                first_line: Num::count(reason.first_line, at(&format!("reasons/{i}/first_line"))),
            })
            .collect(),
        marked: file
            .marked
            .iter()
            .enumerate()
            .map(|(i, marked)| MarkedView {
                channel: marked.channel.replace('_', " "),
                what: &marked.what,
                count: Num::count(marked.count, at(&format!("marked/{i}/count"))),
                first_line: Num::count(marked.first_line, at(&format!("marked/{i}/first_line"))),
            })
            .collect(),
    }
}

/// Findings in their order; one that says the same of several files stands once, with all of them.
pub(super) fn finding_views<'a>(
    findings: impl Iterator<Item = &'a Finding>,
) -> Vec<FindingView<'a>> {
    let mut views: Vec<FindingView<'a>> = Vec::new();
    for finding in findings {
        let place = finding.place.as_ref().map(ToString::to_string);
        let same = views.iter_mut().find(|view| {
            let first = view.finding;
            first.code == finding.code
                && first.severity == finding.severity
                && first.what == finding.what
                && first.to_do == finding.to_do
                && first.expected == finding.expected
                && first.excerpt == finding.excerpt
        });
        match same {
            Some(view) => view.places.extend(place),
            None => views.push(FindingView {
                severity: match finding.severity {
                    Severity::Error => "Error",
                    Severity::Warning => "Warning",
                    Severity::Note => "Note",
                },
                places: place.into_iter().collect(),
                finding,
            }),
        }
    }
    views
}
