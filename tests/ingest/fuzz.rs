use benchborne::ingest::Cell;
use proptest::prelude::*;

use super::sound::{DELIMITED, sound};
use super::{cells, headers, read};

/// A little of another format between the marks.
const STRANGE: &[&str] = &["<gpx>", "<trkpt lat=\"1\" lon=\"2\">", "<time>"];

/// Text made of marks.
fn mixed() -> impl Strategy<Value = String> {
    let marks = [DELIMITED, STRANGE].concat();
    prop::collection::vec(prop::sample::select(marks), 0..120).prop_map(|m| m.concat())
}

fn is_sound(bytes: &[u8], most: usize) -> Result<(), TestCaseError> {
    let read = sound(bytes, most).map_err(TestCaseError::fail)?;
    prop_assert!(read.rows_used <= read.rows_in);
    prop_assert!(!read.log || read.rows_used > 0);
    Ok(())
}

proptest! {
    #[test]
    fn any_bytes_are_read_without_panic_and_the_ledger_balances(
        bytes in prop::collection::vec(any::<u8>(), 0..400), most in 1usize..40,
    ) {
        is_sound(&bytes, most)?;
    }

    #[test]
    fn any_mix_of_marks_is_read_without_panic_and_the_ledger_balances(
        text in mixed(), most in 1usize..40,
    ) {
        is_sound(text.as_bytes(), most)?;
    }

    #[test]
    fn a_good_track_with_bytes_changed_is_read_without_panic_and_the_ledger_balances(
        name in prop::sample::select(vec![
            "sentences.nmea", "soaring.igc", "track_with_speed.gpx", "track-with-empty-segment.gpx",
        ]),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        length in any::<prop::sample::Index>(), most in 1usize..40,
    ) {
        let mut bytes = super::data(&format!("tracks/{name}"));
        bytes.truncate(3000);
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        is_sound(&bytes, most)?;
        is_sound(&bytes[..length.index(bytes.len())], most)?;
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
