//! The season's tables as Parquet, read back with the arrow and parquet crates, and the season-wide
//! queries against counts by hand.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write;

use arrow::array::{Array, BooleanArray, Float64Array, Int64Array, StringArray};
use arrow::datatypes::DataType;
use arrow::record_batch::RecordBatch;
use benchborne::store::parquet::{encode, encode_all};
use benchborne::store::query::{PowerSummary, by_power};
use benchborne::store::schema::{Row, Values};
use benchborne::store::{FlightRow, HoldRow, PassRow, SeasonTables, StripRow, columns};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

fn flight(id: &str, day: Option<&str>, power: Option<&str>, airframe: Option<&str>) -> FlightRow {
    FlightRow {
        flight: id.into(),
        day: day.map(Into::into),
        power: power.map(Into::into),
        airframe: airframe.map(Into::into),
        ..FlightRow::default()
    }
}

/// Five flights: two fans, one of unknown power, gaps in the columns.
fn flights() -> Vec<FlightRow> {
    let one = Some("2025-04-12");
    let two = Some("2025-05-03");
    let mut rows = vec![
        flight("f1", one, Some("swap"), Some("alder")),
        flight("f2", one, Some("stock"), Some("alder")),
        flight("f3", one, Some("stock"), Some("alder")),
        flight("f4", two, Some("stock"), None),
        flight("f5", None, None, Some("birch")),
    ];
    let set = |row: &mut FlightRow, airborne, energy, peak| {
        row.airborne_s = airborne;
        row.energy_wh = energy;
        row.peak_current_a = peak;
        row.has_current = peak.is_some();
    };
    set(&mut rows[0], Some(200.0), Some(30.0), Some(90.0));
    set(&mut rows[1], Some(250.0), Some(28.0), Some(70.0));
    set(&mut rows[2], None, Some(32.0), Some(75.5));
    set(&mut rows[3], Some(100.0), None, None);
    set(&mut rows[4], Some(999.0), Some(999.0), Some(999.0));
    rows
}

fn opened(bytes: &[u8]) -> ParquetRecordBatchReaderBuilder<File> {
    let mut file = tempfile::tempfile().unwrap();
    file.write_all(bytes).unwrap();
    ParquetRecordBatchReaderBuilder::try_new(file).unwrap()
}

fn read_back(bytes: &[u8]) -> RecordBatch {
    let reader = opened(bytes).build().unwrap();
    let batches: Vec<RecordBatch> = reader.map(Result::unwrap).collect();
    assert_eq!(batches.len(), 1);
    batches.into_iter().next().unwrap()
}

/// Names, units and every cell.
fn same<R: Row>(rows: &[R]) {
    let batch = read_back(&encode(rows).unwrap());
    assert_eq!(batch.num_rows(), rows.len());
    let columns = R::columns(rows);
    assert_eq!(batch.num_columns(), columns.len());
    let schema = batch.schema();
    for (index, column) in columns.iter().enumerate() {
        let field = schema.field(index);
        assert_eq!(field.name(), column.name);
        let unit = field.metadata().get("unit").map_or("", String::as_str);
        assert_eq!(unit, column.unit, "{}.{}", R::TABLE, column.name);
        let array = batch.column(index).as_any();
        let at = |row: usize| !batch.column(index).is_null(row);
        match &column.values {
            Values::Float(v) => {
                let array = array.downcast_ref::<Float64Array>().unwrap();
                for (row, v) in v.iter().enumerate() {
                    assert_eq!(at(row).then(|| array.value(row)), *v, "{}", column.name);
                }
            }
            Values::Int(v) => {
                let array = array.downcast_ref::<Int64Array>().unwrap();
                for (row, v) in v.iter().enumerate() {
                    assert_eq!(at(row).then(|| array.value(row)), *v, "{}", column.name);
                }
            }
            Values::Text(v) => {
                let array = array.downcast_ref::<StringArray>().unwrap();
                for (row, v) in v.iter().enumerate() {
                    assert_eq!(at(row).then(|| array.value(row)), v.as_deref());
                }
            }
            Values::Bool(v) => {
                let array = array.downcast_ref::<BooleanArray>().unwrap();
                for (row, v) in v.iter().enumerate() {
                    assert_eq!(at(row).then(|| array.value(row)), *v, "{}", column.name);
                }
            }
        }
    }
}

#[test]
fn tables_come_back_as_they_went() {
    same(&flights());
    same(&[HoldRow {
        flight: "f1".into(),
        start_s: 12.5,
        throttle: 0.85,
        current_a: Some(61.25),
        airborne: true,
        ..HoldRow::default()
    }]);
    // Words of all kinds, and a value that is none.
    same(&[PassRow {
        flight: "ü, \"quoted\"\n".into(),
        pass: -3,
        mean_ground_speed_m_s: 61.0,
        voltage_v: Some(14.5),
        ..PassRow::default()
    }]);
    same::<FlightRow>(&[FlightRow::default()]);
}

