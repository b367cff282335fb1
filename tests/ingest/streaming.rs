//! Reading in pieces is reading.

use benchborne::ingest::{ReadOptions, Source, read_log, read_log_from, scan};

use super::sound::Pieces;
use super::{codes, data, log_read};

/// A log of some hundred kilobytes with characters of two and three bytes all over it.
fn long_log(end: &str) -> String {
    let mut text = format!("Zeit (s);Höhe (m);Strom (A);Notiz{end}");
    for row in 0..6000 {
        let note = ["", "größer", "≥ 3", "\"a;b\""][row % 4];
        text += &format!(
            "{:.2};{},5;{};{note}{end}",
            row as f64 * 0.05,
            row % 300,
            row % 80
        );
    }
    text
}

#[test]
fn a_log_reads_the_same_in_pieces_of_every_size() {
    let options = ReadOptions::default();
    let latin: Vec<u8> = "Zeit (s);Höhe (m)\r0;1\r1;2,5\r2;3\r3;4\r"
        .chars()
        .map(|c| c as u8)
        .collect();
    let utf16: Vec<u8> = long_log("\r\n")
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let logs = [
        long_log("\n").into_bytes(),
        long_log("\r").into_bytes(),
        utf16,
        latin,
        data("seaplane/gps.csv"),
        data("tracks/soaring.igc"),
    ];
    for bytes in logs {
        let whole = format!("{:?}", read_log(&bytes, "a", &options));
        // Prime sizes cut at every place in turn.
        for most in [1, 3, 7, 4093, 65_537] {
            let bytes = &bytes;
            let pieces = read_log_from(&Pieces { bytes, most }, "a", &options);
            assert!(format!("{pieces:?}") == whole, "pieces of {most} bytes");
        }
    }
}

#[test]
fn a_quote_never_closed_does_not_take_a_long_file_into_one_cell() {
    let mut text = String::from("time_s,height_m\n");
    for row in 0..400_000 {
        let quote = if row == 5000 { "\"" } else { "" };
        text += &format!("{}.0,{quote}{}\n", row, row % 100);
    }
    assert!(text.len() > 1 << 22);
    let read = log_read(&text, &ReadOptions::default());
    assert!(codes(&read.findings).contains(&"unclosed-quote"));
    assert_eq!(read.ledger.rows_used, 400_000);
}

#[test]
fn a_line_without_end_is_refused_in_words() {
    let text = format!("time_s,height_m\n0,1\n{}", "1,".repeat(3 << 20));
    let read = log_read(&text, &ReadOptions::default());
    assert_eq!(codes(&read.findings), ["endless-line"]);
    assert!(read.log.is_none());
}

#[test]
fn megabytes_of_nuls_that_a_logger_reserved_cost_one_row_at_most() {
    let mut bytes = b"time_s,height_m\n0,1\n1,2\n2,3\n".to_vec();
    bytes.extend(std::iter::repeat_n(0u8, 9 << 20));
    let read = log_read(&bytes, &ReadOptions::default());
    assert_eq!(read.ledger.rows_used, 3);
    assert!(
        codes(&read.findings).contains(&"nul-bytes"),
        "{:?}",
        read.findings
    );
}

#[test]
fn the_decimal_mark_of_a_log_that_starts_at_rest_is_found_further_on() {
    // 300 whole numbers on the ground; only then fractions that could be thousands.
    let mut text = String::from("Zeit (s);Höhe (m)\n");
    for row in 0..300 {
        text += &format!("{row};0\n");
    }
    for row in 300..600 {
        text += &format!("{row};{},125\n", row % 90);
    }
    text += "600;12,5\n";
    let bytes = text.as_bytes();
    let table = scan(&bytes, "a", Default::default())
        .map_err(|f| format!("{f:?}"))
        .unwrap()
        .table;
    assert!(table.dialect.decimal_comma);
}

/// Ends with an error in mid-file.
struct Broken(Vec<u8>);

impl Source for Broken {
    fn open(&self) -> std::io::Result<Box<dyn std::io::Read + '_>> {
        use std::io::Read;
        struct Fails;
        impl Read for Fails {
            fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
                Err(std::io::Error::other("the card was pulled"))
            }
        }
        Ok(Box::new(self.0.as_slice().chain(Fails)))
    }

    fn length(&self) -> std::io::Result<u64> {
        Ok(self.0.len() as u64)
    }
}

#[test]
fn a_card_pulled_in_mid_file_is_told() {
    let read = read_log_from(
        &Broken(long_log("\n").into_bytes()),
        "a",
        &ReadOptions::default(),
    );
    assert!(read.log.is_none() && read.ledger.balances());
    assert_eq!(codes(&read.findings), ["unreadable-file"]);
    assert!(read.findings[0].what.contains("the card was pulled"));
}
