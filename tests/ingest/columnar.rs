//! Parquet and Arrow IPC, written by the libraries of the formats' own project.

use std::collections::HashMap;
use std::sync::Arc;

use arrow::array::{
    ArrayRef, Float32Array, Float64Array, Int64Array, ListArray, RecordBatch, StringArray,
    TimestampMicrosecondArray, UInt16Array,
};
use arrow::datatypes::{DataType, Field, Int32Type, Schema};
use arrow::ipc::writer::{FileWriter, StreamWriter};
use benchborne::ingest::{Channel, LogRead, ReadOptions, read_log};
use parquet::arrow::ArrowWriter;

use super::{close, codes, data};

fn batch(columns: Vec<(&str, Option<&str>, ArrayRef)>) -> RecordBatch {
    let fields: Vec<Field> = columns
        .iter()
        .map(|(name, unit, values)| {
            let field = Field::new(*name, values.data_type().clone(), true);
            match unit {
                Some(unit) => {
                    field.with_metadata(HashMap::from([("unit".to_owned(), (*unit).to_owned())]))
                }
                None => field,
            }
        })
        .collect();
    let columns = columns.into_iter().map(|c| c.2).collect();
    RecordBatch::try_new(Arc::new(Schema::new(fields)), columns).unwrap()
}

fn encodings(batch: &RecordBatch) -> [Vec<u8>; 3] {
    let mut parquet = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut parquet, batch.schema(), None).unwrap();
    writer.write(batch).unwrap();
    writer.close().unwrap();
    let mut file = Vec::new();
    let mut writer = FileWriter::try_new(&mut file, &batch.schema()).unwrap();
    writer.write(batch).unwrap();
    writer.finish().unwrap();
    let mut stream = Vec::new();
    let mut writer = StreamWriter::try_new(&mut stream, &batch.schema()).unwrap();
    writer.write(batch).unwrap();
    writer.finish().unwrap();
    [parquet, file, stream]
}

fn read(bytes: &[u8]) -> LogRead {
    let read = read_log(bytes, "a.parquet", &ReadOptions::default());
    assert!(read.ledger.balances());
    read
}

#[test]
fn units_come_from_the_metadata_or_the_name_in_every_encoding() {
    let stamps = vec![
        1_744_452_000_000_000i64,
        1_744_452_000_200_000,
        1_744_452_000_400_000,
    ];
    let rows = batch(vec![
        (
            "when",
            None,
            Arc::new(TimestampMicrosecondArray::from(stamps).with_timezone("UTC")),
        ),
        (
            "time",
            None,
            Arc::new(Float64Array::from(vec![0.0, 0.2, 0.4])),
        ),
        (
            "voltage",
            Some("mV"),
            Arc::new(UInt16Array::from(vec![16_800, 16_500, 16_100])),
        ),
        (
            "Current [mA]",
            None,
            Arc::new(Float32Array::from(vec![Some(0.1f32), None, Some(80_000.0)])),
        ),
        (
            "Ground speed",
            Some("km/h"),
            Arc::new(Int64Array::from(vec![0, 36, 72])),
        ),
        (
            "remark",
            None,
            Arc::new(StringArray::from(vec!["a", "b", "c"])),
        ),
    ]);
    for bytes in encodings(&rows) {
        let read = read(&bytes);
        assert_eq!((read.ledger.rows_in, read.ledger.rows_used), (3, 3));
        let log = read.log.unwrap();
        for (found, expected) in log.time.iter().zip([0.0, 0.2, 0.4]) {
            close(*found, expected);
        }
        let values = |c| log.get(c).unwrap();
        assert_eq!(values(Channel::Voltage), &[16.8, 16.5, 16.1]);
        close(values(Channel::Current)[0], 1e-4);
        assert!(values(Channel::Current)[1].is_nan());
        assert_eq!(values(Channel::GroundSpeed)[1], 10.0);
        assert_eq!(log.lines, [1, 2, 3]);
    }
}

#[test]
fn a_column_of_instants_is_the_time_and_dates_the_start() {
    let stamps = vec![1_744_452_000_000_000i64, 1_744_452_000_250_000];
    let rows = batch(vec![
        (
            "time",
            None,
            Arc::new(TimestampMicrosecondArray::from(stamps).with_timezone("UTC")),
        ),
        (
            "volts",
            None,
            Arc::new(Float64Array::from(vec![12.0, 11.5])),
        ),
    ]);
    for bytes in encodings(&rows) {
        let log = read(&bytes).log.unwrap();
        close(log.time[1], 0.25);
        // 1 744 452 000 s after 1970: 20190 days and 10 hours.
        assert_eq!(log.start.unwrap().to_rfc3339(), "2025-04-12T10:00:00+00:00");
    }
}

