//! Parquet and Arrow IPC (file or stream) as a [`Table`], told apart by their first bytes.
//!
//! A column's unit stands in its field metadata under `unit` (or `units`); without it the words of
//! the name count, as in delimited text. Values become text and go the same way as those of any
//! other table, so that units, time stamps and channel maps mean the same in every format. A row's
//! line is its number. Lists and structs are no channels: such columns stay empty, with a note.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};

use arrow::array::{Array, ArrayRef, RecordBatch, make_array};
use arrow::compute::cast;
use arrow::datatypes::{DataType, Field, SchemaRef, TimeUnit};
use arrow::ipc::reader::{FileReader, StreamReader};
use arrow::ipc::{CompressionType, root_as_footer, root_as_message};
use arrow::util::display::{ArrayFormatter, FormatOptions};
use bytes::Bytes;
use csv::StringRecord;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use parquet::basic::Compression;

use super::dialect::{Dialect, LineEnd};
use super::format::Format;
use super::header;
use super::ledger::FileLedger;
use super::scan::{self, Keep, Passed, Scan, Take};
use super::table::{HeaderCell, Table, TableRow};
use super::unpacked;
use crate::season::Finding;

const PARQUET: &[u8] = b"PAR1";
const IPC_FILE: &[u8] = b"ARROW1";
/// The mark before every message of a stream.
const IPC_STREAM: &[u8] = &[0xFF, 0xFF, 0xFF, 0xFF];

/// Bytes that tell the formats apart.
pub(super) const MARK: usize = 8;

/// The format whose first bytes these are.
pub(super) fn format(bytes: &[u8]) -> Option<Format> {
    if bytes.starts_with(PARQUET) {
        Some(Format::Parquet)
    } else if bytes.starts_with(IPC_FILE) {
        Some(Format::ArrowFile)
    } else if bytes.starts_with(IPC_STREAM) {
        Some(Format::ArrowStream)
    } else {
        None
    }
}

/// Goes through the file and keeps the rows of its table. Its bytes stay in memory, packed as they
/// are; its rows come batch by batch.
pub(super) fn scan(bytes: Vec<u8>, file: &str, keep: Keep) -> Scan<'static> {
    let bytes = Bytes::from(bytes);
    let name = format(&bytes).map_or("file", Format::words);
    let mut findings = Vec::new();
    let (mut schema, mut rows) = (None, 0usize);
    let too_large = unpacked::too_large(format(&bytes), &bytes);
    let refused = too_large.is_some();
    // Nothing of it is unpacked then.
    let bytes = if refused { Bytes::new() } else { bytes };
    let damage = batches(&bytes, &mut |of_file, batch| {
        schema.get_or_insert_with(|| of_file.clone());
        // A batch counts only where all of it can be told.
        each_row(batch, &mut |_| ())?;
        rows += batch.num_rows();
        Ok(())
    });
    let packed = unsupported(&bytes);
    if let Some(what) = too_large {
        let to_do = "Write it again in parts, or with fewer rows a second.";
        findings.push(Finding::error("unpacks-too-large", what, to_do).in_file(file));
    } else if let Some(by) = packed {
        let what = format!("the {name} is compressed with {by}, which is not supported");
        let to_do = match format(&bytes) {
            Some(Format::Parquet) => "Write it again with snappy, gzip or lz4, or uncompressed.",
            _ => "Write it again with lz4, or uncompressed.",
        };
        findings.push(Finding::error("unsupported-compression", what, to_do).in_file(file));
    } else if let Err(message) = damage {
        let what = format!("the {name} is damaged: {message}");
        let to_do = "Copy the file again; the rows before the damage were read.";
        findings.push(Finding::error("damaged-file", what, to_do).in_file(file));
    }
    let each = move |take: Take<'_>| {
        let mut row = 0usize;
        // What is damaged was told above, and the rows before it are the same again.
        let _ = batches(&bytes, &mut |_, batch| {
            each_row(batch, &mut |_| ())?;
            each_row(batch, &mut |cells| {
                row += 1;
                take(Passed {
                    line: u32::try_from(row).unwrap_or(u32::MAX),
                    cells,
                    aside: None,
                });
            })
        });
        Ok(())
    };
    let mut table = empty(file, name, schema.as_ref(), &mut findings);
    let step = keep.step(rows);
    let mut at = 0usize;
    let kept: io::Result<()> = each(&mut |passed: Passed<'_>| {
        if at.is_multiple_of(step) {
            let (line, cells) = (passed.line, passed.cells.clone());
            table.rows.push(TableRow { line, cells });
        }
        at += 1;
    });
    findings.extend(kept.err().map(|e| scan::unreadable(file, &e)));
    if rows == 0 && packed.is_none() && !refused {
        findings.push(
            Finding::error(
                "no-rows",
                "the file has no usable data row",
                "Check the program that wrote it, or take the file out of the season.",
            )
            .in_file(file),
        );
    }
    Scan {
        table,
        rows,
        ledger: FileLedger {
            rows_in: rows as u64,
            rows_used: rows as u64,
            ..FileLedger::new(file)
        },
        restart_lines: Vec::new(),
        findings,
        each: Box::new(each),
        plain: None,
    }
}

