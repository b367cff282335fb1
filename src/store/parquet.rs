//! A table as Parquet bytes, the unit of each column (UCUM) in its Arrow field metadata under
//! `unit`, so that any data-frame library goes on from there.

use std::collections::HashMap;
use std::io::Write;
use std::marker::PhantomData;
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
    let columns = R::columns(rows);
    let groups = groups(&columns, rows.len());
    let batch = batch::<R>(columns)?;
    let mut writer = ArrowWriter::try_new(Vec::new(), batch.schema(), Some(properties()))
        .map_err(failed::<R>)?;
    for (from, length) in groups {
        let part = batch.slice(from, length);
        writer
            .write(&part)
            .and_then(|()| writer.flush())
            .map_err(failed::<R>)?;
    }
    writer.into_inner().map_err(failed::<R>)
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

/// Every table of the season that is held: file name and bytes, in a fixed order.
pub fn encode_all(tables: &SeasonTables) -> Result<Vec<(String, Vec<u8>)>, EncodeError> {
    macro_rules! each {
        ($($table:ident),* $(,)?) => {
            vec![$((name_of(&tables.$table), encode(&tables.$table)?)),*]
        };
    }
    Ok(each!(
        flights,
        holds,
        passes,
        bench_points,
        bench_curves,
        bench_exponents,
        bench_checks,
        static_gains,
        gain_budgets,
        current_duration,
        unloading,
        unloading_by_speed,
        estimate_errors,
        rotor_alignment,
        rotor_alignment_limits,
        phases,
        unloading_map,
        replays,
        flight_loads,
        load_samples,
        load_crossings,
        load_cycles,
        pack_flights,
        controller_heat,
        excess_power,
        idle_drag,
        thrust_in_flight,
        energy_per_distance,
        spool_up,
        pitot,
    ))
}

fn name_of<R: Row>(_: &[R]) -> String {
    file_name::<R>()
}

/// Name of a table's file, relative to the report's folder.
pub fn file_name<R: Row>() -> String {
    format!("tables/{}.parquet", R::TABLE)
}

/// A table that is written a flight at a time, each with a row group of its own.
pub struct ByFlight<R, W: Write + Send> {
    writer: ArrowWriter<W>,
    rows: PhantomData<R>,
}

impl<R: Row, W: Write + Send> ByFlight<R, W> {
    pub fn new(to: W) -> Result<Self, EncodeError> {
        let schema = schema(&R::columns(&[]));
        let writer = ArrowWriter::try_new(to, schema, Some(properties()));
        Ok(Self {
            writer: writer.map_err(failed::<R>)?,
            rows: PhantomData,
        })
    }

    /// Adds a flight's rows, made by [`ByFlight::batch`].
    pub fn add(&mut self, flight: &RecordBatch) -> Result<(), EncodeError> {
        if flight.num_rows() == 0 {
            return Ok(());
        }
        let written = self.writer.write(flight);
        let written = written.and_then(|()| self.writer.flush());
        written.map_err(failed::<R>)
    }

    pub fn batch(rows: &[R]) -> Result<RecordBatch, EncodeError> {
        batch::<R>(R::columns(rows))
    }

    pub fn finish(self) -> Result<(), EncodeError> {
        self.writer.close().map(|_| ()).map_err(failed::<R>)
    }
}

fn failed<R: Row>(error: impl std::fmt::Display) -> EncodeError {
    EncodeError {
        table: R::TABLE,
        why: error.to_string(),
    }
}

fn schema(columns: &[Column]) -> Arc<Schema> {
    Arc::new(Schema::new(columns.iter().map(field).collect::<Vec<_>>()))
}

fn batch<R: Row>(columns: Vec<Column>) -> Result<RecordBatch, EncodeError> {
    let schema = schema(&columns);
    RecordBatch::try_new(schema, columns.into_iter().map(array).collect()).map_err(failed::<R>)
}

fn properties() -> WriterProperties {
    WriterProperties::builder()
        .set_created_by(format!("benchborne {}", env!("CARGO_PKG_VERSION")))
        .set_compression(Compression::SNAPPY)
        .build()
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