#[test]
fn lists_are_no_channels_and_damage_is_said() {
    let lists = ListArray::from_iter_primitive::<Int32Type, _, _>([Some(vec![Some(1)]), None]);
    let rows = batch(vec![
        ("time_s", None, Arc::new(Float64Array::from(vec![0.0, 0.1]))),
        (
            "volts",
            None,
            Arc::new(Float64Array::from(vec![12.0, 11.5])),
        ),
        ("cells", None, Arc::new(lists)),
    ]);
    assert!(matches!(
        rows.schema().field(2).data_type(),
        DataType::List(_)
    ));
    for bytes in encodings(&rows) {
        let whole = read(&bytes);
        assert!(codes(&whole.findings).contains(&"nested-columns"));
        assert_eq!(whole.log.unwrap().len(), 2);
        let cut = read(&bytes[..bytes.len() / 2]);
        assert_eq!(cut.log, None);
        assert!(codes(&cut.findings).contains(&"damaged-file"));
    }
}

/// Files and expected values: see `tests/data/compressed/README.md`.
#[test]
fn what_is_compressed_is_read_or_refused_in_words() {
    for name in ["gzip.parquet", "lz4.parquet", "lz4.arrow"] {
        let log = read(&data(&format!("compressed/{name}"))).log.unwrap();
        assert_eq!(log.len(), 40, "{name}");
        close(log.get(Channel::Current).unwrap()[39], 39.0);
        assert!(
            (log.get(Channel::Voltage).unwrap()[10] - 23.9).abs() < 1e-5,
            "{name}"
        );
    }
    for name in [
        "zstd.parquet",
        "brotli.parquet",
        "zstd.arrow",
        "zstd-stream.arrow",
    ] {
        let refused = read(&data(&format!("compressed/{name}")));
        assert!(refused.log.is_none(), "{name}");
        assert_eq!(
            codes(&refused.findings),
            ["unsupported-compression"],
            "{name}"
        );
        let by = name.split(['.', '-']).next().unwrap();
        let told = &refused.findings[0];
        assert!(
            told.what
                .contains(&format!("compressed with {by}, which is not supported")),
            "{told}"
        );
        assert!(told.to_do.contains("uncompressed"), "{told}");
    }
}

/// A few bytes that stand for more than memory holds are not unpacked.
#[test]
fn what_unpacks_too_large_is_refused() {
    let refused = |bytes: &[u8], words: &str| {
        let read = read(bytes);
        assert!(read.log.is_none());
        assert_eq!(codes(&read.findings), ["unpacks-too-large"]);
        assert!(
            read.findings[0].what.contains(words),
            "{}",
            read.findings[0]
        );
    };
    // One value, again and again: the run-length encoding of Parquet needs next to no room for it.
    let values: ArrayRef = Arc::new(Float64Array::from(vec![12.5; 1_000_000]));
    let batch = RecordBatch::try_from_iter([("voltage_V", values)]).unwrap();
    let mut rows = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut rows, batch.schema(), None).unwrap();
    for _ in 0..21 {
        writer.write(&batch).unwrap();
    }
    writer.close().unwrap();
    assert!(rows.len() < 100_000, "{} bytes", rows.len());
    refused(&rows, "21000000 rows");

    // The length that stands before a compressed buffer claims a terabyte (04 22 4D 18 begins an LZ4
    // frame, LZ4 frame format 1.6).
    let mut claims = data("compressed/lz4.arrow");
    let frames: Vec<usize> = (8..claims.len() - 4)
        .filter(|&i| claims[i..i + 4] == [0x04, 0x22, 0x4D, 0x18])
        .collect();
    assert!(!frames.is_empty());
    claims[frames[0] - 8..frames[0]].copy_from_slice(&(1i64 << 40).to_le_bytes());
    refused(&claims, "1048576 MB");
    // Less than nothing is no length either.
    claims[frames[0] - 8..frames[0]].copy_from_slice(&i64::MIN.to_le_bytes());
    refused(&claims, "rows and");
}
