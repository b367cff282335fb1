use benchborne::ingest::{Cell, ReadOptions};
use proptest::prelude::*;

use super::{cells, headers, log_read, read};

/// Characters that mean something to a reader.
const MARKS: &[&str] = &[
    ",",
    ";",
    "\t",
    "|",
    "\"",
    "\n",
    "\r",
    "\r\n",
    "1",
    "2.5",
    "3,5",
    "-",
    ":",
    "#",
    "time",
    "V",
    "\0",
    "°",
    "nan",
    ">",
    " ",
    "e",
    "<gpx>",
    "<trkpt lat=\"1\" lon=\"2\">",
    "<time>",
    "sep=",
    "12:00:01",
];

fn is_sound(bytes: &[u8]) -> Result<(), TestCaseError> {
    // Both helpers assert that the ledger balances.
    let rows = read(bytes).table.map_or(0, |t| t.rows.len());
    prop_assert_eq!(read(bytes).ledger.rows_used as usize, rows);
    let read = log_read(
        bytes,
        &ReadOptions {
            rate_hz: Some(5.0),
            ..ReadOptions::default()
        },
    );
    prop_assert!(read.log.is_some() || !read.findings.is_empty());
    if let Some(log) = read.log {
        // Several sentences of a receiver make one row.
        prop_assert!(log.len() as u64 <= read.ledger.rows_used);
        prop_assert!(log.time.windows(2).all(|w| w[0] < w[1]));
        prop_assert!(log.channels.values().all(|s| s.len() == log.len()));
        prop_assert!(log.breaks.iter().all(|b| *b < log.len()));
    }
    Ok(())
}

proptest! {
    #[test]
    fn any_bytes_are_read_without_panic_and_the_ledger_balances(
        bytes in prop::collection::vec(any::<u8>(), 0..400)
    ) {
        is_sound(&bytes)?;
    }

    #[test]
    fn any_mix_of_marks_is_read_without_panic_and_the_ledger_balances(
        marks in prop::collection::vec(prop::sample::select(MARKS), 0..120)
    ) {
        is_sound(marks.concat().as_bytes())?;
    }

    #[test]
    fn a_table_reads_the_same_in_every_dialect(
        values in prop::collection::vec(prop::array::uniform3(-9_999_999i64..9_999_999), 3..30),
        delimiter in prop::sample::select(vec![',', ';', '\t', '|']),
        decimal_comma in any::<bool>(),
        end in prop::sample::select(vec!["\n", "\r\n", "\r"]),
        encoding in 0..4,
        quoted in any::<bool>(),
        preamble in any::<bool>(),
    ) {
        let header = ["Zeit (s)", "Höhe (m)", "Temp (°C)"];
        let cell = |v: i64| {
            let text = format!("{:.4}", v as f64 / 1e4);
            let text = if decimal_comma { text.replace('.', ",") } else { text };
            if quoted || (decimal_comma && delimiter == ',') { format!("\"{text}\"") } else { text }
        };
        let line = |cells: Vec<String>| cells.join(&delimiter.to_string()) + end;
        let mut text = if preamble { format!("logger 7{end}{end}") } else { String::new() };
        text += &line(header.map(str::to_owned).to_vec());
        for row in &values {
            text += &line(row.map(cell).to_vec());
        }
        let bytes = match encoding {
            0 => text.into_bytes(),
            1 => [&[0xEF, 0xBB, 0xBF], text.as_bytes()].concat(),
            2 => text.encode_utf16().flat_map(u16::to_le_bytes).collect(),
            _ => text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect(),
        };
        let table = read(bytes).table.unwrap();
        prop_assert_eq!(headers(&table), header);
        prop_assert_eq!(cells(&table).len(), values.len());
        for (row, expected) in values.iter().enumerate() {
            for (column, value) in expected.iter().enumerate() {
                prop_assert_eq!(table.raw(row, column), Cell::Number(*value as f64 / 1e4));
            }
        }
    }
}
