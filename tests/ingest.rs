//! Bytes to SI columns and a ledger. Extracts of published measurements and of an open corpus lie
//! in `tests/data`, each with its source and licence.

mod channels;
mod columnar;
mod dates;
mod dialect_lines;
mod dialects;
mod form;
mod format_lines;
mod fuzz;
mod grouping;
mod headers;
mod heights;
mod marks;
mod plain;
mod positions;
mod sense;
mod sensor_lines;
mod sentences;
mod soaring;
mod sound;
mod streaming;
mod tables;
mod time;
mod time_lines;
mod tracks;

use benchborne::ingest::{Log, LogRead, ReadOptions, Table, TableRead, read_log, read_table};
use benchborne::season::Finding;

/// A file of `tests/data`.
fn data(name: &str) -> Vec<u8> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(&path).unwrap_or_else(|e| panic!("{path}: {e}"))
}

fn read(text: impl AsRef<[u8]>) -> TableRead {
    let read = read_table(text.as_ref(), "a.csv");
    assert!(read.ledger.balances(), "{:?}", read.ledger);
    read
}

fn table(text: impl AsRef<[u8]>) -> Table {
    read(text).table.expect("a table")
}

fn cells(table: &Table) -> Vec<Vec<&str>> {
    table
        .rows
        .iter()
        .map(|r| r.cells.iter().collect())
        .collect()
}

fn headers(table: &Table) -> Vec<&str> {
    table.header.iter().map(|h| h.text.as_str()).collect()
}

fn log_read(text: impl AsRef<[u8]>, options: &ReadOptions) -> LogRead {
    let read = read_log(text.as_ref(), "a.csv", options);
    assert!(read.ledger.balances(), "{:?}", read.ledger);
    read
}

fn log(text: impl AsRef<[u8]>) -> Log {
    log_read(text, &ReadOptions::default()).log.expect("a log")
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|f| f.code.as_str()).collect()
}

fn close(a: f64, b: f64) {
    assert!(
        (a - b).abs() <= 1e-9 * f64::max(1.0, b.abs()),
        "{a} is not {b}"
    );
}
