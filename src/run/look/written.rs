//! The table as it was read, before channels and units, as RFC 4180 text.
//!
//! Preamble, comments, repeated headers and footer are left out. A record of another width within
//! the table is a record all the same: a short one is filled up with empty cells, a long one keeps
//! its cells. What stands below the last row with less than half of the columns is a footer.

use csv::{QuoteStyle, StringRecord, Terminator, WriterBuilder};

use crate::ingest::{AsideRow, TableRead};

/// The whole table; `None` where the bytes held none.
pub fn as_csv(read: &TableRead) -> Option<Vec<u8>> {
    let table = read.table.as_ref()?;
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .quote_style(QuoteStyle::Necessary)
        .flexible(true)
        .from_writer(Vec::new());
    let width = table.header.len();
    // A columnar file has names, but no line of them.
    let named = table.header.iter().any(|h| !h.written.is_empty());
    if table.dialect.header_line.is_some() || named {
        writer
            .write_record(table.header.iter().map(|h| h.written.as_str()))
            .ok()?;
    }
    let mut aside = read
        .aside
        .iter()
        .filter(|r| is_record(r, width, table.rows.len()))
        .peekable();
    for (index, row) in table.rows.iter().enumerate() {
        while let Some(record) = aside.next_if(|a| a.after <= index) {
            writer
                .write_record(&padded(&record.row.cells, width))
                .ok()?;
        }
        writer.write_record(&row.cells).ok()?;
    }
    for record in aside {
        writer
            .write_record(&padded(&record.row.cells, width))
            .ok()?;
    }
    writer.into_inner().ok()
}

/// Ragged rows and rows of text belong to the table; damaged ones and those of another table do
/// not.
fn is_record(aside: &AsideRow, width: usize, rows: usize) -> bool {
    let filled = aside.row.cells.iter().filter(|c| !c.trim().is_empty());
    let enough = 2 * filled.count() >= width;
    let footer = aside.after >= rows && !enough;
    match aside.code {
        "short-row" | "long-row" => !footer,
        "no-number" => enough,
        _ => false,
    }
}

fn padded(cells: &StringRecord, width: usize) -> StringRecord {
    let mut out = cells.clone();
    while out.len() < width {
        out.push_field("");
    }
    out
}
