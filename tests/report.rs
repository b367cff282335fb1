//! The report: what it shows is what the JSON holds, and it is put down whole or not at all.

mod fixture;

use std::collections::BTreeSet;
use std::fs;

use benchborne::findings::{FigureData, Findings};
use benchborne::report::{FINDINGS_SCHEMA, Rendered, ReportError, render, write};
use serde_json::Value;

fn file<'a>(rendered: &'a Rendered, name: &str) -> &'a [u8] {
    &rendered.files.iter().find(|(n, _)| n == name).unwrap().1
}

fn page(rendered: &Rendered) -> String {
    String::from_utf8(file(rendered, "index.html").to_vec()).unwrap()
}

/// For looking at: `BENCHBORNE_LOOK=DIR cargo test --test tests report::`.
#[test]
fn writes_a_report_to_look_at() {
    if let Some(dir) = std::env::var_os("BENCHBORNE_LOOK") {
        let dir = std::path::PathBuf::from(dir);
        for (name, findings) in [
            ("season", fixture::season()),
            ("empty", fixture::empty()),
            ("hostile", fixture::hostile()),
        ] {
            let written = write(&findings, &dir.join(name)).unwrap();
            assert!(written.page.is_file());
        }
    }
}
