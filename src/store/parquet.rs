//! A table as Parquet bytes, the unit of each column (UCUM) in its Arrow field metadata under
//! `unit`, so that any data-frame library goes on from there.

use std::collections::HashMap;
use std::sync::Arc;

use arrow::array::{ArrayRef, BooleanArray, Float64Array, Int64Array, StringArray};
use arrow::datatypes::{DataType, Field, Schema};
use arrow::record_batch::RecordBatch;
use parquet::arrow::ArrowWriter;
use parquet::basic::Compression;
use parquet::file::properties::WriterProperties;

use super::schema::{Column, Row, Values};
use super::tables::SeasonTables;

/// Why a table could not be encoded (a fault of the program, never of an input).
#[derive(Debug)]
pub struct EncodeError {
    pub table: &'static str,
    pub why: String,
}

impl std::fmt::Display for EncodeError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "table '{}' could not be written as Parquet: {}",
            self.table, self.why
        )
    }
}

impl std::error::Error for EncodeError {}

/// One table as the bytes of a Parquet file. Same rows, same bytes.
pub fn encode<R: Row>(rows: &[R]) -> Result<Vec<u8>, EncodeError> {
    let failed = |why: String| EncodeError {
        table: R::TABLE,
        why,
    };
    let columns = R::columns(rows);
    let groups = groups(&columns, rows.len());
    let schema = Arc::new(Schema::new(columns.iter().map(field).collect::<Vec<_>>()));
    let batch = RecordBatch::try_new(schema.clone(), columns.into_iter().map(array).collect())
        .map_err(|e| failed(e.to_string()))?;
    let properties = WriterProperties::builder()
        .set_created_by(format!("benchborne {}", env!("CARGO_PKG_VERSION")))
        .set_compression(Compression::SNAPPY)
        .build();
    let mut writer = ArrowWriter::try_new(Vec::new(), schema, Some(properties))
        .map_err(|e| failed(e.to_string()))?;
    for (from, length) in groups {
        let part = batch.slice(from, length);
        writer
            .write(&part)
            .and_then(|()| writer.flush())
            .map_err(|e| failed(e.to_string()))?;
    }
    writer.into_inner().map_err(|e| failed(e.to_string()))
}

/// Rows from which a flight has a row group of its own on average: a group costs a few hundred bytes
/// a column, so that a table of a row a flight stays one.
const LEAST_ROWS: usize = 16;

/// First row and length of each row group: a flight each where a flight has many rows, so that a query
/// for some flights of a fleet reads those and no others.
fn groups(columns: &[Column], rows: usize) -> Vec<(usize, usize)> {
    let flights = columns.iter().find(|c| c.name == "flight");
    let mut starts = match flights.map(|c| &c.values) {
        Some(Values::Text(flights)) => {
            let starts = (1..flights.len()).filter(|&i| flights[i] != flights[i - 1]);
            starts.collect()
        }
        _ => Vec::new(),
    };
    if LEAST_ROWS * (starts.len() + 1) > rows {
        starts.clear();
    }
    starts.insert(0, 0);
    let ends = starts.iter().skip(1).copied().chain([rows]);
    let groups = starts.iter().zip(ends).map(|(&from, to)| (from, to - from));
    groups.filter(|(_, length)| *length > 0).collect()
}

/// Every table of the season: file name and bytes, in a fixed order.
pub fn encode_all(tables: &SeasonTables) -> Result<Vec<(String, Vec<u8>)>, EncodeError> {
    fn one<R: Row>(rows: &[R]) -> Result<(String, Vec<u8>), EncodeError> {
        Ok((format!("tables/{}.parquet", R::TABLE), encode(rows)?))
    }
    Ok(vec![
        one(&tables.flights)?,
        one(&tables.holds)?,
        one(&tables.passes)?,
        one(&tables.pass_samples)?,
        one(&tables.bench_points)?,
        one(&tables.bench_curves)?,
        one(&tables.bench_exponents)?,
        one(&tables.bench_checks)?,
        one(&tables.static_gains)?,
        one(&tables.gain_budgets)?,
        one(&tables.current_duration)?,
        one(&tables.unloading)?,
        one(&tables.unloading_by_speed)?,
        one(&tables.estimate_errors)?,
        one(&tables.rotor_alignment)?,
        one(&tables.rotor_alignment_limits)?,
        one(&tables.strips)?,
        one(&tables.track)?,
        one(&tables.phases)?,
        one(&tables.unloading_map)?,
        one(&tables.replays)?,
        one(&tables.flight_loads)?,
        one(&tables.load_samples)?,
        one(&tables.load_crossings)?,
        one(&tables.load_cycles)?,
        one(&tables.pack_flights)?,
        one(&tables.controller_heat)?,
        one(&tables.excess_power)?,
        one(&tables.idle_drag)?,
        one(&tables.thrust_in_flight)?,
        one(&tables.energy_per_distance)?,
        one(&tables.spool_up)?,
        one(&tables.pitot)?,
    ])
}

fn field(column: &Column) -> Field {
    let data_type = match column.values {
        Values::Float(_) => DataType::Float64,
        Values::Int(_) => DataType::Int64,
        Values::Text(_) => DataType::Utf8,
        Values::Bool(_) => DataType::Boolean,
    };
    let field = Field::new(column.name, data_type, true);
    if column.unit.is_empty() {
        field
    } else {
        field.with_metadata(HashMap::from([("unit".to_owned(), column.unit.to_owned())]))
    }
}

fn array(column: Column) -> ArrayRef {
    match column.values {
        Values::Float(v) => Arc::new(Float64Array::from(v)),
        Values::Int(v) => Arc::new(Int64Array::from(v)),
        Values::Text(v) => Arc::new(StringArray::from(v)),
        Values::Bool(v) => Arc::new(BooleanArray::from(v)),
    }
}
