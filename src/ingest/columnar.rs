//! Parquet and Arrow IPC (file or stream) as a [`Table`], told apart by their first bytes.
//!
//! A column's unit stands in its field metadata under `unit` (or `units`); without it the words of
//! the name count, as in delimited text. Values become text and go the same way as those of any
//! other table, so that units, time stamps and channel maps mean the same in every format. A row's
//! line is its number. Lists and structs are no channels: such columns stay empty, with a note.

use arrow::array::{Array, ArrayRef, RecordBatch, make_array};
use arrow::compute::cast;
use arrow::datatypes::{DataType, Field, SchemaRef, TimeUnit};
use arrow::ipc::reader::{FileReader, StreamReader};
use arrow::util::display::{ArrayFormatter, FormatOptions};
use bytes::Bytes;
use csv::StringRecord;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use super::dialect::{Dialect, LineEnd};
use super::format::Format;
use super::header;
use super::ledger::FileLedger;
use super::table::{HeaderCell, Table, TableRead, TableRow};
use crate::season::Finding;

const PARQUET: &[u8] = b"PAR1";
const IPC_FILE: &[u8] = b"ARROW1";
/// The mark before every message of a stream.
const IPC_STREAM: &[u8] = &[0xFF, 0xFF, 0xFF, 0xFF];

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

/// Reads the columns of a file; never fails.
pub(super) fn read_table(bytes: &[u8], file: &str) -> TableRead {
    let name = format(bytes).map_or("file", Format::words);
    let mut ledger = FileLedger::new(file);
    let mut findings = Vec::new();
    let mut table = None;
    if let Err(message) = batches(bytes, &mut |schema, batch| {
        let table = table.get_or_insert_with(|| empty(file, name, schema, &mut findings));
        append(table, batch, &mut ledger)
    }) {
        let what = format!("the {name} is damaged: {message}");
        let to_do = "Copy the file again; the rows before the damage were read.";
        findings.push(Finding::error("damaged-file", what, to_do).in_file(file));
    }
    if table.as_ref().is_none_or(|t| t.rows.is_empty()) {
        findings.push(
            Finding::error(
                "no-rows",
                "the file has no usable data row",
                "Check the program that wrote it, or take the file out of the season.",
            )
            .in_file(file),
        );
    }
    TableRead {
        table,
        ledger,
        // A columnar file has no text record to show.
        aside: Vec::new(),
        findings,
    }
}

type Take<'a> = &'a mut dyn FnMut(&SchemaRef, &RecordBatch) -> Result<(), String>;

/// Hands over the record batches one by one.
fn batches(bytes: &[u8], take: Take<'_>) -> Result<(), String> {
    let words = |e: &dyn std::fmt::Display| e.to_string();
    if bytes.starts_with(PARQUET) {
        let owned = Bytes::copy_from_slice(bytes);
        let builder = ParquetRecordBatchReaderBuilder::try_new(owned).map_err(|e| words(&e))?;
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
        let reader = StreamReader::try_new(bytes, None).map_err(|e| words(&e))?;
        let schema = reader.schema();
        for batch in reader {
            take(&schema, &batch.map_err(|e| words(&e))?)?;
        }
    }
    Ok(())
}

fn empty(file: &str, encoding: &str, schema: &SchemaRef, findings: &mut Vec<Finding>) -> Table {
    let nested: Vec<_> = schema
        .fields()
        .iter()
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
        header: schema.fields().iter().map(|f| header_cell(f)).collect(),
        rows: Vec::new(),
        restarts: Vec::new(),
        dialect: Dialect {
            encoding: encoding.to_owned(),
            bom: false,
            delimiter: ',',
            quotes: true,
            decimal_comma: false,
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

fn append(table: &mut Table, batch: &RecordBatch, ledger: &mut FileLedger) -> Result<(), String> {
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
    for row in 0..batch.num_rows() {
        let mut cells = StringRecord::new();
        for formatter in &formatters {
            match formatter {
                Some(formatter) => {
                    let text = formatter.value(row).try_to_string();
                    cells.push_field(&text.map_err(|e| e.to_string())?);
                }
                None => cells.push_field(""),
            }
        }
        ledger.use_row();
        table.rows.push(TableRow {
            line: u32::try_from(ledger.rows_in).unwrap_or(u32::MAX),
            cells,
        });
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