/// The columns a reader will look for, written out here by hand.
#[test]
fn units_and_types_are_in_the_file() {
    let batch = read_back(&encode(&flights()).unwrap());
    let schema = batch.schema();
    let fields: BTreeMap<&str, (&DataType, Option<&str>)> = schema
        .fields()
        .iter()
        .map(|f| {
            let unit = f.metadata().get("unit").map(String::as_str);
            (f.name().as_str(), (f.data_type(), unit))
        })
        .collect();
    for (name, kind, unit) in [
        ("flight", DataType::Utf8, None),
        ("energy_wh", DataType::Float64, Some("W.h")),
        ("charge_mah", DataType::Float64, Some("mA.h")),
        ("level_speed_m_s", DataType::Float64, Some("m/s")),
        ("pack_resistance_ohm", DataType::Float64, Some("Ohm")),
        ("passes", DataType::Int64, Some("1")),
        ("reserve_reached", DataType::Boolean, None),
    ] {
        assert_eq!(fields[name], (&kind, unit), "{name}");
    }
    // A column whose name ends in a unit bears that unit.
    for (name, (_, unit)) in &fields {
        for (end, code) in [
            ("_wh", "W.h"),
            ("_mah", "mA.h"),
            ("_ohm", "Ohm"),
            ("_pa", "Pa"),
        ] {
            if name.ends_with(end) {
                assert_eq!(*unit, Some(code), "{name}");
            }
        }
    }
}

#[test]
fn what_is_not_finite_is_absent() {
    let mut row = flight("f1", None, None, None);
    row.recorded_s = f64::NAN;
    row.energy_wh = Some(f64::INFINITY);
    let batch = read_back(&encode(&[row]).unwrap());
    for name in ["recorded_s", "energy_wh"] {
        assert!(batch.column_by_name(name).unwrap().is_null(0), "{name}");
    }
}

#[test]
fn every_table_is_written_and_the_same_rows_give_the_same_bytes() {
    let tables = SeasonTables {
        flights: flights(),
        ..SeasonTables::default()
    };
    let files = encode_all(&tables).unwrap();
    assert_eq!(files, encode_all(&tables).unwrap());
    let mut names: Vec<&str> = files.iter().map(|(n, _)| n.as_str()).collect();
    assert!(names.contains(&"tables/flights.parquet") && names.contains(&"tables/holds.parquet"));
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), files.len());
    // Tables without rows keep their columns.
    for (name, bytes) in files {
        assert!(opened(&bytes).schema().fields().len() > 2, "{name}");
    }
}

#[test]
fn power_systems_are_summed_up() {
    let found = by_power(&flights()).unwrap();
    let expected = [
        PowerSummary {
            power: "stock".into(),
            flights: 3,
            measured: 2,
            airborne_s: 350.0,
            // Of the two that have one.
            mean_energy_wh: Some(30.0),
            peak_current_a: Some(75.5),
        },
        PowerSummary {
            power: "swap".into(),
            flights: 1,
            measured: 1,
            airborne_s: 200.0,
            mean_energy_wh: Some(30.0),
            peak_current_a: Some(90.0),
        },
    ];
    assert_eq!(found, expected);
    let nothing = by_power(&flights()[3..4]).unwrap();
    assert_eq!(nothing[0].mean_energy_wh, None);
    assert_eq!(nothing[0].peak_current_a, None);
    assert_eq!(by_power(&[]).unwrap(), []);
}

/// Strip points have many rows a flight, flights have one.
#[test]
fn a_flight_has_a_row_group_of_its_own_where_it_has_many_rows() {
    let strips: Vec<StripRow> = ["f1", "f2", "f3"]
        .iter()
        .flat_map(|flight| {
            (0..20 + flight.len()).map(|n| StripRow {
                flight: (*flight).to_owned(),
                time_s: n as f64,
                ..StripRow::default()
            })
        })
        .collect();
    let file = opened(&encode(&strips).unwrap());
    let groups = file.metadata().row_groups();
    let rows: Vec<i64> = groups.iter().map(|g| g.num_rows()).collect();
    assert_eq!(rows, [22, 22, 22]);
    // Statistics of the group tell an engine which flight it is.
    let flight = groups[1]
        .columns()
        .iter()
        .find(|c| c.column_path().string() == "flight");
    let statistics = flight.and_then(|c| c.statistics()).unwrap();
    assert_eq!(statistics.min_bytes_opt(), Some("f2".as_bytes()));
    assert_eq!(statistics.max_bytes_opt(), Some("f2".as_bytes()));
    same(&strips);
    let file = opened(&encode(&flights()).unwrap());
    assert_eq!(file.metadata().num_row_groups(), 1);
}

#[test]
fn columns_put_aside_come_back_to_the_bit_or_not_at_all() {
    let odd = [f64::NAN, -0.0, f64::INFINITY, f64::MIN_POSITIVE, 1.0 / 3.0];
    let bytes = columns::encode(b"head", &[&odd, &[], &odd[1..3]], &[7, 9]);
    let back = columns::decode(&bytes).unwrap();
    assert_eq!(back.head, b"head");
    assert_eq!(back.lines, [7, 9]);
    let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
    assert_eq!(back.columns.len(), 3);
    assert_eq!(bits(&back.columns[0]), bits(&odd));
    assert_eq!(bits(&back.columns[1]), bits(&[]));
    assert_eq!(bits(&back.columns[2]), bits(&odd[1..3]));
    for at in 0..bytes.len() {
        let mut damaged = bytes.clone();
        damaged[at] ^= 1;
        assert_eq!(columns::decode(&damaged), None, "byte {at}");
        assert_eq!(columns::decode(&bytes[..at]), None, "cut at {at}");
    }
}