type TakeBatch<'a> = &'a mut dyn FnMut(&SchemaRef, &RecordBatch) -> Result<(), String>;

/// Hands over the record batches one by one.
///
/// The libraries that read the formats trust the lengths within a file and panic on some damaged
/// ones; a reader here never fails, so that a panic of theirs is damage like any other.
fn batches(bytes: &Bytes, take: TakeBatch<'_>) -> Result<(), String> {
    if !bytes.starts_with(PARQUET) {
        lengths(bytes).ok_or("a length within it reaches beyond its end")?;
    }
    catch_unwind(AssertUnwindSafe(|| every_batch(bytes, take)))
        .unwrap_or_else(|_| Err("its parts contradict each other".to_owned()))
}

fn every_batch(bytes: &Bytes, take: TakeBatch<'_>) -> Result<(), String> {
    let words = |e: &dyn std::fmt::Display| e.to_string();
    if bytes.starts_with(PARQUET) {
        let shared = bytes.clone();
        let builder = ParquetRecordBatchReaderBuilder::try_new(shared).map_err(|e| words(&e))?;
        let schema = builder.schema().clone();
        for batch in builder.build().map_err(|e| words(&e))? {
            take(&schema, &batch.map_err(|e| words(&e))?)?;
        }
    } else if bytes.starts_with(IPC_FILE) {
        let cursor = std::io::Cursor::new(bytes);
        let reader = FileReader::try_new(cursor, None).map_err(|e| words(&e))?;
        let schema = reader.schema();
        for batch in reader {
            take(&schema, &batch.map_err(|e| words(&e))?)?;
        }
    } else {
        let reader = StreamReader::try_new(bytes.as_ref(), None).map_err(|e| words(&e))?;
        let schema = reader.schema();
        for batch in reader {
            take(&schema, &batch.map_err(|e| words(&e))?)?;
        }
    }
    Ok(())
}

/// What a file is compressed with, where that is none of what is read here.
fn unsupported(bytes: &Bytes) -> Option<&'static str> {
    if !bytes.starts_with(PARQUET) {
        let codec = batch_message(bytes).and_then(|at| {
            let message = root_as_message(bytes.get(at..)?).ok()?;
            message.header_as_record_batch()?.compression()
        });
        return codec
            .filter(|c| c.codec() == CompressionType::ZSTD)
            .map(|_| "zstd");
    }
    let open = AssertUnwindSafe(|| ParquetRecordBatchReaderBuilder::try_new(bytes.clone()));
    let builder = catch_unwind(open).ok()?.ok()?;
    let groups = builder.metadata().row_groups().iter();
    let mut columns = groups.flat_map(|group| group.columns());
    columns.find_map(|column| match column.compression() {
        Compression::BROTLI(_) => Some("brotli"),
        Compression::ZSTD(_) => Some("zstd"),
        Compression::LZO => Some("LZO"),
        _ => None,
    })
}

/// Where the message of the first record batch of an IPC file or stream stands.
fn batch_message(bytes: &[u8]) -> Option<usize> {
    if bytes.starts_with(IPC_FILE) {
        let end = bytes.len().checked_sub(10)?;
        let length = usize::try_from(number_at(bytes, end)?).ok()?;
        let footer = root_as_footer(bytes.get(end.checked_sub(length)?..end)?).ok()?;
        let first = footer.recordBatches()?.iter().next()?;
        return usize::try_from(first.offset()).ok()?.checked_add(8);
    }
    let mut at = 0usize;
    while bytes.get(at..)?.starts_with(IPC_STREAM) {
        let length = usize::try_from(number_at(bytes, at + 4)?).ok()?;
        let start = at + 8;
        let message = root_as_message(bytes.get(start..start.checked_add(length)?)?).ok()?;
        if message.header_as_record_batch().is_some() {
            return Some(start);
        }
        let body = usize::try_from(message.bodyLength()).ok()?;
        at = start.checked_add(length)?.checked_add(body)?;
    }
    None
}

/// `None` where a length within an IPC file or stream reaches beyond its end: memory would be
/// asked for what is not there.
fn lengths(bytes: &[u8]) -> Option<()> {
    if bytes.starts_with(IPC_FILE) {
        let end = bytes.len().checked_sub(10)?;
        let length = usize::try_from(number_at(bytes, end)?).ok()?;
        let footer = root_as_footer(bytes.get(end.checked_sub(length)?..end)?).ok()?;
        let blocks = footer.recordBatches().into_iter().flatten();
        for block in blocks.chain(footer.dictionaries().into_iter().flatten()) {
            let start = usize::try_from(block.offset()).ok()?;
            let message = usize::try_from(block.metaDataLength()).ok()?;
            let body = usize::try_from(block.bodyLength()).ok()?;
            bytes.get(start..start.checked_add(message)?.checked_add(body)?)?;
        }
        return Some(());
    }
    let mut at = 0usize;
    while at + 8 <= bytes.len() && bytes[at..].starts_with(IPC_STREAM) {
        let length = usize::try_from(number_at(bytes, at + 4)?).ok()?;
        if length == 0 {
            break;
        }
        let start = at + 8;
        let message = root_as_message(bytes.get(start..start.checked_add(length)?)?).ok()?;
        let body = usize::try_from(message.bodyLength()).ok()?;
        at = start.checked_add(length)?.checked_add(body)?;
        bytes.get(..at)?;
    }
    Some(())
}

fn number_at(bytes: &[u8], at: usize) -> Option<i32> {
    let four = bytes.get(at..at.checked_add(4)?)?;
    Some(i32::from_le_bytes(four.try_into().ok()?))
}

fn empty(
    file: &str,
    encoding: &str,
    schema: Option<&SchemaRef>,
    findings: &mut Vec<Finding>,
) -> Table {
    let fields = || schema.into_iter().flat_map(|s| s.fields().iter());
    let nested: Vec<_> = fields()
        .filter(|f| f.data_type().is_nested())
        .map(|f| format!("'{}'", f.name()))
        .collect();
    if !nested.is_empty() {
        let what = format!(
            "columns of lists or structs are not read: {}",
            nested.join(", ")
        );
        let to_do = "Write each number into a column of its own.";
        findings.push(Finding::note("nested-columns", what, to_do).in_file(file));
    }
    Table {
        file: file.to_owned(),
        header: fields().map(|f| header_cell(f)).collect(),
        rows: Vec::new(),
        restarts: Vec::new(),
        dialect: Dialect {
            encoding: encoding.to_owned(),
            encoding_is_guess: false,
            bom: false,
            delimiter: ',',
            quotes: true,
            quote: '"',
            escapes: false,
            quoted_lines: false,
            decimal_comma: false,
            thousands: None,
            line_end: LineEnd::Lf,
            header_line: None,
            unit_line: None,
            preamble: Vec::new(),
        },
    }
}

fn header_cell(field: &Field) -> HeaderCell {
    let written = field
        .metadata()
        .iter()
        .find(|(key, _)| key.eq_ignore_ascii_case("unit") || key.eq_ignore_ascii_case("units"))
        .map(|(_, unit)| unit.as_str());
    let unit = written.or(match field.data_type() {
        DataType::Duration(unit) => Some(time_unit(unit)),
        _ => None,
    });
    header::parse(field.name(), unit.filter(|u| !u.trim().is_empty()))
}

fn time_unit(unit: &TimeUnit) -> &'static str {
    match unit {
        TimeUnit::Second => "s",
        TimeUnit::Millisecond => "ms",
        TimeUnit::Microsecond => "us",
        TimeUnit::Nanosecond => "ns",
    }
}

/// Hands over the rows of a batch as texts.
fn each_row(batch: &RecordBatch, take: &mut dyn FnMut(&StringRecord)) -> Result<(), String> {
    let columns = batch
        .columns()
        .iter()
        .map(plain)
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| e.to_string())?;
    let options = FormatOptions::new().with_null("");
    let formatters = columns
        .iter()
        .map(|column| {
            column
                .as_ref()
                .map(|c| ArrayFormatter::try_new(c.as_ref(), &options))
                .transpose()
        })
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| e.to_string())?;
    let mut cells = StringRecord::new();
    let mut text = String::new();
    for row in 0..batch.num_rows() {
        cells.clear();
        for formatter in &formatters {
            text.clear();
            if let Some(formatter) = formatter {
                formatter
                    .value(row)
                    .write(&mut text)
                    .map_err(|e| e.to_string())?;
            }
            cells.push_field(&text);
        }
        take(&cells);
    }
    Ok(())
}

/// The column in a type whose text is a number or a time stamp; `None` for lists and structs.
fn plain(column: &ArrayRef) -> Result<Option<ArrayRef>, arrow::error::ArrowError> {
    Ok(match column.data_type() {
        t if t.is_nested() => None,
        // The instants are UTC whatever zone they are shown in, and names of zones need not be known.
        DataType::Timestamp(unit, Some(_)) => {
            let utc = DataType::Timestamp(*unit, Some("+00:00".into()));
            let data = column.to_data().into_builder().data_type(utc).build()?;
            Some(make_array(data))
        }
        DataType::Duration(_) => Some(cast(column, &DataType::Int64)?),
        DataType::Boolean => Some(cast(column, &DataType::UInt8)?),
        // A dictionary's values may be of any plain type.
        DataType::Dictionary(_, values) if !values.is_nested() => Some(cast(column, values)?),
        DataType::Binary | DataType::LargeBinary | DataType::FixedSizeBinary(_) => None,
        _ => Some(column.clone()),
    })
}
